"""The Monday page and the calls: who may open them, what they cost in queries, what they show and hand out."""

import csv
import io
from collections.abc import Callable, Iterator
from datetime import time, timedelta

import openpyxl
import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import resolve

from planner.followup.calling import agree_call, to_call
from planner.followup.models import AgreedCall, MadeCall
from planner.plans import estimates
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.models import Answer
from planner.practice.again import FIELD
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.templatetags.money import with_amounts
from planner.rules.figure_words import DEFINITIONS
from planner.visits.services import Booking, book_visit
from tests.followup.sample import patient_of, shown_estimate
from tests.followup.work import accepted
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.support import NOW, PASSWORD, TODAY, guards_lifted

pytestmark = pytest.mark.django_db
LOOKS = {Role.FRONT_DESK, Role.DESK_LEAD, Role.DENTIST, Role.MANAGER, Role.CHECKER}
CALLS = LOOKS - {Role.CHECKER}


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def test_who_may_open_what(owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    estimate = shown_estimate(owner, patient_of(owner))
    own = {f"/monday/calls/{estimate.public_id}/": LOOKS, f"/monday/calls/{estimate.public_id}/day/": CALLS}
    shared = dict.fromkeys(
        ("/monday/", "/monday/pictures/", "/monday/table.csv", "/monday/table.xlsx", "/monday/calls/"), LOOKS
    )
    values = {Role.CHECKER: {"access_until": TODAY + timedelta(days=30)}}
    clients = {
        role: client_of(person(role, **values.get(role, {}))) for role in (*sorted(LOOKS), Role.ASSISTANT, Role.KEEPER)
    }
    theirs, nobody = client_of(outsider), client_of(None)
    for url, allowed in {**own, **shared}.items():
        assert nobody.get(url)["Location"] == f"/sign-in/?next={url}"
        assert theirs.get(url).status_code == (404 if url in own else 200), url
        for role, client in clients.items():
            with refusals() as noted:
                answer = client.get(url)
            assert answer.status_code == (200 if role in allowed else 403), (url, role)
            assert bool(noted) == (role not in allowed), (url, role)


def test_the_desk_sees_whom_to_call_and_no_figures(owner: Staff, person: Callable[..., Staff]) -> None:
    estimate = shown_estimate(owner, patient_of(owner, "Ada Byron"), on=TODAY - timedelta(days=20))
    accepted(owner, patient_of(owner, "Grace Hopper"))
    page = client_of(person(Role.FRONT_DESK)).get("/monday/").content.decode()
    assert f"/monday/calls/{estimate.public_id}/" in page
    assert "Grace Hopper" not in page
    assert all(one.sentence not in page for one in DEFINITIONS)


def test_a_dentist_sees_the_own_patients(owner: Staff, person: Callable[..., Staff]) -> None:
    dentist = person(Role.DENTIST)
    accepted(owner, patient_of(owner, "Grace Hopper"))
    accepted(owner, patient_of(owner, "Ada Byron"), by=dentist)
    page = client_of(dentist).get("/monday/").content.decode()
    assert "Ada Byron" in page
    assert "Grace Hopper" not in page
    lead = client_of(person(Role.DESK_LEAD)).get("/monday/").content.decode()
    assert "Grace Hopper" in lead


def test_every_block_leads_to_the_act_and_says_what_it_counts(owner: Staff) -> None:
    plan = accepted(owner, patient_of(owner, "Grace Hopper"), deposit=21000, accepted_on=TODAY - timedelta(days=9))
    called = shown_estimate(owner, patient_of(owner, "Ada Byron"), on=TODAY - timedelta(days=80))
    response = client_of(owner).get("/monday/")
    page = response.content.decode()
    for url in (
        f"/visits/of/{plan.public_id}/",
        f"/plans/accepted/{plan.public_id}/receipt/",
        f"/monday/calls/{called.public_id}/",
        f"/plans/estimate/{called.public_id}/",
    ):
        assert f'href="{url}"' in page, url
        assert resolve(url)
    places = [page.index(f"{block.title}</h2>") for block in response.context["page"].blocks]
    assert len(places) == 10
    assert places == sorted(places)
    assert "445.00" in page
    for one in ("no-date", "stuck", "earned", "to-earn", "acceptance", "kept-visits", "calls-on-time"):
        (sentence,) = [each.sentence for each in DEFINITIONS if each.key == one]
        assert sentence in page, one


def test_the_months_are_chosen(owner: Staff) -> None:
    patient = patient_of(owner, "Ada Byron")
    shown_estimate(owner, patient, on=TODAY - timedelta(days=150))
    client = client_of(owner)
    month = (TODAY - timedelta(days=150)).replace(day=1)
    page = client.get(f"/monday/?last={month.isoformat()}&months=1").content.decode()
    assert "1 patient." in page
    assert "Not everybody has had the 90 days" not in page
    page = client.get(f"/monday/?last={TODAY.replace(day=1).isoformat()}&months=1").content.decode()
    assert "Not everybody has had the 90 days" in page
    assert client.get("/monday/?last=nonsense&months=x").status_code == 200


def test_queries_do_not_grow_with_the_data(owner: Staff) -> None:
    client = client_of(owner)

    def more(number: int) -> None:
        patient = patient_of(owner, f"Person {number}")
        plan = accepted(owner, patient, deposit=100, accepted_on=TODAY - timedelta(days=number % 40))
        asked = Booking(
            clinician=owner, chair="Chair 1", day=TODAY + timedelta(days=3), hour=_hour(number), minutes=10, words="x",
            items=tuple(plan.items.all()[:1]),
        )  # fmt: skip
        book_visit(plan=plan, booking=asked, actor=owner, now=NOW)
        old = shown_estimate(owner, patient_of(owner, f"Other {number}"), on=TODAY - timedelta(days=130 + number))
        estimates.answer_estimate(
            estimate=old, seen=old.version, answer=Answer.NO_TREATMENT, by="x", actor=owner, now=NOW
        )
        shown_estimate(owner, patient_of(owner, f"Called {number}"), on=TODAY - timedelta(days=85))

    for number in range(2):
        more(number)
    urls = ["/monday/", "/monday/pictures/", "/monday/calls/"]
    for url in urls:
        client.get(url)  # what is read once a process
    few = [queries_of(client, url) for url in urls]
    with CaptureQueriesContext(connection) as few_for_the_file:
        client.post("/monday/table.csv", {FIELD: PASSWORD})
    for number in range(2, 12):
        more(number)
    for url in urls:
        client.get(url)
    assert [queries_of(client, url) for url in urls] == few
    with CaptureQueriesContext(connection) as for_the_file:
        client.post("/monday/table.csv", {FIELD: PASSWORD})
    assert len(for_the_file) == len(few_for_the_file)


def _hour(number: int) -> time:
    return time(9 + number // 6, 10 * (number % 6))


def test_files_hold_every_line_and_no_live_cell(owner: Staff) -> None:
    accepted(owner, patient_of(owner, "=cmd()"), deposit=21000)
    client = client_of(owner)
    asked = client.get("/monday/table.csv")
    assert "Password of" in asked.content.decode()
    assert "=cmd()" not in asked.content.decode()
    answer = client.post("/monday/table.csv", {FIELD: PASSWORD})
    assert answer["Content-Disposition"] == f'attachment; filename="monday-{TODAY.isoformat()}.csv"'
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    names = [row[2] for row in rows]
    assert "'=cmd()" in names
    assert "=cmd()" not in names
    line = next(row for row in rows if row[0] == "Yes, but no date" and row[1] == "line")
    assert line[4] == "445.00" or line[4] == "445"
    book = openpyxl.load_workbook(io.BytesIO(client.post("/monday/table.xlsx", {FIELD: PASSWORD}).content))
    cells = [cell for row in book.active.iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    assert {one.name for one in DEFINITIONS} - {cell.value for cell in cells} <= {
        "Age of it", "Yes to an option", "Said yes, by who showed it", "Minutes, real against planned",
        "Minutes within the 10 to 90 band", "Payers, paid against guessed", "Guesses within a tenth",
    }  # fmt: skip


def test_a_call_is_written_down_on_its_page(owner: Staff, person: Callable[..., Staff]) -> None:
    estimate = shown_estimate(owner, patient_of(owner, "Ada Byron"), on=TODAY - timedelta(days=20))
    client, url = client_of(owner), f"/monday/calls/{estimate.public_id}/"
    assert "Ada Byron" in client.get("/monday/calls/").content.decode()
    # Whoever showed it calls; where the patient names a day, whoever wrote that down; nobody who is gone.
    assert f"{owner.full_name} makes it." in client.get(url).content.decode()
    colleague = person(Role.FRONT_DESK)
    agree_call(estimate=estimate, on=TODAY, actor=colleague, now=NOW)
    (known,) = to_call(owner.office, TODAY)
    assert (known.who, known.next and known.next.agreed) == (colleague.full_name, True)
    Staff.objects.filter(pk=colleague.pk).update(is_active=False)
    assert [one.who for one in to_call(owner.office, TODAY)] == [""]
    with guards_lifted():
        AgreedCall.objects.all().delete()
    wrong = client.post(url, {"seen": "1", "outcome": "spoke", "words": "thinks about it"}).content.decode()
    assert "Say with whom you spoke." in wrong
    assert "thinks about it" in wrong
    right = {"seen": "1", "outcome": "spoke", "spoke_with": "A. B.", "again_on": "12 March 2026"}
    assert client.post(url, right).status_code == 302
    assert (MadeCall.objects.get().number, AgreedCall.objects.get().on.day) == (1, 12)
    again = client.post(url, right).content.decode()
    assert "written down already" in again
    assert client.post(f"{url}day/", {"on": "2026-03-13"}).status_code == 302
    assert AgreedCall.objects.count() == 2
    assert "yesterday" not in client.post(f"{url}day/", {"on": "2026-03-01"}).content.decode()
    assert AgreedCall.objects.count() == 2


def test_pictures_have_their_tables(owner: Staff) -> None:
    accepted(owner, patient_of(owner, "Grace Hopper"))
    page = client_of(owner).get("/monday/pictures/").content.decode()
    assert page.count("<svg") == 3
    assert page.count("The table behind it") == 3
    assert "style=" not in page
    assert AcceptedPlan.objects.count() == 1


def test_amounts_within_sentences_are_grouped_and_nothing_else_is() -> None:
    assert with_amounts("2140.70 of 18521.40 (12)") == "2,140.70 of 18,521.40 (12)"
    assert with_amounts("lot EM-2231, 1.100, 100.0 %, version 1.25.3, 570.00.") == (
        "lot EM-2231, 1.100, 100.0 %, version 1.25.3, 570.00."
    )
