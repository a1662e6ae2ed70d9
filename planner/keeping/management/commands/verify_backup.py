"""``manage.py verify_backup SRC``: try a backup on a copy, before it is needed."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from planner.keeping.checking import check_backup
from planner.keeping.manifest import NotABackup
from planner.trail.errors import Refused


class Command(BaseCommand):
    help = (
        "Hash every file of a backup, check the copied database, count its rows, and read its record and papers again, "
        "all on a copy that is gone afterwards. Fails with what is wrong."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Which one, and with which secret key."""
        parser.add_argument("src", type=Path, metavar="SRC")
        parser.add_argument("--identity", type=Path, metavar="FILE", help="the secret key, for one encrypted with age")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print what was read; fail with every fault otherwise."""
        try:
            found = check_backup(
                options["src"],
                database=connection.settings_dict,
                work=settings.VAR_DIR,
                identity=options["identity"],
                tell=lambda words: self.stdout.write(f"  {words}"),
            )
        except NotABackup as fault:
            raise CommandError(str(fault)) from None
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        if found.faults:
            raise CommandError("The backup is whole, and this in it does not hold:\n" + "\n".join(found.faults))
        about = found.manifest
        if found.behind:
            self.stdout.write(f"It is older than this version: restoring runs {len(found.behind)} migrations on it.")
        self.stdout.write(
            f"This backup of {about.made_at.isoformat(timespec='minutes')} is whole and holds: {found.read}."
        )
        self.stdout.write(f"Its record ends at {about.trail.entries}:{about.trail.head}")
