"""``manage.py backup DEST``: everything that cannot be made again, in one file that is whole or not there."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from planner.keeping.archive import size_words
from planner.keeping.backing_up import make_backup
from planner.trail.errors import Refused


class Command(BaseCommand):
    help = (
        "Write one moment of the database (with every paper, picture and signature in it) and the office's own "
        "treatments to the new file DEST, with a manifest of hashes and counts. People can work on meanwhile."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to, and to whose public key."""
        parser.add_argument("dest", type=Path, metavar="DEST", help="a new file, such as /backups/2026-03-02.tar")
        parser.add_argument(
            "--encrypt-to", type=Path, metavar="FILE", help="file with a public key, of age or of gpg (armored)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Write it and say what to note down; fail with a sentence otherwise."""
        dest: Path = options["dest"].absolute()
        try:
            manifest = make_backup(
                dest,
                database=connection.settings_dict,
                treatments=settings.TREATMENTS_DIR,
                work=settings.VAR_DIR,
                key=options["encrypt_to"],
                now=timezone.now(),
                tell=lambda words: self.stdout.write(f"  {words}"),
            )
        except Refused as refusal:
            raise CommandError(refusal.sentence) from None
        locked = "encrypted" if options["encrypt_to"] else "NOT encrypted: whoever has it can read it"
        self.stdout.write(
            f"{dest} is whole: {size_words(dest.stat().st_size)}, {sum(manifest.rows.values())} rows in "
            f"{len(manifest.rows)} tables, {locked}."
        )
        self.stdout.write(f"Note this down outside: {manifest.trail.entries}:{manifest.trail.head}")
