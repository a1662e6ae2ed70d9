"""Servers killed, disks full and the power cut while people save, and several writers at once: short forms of
``make soak``.

What was answered with success is there afterwards, once; nothing is there by half; the record and the papers verify.
Outside check: the four letters of ACID (ISO/IEC 10026-1, from memory), durability against the end of a process.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from planner.keeping.databases import kind_of, postgres
from tests.faults.disks import Disk, small_disk
from tests.faults.serving import Place
from tests.faults.ways import cut, full, killed, many
from tests.keeping.conftest import empty_place
from tests.support import migrated

DISK = 64 * 1024 * 1024
"""Bytes: more than such an office takes on either database."""
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A database of processes of its own: a file, or the test database where that is a server."""
    if connection.vendor == "sqlite":
        migrated(tmp_path / "office.sqlite3")
        return Place(f"sqlite:///{tmp_path / 'office.sqlite3'}", tmp_path)
    return _place(connection.settings_dict, tmp_path)


def _place(at: dict[str, Any], folder: Path) -> Place:
    """The database of these settings, for processes of their own, which keep their things in ``folder``."""
    if kind_of(at) == "sqlite":
        return Place(f"sqlite:///{at['NAME']}", folder)
    return Place(f"postgres://{at['USER']}@{at['HOST']}:{at['PORT']}/{at['NAME']}", folder)


def test_nothing_answered_is_lost_and_nothing_is_half_done_when_the_server_is_killed(place: Place) -> None:
    found = killed(place, acts=20, letters=2, kills=1)
    assert not found.wrong, "\n".join(found.wrong)
    assert found.successes >= 20
    assert found.broken_off
    assert found.signatures == 2


def test_no_writer_is_told_that_the_database_is_locked(place: Place) -> None:
    found = many(place, writers=4, seconds=3)
    assert not found.wrong, "\n".join(found.wrong)
    assert found.successes >= 8
    assert found.broken_off == 0


def test_a_full_disk_is_told_and_leaves_nothing_by_half(place: Place) -> None:
    """The disk is one of its own in memory. Where this user may not mount any, the kernel limits every file of the
    server; a PostgreSQL says by itself, at each row, that there is no room.
    """
    with small_disk(DISK) as disk, _on(disk, place) as (there, room):
        found = full(there, acts=8, letters=0, times=1, **room)
    assert not found.wrong, "\n".join(found.wrong)
    assert found.successes >= 8
    assert found.broken_off >= 1


@contextmanager
def _on(disk: Disk | None, place: Place) -> Iterator[tuple[Place, dict[str, Callable[[], None]]]]:
    """The place on that disk, and what takes its room and gives it back."""
    room = {"fill": disk.fill, "empty": disk.empty} if disk else {}
    if connection.vendor == "sqlite":
        if disk:
            file = shutil.copy(place.folder / "office.sqlite3", disk.folder)
            place = Place(f"sqlite:///{file}", place.folder)
        yield place, room
        return
    at = dict(connection.settings_dict)
    connection.close()
    if disk is None:
        with postgres(at) as link:
            yield place, {"fill": lambda: link.execute(_NO_ROOM), "empty": lambda: link.execute(_ROOM)}  # type: ignore[dict-item]
        return
    (there := disk.folder / "space").mkdir()
    if os.geteuid() == 0:
        shutil.chown(there, "postgres")
    name = f"{at['NAME']}_full"
    with postgres(at, name="postgres") as link:
        link.execute(f"CREATE TABLESPACE {name} LOCATION '{there}'")
        # A database is copied while nobody is connected; a server that was killed may not have been missed yet.
        link.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [at["NAME"]])
        link.execute(f"CREATE DATABASE {name} TEMPLATE {at['NAME']} TABLESPACE {name}")
        try:
            yield _place(at | {"NAME": name}, place.folder), room
        finally:
            link.execute(f"DROP DATABASE {name} WITH (FORCE)")
            link.execute(f"DROP TABLESPACE {name}")


_NO_ROOM = """
CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
    RAISE EXCEPTION 'could not extend file: No space left on device' USING ERRCODE = 'disk_full';
END $$;
CREATE TRIGGER no_room BEFORE INSERT ON trail_trailentry FOR EACH ROW EXECUTE FUNCTION no_room();
"""
_ROOM = "DROP FUNCTION no_room() CASCADE"


@pytest.mark.skipif(connection.vendor != "sqlite", reason="on PostgreSQL the long form does it")
def test_a_backup_made_while_people_save_holds_all_they_were_told_when_the_power_goes(
    place: Place, tmp_path: Path
) -> None:
    with empty_place(tmp_path) as settings:
        found = cut(place, lambda: _place(settings, tmp_path), acts=8, letters=0, times=1, writers=2)
    assert not found.wrong, "\n".join(found.wrong)
    assert found.successes >= 8
