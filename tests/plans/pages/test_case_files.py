"""Cases opened by hand and by file, and taken out again."""

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from planner.patients.models import Patient
from planner.plans.models import Case
from planner.practice.again import FIELD
from planner.practice.models import Staff
from planner.rules.casefile import LARGEST_BYTES, read_case, write_case
from planner.rules.mouth import CaseFacts
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.plans.pages.conftest import seen
from tests.support import PASSWORD, TODAY

pytestmark = pytest.mark.django_db


def _upload(client: Client, url: str, content: bytes, **more: Any) -> Any:
    return client.post(url, {"file": SimpleUploadedFile("case.json", content, "application/json")} | more)


def test_a_case_file_goes_in_and_comes_out_the_same(owner: Staff, lead_case: CaseFacts) -> None:
    client = client_of(owner)
    done = _upload(client, "/plans/take-in/", write_case(lead_case))
    case = Case.objects.get()
    assert done["Location"] == f"/plans/{case.public_id}/"
    assert "A file was opened for Anselm Brightwater" in client.get(done["Location"]).content.decode()
    taken = client.post(f"/plans/{case.public_id}/case-file/", {FIELD: PASSWORD})
    assert "attachment" in taken["Content-Disposition"]
    assert "Brightwater" not in taken["Content-Disposition"]
    assert read_case(taken.content, TODAY) == lead_case
    assert TrailEntry.objects.filter(act="case.export").count() == 1
    # The same file again changes nothing.
    version = case.version
    _upload(client, "/plans/take-in/", taken.content)
    assert Case.objects.get().version == version


def test_a_wrong_case_file_is_refused_whole_with_every_path(owner: Staff, lead_case: CaseFacts) -> None:
    client = client_of(owner)
    data = json.loads(write_case(lead_case))
    data["patient"]["birth_date"] = "1979-02-31"
    data["examination"]["teeth"][0]["width"] = "64"
    data["wishes"][0]["colour"] = "blue"
    data["limits"]["months"] = 400
    answer = _upload(client, "/plans/take-in/", json.dumps(data).encode())
    text = answer.content.decode()
    paths = [path for path, _sentence in answer.context["wrong"]]
    assert {"patient.birth_date", "wishes[0].colour", "limits.months"} <= set(paths)
    assert all(path in text for path in paths)
    assert not Patient.objects.exists()
    for content in (b"", b"\xff\xfe", b"[]", b"{", b"x" * (LARGEST_BYTES + 1)):
        answer = _upload(client, "/plans/take-in/", content)
        assert answer.status_code == 200
        assert "faults" in answer.content.decode()
    assert "This is missing" in client.post("/plans/take-in/", {}).content.decode()
    assert not Patient.objects.exists()


def test_a_file_for_somebody_on_file(case: Case, owner: Staff, lead_case: CaseFacts, colleague: Staff) -> None:
    client, url = client_of(owner), f"/plans/of/{case.patient.public_id}/take-in/"
    other = lead_case.model_copy(update={"case": "second question"})
    assert _upload(client, url, write_case(other)).status_code == 302
    assert {one.name for one in Case.objects.filter(patient=case.patient)} == {"brightwater", "second question"}
    assert _upload(client_of(colleague), url, write_case(other)).status_code == 403


def test_open_a_case_by_hand(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/of/{case.patient.public_id}/new/"
    typed = {"name": "another", "examination": case.examination.public_id, "numbering": "iso"}
    taken = client.post(url, typed | {"name": "brightwater"})
    assert "choose another name" in taken.content.decode()
    assert "not one of the" in client.post(url, typed | {"examination": "nothing"}).content.decode()
    client.post(url, typed)
    made = Case.objects.get(name="another")
    part = client.get(f"/plans/of/{case.patient.public_id}/", headers={"HX-Request": "true"}).content.decode()
    assert f"/plans/{made.public_id}/" in part
    assert "<html" not in part
    assert client.get(f"/plans/{made.public_id}/").status_code == 200
    assert "<html" in client.get(f"/plans/of/{case.patient.public_id}/").content.decode()


def test_name_numbering_and_notes(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/about/"
    typed = {"name": "renamed", "numbering": "universal", "notes": "N.", "seen": seen(case)}
    assert client.post(url, typed).status_code == 302
    late = client.post(url, typed | {"notes": "Other."})
    assert [(theirs, yours) for _field, _was, theirs, yours in late.context["rows"]] == [("N.", "Other.")]
    assert client.get(f"/plans/{case.public_id}/").context["numbering"] == "Universal"
