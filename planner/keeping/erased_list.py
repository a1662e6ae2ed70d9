"""The list of who was erased, kept beside the database: a backup from before still holds those people.

A line each: the random id the person had, that of the office, and when. It names nobody. A restore reads it, the
database it replaces, and whatever further lists and later backups it is given, and erases those people again.
"""

import os
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError

from planner.keeping.archive import manifest_of
from planner.keeping.manifest import Manifest, NotABackup
from planner.trail.errors import Refused
from planner.trail.models import Erasure

NAME = "erased.txt"


def note_erased(rows: Iterable[tuple[str, str, datetime]], path: Path | None = None) -> None:
    """Add those to the list that are not in it."""
    path = path or settings.VAR_DIR / NAME
    known = read_list(path) if path.exists() else set()
    new = [(one, office, at) for one, office, at in rows if one not in known]
    if not new:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    with open(os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600), "a", encoding="ascii") as file:
        file.writelines(f"{one} {office} {at.isoformat(timespec='seconds')}\n" for one, office, at in new)
        file.flush()
        os.fsync(file.fileno())


def erased_so_far(further: Iterable[Path]) -> set[str]:
    """Everybody known to have been erased: by the list here, the database here, and ``further`` lists and backups.

    Raises Refused for a file that is neither.
    """
    found: set[str] = set()
    if (own := settings.VAR_DIR / NAME).exists():
        found |= read_list(own)
    with suppress(DatabaseError):  # a database that is not there yet, or that is what has to be replaced
        found |= set(Erasure.objects.values_list("subject_id", flat=True))
    for path in further:
        found |= set(told.erased) if (told := _manifest(path)) is not None else read_list(path)
    return found


def _manifest(path: Path) -> Manifest | None:
    """What a backup in the clear says about itself; None where ``path`` is none."""
    try:
        return manifest_of(path)
    except NotABackup:
        return None


def read_list(path: Path) -> set[str]:
    """The ids in a list. Raises Refused where it cannot be read or is no such list."""
    try:
        lines = path.read_text(encoding="ascii").splitlines()
    except FileNotFoundError:
        raise Refused(f"{path} is not there. A list of who was erased is made by the first erasing.") from None
    except (OSError, UnicodeDecodeError):
        raise Refused(f"{path} cannot be read as a list of who was erased.") from None
    found = set()
    for number, line in enumerate(lines, 1):
        parts = line.split()
        if len(parts) != 3 or len(parts[0]) > 16:
            raise Refused(f"{path}, line {number} is no line of such a list: it has an id, an office and an instant.")
        found.add(parts[0])
    return found
