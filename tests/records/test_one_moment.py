"""What is written while a copy goes out is in it wholly or not at all: a copy is of the moment at which it began."""

import csv
import io
import threading
import zipfile
from typing import Any

import pytest
from django.db import connection

from planner.patients.models import Patient, PictureFile
from planner.patients.pictures import add_picture
from planner.patients.services import register_patient
from planner.records import writing
from planner.rules.mouth import CaseFacts
from planner.trail.models import TrailEntry
from tests.pages import priced_office
from tests.records.sample import dots, estimate_with_payer, patient_of
from tests.support import NOW, TODAY

pytestmark = [
    pytest.mark.django_db(transaction=True),
    # Tests keep SQLite in shared memory, where nobody writes while somebody reads.
    pytest.mark.skipif(connection.vendor != "postgresql", reason="two connections at once: on PostgreSQL"),
]


@pytest.mark.parametrize("at", ["the first table", "the first file"])
def test_what_another_writes_in_the_middle_is_not_half_in_the_copy(
    lead_case: CaseFacts, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    owner = priced_office()
    estimate = estimate_with_payer(owner, lead_case)
    known = {
        "patients": Patient.objects.count(),
        "pictures": PictureFile.objects.count(),
        "entries": TrailEntry.objects.count(),
    }
    with writing.write_copy(office=owner.office, patient=None, now=NOW).file as file:
        before = zipfile.ZipFile(io.BytesIO(file.read())).namelist()
    done: list[str] = []

    def write_meanwhile() -> None:
        try:
            person = register_patient(name="Mid Way", birth_date=TODAY.replace(year=1990), actor=owner, now=NOW)
            add_picture(patient=person, content=dots(90), kind="photo", on=TODAY, actor=owner, now=NOW)
            add_picture(patient=patient_of(estimate), content=dots(91), kind="photo", on=TODAY, actor=owner, now=NOW)
            done.append(person.public_id)
        finally:
            connection.close()

    def between(inner: Any) -> Any:
        def call(*given: Any) -> Any:
            answer = inner(*given)
            if not done:
                thread = threading.Thread(target=write_meanwhile)
                thread.start()
                thread.join(300)
                assert done, "whoever writes does not wait for the copy to end"
            return answer

        return call

    name = "_write_table" if at == "the first table" else "_write_files"
    monkeypatch.setattr(writing, name, between(getattr(writing, name)))
    with writing.write_copy(office=owner.office, patient=None, now=NOW).file as file:
        copy = zipfile.ZipFile(io.BytesIO(file.read()))
    assert Patient.objects.filter(name="Mid Way").exists()
    assert PictureFile.objects.count() == known["pictures"] + 2
    for member in copy.namelist():
        content = copy.read(member)
        assert b"Mid Way" not in content, member
        assert done[0].encode() not in content, member
        assert done[0] not in member
    assert _rows(copy, "patients.patient") == known["patients"]
    assert _rows(copy, "trail.trailentry") == known["entries"]
    assert copy.namelist() == before


def _rows(copy: zipfile.ZipFile, table: str) -> int:
    """Rows of the table as a spreadsheet would count them, less the line of heads."""
    return sum(1 for _row in csv.reader(io.StringIO(copy.read(f"tables/{table}.csv").decode("utf-8-sig")))) - 1
