"""``manage.py way_in NAME``: for whoever runs the program, when nobody in the office can let somebody in any more."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from planner.practice import codes
from planner.practice.models import Staff
from planner.practice.opening import give_password
from planner.trail.errors import Refused


class Command(BaseCommand):
    help = "Make a password for one sign-in, and begin the one-time codes anew; the record says why."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whom, why, and whether the telephone is lost too."""
        parser.add_argument("name", help="sign-in name")
        parser.add_argument("--reason", required=True, help="stays in the record")
        parser.add_argument("--codes", action="store_true", help="telephone and recovery codes are gone as well")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the password; fail with a sentence otherwise."""
        now, reason = timezone.now(), f"from the command line: {options['reason']}"
        try:
            staff = Staff.objects.get_by_natural_key(options["name"])
            if options["codes"] and codes.secret_of(staff) is not None:
                codes.begin_anew(staff=staff, actor=None, reason=reason, now=now)
            given = give_password(staff=staff, actor=None, reason=reason, now=now)
        except Staff.DoesNotExist:
            raise CommandError(f'Nobody has the sign-in name "{options["name"]}".') from None
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        until = staff.password_until.astimezone(staff.office.zone) if staff.password_until else now
        self.stdout.write(f"{given.password}\nGood for one sign-in until {until:%H:%M} in the office.")
