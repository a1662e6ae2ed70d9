"""Pages of the record: who reads how much, what a row says, paging in a fixed number of queries, what is printed."""

import io
import json
from collections.abc import Callable

import pikepdf
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.letters.pdf import Job, render_here
from planner.patients.models import Patient
from planner.patients.services import change_patient, register_patient, viewed
from planner.plans.casefiles import import_case_file
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.story import paper
from planner.story.models import EmergencyOpening
from planner.story.services import open_in_emergency, tell_problem
from planner.trail.models import TrailEntry
from planner.trail.reading import PAGE
from tests.letters.conftest import texts
from tests.pages import client_of, queries_of
from tests.patients.joined import join_files
from tests.story.closed_rows import patient_of
from tests.support import NOW, PASSWORD

AGAIN = {"password_again": PASSWORD}

pytestmark = pytest.mark.django_db


@pytest.fixture
def patient(owner: Staff) -> Patient:
    return patient_of(owner)


@pytest.fixture
def client(owner: Staff) -> Client:
    return client_of(owner)


@pytest.fixture(autouse=True)
def _in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Papers are drawn here: a worker process has nothing to show a test."""
    monkeypatch.setattr(paper.print_page, "__kwdefaults__", paper.print_page.__kwdefaults__ | {"make": render_here})


def of_file(name: str, patient: Patient) -> str:
    return reverse(f"story:{name}", args=[patient.public_id])


def test_the_story_tells_who_did_what_before_and_after(client: Client, owner: Staff, patient: Patient) -> None:
    change_patient(patient=patient, seen=1, changes={"phone": "613 555 0100"}, actor=owner, now=NOW)
    page = client.get(of_file("file", patient))
    (row,) = [one.row for one in page.context["rows"] if one.row.entry.act == "patient.change"]
    assert [(one.what, one.before, one.after) for one in row.changed] == [("phone", "–", "613 555 0100")]
    body = page.content.decode()
    assert "corrected the file" in body
    assert "2 Mar 2026 10:00:00" in body, "hours of the office, not of the server"
    assert "America/Toronto" in body
    assert "owner dentist" in body


def test_the_story_is_narrowed_and_paged(client: Client, owner: Staff, colleague: Staff, patient: Patient) -> None:
    for _ in range(PAGE + 5):
        viewed(patient=patient, actor=colleague, now=NOW)
    url = of_file("file", patient)
    first = client.get(url, {"who": colleague.public_id, "kind": "view"})
    assert len(first.context["rows"]) == PAGE
    second = client.get(f"{url}?{first.context['further']}")
    assert len(second.context["rows"]) == 5
    assert second.context["further"] == ""
    seen = {one.row.entry.pk for page in (first, second) for one in page.context["rows"]}
    assert len(seen) == PAGE + 5
    assert not client.get(url, {"last": "1 March 2026"}).context["rows"], "nothing was done before that day"
    wrong = client.get(url, {"first": "3 March 2026", "last": "1 March 2026"})
    assert "exchange the two" in wrong.content.decode()


def test_pages_take_as_many_queries_however_long_the_story_is(client: Client, owner: Staff, patient: Patient) -> None:
    urls = [reverse("story:trail"), *(of_file(name, patient) for name in ("file", "opened", "complaint"))]
    few = [queries_of(client, url) for url in urls]
    for _ in range(70):
        viewed(patient=patient, actor=owner, now=NOW)
    assert [queries_of(client, url) for url in urls] == few


class TestHowMuchOneReads:
    def test_a_manager_reads_all(self, person: Callable[..., Staff], patient: Patient) -> None:
        page = client_of(person(Role.MANAGER)).get(reverse("story:trail"))
        assert {one.row.entry.actor_name for one in page.context["rows"]} >= {"Olive Owner"}
        assert "Ada Byron" in page.content.decode(), "what was recorded at registering"

    def test_a_system_keeper_reads_that_something_was_done(
        self, person: Callable[..., Staff], owner: Staff, patient: Patient
    ) -> None:
        viewed(patient=patient, actor=owner, now=NOW, reason="case of the lateral")
        body = client_of(person(Role.KEEPER)).get(reverse("story:trail")).content.decode()
        assert "opened the file" in body
        assert "Ada Byron" not in body
        assert "lateral" not in body
        assert patient.public_id not in body

    def test_a_dentist_and_an_assistant_read_their_own(self, person: Callable[..., Staff], patient: Patient) -> None:
        for role in (Role.DENTIST, Role.ASSISTANT):
            somebody = person(role)
            viewed(patient=patient, actor=somebody, now=NOW)
            page = client_of(somebody).get(reverse("story:trail"))
            assert {one.row.entry.actor for one in page.context["rows"]} == {somebody}
            assert client_of(somebody).get(of_file("file", patient)).status_code == 403

    def test_the_front_desk_reads_none(self, colleague: Staff) -> None:
        assert client_of(colleague).get(reverse("story:trail")).status_code == 403

    def test_another_office_is_not_in_it(self, client: Client, outsider: Staff) -> None:
        page = client.get(reverse("story:trail"))
        assert outsider.office_id not in {one.row.entry.office_id for one in page.context["rows"]}


class TestWhoOpened:
    def test_it_counts_by_day_and_person(self, client: Client, colleague: Staff, patient: Patient) -> None:
        for _ in range(3):
            viewed(patient=patient, actor=colleague, now=NOW)
        (row,) = client.get(of_file("opened", patient)).context["found"].rows
        assert (row.who, row.role, row.first.hour) == (colleague.full_name, "front desk", 10)
        assert [(str(words), count) for words, count in row.acts] == [("looked at the file", 3)]

    def test_the_patient_gets_it_in_their_language_and_print_size(
        self, client: Client, owner: Staff, patient: Patient
    ) -> None:
        viewed(patient=patient, actor=owner, now=NOW)
        wanted = {"language": "es", "print_points": 18}
        change_patient(patient=patient, seen=1, changes=wanted, actor=owner, now=NOW)
        answer = client.post(of_file("opened_print", patient), AGAIN)
        text = " ".join(texts(answer.content))
        assert answer.headers["Content-Type"] == "application/pdf"
        assert "Quién abrió su expediente" in text
        assert "2 de marzo de 2026" in text
        assert "Olive Owner" in text
        assert "613" not in text
        with pikepdf.open(io.BytesIO(answer.content)) as pdf:
            assert str(pdf.Root.Lang) == "es"
            data = json.loads(pdf.attachments["record.json"].get_file().read_bytes())
        assert data["opened"][0]["who"] == "Olive Owner"
        entry = TrailEntry.objects.filter(act="story.print").get()
        assert json.loads(entry.detail.content)["what"] == "who opened the file"


def test_the_story_on_paper_is_what_the_page_was_narrowed_to(
    client: Client, owner: Staff, colleague: Staff, patient: Patient
) -> None:
    viewed(patient=patient, actor=colleague, now=NOW, reason="called back")
    change_patient(patient=patient, seen=1, changes={"phone": "613 555 0100"}, actor=owner, now=NOW)
    asks = client.post(f"{of_file('file_print', patient)}?kind=change")
    assert "Your password once more" in asks.content.decode()
    assert not TrailEntry.objects.filter(act="story.print").exists()
    answer = client.post(f"{of_file('file_print', patient)}?kind=change", AGAIN)
    text = " ".join(texts(answer.content))
    assert "corrected the file" in text
    assert "613 555 0100" in text
    assert "called back" not in text


def test_a_paper_that_cannot_be_made_is_told(client: Client, patient: Patient, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_job: Job) -> None:
        raise paper.PaperError("The paper was not ready.")

    monkeypatch.setattr(paper.print_page, "__kwdefaults__", paper.print_page.__kwdefaults__ | {"make": fails})
    answer = client.post(of_file("file_print", patient), AGAIN, follow=True)
    assert "The paper was not ready." in answer.content.decode()
    assert not TrailEntry.objects.filter(act="story.print").exists(), "what was not printed is not recorded as printed"


def test_a_complaint_is_answered_from_both_files_of_one_person(
    client: Client, owner: Staff, person: Callable[..., Staff], lead_case: CaseFacts
) -> None:
    """A case that was opened in the file that is closed now, with what was told there."""
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    joined = case.patient
    kept = register_patient(name=joined.name + "e", birth_date=joined.birth_date, actor=owner, now=NOW)
    told = {"told_by": "The patient", "how": "by telephone", "words": "It hurts when I bite."}
    tell_problem(patient=joined, told_at=NOW, **told, actor=owner, now=NOW)
    assert client.get(of_file("complaint", kept)).context["case"] is None
    join_files(kept, joined, owner, person(Role.MANAGER), person(Role.DENTIST))
    page = client.get(of_file("complaint", kept))
    assert page.context["case"] == case
    assert [one.words for one in page.context["problems"]] == ["It hurts when I bite."]
    seen = TrailEntry.objects.filter(act="patient.view", actor=owner).order_by("-sequence")[:2]
    assert {one.subject_id for one in seen} == {kept.public_id, joined.public_id}, "a trace in both files"


class TestEmergency:
    def test_the_front_desk_opens_the_history_once_with_a_reason(self, colleague: Staff, patient: Patient) -> None:
        desk = client_of(colleague)
        url = of_file("emergency", patient)
        assert "Say" in desk.post(url, {"reason": ""}).content.decode() or not EmergencyOpening.objects.exists()
        answer = desk.post(url, {"reason": "Fainted in the waiting room."})
        assert "No form is on file: ask." in answer.content.decode()
        opening = EmergencyOpening.objects.get()
        assert (opening.by, opening.reason) == (colleague, "Fainted in the waiting room.")
        entry = TrailEntry.objects.filter(act="patient.emergency").get()
        assert entry.reason == opening.reason
        assert desk.get(reverse("patients:history", args=[patient.public_id])).status_code == 403, "only this once"

    def test_the_manager_is_told_until_somebody_looked(
        self, colleague: Staff, person: Callable[..., Staff], patient: Patient
    ) -> None:
        opening = open_in_emergency(patient=patient, reason="Fainted at the desk.", actor=colleague, now=NOW)
        manager = client_of(person(Role.MANAGER))
        for page in (reverse("practice:home"), reverse("followup:monday")):
            assert "1 file was opened in an emergency." in manager.get(page).content.decode()
        assert "was opened in an emergency" not in client_of(colleague).get(reverse("practice:home")).content.decode()
        manager.post(reverse("story:opening_seen", args=[opening.public_id]), {"words": "Right so."})
        assert "in an emergency." not in manager.get(reverse("practice:home")).content.decode()
        assert "Right so." in manager.get(reverse("story:openings")).content.decode()

    def test_nobody_looks_into_their_own(self, client: Client, owner: Staff, patient: Patient) -> None:
        opening = open_in_emergency(patient=patient, reason="Fainted at the desk.", actor=owner, now=NOW)
        answer = client.post(reverse("story:opening_seen", args=[opening.public_id]), {"words": "Fine."})
        assert "somebody else looks at it" in answer.content.decode()
        assert not hasattr(EmergencyOpening.objects.get(), "seen")

    def test_another_offices_file_needs_name_and_birth_date_exactly(
        self, outsider: Staff, owner: Staff, patient: Patient
    ) -> None:
        foreign, url = client_of(outsider), reverse("story:elsewhere")
        typed = {"name": "ADA  Byron", "birth_date": "2 March 1980", "reason": "Fainted in our waiting room."}
        answer = foreign.post(url, typed | {"birth_date": "3 March 1980"})
        assert "No single file" in answer.content.decode()
        assert TrailEntry.objects.order_by("-sequence")[0].act == "refused.patient.emergency"
        assert "File of Test office." in foreign.post(url, typed).content.decode()
        opening = EmergencyOpening.objects.get()
        assert (opening.office, opening.from_office) == (owner.office, "Other office")
        assert "1 file was opened in an emergency." in client_of(owner).get(reverse("practice:home")).content.decode()
        found = client_of(owner).get(of_file("opened", patient)).context["found"].rows
        assert [row.from_outside for row in found if row.who == outsider.full_name] == [True]


def test_a_problem_is_written_down_and_followed(client: Client, owner: Staff, patient: Patient) -> None:
    local = timezone.localtime(NOW, owner.office.zone)
    told = {"on": "2 March 2026", "hour": f"{local:%H:%M}", "told_by": "Ada Byron", "how": "by telephone"}
    url = of_file("problem", patient)
    assert "Write down" in client.post(url, told | {"words": ""}).content.decode()
    later = client.post(url, told | {"on": "2 March 2099", "words": "It hurts."}).content.decode()
    assert "lies in the future" in later
    assert "It hurts." in later, "nothing typed is lost"
    answer = client.post(url, told | {"words": "It hurts."}, follow=True)
    step = {"on": "2 March 2026", "hour": "9:00", "words": "Called back."}
    assert "before the office learned" in client.post(answer.request["PATH_INFO"], step).content.decode()
    done = client.post(answer.request["PATH_INFO"], step | {"hour": "10:30"}, follow=True)
    assert "Called back." in done.content.decode()
