"""Bringing a backup back: into a clean place, tried before it counts, and nothing that was there is lost by it."""

import os
import secrets
import shutil
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.keeping.archive import Tell, disk_fault, to_disk, unpack
from planner.keeping.backing_up import private_folder
from planner.keeping.checking import Found, check_copy, migrations_behind
from planner.keeping.databases import (
    fill_postgres,
    kind_of,
    list_dump,
    postgres,
    read_instead,
    scratch_postgres,
    sqlite_settings,
    swap_postgres,
    unseen_postgres,
)
from planner.keeping.manifest import DATABASE, TREATMENTS, Manifest, NotABackup
from planner.trail.errors import Refused

After = Callable[[], None]
"""What is still to be done in the restored database before it counts, such as erasing again who was erased since."""


@dataclass(frozen=True, slots=True)
class Restored:
    """How a restore went."""

    found: Found
    aside: str = ""
    """Where what was there before lies now; empty when nothing was there."""
    treatments: Path | None = None
    """Where the office's own treatments were put; None for a backup without any."""


class DoesNotHold(Exception):
    """The backup is whole, and what it holds was changed before it was made. ``faults`` says what."""

    def __init__(self, faults: tuple[str, ...]) -> None:
        super().__init__("What this backup holds was changed before it was made:\n" + "\n".join(faults))
        self.faults = faults


def restore_backup(
    source: Path,
    *,
    database: Mapping[str, Any],
    treatments: Path,
    identity: Path | None,
    replacing: bool,
    despite_faults: bool,
    after: After,
    now: datetime,
    tell: Tell,
) -> Restored:
    """Bring ``source`` back into ``database``; the office's own treatments into the folder ``treatments``.

    A database that holds anything is replaced only when ``replacing``, and is kept aside under another name. Raises
    NotABackup, Refused, and DoesNotHold unless ``despite_faults``: everything is as it was then.
    """
    if _holds_something(database) and not replacing:
        raise Refused(
            f"{database['NAME']} is not empty. To let this backup take its place, stop the servers and say --replace: "
            "what is there now is kept aside under another name."
        )
    work = Path(database["NAME"]).parent if kind_of(database) == "sqlite" else treatments.parent
    with private_folder(work) as folder:
        manifest = unpack(source, folder, identity=identity, tell=tell)
        if manifest.database != kind_of(database):
            raise NotABackup(
                f"This backup is of a {manifest.database} database, and DATABASE_URL names a {kind_of(database)} one: "
                "let it name one of the same kind."
            )
        behind = migrations_behind(manifest)
        bring = _bring_sqlite if manifest.database == "sqlite" else _bring_postgres
        done = bring(folder, database, manifest, behind, despite_faults, after, now, tell)
        return replace(done, treatments=_bring_treatments(folder, manifest, treatments, now))


def _tried(
    copy: Mapping[str, Any], manifest: Manifest, behind: tuple[str, ...], despite: bool, after: After, tell: Tell
) -> Found:
    faults, read = check_copy(copy, manifest, behind, tell)
    if faults and not despite:
        raise DoesNotHold(faults)
    with read_instead(copy):
        after()
    return Found(manifest, behind, faults, read)


def _stamp(now: datetime) -> str:
    return now.strftime("%Y%m%dT%H%M%S")


# ---------------------------------------------------------------- SQLite


def _bring_sqlite(
    folder: Path,
    database: Mapping[str, Any],
    manifest: Manifest,
    behind: tuple[str, ...],
    despite: bool,
    after: After,
    now: datetime,
    tell: Tell,
) -> Restored:
    fresh, target = folder / DATABASE["sqlite"], Path(database["NAME"])
    found = _tried(sqlite_settings(fresh), manifest, behind, despite, after, tell)
    _one_file(fresh)
    aside = ""
    if target.exists():
        _one_file(target)
    if _has_tables(target):
        kept = target.with_name(f"{target.name}.before-{_stamp(now)}-{secrets.token_hex(2)}")
        _also_named(target, kept)
        aside = str(kept)
    to_disk(fresh)
    fresh.replace(target)
    to_disk(target.parent)
    return Restored(found, aside)


def _also_named(path: Path, kept: Path) -> None:
    """Name ``path`` also ``kept``, so that it bears its own name until the very moment another file takes it."""
    try:
        os.link(path, kept)
    except OSError:  # a disk that knows no second name for a file
        path.rename(kept)


def _one_file(path: Path) -> None:
    """Bring what lies beside the file into it. Raises Refused while somebody else has it open."""
    try:
        with closing(sqlite3.connect(path, timeout=1, isolation_level=None)) as link:
            mode = link.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    except sqlite3.OperationalError as error:
        if "locked" not in str(error):
            raise disk_fault(OSError(5, str(error)), path.parent) from None
        mode = "locked"
    except sqlite3.DatabaseError:  # whatever it is, it is moved aside as it is
        return
    if mode != "delete":
        raise Refused(f"Somebody still has {path} open: stop the servers first, then restore.")


def _has_tables(path: Path) -> bool:
    """Whether the file holds anything: asking a database that is not there yet makes a file with no table in it."""
    if not path.exists() or path.stat().st_size == 0:
        return False
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as link:
            return bool(link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    except sqlite3.DatabaseError:  # whatever it is, it is something
        return True


def _holds_something(database: Mapping[str, Any]) -> bool:
    if kind_of(database) == "sqlite":
        return _has_tables(Path(database["NAME"]))
    with postgres(database) as link:
        row = link.execute("SELECT count(*) FROM pg_tables WHERE schemaname = current_schema()").fetchone()
    return bool(row and row[0])


# ---------------------------------------------------------------- PostgreSQL


def _bring_postgres(
    folder: Path,
    database: Mapping[str, Any],
    manifest: Manifest,
    behind: tuple[str, ...],
    despite: bool,
    after: After,
    now: datetime,
    tell: Tell,
) -> Restored:
    dump = folder / DATABASE["postgresql"]
    list_dump(dump)
    tell("filling the database")
    if not _holds_something(database):
        with unseen_postgres(database) as unseen:
            fill_postgres(unseen, dump)
            return Restored(_tried(unseen, manifest, behind, despite, after, tell))
    fresh = f"leastways_restoring_{secrets.token_hex(4)}"
    aside = f"{database['NAME']}_before_{_stamp(now).lower()}"[:63]
    with scratch_postgres(database, fresh) as scratch:
        fill_postgres(scratch, dump)
        found = _tried(scratch, manifest, behind, despite, after, tell)
        swap_postgres(database, fresh, aside)
    return Restored(found, aside)


# ---------------------------------------------------------------- the office's own treatments


def _bring_treatments(folder: Path, manifest: Manifest, treatments: Path, now: datetime) -> Path | None:
    """Put them where they are read from if nothing lies there, else beside it, under a name with the instant."""
    if not any(one.name.startswith(TREATMENTS) for one in manifest.files):
        return None
    clean = not treatments.exists() or not any(treatments.iterdir())
    dest = treatments if clean else treatments.with_name(f"{treatments.name}-of-backup-{_stamp(now)}")
    shutil.copytree(folder / TREATMENTS, dest, dirs_exist_ok=clean)
    return dest
