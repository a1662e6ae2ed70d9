"""The chain of acts: it verifies, and every way of tampering with it shows."""

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from hashlib import sha256
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from hypothesis import given
from hypothesis import strategies as st

from planner.practice.models import Staff
from planner.trail.canonical import canonical_json
from planner.trail.errors import Refused
from planner.trail.models import TrailDetail, TrailEntry
from planner.trail.services import Subject, chain_hash, erase_details, record, record_refusal, verify_chain
from tests.support import NOW, guards_lifted, migrated

pytestmark = pytest.mark.django_db


def write(owner: Staff, act: str = "patient.view", **values: object) -> TrailEntry:
    return record(actor=owner, act=act, subject=Subject("patients.patient", "abc"), at=NOW, **values)


def spoil(sql: str) -> None:
    with guards_lifted(), connection.cursor() as cursor:
        cursor.execute(sql)


def test_it_chains_each_entry_to_the_one_before(owner: Staff) -> None:
    first, second = write(owner), write(owner, content={"name": "Zoë"}, reason="asked by phone")
    assert second.previous == first.hash
    assert second.sequence == first.sequence + 1
    assert (second.actor_name, second.role, second.office_id) == ("Olive Owner", "owner dentist", owner.office_id)
    report = verify_chain()
    assert report.faults == ()
    assert (report.entries, report.head) == (TrailEntry.objects.count(), second.hash)


def test_it_hashes_as_written_down_here(owner: Staff) -> None:
    # SHA-256 (FIPS 180-4) from the standard library over JSON built by hand, apart from the code under test.
    entry = write(owner, reason="r")
    text = (
        f'{{"act":"patient.view","actor":{owner.pk},"actor_name":"Olive Owner","at":"2026-03-02T15:00:00.000000+00:00",'
        f'"digest":"","office":{owner.office_id},"previous":"{entry.previous}","reason":"r","role":"owner dentist",'
        f'"sequence":{entry.sequence},"subject_id":"abc","subject_kind":"patients.patient"}}'
    )
    assert entry.hash == sha256(text.encode()).hexdigest()


def test_a_short_script_of_its_own_recomputes_the_whole_chain_from_a_plain_dump(owner: Staff) -> None:
    """Nothing of the program is used: SQL, JSON and SHA-256 (FIPS 180-4) from the standard library."""
    write(owner, content={"allergy": "latex", "name": "Zoë"}, reason="asked «by phone»")
    last = record(actor=None, act="refused.session.begin", reason="wrong", at=NOW)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sequence, trail_trailentry.office_id, at, actor_id, actor_name, role, act, "
            "subject_kind, subject_id, reason, digest, previous, hash, salt, content "
            "FROM trail_trailentry LEFT JOIN trail_traildetail ON entry_id = sequence ORDER BY sequence"
        )
        rows = cursor.fetchall()
    parts = "sequence office at actor actor_name role act subject_kind subject_id reason digest previous"
    names = tuple(parts.split())
    before = ""
    for *columns, noted, salt, content in rows:
        said = dict(zip(names, columns, strict=True))
        moment = said["at"] if isinstance(said["at"], datetime) else datetime.fromisoformat(said["at"])
        said["at"] = moment.replace(tzinfo=UTC).isoformat(timespec="microseconds")
        text = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert sha256(text.encode()).hexdigest() == noted
        assert said["previous"] == before
        assert not content or sha256(f"{salt}\n{content}".encode()).hexdigest() == said["digest"]
        before = noted
    assert before == last.hash
    assert len(rows) >= 4


def test_it_keeps_content_out_of_the_chain(owner: Staff) -> None:
    entry = write(owner, content={"allergy": "latex"})
    assert "latex" not in canonical_json({f.name: str(getattr(entry, f.attname)) for f in entry._meta.fields}).decode()
    assert json.loads(entry.detail.content) == {"allergy": "latex"}
    assert write(owner, content={"allergy": "latex"}).digest != entry.digest, "the salt keeps equal contents apart"


@pytest.mark.parametrize(
    ("sql", "fault"),
    [
        ("UPDATE trail_trailentry SET actor_name = 'Somebody else' WHERE sequence = 3", "Entry 3 was changed"),
        ("UPDATE trail_trailentry SET reason = 'another' WHERE sequence = 3", "Entry 3 was changed"),
        ("UPDATE trail_trailentry SET previous = '' WHERE sequence = 3", "Entry 3 does not follow"),
        ("DELETE FROM trail_trailentry WHERE sequence = 2", "Entry 2 is missing"),
        ("UPDATE trail_traildetail SET content = '{}' WHERE entry_id = 3", "beside entry 3 was changed"),
        ("DELETE FROM trail_traildetail WHERE entry_id = 3", "beside entry 3 is gone"),
    ],
)
def test_it_sees_tampering(owner: Staff, sql: str, fault: str) -> None:
    write(owner, content={"name": "Ann"})
    spoil("DELETE FROM trail_traildetail WHERE entry_id = 2" if "sequence = 2" in sql else "SELECT 1")
    spoil(sql)
    assert any(fault in found for found in verify_chain().faults), verify_chain().faults


def test_it_sees_a_chain_cut_off_at_the_end_when_the_head_was_noted_down(owner: Staff) -> None:
    last = write(owner)
    spoil(f"DELETE FROM trail_trailentry WHERE sequence = {last.sequence}")
    assert verify_chain().faults == ()
    assert verify_chain(known={last.sequence: last.hash}).faults == (
        f"Entry {last.sequence} was noted down elsewhere and is not here.",
    )


def test_it_refuses_an_instant_without_a_zone(owner: Staff) -> None:
    with pytest.raises(ValueError, match="UTC"):
        record(actor=owner, act="x", at=NOW.replace(tzinfo=None))


def test_it_keeps_the_same_instant_whatever_zone_it_is_given_in(owner: Staff) -> None:
    # The hour that a clock shows twice when summer time ends is told apart by sequence and UTC.
    entry = record(actor=owner, act="x", at=NOW.astimezone(timezone(timedelta(hours=-5))))
    entry.refresh_from_db()
    assert (entry.at, chain_hash(entry)) == (NOW, entry.hash)


def test_a_rolled_back_act_leaves_no_entry(owner: Staff) -> None:
    before = TrailEntry.objects.count()

    def refused() -> None:
        with transaction.atomic():
            write(owner)
            raise Refused("no")

    with pytest.raises(Refused):
        refused()
    assert TrailEntry.objects.count() == before
    assert verify_chain().faults == ()


@pytest.mark.django_db(transaction=True)
def test_a_refusal_stays_and_will_not_be_nested(owner: Staff) -> None:
    entry = record_refusal(actor=owner, act="patient.edit", reason="not allowed", at=NOW)
    assert entry.act == "refused.patient.edit"
    with pytest.raises(RuntimeError, match="inside the transaction"):
        record(actor=owner, act="patient.edit", at=NOW)
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        record_refusal(actor=owner, act="patient.edit", reason="not allowed", at=NOW)


def test_erasing_takes_content_and_salt_and_leaves_the_chain_whole(owner: Staff) -> None:
    entry = write(owner, content={"name": "Ann"}, reason="asked by letter")
    assert erase_details(entries=[entry], actor=owner, reason="request of 1 March", now=NOW) == 1
    assert not TrailDetail.objects.filter(entry=entry).exists()
    report = verify_chain()
    assert (report.faults, report.erased) == ((), 1)
    entry.refresh_from_db()
    assert (entry.reason, len(entry.digest)) == ("asked by letter", 64)
    with pytest.raises(Refused, match="reason"):
        erase_details(entries=[entry], actor=owner, reason=" ", now=NOW)


def test_the_command_prints_the_head_and_fails_with_every_fault(owner: Staff) -> None:
    last = write(owner)
    out = StringIO()
    call_command("verify_trail", stdout=out)
    assert f"{last.sequence}:{last.hash}" in out.getvalue()
    call_command("verify_trail", f"--known={last.sequence}:{last.hash}", stdout=out)
    with pytest.raises(CommandError, match="not the one noted down"):
        call_command("verify_trail", f"--known={last.sequence}:{'0' * 64}", stdout=out)
    with pytest.raises(CommandError, match="not an entry and its hash"):
        call_command("verify_trail", "--known=last", stdout=out)


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)


@given(PLAIN)
def test_canonical_json_reads_back_and_does_not_depend_on_order(value: object) -> None:
    text = canonical_json(value)
    assert json.loads(text) == value
    if isinstance(value, dict):
        assert canonical_json(dict(reversed(value.items()))) == text


def test_canonical_json_refuses_floats() -> None:
    with pytest.raises(ValueError, match="float"):
        canonical_json({"width": [8.3]})


WRITER = """
import os, sys, django
os.environ["DJANGO_SETTINGS_MODULE"] = "planner.config.settings"
django.setup()
from datetime import UTC, datetime
from django.db import transaction
from planner.trail.services import record
for _ in range(15):
    with transaction.atomic():
        record(actor=None, act="test.write", content={"n": 1}, at=datetime.now(UTC))
"""


def test_an_hour_that_the_clock_shows_twice_keeps_its_order(owner: Staff) -> None:
    """1 November 2026, 1:30 in the morning in Toronto, first in summer time and an hour later in winter time."""
    zone = owner.office.zone
    first, second = (datetime(2026, 11, 1, 1, 30, tzinfo=zone, fold=fold) for fold in (0, 1))
    assert first.replace(tzinfo=None) == second.replace(tzinfo=None)
    rows = [
        record(actor=owner, act="letter.sign", subject=Subject("letters.document", "abc"), at=at)
        for at in (first, second)
    ]
    first_kept, second_kept = TrailEntry.objects.filter(pk__in=[row.pk for row in rows]).order_by("sequence")
    assert (second_kept.at - first_kept.at).total_seconds() == 3600
    assert second_kept.previous == first_kept.hash
    assert verify_chain().faults == ()


def test_writers_in_several_processes_make_one_chain(tmp_path, settings, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    # A database of its own, because other processes cannot see what this test's transaction holds.
    command = [sys.executable, "manage.py"]
    monkeypatch.setenv("DATABASE_URL", _own_database(tmp_path))
    if connection.vendor == "sqlite":
        migrated(tmp_path / "chain.sqlite3")
    else:
        subprocess.run([*command, "migrate", "-v0"], check=True, cwd=settings.BASE_DIR)
    writers = [subprocess.Popen([sys.executable, "-c", WRITER], cwd=settings.BASE_DIR) for _ in range(3)]
    assert [writer.wait(timeout=300) for writer in writers] == [0, 0, 0]
    said = subprocess.run([*command, "verify_trail"], check=True, cwd=settings.BASE_DIR, capture_output=True, text=True)
    assert "45 entries" in said.stdout


def _own_database(tmp_path) -> str:  # type: ignore[no-untyped-def]
    if connection.vendor == "sqlite":
        return f"sqlite:///{tmp_path / 'chain.sqlite3'}"
    values = connection.settings_dict
    name = f"{values['NAME']}_chain"
    import psycopg

    with psycopg.connect(
        **{**connection.get_connection_params(), "dbname": values["NAME"], "autocommit": True, "cursor_factory": None}
    ) as outside:
        outside.execute(f'DROP DATABASE IF EXISTS "{name}"')
        outside.execute(f'CREATE DATABASE "{name}"')
    host = values["HOST"]
    where = f"?host={host}" if host.startswith("/") else ""
    server = "" if where else f"{host}:{values['PORT'] or 5432}"
    return f"postgresql://{values['USER']}:{values['PASSWORD']}@{server or ':' + str(values['PORT'])}/{name}{where}"
