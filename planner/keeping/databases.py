"""The two kinds of database, as far as keeping needs them: copying one whole, counting it, letting a copy be read.

A copy is one moment of the database, taken while people work on: SQLite's own backup inside one reading transaction,
and ``pg_dump`` with the very snapshot in which the rows were counted.
"""

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import load_backend
from psycopg import sql

from planner.keeping.archive import Tell, disk_fault, says_full, size_words
from planner.keeping.manifest import NotABackup, TrailHead
from planner.trail.errors import Refused

_PAGES = 2000
_CHUNK_SECONDS = 2.0

Rows = Callable[[str], list[tuple[Any, ...]]]
"""Runs one reading statement and gives its rows."""


@dataclass(frozen=True, slots=True)
class Counted:
    """What one moment of a database held."""

    server: str
    migrations: Mapping[str, tuple[str, ...]]
    rows: Mapping[str, int]
    trail: TrailHead
    erased: tuple[str, ...]


def kind_of(database: Mapping[str, Any]) -> str:
    """``sqlite`` or ``postgresql``, of one of Django's database settings."""
    return str(database["ENGINE"]).rsplit(".", 1)[-1].replace("sqlite3", "sqlite")


def copy_database(database: Mapping[str, Any], path: Path, tell: Tell) -> Counted:
    """Copy one moment of ``database`` to the file ``path``. Raises Refused, with the reason, when it cannot be."""
    copy = _copy_sqlite if kind_of(database) == "sqlite" else _copy_postgres
    return copy(database, path, tell)


def count(rows: Rows, tables: list[str], server: str) -> Counted:
    """What ``rows`` reads of ``tables``. Raises Refused for a database without the tables of this program."""
    if "trail_trailentry" not in tables:
        raise Refused(
            "This database has none of this program's tables: there is nothing to back up. Run migrate first."
        )
    migrations: dict[str, list[str]] = {}
    run = rows("SELECT app, name FROM django_migrations ORDER BY app, name") if "django_migrations" in tables else []
    for app, name in run:
        migrations.setdefault(app, []).append(name)
    counted = {table: int(rows(f'SELECT count(*) FROM "{table}"')[0][0]) for table in sorted(tables)}  # noqa: S608
    last = rows("SELECT sequence, hash FROM trail_trailentry ORDER BY sequence DESC LIMIT 1")
    erased = rows("SELECT subject_id FROM trail_erasure ORDER BY id") if "trail_erasure" in tables else []
    return Counted(
        server=server,
        migrations={app: tuple(names) for app, names in migrations.items()},
        rows=counted,
        trail=TrailHead(entries=counted["trail_trailentry"], head=last[0][1] if last else ""),
        erased=tuple(str(row[0]) for row in erased),
    )


# ---------------------------------------------------------------- SQLite


def _copy_sqlite(database: Mapping[str, Any], path: Path, tell: Tell) -> Counted:
    name = str(database["NAME"])
    told = -1

    def progress(_status: int, left: int, whole: int) -> None:
        nonlocal told
        tenth = 10 * (whole - left) // max(whole, 1)
        if tenth > told:
            told = tenth
            tell(f"copying the database, {tenth}0 %")

    try:
        with closing(sqlite3.connect(name, uri=name.startswith("file:"), isolation_level=None, timeout=20)) as source:
            source.execute("BEGIN")
            source.execute("SELECT count(*) FROM sqlite_master").fetchone()  # from here on it is one moment
            with closing(sqlite3.connect(path)) as copy:
                os.chmod(path, 0o600)
                source.backup(copy, pages=_PAGES, progress=progress)
                copy.execute("PRAGMA journal_mode=DELETE")  # the copy is this one file and nothing beside it
            source.execute("ROLLBACK")
        if faults := sqlite_faults(path):
            raise Refused(
                f"The database itself is damaged ({faults[0]}). Nothing was backed up: keep the earlier backups, and "
                "restore the newest of them that verify_backup finds whole."
            )
        return count_sqlite(path)
    except sqlite3.Error as error:
        raise _sqlite_fault(error, path) from None


def _sqlite_fault(error: sqlite3.Error, path: Path) -> Refused:
    if getattr(error, "sqlite_errorname", "") in ("SQLITE_FULL", "SQLITE_IOERR_WRITE") or "disk I/O" in str(error):
        return disk_fault(OSError(28, "No space left on device"), path.parent)
    return Refused(f"The database cannot be copied: {error}.")


def count_sqlite(path: Path) -> Counted:
    """What the SQLite file at ``path`` holds."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as copy:
        names = copy.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        tables = [name for (name,) in names.fetchall()]
        return count(lambda query: copy.execute(query).fetchall(), tables, sqlite3.sqlite_version)


def sqlite_faults(path: Path) -> list[str]:
    """What SQLite's own check finds wrong in the file; empty when nothing is."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as copy:
            found = [str(row[0]) for row in copy.execute("PRAGMA integrity_check(20)")]
            broken = copy.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError as error:
        return [str(error)]
    return [*(line for line in found if line != "ok"), *(f"{row[0]}: a row points at nothing" for row in broken[:20])]


def sqlite_settings(path: Path) -> dict[str, Any]:
    """Django's settings for the SQLite file at ``path``, as this program opens its own."""
    own = connections["default"].settings_dict if connections["default"].vendor == "sqlite" else {}
    options = own.get("OPTIONS") or {"transaction_mode": "IMMEDIATE", "timeout": 20}
    return {"ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "ATOMIC_REQUESTS": False, "OPTIONS": options}


# ---------------------------------------------------------------- PostgreSQL


def _copy_postgres(database: Mapping[str, Any], path: Path, tell: Tell) -> Counted:
    program = postgres_program("pg_dump")
    with postgres(database) as link:
        link.autocommit = False
        link.isolation_level, link.read_only = psycopg.IsolationLevel.REPEATABLE_READ, True
        snapshot, whole = link.execute("SELECT pg_export_snapshot(), pg_database_size(current_database())").fetchone()  # type: ignore[misc]
        counted = count_postgres(link)
        command = [program, "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={snapshot}"]
        command += [f"--file={path}", f"--dbname={database['NAME']}"]
        # Its own compression makes the file smaller than the database, so what is told is what was written.
        process = subprocess.Popen(  # noqa: S603
            command, env=postgres_environment(database), stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True
        )
        while True:
            try:
                _out, said = process.communicate(timeout=_CHUNK_SECONDS)
                break
            except subprocess.TimeoutExpired:
                written = path.stat().st_size if path.exists() else 0
                tell(f"copying the database, {size_words(written)} written of {size_words(whole)} at most")
        if process.returncode:
            raise _dump_fault(said, path)
        os.chmod(path, 0o600)
        tell(f"copied the database, {size_words(path.stat().st_size)}")
    return counted


def _dump_fault(said: str, path: Path) -> Refused:
    words = " ".join(said.split())
    if says_full(words):
        return disk_fault(OSError(28, "No space left on device"), path.parent)
    return Refused(f"pg_dump did not do it: {words or 'it gave no reason'}")


def count_postgres(link: "psycopg.Connection[Any]") -> Counted:
    """What the database at the other end of ``link`` holds."""
    tables = [name for (name,) in link.execute("SELECT tablename FROM pg_tables WHERE schemaname = current_schema()")]
    version = str(link.info.server_version)
    return count(lambda query: link.execute(query).fetchall(), tables, version)


@contextmanager
def postgres(database: Mapping[str, Any], *, name: str = "") -> "Iterator[psycopg.Connection[Any]]":
    """A connection of its own to the PostgreSQL of ``database``, to the database ``name`` there where one is given.

    Raises Refused where it cannot be reached.
    """
    given = database.get("OPTIONS") or {}
    options = {key: value for key, value in given.items() if key.startswith(("ssl", "conn", "options"))}
    try:
        link = psycopg.connect(
            host=database.get("HOST") or None,
            port=database.get("PORT") or None,
            user=database.get("USER") or None,
            password=database.get("PASSWORD") or None,
            dbname=name or database["NAME"],
            autocommit=True,
            **options,
        )
    except psycopg.OperationalError as error:
        raise Refused(f"The database cannot be reached: {' '.join(str(error).split())}") from None
    with closing(link):
        yield link


def postgres_environment(database: Mapping[str, Any]) -> dict[str, str]:
    """What PostgreSQL's programs read: where the server is. A password given so stands in no list of processes."""
    options = database.get("OPTIONS") or {}
    given = {
        "PGHOST": database.get("HOST"),
        "PGPORT": database.get("PORT"),
        "PGUSER": database.get("USER"),
        "PGPASSWORD": database.get("PASSWORD"),
        "PGSSLMODE": options.get("sslmode"),
        "PGSSLROOTCERT": options.get("sslrootcert"),
        "PGSSLCERT": options.get("sslcert"),
        "PGSSLKEY": options.get("sslkey"),
    }
    return os.environ | {name: str(value) for name, value in given.items() if value}


def postgres_program(name: str) -> str:
    """Where one of PostgreSQL's programs lies. Raises Refused where it is not installed."""
    found = shutil.which(name)
    if found is None:
        raise Refused(f"{name} is not installed, and a PostgreSQL database needs it: apt install postgresql-client.")
    return found


def list_dump(path: Path) -> None:
    """Read through the list of what a dump holds. Raises NotABackup where PostgreSQL cannot read it."""
    run = subprocess.run(  # noqa: S603
        [postgres_program("pg_restore"), "--list", str(path)], capture_output=True, text=True, check=False
    )
    if run.returncode:
        raise NotABackup(f"pg_restore cannot read the copy of the database: {' '.join(run.stderr.split())}")


def fill_postgres(database: Mapping[str, Any], dump: Path) -> None:
    """Bring everything in ``dump`` into ``database``, which is empty: all of it or nothing. Raises Refused."""
    command = [
        postgres_program("pg_restore"),
        "--no-owner",
        "--no-privileges",
        "--single-transaction",
        "--exit-on-error",
    ]
    # The schema is there in any new database, and belongs to the server.
    command += ["--schema=public", f"--dbname={database['NAME']}", str(dump)]
    run = subprocess.run(  # noqa: S603
        command, env=postgres_environment(database), capture_output=True, text=True, check=False
    )
    if run.returncode:
        raise Refused(f"pg_restore did not do it, and nothing was restored: {' '.join(run.stderr.split())[:600]}")


@contextmanager
def scratch_postgres(database: Mapping[str, Any], name: str) -> Iterator[dict[str, Any]]:
    """A new, empty database beside ``database``; its settings. It is dropped at the end unless it was renamed.

    Raises Refused where this user may not make one.
    """
    with postgres(database, name=_MAINTENANCE) as link:
        try:
            link.execute(sql.SQL("CREATE DATABASE {} TEMPLATE template0 ENCODING 'UTF8'").format(sql.Identifier(name)))
        except psycopg.errors.InsufficientPrivilege:
            raise Refused(
                f"The user {database.get('USER')} may not make a database to try the copy in: allow it "
                "(ALTER ROLE … CREATEDB), or look at the backup on another server."
            ) from None
    try:
        yield {**database, "NAME": name}
    finally:
        with postgres(database, name=_MAINTENANCE) as link:
            link.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(name)))


_MAINTENANCE = "template1"
_UNSEEN = "leastways_restoring"
"""Where every connection to a database that is being restored looks for tables, and where there are none."""


@contextmanager
def unseen_postgres(database: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """The settings with which alone the tables of ``database``, which has none yet, are seen until the end.

    For anybody else it stays empty: a process that is killed meanwhile leaves nothing that could be worked with, and
    the next one takes away what it left. After a fault it is empty again. Raises Refused where it is somebody else's.
    """
    name = sql.Identifier(str(database["NAME"]))
    unseen = sql.SQL("ALTER DATABASE {} SET search_path TO {}").format(name, sql.Identifier(_UNSEEN))
    seen = sql.SQL("ALTER DATABASE {} RESET search_path").format(name)
    with postgres(database) as link:
        left = link.execute("SHOW search_path").fetchone() == (_UNSEEN,)
        try:
            link.execute(unseen)
        except psycopg.errors.InsufficientPrivilege:
            raise Refused(
                f"The database {database['NAME']} is not that of the user {database.get('USER')}, so nothing can be "
                "restored into it: let it belong to that user (ALTER DATABASE … OWNER TO …), then restore."
            ) from None
        if left:
            _empty(link)
    options = dict(database.get("OPTIONS") or {})
    told = f"{options.get('options', '')} -c search_path=public".strip()
    try:
        yield {**database, "OPTIONS": options | {"options": told}}
    except BaseException:
        with postgres(database) as link, link.transaction():  # where not even this can be done it stays unseen
            _empty(link)
            link.execute(seen)
        raise
    with postgres(database) as link:
        link.execute(seen)


def _empty(link: "psycopg.Connection[Any]") -> None:
    with link.transaction():
        link.execute("DROP SCHEMA public CASCADE")
        link.execute("CREATE SCHEMA public")


def swap_postgres(database: Mapping[str, Any], fresh: str, aside: str) -> None:
    """Let the database ``fresh`` take the name of ``database``, which is called ``aside`` from then on.

    Raises Refused while anybody is connected.
    """
    name = str(database["NAME"])
    rename = sql.SQL("ALTER DATABASE {} RENAME TO {}")
    # Both names change in one transaction: cut off in between, there would be no database of that name.
    with postgres(database, name=_MAINTENANCE) as link, link.transaction():
        try:
            link.execute(rename.format(sql.Identifier(name), sql.Identifier(aside)))
        except psycopg.errors.ObjectInUse:
            raise Refused(f"Somebody is still connected to the database {name}: stop the servers first.") from None
        link.execute(rename.format(sql.Identifier(fresh), sql.Identifier(name)))


# ---------------------------------------------------------------- a copy read as if it were the database


@contextmanager
def read_instead(database: Mapping[str, Any]) -> Iterator[BaseDatabaseWrapper]:
    """Everything that reads or writes the database means ``database`` for the duration.

    For commands, in which nothing else runs: the checks of the record and of the papers read whatever stands as the
    default, and here that is the copy.
    """
    values = connections.configure_settings({"default": dict(database)})["default"]
    copy = load_backend(values["ENGINE"]).DatabaseWrapper(values, "default")
    usual = connections["default"]
    connections["default"] = copy
    try:
        yield copy
    finally:
        copy.close()
        connections["default"] = usual
