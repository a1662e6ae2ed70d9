"""``manage.py retention``: whose files are past their time, by record number, so that the list can be passed on."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from planner.keeping.past import past_of, terms_of
from planner.practice import books
from planner.practice.models import Office


class Command(BaseCommand):
    help = "List the files whose time is over, office by office. Nothing is erased: two people do that on the pages."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whether to name people; without it the list holds record numbers only."""
        parser.add_argument("--names", action="store_true", help="write the names beside the record numbers")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the years that hold and the list."""
        now = timezone.now()
        for office in Office.objects.order_by("name"):
            terms = terms_of(office, books.today(office, now))
            found = past_of(office, now)
            self.stdout.write(f"{office.name}: {len(found)} files past their time")
            self.stdout.write(f"  treated or signed: {terms.treated.years} years ({terms.treated.source})")
            self.stdout.write(f"  otherwise: {terms.untreated.years} years ({terms.untreated.source})")
            for one in found:
                name = f"  {one.patient.name}" if options["names"] else ""
                self.stdout.write(f"  {one.patient.public_id}  since {one.retention.listed_from.isoformat()}{name}")
