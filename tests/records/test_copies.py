"""Copies of everything: whole, checkable by other programs, safe in a spreadsheet, with nobody else's data in them.

Outside the project: ``sha256sum`` of the GNU core utilities reads the list of hashes, the package ``fhir.resources``
the FHIR files; that a cell beginning with ``=``, ``+``, ``-`` or ``@`` runs in spreadsheets is common knowledge of the
trade of web security (OWASP's page on CSV injection, from memory).
"""

import csv
import io
import json
import re
import shutil
import subprocess
import tempfile
import tracemalloc
import zipfile
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db.models import BinaryField
from fhir.resources.R4B.bundle import Bundle
from fhir.resources.R4B.consent import Consent as FhirConsent

from planner.letters.models import Document
from planner.letters.withdrawing import withdraw_consent
from planner.patients.models import Patient, PictureFile
from planner.patients.services import register_patient
from planner.plans.models import Estimate, FrozenPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.records import tables as known
from planner.records import writing
from planner.records.fhir import bundle_of
from planner.records.models import OfficeCopy
from planner.records.services import (
    GOOD_FOR,
    answer_copy,
    ask_copy,
    office_copy,
    patient_copy,
    patient_fhir,
    why_not_taken,
)
from planner.records.writing import Copy, write_copy
from planner.rules import fhir
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailDetail, TrailEntry
from planner.trail.services import chain_hash
from tests.letters.consents import LATER, handed, sign
from tests.pages import priced_office
from tests.records.sample import estimate_with_payer, patient_of, person
from tests.support import NOW, TODAY, guards_lifted

pytestmark = pytest.mark.django_db

PROJECT = ("followup", "keeping", "letters", "patients", "plans", "practice", "records", "story", "trail", "visits")


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def estimate(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return estimate_with_payer(owner, lead_case)


def opened(copy: Copy) -> zipfile.ZipFile:
    with copy.file:
        return zipfile.ZipFile(io.BytesIO(copy.file.read()))


def copy_of(patient: Patient | None, owner: Staff) -> zipfile.ZipFile:
    return opened(write_copy(office=owner.office, patient=patient, now=NOW))


def rows(copy: zipfile.ZipFile, table: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(copy.read(f"tables/{table}.json"))
    return found


def sheet(copy: zipfile.ZipFile, table: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(copy.read(f"tables/{table}.csv").decode("utf-8-sig"))))


class TestTheList:
    """Whoever adds a table says here where it goes out, or why it does not."""

    def test_every_table_of_the_program_is_in_it_once(self) -> None:
        models = {model._meta.label for model in apps.get_models() if model._meta.app_label in PROJECT}
        listed = [table.label for table in known.PATIENTS + known.OFFICE] + list(known.NOT_OUT)
        assert sorted(listed) == sorted(models)

    def test_what_leads_to_a_patient_is_in_the_patients_own_copy(self) -> None:
        def leads(model: Any, seen: frozenset[Any] = frozenset()) -> bool:
            if model is Patient:
                return True
            for field in model._meta.concrete_fields:
                to = field.related_model
                if to is not None and to not in seen and not field.null and leads(to, seen | {model}):
                    return True
            return False

        for table in known.OFFICE:
            assert not leads(table.model), f"{table.label} leads to a patient"
        for table in known.PATIENTS[1:]:
            for path in table.paths:
                end: Any = table.model
                for step in path.split("__"):
                    end = end._meta.get_field(step).related_model
                assert end is Patient, f"{table.label} does not lead to a patient by {path}"

    def test_every_column_of_bytes_goes_out_as_files_or_is_made_from_such(self) -> None:
        bytes_columns = {
            f"{model._meta.label}.{field.name}"
            for model in apps.get_models()
            if model._meta.app_label in PROJECT
            for field in model._meta.concrete_fields
            if isinstance(field, BinaryField)
        }
        assert {f"{one.label}.{one.column}" for one in known.FILES} | known.MADE_AGAIN == bytes_columns

    def test_every_secret_column_is_one(self) -> None:
        for name in known.SECRET:
            label, column = name.rsplit(".", 1)
            assert apps.get_model(label)._meta.get_field(column)


class TestOneOwnCopy:
    def test_everything_of_a_person_is_there_and_nothing_of_another(self, owner: Staff, estimate: Estimate) -> None:
        patient = patient_of(estimate)
        other = register_patient(name="Zed Other", birth_date=TODAY.replace(year=1980), actor=owner, now=NOW)
        copy = copy_of(patient, owner)
        (self_row,) = rows(copy, "patients.patient")
        assert self_row["public_id"] == patient.public_id
        everything = b"".join(copy.read(name) for name in copy.namelist())
        assert other.public_id.encode() not in everything
        assert b"Zed" not in everything
        frozen = FrozenPlan.objects.get()
        assert sha256(copy.read(f"plans/{frozen.public_id}.json")) == frozen.sha256
        assert rows(copy, "plans.estimate")[0]["number"] == estimate.number
        assert rows(copy, "plans.payerguess")
        assert [row["what"] for row in json.loads(copy.read("who-opened.json"))].count("plans.estimate") > 0

    def test_a_picture_that_was_set_aside_is_nowhere_in_it(self, owner: Staff, estimate: Estimate) -> None:
        copy = copy_of(patient_of(estimate), owner)
        kept = PictureFile.objects.get(set_aside__isnull=True)
        gone = PictureFile.objects.get(set_aside__isnull=False)
        assert f"pictures/photo-{kept.public_id}.png" in copy.namelist()
        for name in copy.namelist():
            if not name.startswith("who-opened"):
                assert gone.public_id.encode() not in copy.read(name), name
                assert gone.sha256.encode() not in copy.read(name), name

    def test_the_whole_office_has_the_row_of_such_a_picture_and_not_its_bytes(
        self, owner: Staff, estimate: Estimate
    ) -> None:
        gone = PictureFile.objects.get(set_aside__isnull=False)
        copy = copy_of(None, owner)
        assert gone.public_id in [row["public_id"] for row in rows(copy, "patients.picturefile")]
        assert not [name for name in copy.namelist() if gone.public_id in name]

    def test_tables_say_the_same_in_both_forms(self, owner: Staff, estimate: Estimate) -> None:
        copy = copy_of(None, owner)
        names = [name for name in copy.namelist() if name.startswith("tables/") and name.endswith(".json")]
        assert len(names) == len(known.PATIENTS + known.OFFICE)
        for name in names:
            table = name.removeprefix("tables/").removesuffix(".json")
            plain, cells = rows(copy, table), sheet(copy, table)
            assert len(plain) == len(cells), table
            for one, other in zip(plain, cells, strict=True):
                assert list(one) == list(other), table
        reading = rows(copy, "patients.toothreading")[0]
        assert isinstance(reading["width"], int)
        assert sheet(copy, "patients.toothreading")[0]["width"] == str(reading["width"])

    @pytest.mark.parametrize("live", ["=1+1", "+49 30 1", "@SUM(A1)", "-2+3", "\tx", "'=1"])
    def test_no_cell_is_live(self, owner: Staff, live: str) -> None:
        patient = register_patient(
            name=f"{live} Test", birth_date=TODAY.replace(year=1980), phone=live, sorted_by="t", actor=owner, now=NOW
        )
        copy = copy_of(patient, owner)
        (cells,) = sheet(copy, "patients.patient")
        for name in ("name", "phone"):
            assert not re.match(r"[=+\-@\t\r]", cells[name]), cells[name]
        (plain,) = rows(copy, "patients.patient")
        assert plain["name"] == patient.name

    def test_other_programs_check_the_hashes_and_find_what_was_changed(
        self, owner: Staff, estimate: Estimate, tmp_path: Path
    ) -> None:
        program = shutil.which("sha256sum")
        assert program
        copy = copy_of(patient_of(estimate), owner)
        copy.extractall(tmp_path)
        command = [program, "--strict", "--quiet", "-c", "SHA256SUMS"]
        assert subprocess.run(command, cwd=tmp_path, capture_output=True).returncode == 0
        told = json.loads(copy.read("manifest.json"))["files"]
        assert {one["name"] for one in told} == set(copy.namelist()) - {"manifest.json", "SHA256SUMS"}
        for one in told:
            content = copy.read(one["name"])
            assert (len(content), sha256(content)) == (one["bytes"], one["sha256"])
        (tmp_path / "README.txt").write_text("changed")
        assert subprocess.run(command, cwd=tmp_path, capture_output=True).returncode == 1

    def test_bytes_that_are_not_what_was_recorded_are_named(self, owner: Staff, estimate: Estimate) -> None:
        frozen = FrozenPlan.objects.get()
        picture = PictureFile.objects.get(set_aside__isnull=True)
        with guards_lifted():
            PictureFile.objects.filter(pk=picture.pk).update(sha256=sha256(b"other"))
        copy = write_copy(office=owner.office, patient=patient_of(estimate), now=NOW)
        name = f"pictures/photo-{picture.public_id}.png"
        assert copy.faults == (name,)
        made = opened(copy)
        assert f"- {name}" in made.read("README.txt").decode()
        told = {one["name"]: one.get("as_recorded") for one in json.loads(made.read("manifest.json"))["files"]}
        assert told[name] is False
        assert told[f"plans/{frozen.public_id}.json"] is True

    @pytest.mark.parametrize(
        ("language", "words"),
        [("en", "The tables, one by one"), ("es", "Las tablas, una por una")],
    )
    def test_the_plain_words_are_in_the_patients_language_and_name_every_file(
        self, owner: Staff, estimate: Estimate, language: str, words: str
    ) -> None:
        patient = patient_of(estimate)
        patient.language = language
        copy = copy_of(patient, owner)
        text = copy.read("README.txt").decode()
        assert words in text
        assert patient.name in text
        for name in copy.namelist():
            part = name.split("/")[1].rsplit(".", 1)[0] if name.startswith("tables/") else name.split("/")[0]
            assert part in text or name == "README.txt", name

    def test_the_same_moment_gives_the_same_bytes(self, owner: Staff, estimate: Estimate) -> None:
        first, second = (write_copy(office=owner.office, patient=patient_of(estimate), now=NOW) for _ in range(2))
        first.file.close()
        second.file.close()
        assert first.sha256 == second.sha256


class TestFhir:
    def test_every_reference_leads_to_a_resource_and_every_option_is_a_plan(
        self, owner: Staff, estimate: Estimate
    ) -> None:
        copy = copy_of(patient_of(estimate), owner)
        made = json.loads(copy.read("fhir/bundle.json"))
        Bundle.model_validate(made)
        urls = {entry["fullUrl"] for entry in made["entry"]}
        text = json.dumps(made)
        assert set(re.findall(r'"reference": "([^"]+)"', text)) <= urls
        resources = [entry["resource"] for entry in made["entry"]]
        by_kind = {kind: [one for one in resources if one["resourceType"] == kind] for kind in
                   ("CarePlan", "Claim", "Coverage", "DocumentReference", "Patient")}  # fmt: skip
        assert [one["status"] for one in by_kind["CarePlan"]] == ["draft"] * len(estimate.options)
        assert {one["title"] for one in by_kind["CarePlan"]} >= {"No treatment"}
        assert len(by_kind["Patient"]) == len(by_kind["Coverage"]) == 1
        assert by_kind["Claim"]
        for claim in by_kind["Claim"]:
            assert (claim["use"], claim["status"]) == ("predetermination", "draft")
            assert {one["net"]["currency"] for one in claim["item"]} == {"CAD"}
        hashes = [
            one["content"][0]["attachment"]["extension"][0]["valueString"] for one in by_kind["DocumentReference"]
        ]
        names = [one["content"][0]["attachment"]["url"] for one in by_kind["DocumentReference"]]
        assert [sha256(copy.read(name)) for name in names] == hashes
        # No code of a licensed set: every coding is FHIR's own or ours.
        systems = set(re.findall(r'"system": "([^"]+)"', text))
        allowed = ("http://terminology.hl7.org/CodeSystem/", "urn:ietf:bcp:47", "phone", *fhir.SYSTEMS)
        assert all(system.startswith(allowed) for system in systems), systems

    def test_a_signed_letter_is_an_active_consent_that_points_at_the_signed_copy(
        self, owner: Staff, lead_case: CaseFacts
    ) -> None:
        estimate = estimate_with_payer(owner, lead_case)
        consent = handed(estimate, owner)
        signature = sign(consent, owner)
        copy = copy_of(patient_of(estimate), owner)
        made = json.loads(copy.read("fhir/bundle.json"))
        (found,) = [one["resource"] for one in made["entry"] if one["resource"]["resourceType"] == "Consent"]
        assert found["status"] == "active"
        assert found["sourceReference"]["reference"] == fhir.own(f"DocumentReference {signature.copy.public_id}")
        for document in Document.objects.all():
            assert sha256(copy.read(f"papers/{document.file_name}")) == document.sha256
        (signed,) = rows(copy, "letters.signature")
        assert sha256(signed["content"].encode()) == signed["sha256"]
        alone = patient_fhir(patient=patient_of(estimate), reason="Asked.", actor=owner, now=NOW)
        assert [one["fullUrl"] for one in json.loads(alone)["entry"]] == [one["fullUrl"] for one in made["entry"]]

    def test_a_consent_that_lapsed_or_was_taken_back_is_inactive_and_says_since_when(
        self, owner: Staff, lead_case: CaseFacts
    ) -> None:
        estimate = estimate_with_payer(owner, lead_case)
        consent = handed(estimate, owner)
        signature = sign(consent, owner)

        def found_on(now: datetime) -> FhirConsent:
            made = bundle_of(patient_of(estimate), now)
            (one,) = [one["resource"] for one in made["entry"] if one["resource"]["resourceType"] == "Consent"]
            return FhirConsent.model_validate(one)

        last = signature.signed_on + timedelta(days=180)
        before, after = found_on(LATER), found_on(LATER + timedelta(days=181))
        assert (before.status, before.provision.period.end) == ("active", last)
        assert (after.status, after.provision.period.end) == ("inactive", last)
        consent.refresh_from_db()
        withdraw_consent(consent=consent, words="No.", said_by="A.", how="call", explained="x", actor=owner, now=LATER)
        gone = found_on(LATER)
        assert (gone.status, gone.provision.period.end) == ("inactive", LATER)


class TestWholeOffice:
    def test_the_record_can_be_worked_out_again_from_the_copy(self, owner: Staff, estimate: Estimate) -> None:
        copy = copy_of(None, owner)
        details = {row["entry"]: row for row in rows(copy, "trail.traildetail")}
        entries = rows(copy, "trail.trailentry")
        assert len(entries) == TrailEntry.objects.count()
        for row in entries:
            at = TrailEntry._meta.get_field("at").to_python(row["at"])
            names = {name: value for name, value in row.items() if name not in ("office", "actor", "at")}
            entry = TrailEntry(**names, at=at, office_id=row["office"], actor_id=row["actor"])
            assert chain_hash(entry) == row["hash"]
            if detail := details.get(row["sequence"]):
                assert sha256(f"{detail['salt']}\n{detail['content']}".encode()) == row["digest"]
        assert len(details) == TrailDetail.objects.count()

    def test_no_password_goes_out(self, owner: Staff) -> None:
        copy = copy_of(None, owner)
        everything = b"".join(copy.read(name) for name in copy.namelist())
        assert owner.password
        assert owner.password.encode() not in everything
        assert "password" not in rows(copy, "practice.staff")[0]

    def test_another_office_is_not_in_it(self, owner: Staff, outsider: Staff) -> None:
        register_patient(name="Zed Other", birth_date=TODAY.replace(year=1980), actor=outsider, now=NOW)
        copy = copy_of(None, owner)
        assert b"Zed" not in b"".join(copy.read(name) for name in copy.namelist())
        assert [row["public_id"] for row in rows(copy, "practice.office")] == [owner.office.public_id]

    def test_memory_does_not_grow_with_the_rows(self, owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(writing, "IN_MEMORY", 10_000)
        (table,) = (one for one in known.PATIENTS if one.label == "patients.Patient")
        person = {"office": owner.office, "sort_key": "n", "birth_date": TODAY, "created_at": NOW}
        peaks = []
        for count in (1000, 8000):
            missing = range(count - Patient.objects.count())
            Patient.objects.bulk_create(Patient(name=f"Name {number}" * 15, **person) for number in missing)
            with tempfile.TemporaryFile() as file:
                out = writing._Zip(file, NOW)
                tracemalloc.start()
                writing._write_table(out, table, owner.office, None)
                peaks.append(tracemalloc.get_traced_memory()[1])
                tracemalloc.stop()
                out.zip.close()
        assert out.entries[0].rows == 8000
        assert peaks[1] < 1.5 * peaks[0]


class TestThreeSteps:
    @pytest.fixture
    def people(self, owner: Staff) -> tuple[Staff, Staff]:
        return person(owner, "Mona Manager", Role.MANAGER), person(owner, "Kit Keeper", Role.KEEPER)

    def test_manager_asks_owner_allows_keeper_takes_and_the_trail_tells(
        self, owner: Staff, people: tuple[Staff, Staff]
    ) -> None:
        manager, keeper = people
        asked = ask_copy(reason="We change programs.", actor=manager, now=NOW)
        allowed = answer_copy(copy=asked, agrees=True, reason="", actor=owner, now=NOW)
        made = office_copy(copy=allowed, actor=keeper, now=NOW)
        made.file.close()
        told = TrailEntry.objects.filter(act__startswith="records.").order_by("sequence")
        assert [(one.act, one.actor_name) for one in told] == [
            ("records.ask", "Mona Manager"),
            ("records.allowed", owner.full_name),
            ("records.office", "Kit Keeper"),
        ]
        assert made.sha256 in told[2].detail.content

    def test_nobody_allows_the_own_wish(self, owner: Staff, people: tuple[Staff, Staff]) -> None:
        manager, _keeper = people
        asked = ask_copy(reason="We change programs.", actor=manager, now=NOW)
        OfficeCopy.objects.filter(pk=asked.pk).update(asked_by=owner)
        asked.refresh_from_db()
        with pytest.raises(Refused, match="second person"):
            answer_copy(copy=asked, agrees=True, reason="", actor=owner, now=NOW)

    def test_nothing_is_taken_before_it_is_allowed_after_a_no_or_too_late(
        self, owner: Staff, people: tuple[Staff, Staff]
    ) -> None:
        manager, keeper = people
        asked = ask_copy(reason="We change programs.", actor=manager, now=NOW)
        with pytest.raises(Refused, match="not allowed yet"):
            office_copy(copy=asked, actor=keeper, now=NOW)
        with pytest.raises(Refused, match="Declining needs a reason"):
            answer_copy(copy=asked, agrees=False, reason=" ", actor=owner, now=NOW)
        declined = answer_copy(copy=asked, agrees=False, reason="Not now.", actor=owner, now=NOW)
        with pytest.raises(Refused, match="declined"):
            office_copy(copy=declined, actor=keeper, now=NOW)
        for seen in (declined, asked):  # also by somebody who answers at the same instant, and saw none
            with pytest.raises(Refused, match="answered already: declined by Olive Owner"):
                answer_copy(copy=seen, agrees=True, reason="", actor=owner, now=NOW)
        again = ask_copy(reason="We change programs.", actor=manager, now=NOW)
        allowed = answer_copy(copy=again, agrees=True, reason="", actor=owner, now=NOW)
        assert why_not_taken(allowed, NOW + GOOD_FOR) == ""
        with pytest.raises(Refused, match=r"through 2026-03-09"):
            office_copy(copy=allowed, actor=keeper, now=NOW + GOOD_FOR + GOOD_FOR)

    @pytest.mark.parametrize("role", Role)
    def test_who_may_do_which_step(self, owner: Staff, people: tuple[Staff, Staff], role: Role) -> None:
        manager, _keeper = people
        asked = ask_copy(reason="We change programs.", actor=manager, now=NOW)
        patient = register_patient(name="Ana B", birth_date=TODAY.replace(year=1980), actor=owner, now=NOW)
        who = Staff(office=owner.office, full_name="X", is_active=True)
        who.__dict__["roles"] = frozenset({role})
        may = {
            "ask": role is Role.MANAGER,
            "answer": role is Role.OWNER,
            "take": role is Role.KEEPER,
            "patient": role in (Role.MANAGER, Role.OWNER),
        }
        acts: dict[str, Any] = {
            "ask": lambda: ask_copy(reason="", actor=who, now=NOW),
            "answer": lambda: answer_copy(copy=asked, agrees=False, reason="", actor=who, now=NOW),
            "take": lambda: office_copy(copy=asked, actor=who, now=NOW),
            "patient": lambda: patient_copy(patient=patient, reason="", actor=who, now=NOW),
        }
        for name, act in acts.items():
            # Whoever may comes as far as the next refusal: no reason, or not allowed yet.
            with pytest.raises(Refused if may[name] else NotAllowed):
                act()
