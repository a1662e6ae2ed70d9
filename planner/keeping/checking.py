"""Looking into a backup: is it whole, and does what it holds still hold? Everything is tried on a copy."""

import secrets
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from planner.keeping.archive import Tell, unpack
from planner.keeping.backing_up import private_folder
from planner.keeping.databases import (
    Counted,
    count_postgres,
    count_sqlite,
    fill_postgres,
    kind_of,
    list_dump,
    postgres,
    read_instead,
    scratch_postgres,
    sqlite_faults,
    sqlite_settings,
)
from planner.keeping.manifest import DATABASE, Manifest, NotABackup
from planner.letters.sealed import read_all
from planner.trail.errors import Refused
from planner.trail.services import verify_chain

_MOST_TOLD = 20


@dataclass(frozen=True, slots=True)
class Found:
    """What looking into a backup came to."""

    manifest: Manifest
    behind: tuple[str, ...]
    """Migrations that this program has and the backup had not."""
    faults: tuple[str, ...]
    """What does not hold of the record and the papers in it; none means that all does."""
    read: str
    """What was read, in words."""


def check_backup(source: Path, *, database: Mapping[str, Any], work: Path, identity: Path | None, tell: Tell) -> Found:
    """Read the whole backup ``source`` and try it on a copy, which is gone afterwards.

    A PostgreSQL copy is tried in a database of its own on the server of ``database``. Raises NotABackup when it is not
    whole, Refused when it cannot be tried here.
    """
    with private_folder(work) as folder:
        manifest = unpack(source, folder, identity=identity, tell=tell)
        behind = migrations_behind(manifest)
        with _tried(manifest, folder, database) as copy:
            return Found(manifest, behind, *check_copy(copy, manifest, behind, tell))


@contextmanager
def _tried(manifest: Manifest, folder: Path, database: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    file = folder / DATABASE[manifest.database]
    if manifest.database == "sqlite":
        yield sqlite_settings(file)
        return
    list_dump(file)
    if kind_of(database) != "postgresql":
        raise Refused(
            "This is a copy of a PostgreSQL database. Its files are whole and pg_restore can read it; to look into it, "
            "set DATABASE_URL to a PostgreSQL server on which this user may make a database."
        )
    with scratch_postgres(database, f"leastways_look_{secrets.token_hex(4)}") as scratch:
        fill_postgres(scratch, file)
        yield scratch


def migrations_behind(manifest: Manifest) -> tuple[str, ...]:
    """The migrations to run on the copy to make it fit this program, such as ``letters 0004_...``.

    Raises NotABackup for a backup that a newer program made.
    """
    ours = set(MigrationLoader(None).disk_migrations)
    theirs = {(app, name) for app, names in manifest.migrations.items() for name in names}
    if newer := sorted(theirs - ours):
        app, name = newer[0]
        raise NotABackup(
            f"This backup was made by a newer version ({manifest.program}; it knows {app} {name} and "
            f"{len(newer) - 1} more that this one does not). Install that version, then restore."
        )
    return tuple(f"{app} {name}" for app, name in sorted(ours - theirs))


def check_copy(
    copy: Mapping[str, Any], manifest: Manifest, behind: tuple[str, ...], tell: Tell
) -> tuple[tuple[str, ...], str]:
    """Hold the copied database against its manifest, bring it up to this program, and read all that it keeps.

    Returns the faults of record and papers, and what was read. Raises NotABackup where the copy is not what was
    counted when it was made.
    """
    tell("counting rows")
    if kind_of(copy) == "sqlite":
        if damage := sqlite_faults(Path(copy["NAME"])):
            raise NotABackup(f"The copied database is damaged: {'; '.join(damage[:_MOST_TOLD])}.")
        counted = count_sqlite(Path(copy["NAME"]))
    else:
        with postgres(copy) as link:
            counted = count_postgres(link)
    _compare(manifest, counted)
    with read_instead(copy):
        if behind:
            tell(f"bringing the copy up to this version: {len(behind)} migrations")
            call_command("migrate", verbosity=0, interactive=False)
        tell("reading the record and the papers")
        known = {manifest.trail.entries: manifest.trail.head} if manifest.trail.entries else {}
        found = read_all()
        faults = [*verify_chain(known=known).faults, *(fault for one in found for fault in one.faults)]
        connection.close()
    return tuple(dict.fromkeys(faults)), ", ".join(f"{one.rows} {one.what}" for one in found if one.rows)


def _compare(manifest: Manifest, counted: Counted) -> None:
    wrong = [
        f"{table}: {manifest.rows.get(table, 'no')} rows in the manifest, {counted.rows.get(table, 'none')} in the copy"
        for table in sorted({*manifest.rows, *counted.rows})
        if manifest.rows.get(table) != counted.rows.get(table)
    ]
    if counted.trail != manifest.trail:
        wrong.append(f"the record ends at entry {counted.trail.entries}, the manifest says {manifest.trail.entries}")
    if wrong:
        raise NotABackup(f"The copy is not what was counted when it was made: {'; '.join(wrong[:_MOST_TOLD])}.")
