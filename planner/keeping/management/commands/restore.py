"""``manage.py restore SRC``: bring a backup back, tried before it counts."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from planner.keeping.erased_list import erased_so_far
from planner.keeping.erasing import erase_again
from planner.keeping.manifest import NotABackup
from planner.keeping.restoring import DoesNotHold, restore_backup
from planner.trail.errors import Refused


class Command(BaseCommand):
    help = (
        "Bring a backup back into the database that DATABASE_URL names. It is unpacked beside, held against its "
        "manifest, brought up to this version, and its record and papers are read; only then does it count."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Which one, and what may happen to what is there."""
        parser.add_argument("src", type=Path, metavar="SRC")
        parser.add_argument("--identity", type=Path, metavar="FILE", help="the secret key, for one encrypted with age")
        parser.add_argument(
            "--erased",
            type=Path,
            action="append",
            default=[],
            metavar="FILE",
            help="a further list of who was erased, or a later backup in the clear that names them; may be given often",
        )
        parser.add_argument(
            "--replace", action="store_true", help="let it take the place of what is there, which is kept aside"
        )
        parser.add_argument(
            "--despite-faults", action="store_true", help="also when its record or papers were changed before"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Restore and say what was read; fail with a sentence, and everything as it was, otherwise."""
        database, now = dict(connection.settings_dict), timezone.now()
        again: list[int] = []
        try:
            erased = erased_so_far(options["erased"])
            connection.close()
            done = restore_backup(
                options["src"],
                database=database,
                treatments=settings.TREATMENTS_DIR or settings.VAR_DIR / "own-treatments",
                identity=options["identity"],
                replacing=options["replace"],
                despite_faults=options["despite_faults"],
                after=lambda: again.append(erase_again(erased, now=now)),
                now=now,
                tell=lambda words: self.stdout.write(f"  {words}"),
            )
        except NotABackup as fault:
            raise CommandError(f"{fault} Nothing was restored.") from None
        except DoesNotHold as changed:
            raise CommandError(f"{changed}\nNothing was restored; --despite-faults restores it nevertheless.") from None
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        found = done.found
        for sentence in found.faults:
            self.stderr.write(sentence)
        if found.behind:
            self.stdout.write(f"It was older than this version: {len(found.behind)} migrations were run on it.")
        self.stdout.write(f"Restored, as of {found.manifest.made_at.isoformat(timespec='minutes')}: {found.read}.")
        if any(again):
            self.stdout.write(f"{sum(again)} people who had been erased since were erased again.")
        if done.aside:
            self.stdout.write(f"What was there before is kept as {done.aside}.")
        if done.treatments is not None:
            self.stdout.write(f"The office's own treatments lie in {done.treatments}.")
        self.stdout.write("Start the server, sign in, and look at yesterday's diary before anybody works on.")
