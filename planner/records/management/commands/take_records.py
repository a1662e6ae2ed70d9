"""``manage.py take_records``: write the allowed copy of the whole office into a file on the server."""

import getpass
import os
import shutil
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from planner.practice.models import Staff, plain_username
from planner.records.models import OfficeCopy
from planner.records.services import office_copy
from planner.trail.errors import NotAllowed, Refused


class Command(BaseCommand):
    help = (
        "Write everything the office keeps into one new zip file. A manager asks for the copy and the owner dentist "
        "allows it on the page “Records out” first; whoever keeps the system gives the own sign-in name and password."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Which copy, who takes it, and the file to write."""
        parser.add_argument("copy", help="the number of the allowed copy, as the page shows it")
        parser.add_argument("to", type=Path, help="a file that is not there yet")
        parser.add_argument("--as", dest="username", required=True, help="your sign-in name")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the file; what was said about it stands in the record."""
        to: Path = options["to"]
        staff = Staff.objects.filter(username=plain_username(options["username"]), is_active=True).first()
        written = getpass.getpass("Your password: ")
        if staff is None or not staff.check_password(written):
            raise CommandError("Name and password do not belong to anybody who may sign in.")
        asked = OfficeCopy.objects.filter(public_id=options["copy"], office=staff.office).first()
        if asked is None:
            raise CommandError(f"No copy has the number {options['copy']}: it stands on the page “Records out”.")
        try:
            # Made for its owner alone, and only where nothing is: health data is never written over something else.
            descriptor = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError as error:
            raise CommandError(f"{to} cannot be written: {error.strerror}.") from None
        try:
            with os.fdopen(descriptor, "wb") as file:
                made = office_copy(copy=asked, actor=staff, now=timezone.now())
                with made.file:
                    shutil.copyfileobj(made.file, file)
        except (Refused, NotAllowed) as refusal:
            to.unlink()
            raise CommandError(refusal.sentence) from None
        except BaseException:
            to.unlink()
            raise
        self.stdout.write(f"{to}: {len(made.entries)} files, {made.bytes} bytes, SHA-256 {made.sha256}.")
        if made.faults:
            raise CommandError("These files are not what was recorded: " + ", ".join(made.faults) + ".")
