"""Pages of records out: who gets a file, after which steps, and never without the password once more."""

import getpass
import io
import json
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.patients.models import Patient
from planner.patients.services import register_patient
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.records.models import OfficeCopy
from planner.records.services import answer_copy, ask_copy
from planner.rules.results import sha256
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of
from tests.records.sample import person
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db
AGAIN = {"password_again": PASSWORD}


@pytest.fixture
def manager(owner: Staff) -> Staff:
    return person(owner, "Mona Manager", Role.MANAGER)


@pytest.fixture
def keeper(owner: Staff) -> Staff:
    return person(owner, "Kit Keeper", Role.KEEPER)


@pytest.fixture
def patient(owner: Staff) -> Patient:
    return register_patient(name="Ana Belmonte", birth_date=TODAY.replace(year=1980), actor=owner, now=NOW)


def allowed(manager: Staff, owner: Staff) -> OfficeCopy:
    now = timezone.now()
    asked = ask_copy(reason="We change programs.", actor=manager, now=now)
    return answer_copy(copy=asked, agrees=True, reason="", actor=owner, now=now)


def content(response: object) -> bytes:
    return b"".join(response.streaming_content)  # type: ignore[attr-defined]


class TestAPatientsOwn:
    def test_the_file_comes_only_with_the_password_and_is_recorded_with_its_hash(
        self, manager: Staff, patient: Patient
    ) -> None:
        client, url = client_of(manager), reverse("records:patient", args=[patient.public_id])
        sent = {"form": "zip", "reason": "Asked by letter, 2 March."}
        for wrong in ({}, {"password_again": "wrong"}):
            page = client.post(url, sent | wrong)
            assert page["Content-Type"].startswith("text/html")
            assert "Asked by letter, 2 March." in page.content.decode()
        assert not TrailEntry.objects.filter(act="records.patient").exists()
        answer = client.post(url, sent | AGAIN)
        assert answer["Content-Disposition"] == f'attachment; filename="records-{patient.public_id}.zip"'
        assert "Belmonte" not in answer["Content-Disposition"]
        got = content(answer)
        assert "README.txt" in zipfile.ZipFile(io.BytesIO(got)).namelist()
        entry = TrailEntry.objects.get(act="records.patient")
        assert (entry.actor_name, entry.reason) == ("Mona Manager", "Asked by letter, 2 March.")
        assert json.loads(entry.detail.content)["sha256"] == sha256(got)
        assert "Mona Manager: Asked by letter" in client.get(url).content.decode()

    def test_fhir_comes_as_a_download_of_its_own(self, manager: Staff, patient: Patient) -> None:
        url = reverse("records:patient", args=[patient.public_id])
        answer = client_of(manager).post(url, {"form": "fhir", "reason": "Other dentist."} | AGAIN)
        assert answer["Content-Type"] == "application/fhir+json"
        assert json.loads(answer.content)["resourceType"] == "Bundle"

    def test_without_a_reason_nothing_goes_out_and_the_page_says_so(self, manager: Staff, patient: Patient) -> None:
        url = reverse("records:patient", args=[patient.public_id])
        page = client_of(manager).post(url, {"form": "zip", "reason": " "} | AGAIN).content.decode()
        assert "This is missing" in page

    def test_the_desk_is_shown_no_way_to_it(self, owner: Staff, manager: Staff, patient: Patient) -> None:
        desk = person(owner, "Dora Desk", Role.FRONT_DESK)
        address = reverse("patients:patient", args=[patient.public_id])
        here = reverse("records:patient", args=[patient.public_id])
        assert here in client_of(manager).get(address).content.decode()
        assert here not in client_of(desk).get(address).content.decode()
        assert client_of(desk).get(here).status_code == 403


class TestTheWholeOffice:
    def test_three_people_and_three_passwords(self, owner: Staff, manager: Staff, keeper: Staff) -> None:
        home = reverse("records:office")
        client_of(manager).post(home, {"reason": "We change programs."})
        asked = OfficeCopy.objects.get()
        answer, take = (reverse(f"records:{name}", args=[asked.public_id]) for name in ("answer", "take"))
        assert answer in client_of(owner).get(home).content.decode()
        assert answer not in client_of(manager).get(home).content.decode()
        assert "not allowed yet" in client_of(keeper).get(take).content.decode()
        client_of(owner).post(answer, {"action": "allow"})
        asked.refresh_from_db()
        assert asked.outcome == ""
        client_of(owner).post(answer, {"action": "allow"} | AGAIN)
        page = client_of(keeper).get(home).content.decode()
        assert take in page
        assert client_of(keeper).post(take)["Content-Type"].startswith("text/html")
        got = content(client_of(keeper).post(take, AGAIN))
        assert "tables/trail.trailentry.json" in zipfile.ZipFile(io.BytesIO(got)).namelist()
        assert "Kit Keeper" in client_of(owner).get(home).content.decode()

    def test_a_declined_copy_keeps_its_reason_in_sight(self, owner: Staff, manager: Staff) -> None:
        asked = ask_copy(reason="We change programs.", actor=manager, now=timezone.now())
        url = reverse("records:answer", args=[asked.public_id])
        page = client_of(owner).post(url, {"action": "decline", "reason": ""} | AGAIN).content.decode()
        assert "Declining needs a reason" in page
        client_of(owner).post(url, {"action": "decline", "reason": "Not before May."} | AGAIN)
        assert "Not before May." in client_of(manager).get(reverse("records:office")).content.decode()

    def test_queries_do_not_grow_with_copies_taken(self, owner: Staff, manager: Staff) -> None:
        home, client = reverse("records:office"), client_of(manager)
        for number in range(2):
            ask_copy(reason=f"Reason {number}.", actor=manager, now=timezone.now())
        few = queries_of(client, home)
        for number in range(8):
            ask_copy(reason=f"Reason {number}.", actor=manager, now=timezone.now())
        assert queries_of(client, home) == few

    def test_another_office_finds_nothing(self, owner: Staff, manager: Staff, outsider: Staff) -> None:
        asked = ask_copy(reason="We change programs.", actor=manager, now=timezone.now())
        client = Client()
        client.force_login(outsider, backend="planner.practice.backends.StaffBackend")
        assert client.get(reverse("records:answer", args=[asked.public_id])).status_code == 404


class TestTheCommand:
    def test_it_writes_a_new_file_for_the_keeper_alone(
        self, owner: Staff, manager: Staff, keeper: Staff, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(getpass, "getpass", lambda _words: PASSWORD)
        number, to = allowed(manager, owner).public_id, tmp_path / "all.zip"
        with pytest.raises(CommandError, match="not among what office manager may do"):
            call_command("take_records", number, str(to), "--as", "mona")
        assert not to.exists()
        call_command("take_records", number, str(to), "--as", "kit")
        assert to.stat().st_mode & 0o777 == 0o600
        entry = TrailEntry.objects.get(act="records.office")
        assert json.loads(entry.detail.content)["sha256"] == sha256(to.read_bytes())
        with pytest.raises(CommandError, match="File exists"):
            call_command("take_records", number, str(to), "--as", "kit")

    def test_a_wrong_password_or_number_is_told(
        self, keeper: Staff, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(getpass, "getpass", lambda _words: "wrong")
        with pytest.raises(CommandError, match="do not belong"):
            call_command("take_records", "x", str(tmp_path / "a.zip"), "--as", "kit")
        monkeypatch.setattr(getpass, "getpass", lambda _words: PASSWORD)
        with pytest.raises(CommandError, match="No copy has the number x"):
            call_command("take_records", "x", str(tmp_path / "a.zip"), "--as", "kit")
