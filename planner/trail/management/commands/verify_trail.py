"""``manage.py verify_trail``: read the whole record of who did what and say whether anything in it was changed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from planner.trail.services import verify_chain
from planner.trail.triggers import missing


class Command(BaseCommand):
    help = "Check the chain of the trail, the content beside it, and the triggers that keep it append-only."

    def add_arguments(self, parser: CommandParser) -> None:
        """``--known 812:3f0a...`` checks an entry against a hash that was noted down elsewhere; may be given often."""
        parser.add_argument("--known", action="append", default=[], metavar="SEQUENCE:HASH")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the count and the head; fail with every fault otherwise."""
        report = verify_chain(known=dict(_known(text) for text in options["known"]))
        faults = [*report.faults, *(f"The trigger {name} is missing: run migrate." for name in missing())]
        if faults:
            raise CommandError("The trail does not hold:\n" + "\n".join(faults))
        erased = f", content of {report.erased} erased" if report.erased else ""
        self.stdout.write(f"The trail holds: {report.entries} entries{erased}.")
        self.stdout.write(f"Note this down outside: {report.entries}:{report.head}")


def _known(text: str) -> tuple[int, str]:
    sequence, _, noted = text.partition(":")
    if not sequence.isdigit() or len(noted) != 64:
        raise CommandError(
            f'"{text}" is not an entry and its hash: write them as verify_trail prints them, such as 812:3f0a…'
        )
    return int(sequence), noted
