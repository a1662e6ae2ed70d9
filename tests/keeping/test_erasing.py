"""Erasing a file: two people, nothing left to be found, and everything that remains still holds."""

from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.db.models import Model

from planner.keeping import erasing
from planner.keeping.databases import read_instead
from planner.keeping.erased_list import note_erased, read_list
from planner.keeping.erasing import ask_to_erase, decline, erase
from planner.keeping.models import EraseRequest, Ground
from planner.keeping.past import past_of
from planner.letters.consent_models import Signature
from planner.letters.models import Document
from planner.letters.sealed import read_all
from planner.patients.joining import allow_joining, ask_to_join, carry_out
from planner.patients.models import NameWord, Patient, PeopleFile, PictureContent
from planner.patients.services import register_patient
from planner.plans.accepted_models import Payment
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.services import add_staff
from planner.rules.mouth import CaseFacts
from planner.trail import belonging
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import Erasure, TrailDetail, TrailEntry
from planner.trail.services import verify_chain
from planner.trail.triggers import missing
from tests.closed_rows import Ground as Rows
from tests.closed_rows import every_maker
from tests.keeping.conftest import PHONE, backed_up, empty_place, signed_office
from tests.pages import client_of
from tests.support import NOW, PASSWORD, TODAY, guards_lifted
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db
LATER = NOW.replace(year=2037)
"""Ten years after the signature are over."""
WORDS = ("Anselm", "Brightwater", "brightwater", PHONE, PHONE.replace(" ", ""))


@pytest.fixture
def listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the list of who was erased lies."""
    monkeypatch.setattr(settings, "VAR_DIR", tmp_path)
    return tmp_path / "erased.txt"


@pytest.fixture
def signed(db: None, listed: Path) -> Staff:
    """The owner of an office in which one person has signed."""
    return signed_office()


@pytest.fixture
def manager(signed: Staff) -> Staff:
    return _manager(signed)


def _manager(owner: Staff) -> Staff:
    return add_staff(
        username="mona", full_name="Mona Manager", password=PASSWORD, roles=[Role.MANAGER], actor=owner, now=NOW
    )


def asked_for(manager: Staff, now: datetime = LATER, **changes: Any) -> EraseRequest:
    values: dict[str, Any] = {"ground": Ground.PAST, "reason": "list of 2 March"}
    return ask_to_erase(patient=Patient.objects.get(), **values | changes, actor=manager, now=now)


def gone(manager: Staff, owner: Staff, now: datetime = LATER) -> Erasure:
    asked = asked_for(manager, now)
    return erase(asked=asked, seen=asked.version, actor=owner, now=now)


def everything() -> bytes:
    """Every value of every row of every table, as bytes."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            for row in cursor.fetchall():
                found += [
                    bytes(value) if isinstance(value, bytes | memoryview) else str(value).encode() for value in row
                ]
    return b"\n".join(found)


def faults() -> list[str]:
    return [fault for one in read_all() for fault in one.faults]


# ---------------------------------------------------------------- what is gone and what stays


def test_no_word_of_it_is_found_in_any_table_and_all_that_stays_holds(signed: Staff, manager: Staff) -> None:
    before = everything()
    assert all(word.encode() in before for word in WORDS[:4])
    head, entries = verify_chain().head, TrailEntry.objects.count()
    hashes = dict(Document.objects.values_list("public_id", "sha256"))
    done = gone(manager, signed)
    after = everything()
    assert [word for word in WORDS if word.encode() in after] == []
    assert faults() == []
    assert missing() == ()
    report = verify_chain(known={entries: head})
    assert report.faults == ()
    assert report.erased > 5
    assert {public_id: sha for public_id, sha in done.papers if public_id in hashes} == hashes


def test_salts_go_with_the_content_and_digests_stay(signed: Staff, manager: Staff) -> None:
    details = dict(TrailDetail.objects.filter(content__contains="Brightwater").values_list("entry_id", "salt"))
    digests = dict(TrailEntry.objects.filter(pk__in=details).values_list("pk", "digest"))
    assert details
    gone(manager, signed)
    assert not TrailDetail.objects.filter(pk__in=details).exists()
    assert dict(TrailEntry.objects.filter(pk__in=details).values_list("pk", "digest")) == digests
    kept = everything()
    assert [salt for salt in details.values() if salt.encode() in kept] == []


def test_a_joined_file_goes_with_it_and_a_file_of_people_that_waits(signed: Staff, manager: Staff) -> None:
    kept = Patient.objects.get()
    other = register_patient(name="Anselm Brightwater", birth_date=kept.birth_date, actor=signed, now=NOW)
    join = ask_to_join(kept=kept, joined=other, reason="one person", actor=signed, now=NOW)
    join = allow_joining(join=join, take=(), actor=manager, now=NOW)
    carry_out(join=join, actor=signed, now=NOW)
    PeopleFile.objects.create(office=signed.office, data=b"Anselm Brightwater", sha256="0" * 64, sent_by=signed, at=NOW)
    asked = ask_to_erase(patient=kept, ground=Ground.PAST, reason="list of 2 March", actor=manager, now=LATER)
    erase(asked=asked, seen=asked.version, actor=signed, now=LATER)
    assert not Patient.objects.exists()
    left = everything()
    assert [word for word in WORDS if word.encode() in left] == []
    assert set(Erasure.objects.values_list("subject_id", flat=True)) == {kept.public_id, other.public_id}
    assert verify_chain().faults == ()
    assert faults() == []


def test_the_record_says_that_it_was_done_by_whom_and_why(signed: Staff, manager: Staff) -> None:
    public_id = Patient.objects.get().public_id
    done = gone(manager, signed)
    entry = TrailEntry.objects.get(act="erase")
    assert (entry.subject_id, entry.actor_id, entry.reason) == (public_id, signed.pk, "list of 2 March")
    assert (done.asked_by_id, done.by_id) == (manager.pk, signed.pk)
    assert TrailEntry.objects.get(act="erase.ask").actor_id == manager.pk


def test_somebody_elses_file_stays_whole(signed: Staff, manager: Staff) -> None:
    """Also that of a namesake, and of somebody with a part of the phone number."""
    other = register_patient(
        name="Anselma Brightwaters", birth_date=TODAY.replace(year=1990), phone="555 0142 779", actor=signed, now=NOW
    )
    told = TrailDetail.objects.filter(entry__subject_id=other.public_id).count()
    assert told
    (patient,) = Patient.objects.exclude(pk=other.pk)
    asked = ask_to_erase(patient=patient, ground=Ground.PAST, reason="a list", actor=manager, now=LATER)
    erase(asked=asked, seen=asked.version, actor=signed, now=LATER)
    assert Patient.objects.get() == other
    assert TrailDetail.objects.filter(entry__subject_id=other.public_id).count() == told
    assert NameWord.objects.filter(patient=other).exists()


FURTHEST = (
    "followup.madecall", "letters.countersignature", "letters.questionanswer", "letters.withdrawal",
    "patients.payeranswer", "patients.placereading", "plans.agreement", "plans.balancecall", "plans.payerpaid",
    "plans.refund", "plans.stageearned", "visits.laboratorymove", "visits.latefee", "visits.notesettled",
)  # fmt: skip
"""Tables at the end of each way: their rows hang on rows of most others."""


def test_every_table_that_is_somebodys_is_emptied(owner: Staff, lead_case: CaseFacts, listed: Path) -> None:
    """Rows of closed tables, made as for the test of the guards; then each person is erased."""
    for label in FURTHEST:
        with suppress(IntegrityError, Refused), transaction.atomic():  # what another maker made may be in its way
            every_maker()[label](Rows(owner, lead_case))
    filled = [model for model in belonging.ways() if model._default_manager.exists()]
    assert len(filled) > 25
    manager = _manager(owner)
    for patient in Patient.objects.all():
        now = NOW + timedelta(days=40 * 366)
        asked = ask_to_erase(patient=patient, ground=Ground.ASKED, reason="a letter", actor=manager, now=now)
        erase(asked=asked, seen=asked.version, actor=owner, now=now)
    assert [model for model in filled if model._default_manager.exists()] == []
    assert verify_chain().faults == ()


@pytest.mark.parametrize("model", belonging.deepest_first(), ids=lambda model: model._meta.label)
def test_the_way_to_the_person_can_be_asked_of_the_database(model: type[Model]) -> None:
    table = model._meta.db_table
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT {belonging.owner_sql(model, "asked")} FROM "{table}" asked')
        assert cursor.fetchall() == []


def test_what_was_paid_stays_without_a_name_while_law_keeps_it(signed: Staff, manager: Staff) -> None:
    plan = accepted_plan(signed, name="Greta Payer")
    now = NOW.replace(year=2030)
    Payment.objects.create(
        office=signed.office, plan=plan, kind="receipt", cents=12_345, payer="Greta's aunt", route="card",
        on=now.date(), by=signed, at=now,
    )  # fmt: skip
    asked = ask_to_erase(patient=plan.patient, ground=Ground.PAST, reason="a list", actor=manager, now=LATER)
    done = erase(asked=asked, seen=asked.version, actor=signed, now=LATER)
    assert done.kept["payments"] == [["2030-03-02", "receipt", 12_345, "card"]]
    assert done.kept["through"] == "2037-12-31"
    assert "ask your local tax law" in done.kept["why"]
    assert not Payment.objects.exists()
    for word in (b"Greta", b"aunt"):
        assert word not in everything()


# ---------------------------------------------------------------- what stands against it


def test_a_signed_paper_within_its_time_is_refused_with_the_day(signed: Staff, manager: Staff) -> None:
    with pytest.raises(Refused, match=r"may not be erased before 5 March 2036\. Something was signed"):
        asked_for(manager, NOW + timedelta(days=300), ground=Ground.ASKED)
    assert not EraseRequest.objects.exists()
    # The last day still stands against it, the next no more.
    with pytest.raises(Refused):
        asked_for(manager, datetime(2036, 3, 4, 20, tzinfo=NOW.tzinfo))
    assert asked_for(manager, datetime(2036, 3, 5, 20, tzinfo=NOW.tzinfo)).outcome == ""


def test_what_came_in_between_asking_and_agreeing_is_seen(signed: Staff, manager: Staff) -> None:
    asked = asked_for(manager)
    with guards_lifted():
        Signature.objects.update(signed_on=LATER.date())
    with pytest.raises(Refused, match="may not be erased before"):
        erase(asked=asked, seen=asked.version, actor=signed, now=LATER)
    assert Patient.objects.exists()
    assert EraseRequest.objects.get().outcome == ""


def test_nobody_agrees_to_their_own_and_only_an_owner_agrees(signed: Staff, manager: Staff) -> None:
    asked = asked_for(signed)
    with pytest.raises(Refused, match="Two people stand behind an erasing"):
        erase(asked=asked, seen=asked.version, actor=signed, now=LATER)
    with pytest.raises(NotAllowed):
        erase(asked=asked, seen=asked.version, actor=manager, now=LATER)
    with pytest.raises(Refused, match="asked for this already"):
        asked_for(manager)
    assert Patient.objects.exists()


def test_declined_it_stays_and_answers_are_given_once(signed: Staff, manager: Staff) -> None:
    asked = asked_for(manager)
    with pytest.raises(Refused, match="needs a reason"):
        decline(asked=asked, seen=asked.version, reason=" ", actor=signed, now=LATER)
    stale = asked.version
    answered = decline(asked=asked, seen=asked.version, reason="a complaint is open", actor=signed, now=LATER)
    with pytest.raises(Refused, match="answered already"):
        erase(asked=answered, seen=answered.version, actor=signed, now=LATER)
    with pytest.raises(StaleEdit):
        erase(asked=asked, seen=stale, actor=signed, now=LATER)
    assert Patient.objects.exists()
    assert faults() == []


@pytest.mark.parametrize("reason", ["Anselm Brightwater asked", "call +1 (555) 0142-77", "  "])
def test_a_reason_that_names_the_person_or_nothing_is_refused(signed: Staff, manager: Staff, reason: str) -> None:
    with pytest.raises(Refused, match=r"must not name the person|needs a reason"):
        asked_for(manager, reason=reason)


def test_the_guards_let_go_nobody_else(signed: Staff, manager: Staff) -> None:
    paper = Document.objects.filter(kind="consent-letter").get()
    for act in (
        lambda: Document.objects.filter(pk=paper.pk)._raw_delete(connection.alias),
        lambda: PictureContent.objects.all()._raw_delete(connection.alias),
    ):
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            act()
    gone(manager, signed)
    for change in ({"reason": "x"}, {"subject_id": "x"}):
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            Erasure.objects.update(**change)


def test_only_what_is_over_is_listed(signed: Staff, manager: Staff) -> None:
    assert past_of(signed.office, NOW + timedelta(days=3650)) == []
    (found,) = past_of(signed.office, LATER)
    assert found.patient == Patient.objects.get()
    call_command("retention")


# ---------------------------------------------------------------- the file itself, and older backups


@pytest.mark.django_db(transaction=True)
def test_an_older_backup_comes_back_without_the_erased_and_no_word_is_in_the_file(
    listed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner = signed_office()
    manager = _manager(owner)
    older, later = tmp_path / "older.tar", tmp_path / "later.tar"
    backed_up(older)
    public_id = Patient.objects.get().public_id
    gone(manager, owner)
    assert read_list(listed) == {public_id}
    manifest = backed_up(later)
    assert manifest.erased == (public_id,)
    with empty_place(tmp_path) as place, read_instead(place):
        call_command("restore", str(older))
        assert not Patient.objects.exists()
        assert Erasure.objects.get().reason == erasing.AGAIN
        assert faults() == []
        assert [word for word in WORDS if word.encode() in everything()] == []
        if connection.vendor == "sqlite":
            connection.close()
            content = Path(place["NAME"]).read_bytes()
            assert [word for word in WORDS if word.encode() in content] == []
    # The list is lost too, and a later backup knows it.
    listed.unlink()
    (other := tmp_path / "other").mkdir()
    with empty_place(other) as place, read_instead(place):
        call_command("restore", str(older), "--erased", str(later))
        assert not Patient.objects.exists()
    (third := tmp_path / "third").mkdir()
    with empty_place(third) as place, read_instead(place):
        (third / "list").write_text("no list\n")
        with pytest.raises(CommandError, match="is no line of such a list"):
            call_command("restore", str(older), "--erased", str(third / "list"))
        with pytest.raises(CommandError, match="nowhere is not there"):
            call_command("restore", str(older), "--erased", str(third / "nowhere"))


def test_the_list_grows_once_for_each(tmp_path: Path) -> None:
    path = tmp_path / "erased.txt"
    note_erased([("abc", "office", NOW)], path)
    note_erased([("abc", "office", NOW), ("def", "office", NOW)], path)
    assert read_list(path) == {"abc", "def"}
    assert path.stat().st_mode & 0o077 == 0


# ---------------------------------------------------------------- pages


def test_the_pages_ask_and_agree_with_the_password_once_more(signed: Staff, manager: Staff) -> None:
    patient = Patient.objects.get()
    with time_machine.travel(LATER, tick=False):
        desk, owner = client_of(manager), client_of(signed)
        assert b"Brightwater" in desk.get("/keeping/").content
        page = f"/keeping/file/{patient.public_id}/"
        assert b"stands against" in desk.get(page).content
        sent = {"ground": Ground.ASKED.value, "reason": "Anselm Brightwater wrote"}
        assert b"must not name the person" in desk.post(page, sent).content
        assert desk.post(page, sent | {"reason": "letter of 2 March"}).status_code == 302
        row = EraseRequest.objects.get()
        asked = f"/keeping/asked/{row.public_id}/"
        assert b"letter of 2 March" in owner.get(asked).content
        act = {"action": "erase", "seen": row.version}
        assert b"erased for good" in owner.post(asked, act).content
        assert Patient.objects.exists(), "the password is asked first"
        assert owner.post(asked, act | {"password_again": PASSWORD}).status_code == 302
        assert not Patient.objects.exists()
        assert b"letter of 2 March" in owner.get("/keeping/").content
        assert owner.get(page).status_code == 404
        assert owner.get(asked).status_code == 302


def test_every_table_is_somebodys_or_known_to_be_nobodys() -> None:
    """A new table that holds words about people is either found along its keys or has to be thought about here."""
    nobodys = {
        "followup": set(),
        "keeping": {"EraseRequest"},
        "records": {"OfficeCopy"},
        "story": set(),
        "letters": set(),
        "patients": {"PayerPlan", "PeopleFile"},
        "plans": set(),
        "practice": {model.__name__ for model in apps.get_app_config("practice").get_models()},
        "trail": {"TrailEntry", "TrailDetail", "Erasure"},
        "visits": {"Chair", "WorkWeek", "Absence", "BlockedTime"},
    }  # fmt: skip
    for label, names in nobodys.items():
        models = set(apps.get_app_config(label).get_models())
        assert {model.__name__ for model in models - set(belonging.ways())} <= names, label
