"""The server killed while people save and sign, and several writers at once: short forms of ``make soak``.

What was answered with success is there afterwards, once; nothing is there by half; the record and the papers verify.
Outside check: the four letters of ACID (ISO/IEC 10026-1, from memory), durability against the end of a process.
"""

from pathlib import Path

import pytest
from django.db import connection

from tests.faults.serving import Place
from tests.faults.ways import full, killed, many
from tests.support import migrated

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A database of processes of its own: a file, or the test database where that is a server."""
    if connection.vendor == "sqlite":
        migrated(tmp_path / "office.sqlite3")
        return Place(f"sqlite:////{(tmp_path / 'office.sqlite3').as_posix().lstrip('/')}", tmp_path)
    at = connection.settings_dict
    return Place(f"postgres://{at['USER']}@{at['HOST']}:{at['PORT']}/{at['NAME']}", tmp_path)


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


@pytest.mark.skipif(connection.vendor != "sqlite", reason="the files of PostgreSQL are its own server's")
def test_a_full_disk_is_told_and_leaves_nothing_by_half(place: Place) -> None:
    found = full(place, acts=8, letters=1, times=1)
    assert not found.wrong, "\n".join(found.wrong)
    assert found.successes >= 8
    assert found.broken_off >= 1
