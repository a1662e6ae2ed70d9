"""``manage.py verify_letters``: read all that papers rest on again and say whether any of it was changed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from planner.letters.sealed import read_all


class Command(BaseCommand):
    help = (
        "Hash every frozen plan, stored paper and signature again, read the data inside the papers, and hold all of "
        "it against the record of who did what. Fails when anything is off, and names it."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        """Print what was read; fail with every fault otherwise."""
        found = read_all()
        faults = [fault for one in found for fault in one.faults]
        if faults:
            raise CommandError("This does not hold:\n" + "\n".join(faults))
        read = ", ".join(f"{one.rows} {one.what}" for one in found if one.rows)
        self.stdout.write(f"Everything holds: {read}." if read else "There is nothing to read yet.")
