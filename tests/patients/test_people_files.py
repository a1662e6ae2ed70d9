"""People from a file: seen first, taken whole or not at all, and nobody joined silently."""

import io
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from planner.patients import people_files
from planner.patients.models import Patient, PeopleFile
from planner.patients.people_files import COLUMNS, Seen, keep_people, look, take_people
from planner.patients.services import register_patient
from planner.practice.models import Office, Staff
from planner.trail.errors import Refused
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.support import NOW

pytestmark = pytest.mark.django_db
HEAD = "name,birth date,telephone,may be contacted,somebody else\n"


def kept(owner: Staff, text: str, now: Any = NOW) -> PeopleFile:
    return keep_people(content=text.encode(), actor=owner, now=now)


def faults(owner: Staff, text: str) -> list[tuple[int, str]]:
    return [(one.line, one.sentence) for one in look(kept(owner, text), NOW).faults]


def taken(owner: Staff, text: str) -> tuple[Patient, ...]:
    file = kept(owner, text)
    return take_people(file=file, seen_sha256=file.sha256, actor=owner, now=NOW)


class TestWhatIsRead:
    def test_people_come_as_they_are_written(self, owner: Staff) -> None:
        made = taken(owner, HEAD + "Zoë O'Brien,1979-03-02,+1 555 0100,yes,\nAna de la Cruz,2 March 1980,,,\n")
        assert [(one.name, one.birth_date, one.phone, one.contact_consent) for one in made] == [
            ("Zoë O'Brien", date(1979, 3, 2), "+1 555 0100", True),
            ("Ana de la Cruz", date(1980, 3, 2), "", None),
        ]
        assert [one.sort_key for one in made] == ["obrien zoe", "cruz ana de la"]
        assert TrailEntry.objects.filter(act="patient.register").count() == 2
        assert not PeopleFile.objects.exists()

    def test_every_column_fills_what_the_page_fills(self, owner: Staff) -> None:
        line = "Ana B,2012-01-05,1,no,es,18,woman,no,Eva B,b ana,"
        (made,) = taken(owner, ",".join(COLUMNS) + "\n" + line + "\n")
        assert (made.language, made.print_points, made.sex) == ("es", 18, "woman")
        assert (made.can_decide_alone, made.decision_maker, made.contact_consent) == (False, "Eva B", False)

    def test_a_spreadsheet_is_read_with_its_days(self, owner: Staff) -> None:
        book = Workbook()
        sheet = book.active
        sheet.append(["name", "birth date", "print size"])
        sheet.append(["Ana B", date(1979, 3, 2), 14])
        out = io.BytesIO()
        book.save(out)
        file = keep_people(content=out.getvalue(), actor=owner, now=NOW)
        (one,) = look(file, NOW).people
        assert (one.values["birth_date"], one.values["print_points"]) == (date(1979, 3, 2), 14)

    @pytest.mark.parametrize(
        ("text", "line", "words"),
        [
            ("name,birth date\n", 0, "names nobody"),
            ("", 0, "empty"),
            ("name\nAna\n", 0, "missing: “birth date”"),
            ("name,birth date,tooth 11\nAna,1979-03-02,5\n", 0, "Nothing about teeth is read from a file"),
            ("name,birth date,11\nAna,1979-03-02,5\n", 0, "unknown: “11”"),
            ("name,name,birth date\nA,B,1979-03-02\n", 0, "there twice: “name”"),
            (HEAD + "Ana,3/4/1979,,,\n", 2, "two different days"),
            (HEAD + "Ana,soon,,,\n", 2, "birth date: “soon”"),
            (HEAD + "Ana,2030-01-01,,,\n", 2, "lies in the future"),
            (HEAD + ",1979-03-02,,,\n", 2, "name: This is missing"),
            (HEAD + "Ana,1979-03-02,,perhaps,\n", 2, "neither “yes” nor “no”"),
            (HEAD + "Ana,1979-03-02,,,,extra\n", 2, "6 cells, and the head has 5"),
            (HEAD + "Ana,1979-03-02," + "5" * 41 + ",,\n", 2, "telephone"),
            ("name,birth date,language\nAna,1979-03-02,xx\n", 2, "language: “xx”"),
            ("name;birth date;print size\nAna;1979-03-02;13\n", 2, "print size: “13”"),
        ],
    )
    def test_a_fault_says_line_value_and_why(self, owner: Staff, text: str, line: int, words: str) -> None:
        if not text:
            with pytest.raises(Refused, match=words):
                kept(owner, text)
            return
        found = faults(owner, text)
        assert any(one == line and words in sentence for one, sentence in found), found
        file = PeopleFile.objects.get()
        with pytest.raises(Refused):
            take_people(file=file, seen_sha256=file.sha256, actor=owner, now=NOW)
        assert not Patient.objects.exists()

    def test_one_bad_line_keeps_everybody_out(self, owner: Staff) -> None:
        file = kept(owner, HEAD + "Ana,1979-03-02,,,\nEva,never,,,\n")
        with pytest.raises(Refused, match="1 faults"):
            take_people(file=file, seen_sha256=file.sha256, actor=owner, now=NOW)
        assert not Patient.objects.exists()

    def test_a_file_of_too_many_is_refused_whole(self, owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(people_files, "MOST_PEOPLE", 2)
        ((line, words),) = faults(owner, HEAD + "A,1979-03-02,,,\nB,1979-03-03,,,\nC,1979-03-04,,,\n")
        assert line == 0
        assert "3 people; 2 at most" in words

    @settings(max_examples=40, deadline=None)
    @given(text=st.text(max_size=60), head=st.sampled_from([HEAD, "name,birth date\n", ""]))
    def test_whatever_is_sent_is_answered_in_sentences(self, text: str, head: str) -> None:
        try:
            data = (head + text).encode()
        except UnicodeEncodeError:
            return
        seen = look(PeopleFile(data=data, office=Office(time_zone="UTC")), NOW)
        assert isinstance(seen, Seen)
        assert seen.people or seen.faults
        assert all(fault.sentence.endswith((".", "…", "”")) for fault in seen.faults), seen.faults


class TestMistakable:
    def test_twins_in_the_file_are_named_on_both_lines_and_not_taken_unsaid(self, owner: Staff) -> None:
        found = faults(owner, HEAD + "Lisbet Vant,1979-03-02,,,\nLinnea Vant,1979-03-02,,,\n")
        assert [line for line, _sentence in found] == [2, 3]
        assert "Linnea Vant, born 1979-03-02, in line 3" in found[0][1]
        assert "never joined" in found[0][1]

    def test_somebody_on_file_is_named(self, owner: Staff) -> None:
        register_patient(name="Linnea Vant", birth_date=date(1979, 3, 2), actor=owner, now=NOW)
        ((line, words),) = faults(owner, HEAD + "L. Vant,1979-03-02,,,\n")
        assert line == 2
        assert "Linnea Vant, born 1979-03-02, on file" in words

    def test_somebody_else_is_taken_beside_and_shown(self, owner: Staff) -> None:
        register_patient(name="Linnea Vant", birth_date=date(1979, 3, 2), actor=owner, now=NOW)
        text = HEAD + "Lisbet Vant,1979-03-02,,,yes\n"
        seen = look(kept(owner, text), NOW)
        assert [one.name for one in seen.mistakable[0].like] == ["Linnea Vant"]
        taken(owner, text)
        assert sorted(Patient.objects.values_list("name", flat=True)) == ["Linnea Vant", "Lisbet Vant"]

    def test_other_days_and_other_offices_are_no_twins(self, owner: Staff, outsider: Staff) -> None:
        register_patient(name="Linnea Vant", birth_date=date(1979, 3, 2), actor=outsider, now=NOW)
        register_patient(name="Linnea Vant", birth_date=date(1979, 3, 3), actor=owner, now=NOW)
        assert faults(owner, HEAD + "Linnea Vant,1979-03-02,,,\n") == []

    def test_whoever_came_on_file_meanwhile_stops_the_taking(self, owner: Staff) -> None:
        file = kept(owner, HEAD + "Lisbet Vant,1979-03-02,,,\n")
        assert not look(file, NOW).faults
        register_patient(name="Linnea Vant", birth_date=date(1979, 3, 2), actor=owner, now=NOW)
        with pytest.raises(Refused, match="1 faults"):
            take_people(file=file, seen_sha256=file.sha256, actor=owner, now=NOW)
        assert Patient.objects.count() == 1


class TestTheFile:
    def test_what_is_taken_is_what_was_seen(self, owner: Staff) -> None:
        file = kept(owner, HEAD + "Ana,1979-03-02,,,\n")
        with pytest.raises(Refused, match="not the file that was looked at"):
            take_people(file=file, seen_sha256="0" * 64, actor=owner, now=NOW)

    def test_of_two_who_take_it_at_once_the_second_finds_it_gone(self, owner: Staff) -> None:
        file = kept(owner, HEAD + "Ana,1979-03-02,,,yes\n")  # who is somebody else than whoever is like them
        mine = PeopleFile.objects.select_related("office").get(pk=file.pk)
        take_people(file=file, seen_sha256=mine.sha256, actor=owner, now=NOW)
        with pytest.raises(Refused, match="not here any more"):
            take_people(file=mine, seen_sha256=mine.sha256, actor=owner, now=NOW)
        assert Patient.objects.count() == 1

    def test_a_file_nobody_took_goes_with_the_next_and_after_a_day(self, owner: Staff, colleague: Staff) -> None:
        first = kept(owner, HEAD)
        second = kept(owner, HEAD)
        assert not PeopleFile.objects.filter(pk=first.pk).exists()
        kept(colleague, HEAD)
        assert PeopleFile.objects.filter(pk=second.pk).exists()
        kept(colleague, HEAD, NOW + timedelta(days=2))
        assert not PeopleFile.objects.filter(pk=second.pk).exists()

    def test_looking_takes_one_query_however_many_there_are(self, owner: Staff, queries: Any) -> None:
        for count in (2, 60):
            lines = "".join(f"Name{number} Last{number},19{number % 90 + 10}-03-02,,,\n" for number in range(count))
            file = kept(owner, HEAD + lines)
            with queries.counted() as found:
                look(file, NOW)
            assert len(found) <= 2

    def test_the_pages_show_first_and_take_then(self, owner: Staff) -> None:
        client, send = client_of(owner), reverse("patients:people")
        content = SimpleUploadedFile("Ana Secret.csv", (HEAD + "Ana Belmonte,1979-03-02,,,\n").encode())
        page = client.post(send, {"file": content}, follow=True).content.decode()
        assert "Ana Belmonte" in page
        assert "Nothing is stored yet" in page
        assert not Patient.objects.exists()
        file = PeopleFile.objects.get()
        url = reverse("patients:people_file", args=[file.public_id])
        page = client.post(url, {"sha256": file.sha256}, follow=True).content.decode()
        assert "1 person has a file now." in page
        assert Patient.objects.get().name == "Ana Belmonte"
        assert client.get(url).status_code == 404
