"""Pages of payers: plans written down and changed, a person's cover, what is used, questions and answers."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine

from planner.patients import payers
from planner.patients.models import Patient
from planner.patients.payer_forms import PlanForm, cover_initial, plan_initial
from planner.patients.payer_models import BenefitUsed, CoverVersion, PayerAnswer, PayerPlan, PayerQuestion
from planner.patients.services import register_patient
from planner.practice.books import current_book
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.teeth import Tooth
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.payers import bronze, cover, desk_of, plan_row, with_payer
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def desk(owner: Staff) -> Staff:
    return desk_of(owner)


@pytest.fixture
def patient(owner: Staff) -> Patient:
    return register_patient(name="Anselm Brightwater", birth_date=TODAY.replace(year=1978), actor=owner, now=NOW)


def typed_plan(**changes: str) -> dict[str, str]:
    """A plan as somebody types it."""
    typed = {
        "payer": "Harbour Mutual",
        "name": "Bronze",
        "told": "phone",
        "told_by": "Ms Hale",
        "told_on": TODAY.isoformat(),
        "day_counts": "finish",
        "year_begins": "1 January 2026",
        "yearly_maximum": "1000",
        "deductible": "75.00",
        "looks_only_excluded": "yes",
        "missing_before_excluded": "",
        "coordination": "unknown",
        "key1": "basic",
        "percent1": "80",
        "deductible1": "on",
        "yearly1": "on",
        "reason": "Asked on the phone.",
    }
    return typed | changes


def place_of(desk: Staff, key: str) -> str:
    """The row of a service on the form of a plan."""
    services = current_book(desk.office, TODAY).price_list_on(TODAY).services
    return f"s{[one.key for one in services].index(key)}"


def test_a_plan_is_written_down_and_changed(desk: Staff) -> None:
    client, row = client_of(desk), place_of(desk, "build-up")
    answer = client.post("/patients/payers/new/", typed_plan(**{f"{row}_pays": "1", f"{row}_fee": "318"}))
    assert answer.status_code == 302
    stored = PayerPlan.objects.get()
    plan = payers.read_plan(stored)
    assert (plan.yearly_maximum_cents, plan.deductible_cents, plan.missing_before_excluded) == (100000, 7500, None)
    assert [(one.service, one.benefit_class, one.fee_cents) for one in plan.services] == [("build-up", "basic", 31800)]
    page = client.get(answer["Location"]).content.decode()
    assert "318.00" in page
    assert "not asked" in page
    changed = typed_plan(**{f"{row}_pays": "1", f"{row}_fee": "330", f"{row}_times": "1", f"{row}_months": "24"})
    answer = client.post(f"/patients/payers/{stored.public_id}/change/", changed)
    newest = payers.newest_of(stored)
    assert answer["Location"] == f"/patients/payers/{newest.public_id}/"
    assert (newest.number, payers.read_plan(newest).services[0].limit.months) == (2, 24)  # type: ignore[union-attr]
    again = client.post(f"/patients/payers/{stored.public_id}/change/", changed).content.decode()
    assert "changed by somebody else" in again
    assert "330" in again


def test_the_second_to_change_a_plan_sees_both_and_saves_knowingly(desk: Staff) -> None:
    client = client_of(desk)
    client.post("/patients/payers/new/", typed_plan())
    url = f"/patients/payers/{PayerPlan.objects.get().public_id}/change/"
    assert client.get(url).context["form"]["seen"].value() == 1
    assert client.post(url, typed_plan(deductible="50.00", seen="1")).status_code == 302
    late = client.post(url, typed_plan(yearly_maximum="1200", seen="1"))
    told = {str(field.label): (was, theirs, yours) for field, was, theirs, yours in late.context["rows"]}
    assert told["Yearly maximum"] == ("1000.00", "1000.00", "1200")
    assert told["Yearly deductible"] == ("75.00", "50.00", "75.00")
    assert {"Payer", "Name of the plan", "Why is this written down or changed?"}.isdisjoint(told)
    assert PayerPlan.objects.count() == 2
    seen = str(late.context["form"]["seen"].value())
    assert client.post(url, typed_plan(yearly_maximum="1200", deductible="50.00", seen=seen)).status_code == 302
    newest = payers.read_plan(payers.newest_of(PayerPlan.objects.all()[0]))
    assert (newest.yearly_maximum_cents, newest.deductible_cents) == (120000, 5000)


def test_the_second_to_change_a_cover_sees_both_and_saves_knowingly(desk: Staff, patient: Patient) -> None:
    plan, client = plan_row(desk), client_of(desk)
    client.post(f"/patients/{patient.public_id}/covers/new/", typed_cover(plan))
    url = f"/patients/cover/{CoverVersion.objects.get().public_id}/change/"
    assert client.post(url, typed_cover(plan, continued="on", seen="1")).status_code == 302
    late = client.post(url, typed_cover(plan, ends="31 December 2026", seen="1"))
    told = {str(field.label) for field, *_ in late.context["rows"]}
    assert {"Last day of cover", "Continued after work has ended"} <= told
    assert "The person is covered as" not in told
    again = typed_cover(plan, continued="on", ends="31 December 2026", seen=str(late.context["form"]["seen"].value()))
    assert client.post(url, again).status_code == 302
    newest = CoverVersion.objects.order_by("-number")[0]
    held = payers.read_cover(newest)
    assert (newest.number, held.continued, str(held.ends)) == (3, True, "2026-12-31")


def test_what_a_form_shows_is_what_is_stored(desk: Staff) -> None:
    services = current_book(desk.office, TODAY).price_list_on(TODAY).services
    plan = bronze(
        classes=[
            {"key": "basic", "percent": "82.5", "waiting_months": 6, "youngest": 3, "oldest": 70},
            {"key": "course", "percent": 50, "to_yearly_maximum": False, "to_lifetime_maximum": True},
        ],
        lifetime_maximum_cents=2500,
        services=[
            {"service": "crown", "benefit_class": "basic", "swap": "build-up", "prior_answer": True},
            {"service": "build-up", "benefit_class": "course", "fee_cents": 318, "limit": {"times": 2, "months": 24}},
            {"service": "wax-up"},
        ],
    )
    initial = plan_initial(plan, services)
    written = PlanForm(services=services, currency="CAD", initial=initial)
    typed: dict[str, Any] = {"reason": "The same."}
    for name, field in written.fields.items():
        value = field.prepare_value(initial.get(name, field.initial))
        if value not in (None, False, ""):
            typed[name] = "on" if value is True else value
    form = PlanForm(typed, services=services, currency="CAD")
    assert form.is_valid(), form.errors
    kept = form.plan()
    assert kept is not None
    by_key = {one.service: one for one in plan.services}
    assert {one.service: one for one in kept.services} == by_key
    assert kept.model_copy(update={"services": plan.services}) == plan


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"percent1": "120"}, "less than or equal to 100"),
        ({"yearly_maximum": "-5"}, "below zero"),
        ({"year_begins": "29 February 2028"}, "begins on a day that every year has"),
        ({"youngest1": "40", "oldest1": "20"}, "ages are reversed"),
        ({"key2": "basic", "percent2": "50"}, "is there twice"),
        ({"reason": ""}, "This is missing"),
        ({"told_on": "2026-03-03"}, "lies in the future"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    desk: Staff, changes: dict[str, str], sentence: str
) -> None:
    page = client_of(desk).post("/patients/payers/new/", typed_plan(**changes)).content.decode()
    assert not PayerPlan.objects.exists()
    assert 'value="Harbour Mutual"' in page
    assert sentence in page


def test_a_class_that_is_used_needs_its_percentage(desk: Staff) -> None:
    row = place_of(desk, "build-up")
    page = client_of(desk).post("/patients/payers/new/", typed_plan(**{f"{row}_pays": "2"})).content.decode()
    assert "A service is in this class: write its name and percentage." in page


def typed_cover(plan: PayerPlan, **changes: str) -> dict[str, str]:
    typed = {
        "plan": plan.series,
        "begins": "1 May 2020",
        "held_as": "member",
        "told": "written answer",
        "told_by": "Card",
        "told_on": TODAY.isoformat(),
        "reason": "Card seen.",
    }
    return typed | changes


def test_a_cover_what_is_used_a_question_and_its_answer(desk: Staff, patient: Patient) -> None:
    plan, client = plan_row(desk), client_of(desk)
    address = f"/patients/{patient.public_id}/covers/"
    rows = {"a0_service": "crown", "a0_pays": "no", "a0_on": "2026-02-01", "before_asked": "on"}
    done = {"d0_service": "crown", "d0_tooth": "21", "d0_on": "2024-05-06"}
    assert client.post(f"{address}new/", typed_cover(plan, **rows, **done))["Location"] == address
    (held,) = payers.covers_of(patient)
    assert held.held.cover.answers[0].pays is False
    assert held.held.cover.done_before is not None
    assert held.held.cover.done_before[0].tooth == Tooth.from_iso("21")
    used = {"year": held.held.plan.year_of(TODAY).isoformat(), "maximum": "120", "told": "phone", "told_by": "Ms Hale"}
    one = f"/patients/cover/{held.cover.public_id}"
    assert client.post(f"{one}/used/", used | {"told_on": TODAY.isoformat()})["Location"] == address
    question = {"words": "Is a wing bridge paid?", "due": "2 March 2099"}
    assert client.post(f"{one}/ask/", question)["Location"] == address
    private = client.post(f"{one}/ask/", {"words": "HbA1c is 8: paid?", "due": "2 March 2099"}).content.decode()
    assert "A payer is never told of this" in private
    asked = PayerQuestion.objects.get()
    said = {"words": "Half of 2,300.", "told": "phone", "by": "Ms Hale", "on": TODAY.isoformat()}
    answered = client.post(f"/patients/payer-question/{asked.public_id}/answer/", said)
    assert answered["Location"] == address
    page = client.get(address).content.decode()
    for words in ("Half of 2,300.", "Is a wing bridge paid?", "Harbour Mutual, Bronze", "1 service"):
        assert words in page
    assert PayerAnswer.objects.get().question == asked
    changed = typed_cover(plan, continued="on", ends="31 December 2026")
    assert client.post(f"{one}/change/", changed)["Location"] == address
    assert CoverVersion.objects.filter(series=held.cover.series).count() == 2
    assert "version 1" in client.get(address).content.decode()


def test_a_cover_that_cannot_be(desk: Staff, patient: Patient) -> None:
    plan, client = plan_row(desk), client_of(desk)
    address = f"/patients/{patient.public_id}/covers/new/"
    for changes, sentence in (
        ({"ends": "1 April 2020"}, "the end comes after"),
        ({"a0_service": "crown"}, "This is missing: please write the day."),
        ({"d0_service": "crown", "d0_on": "2024-05-06"}, "Tick this when what stands below is all of it."),
        ({"plan": ""}, "This is missing"),
    ):
        page = client.post(address, typed_cover(plan) | changes).content.decode()
        assert sentence in page
        assert 'value="Card seen."' in page
    assert not CoverVersion.objects.exists()


def test_a_stored_cover_is_shown_as_it_is() -> None:
    done = [{"service": "crown", "tooth": Tooth.from_iso("21"), "on": TODAY}]
    shown = cover_initial(cover(done_before=done, continued=True), "series")
    assert (shown["d0_tooth"], shown["before_asked"], shown["continued"]) == (Tooth.from_iso("21"), True, True)


def test_who_gets_in(
    owner: Staff, desk: Staff, outsider: Staff, patient: Patient, person: Callable[..., Staff]
) -> None:
    held = with_payer(patient, desk)
    front, dentist, keeper = person(Role.FRONT_DESK), person(Role.DENTIST), person(Role.KEEPER)
    look = ["/patients/payers/", f"/patients/payers/{held.plan.public_id}/", f"/patients/{patient.public_id}/covers/"]
    for url in look:
        for actor, status in ((desk, 200), (front, 200), (owner, 200), (dentist, 403), (keeper, 403)):
            assert client_of(actor).get(url).status_code == status, (url, actor)
    with refusals() as noted:
        assert [client_of(outsider).get(url).status_code for url in look[1:]] == [404, 404]
    assert noted == ["refused.payer_guess.view"] * 2
    edit = [f"/patients/payers/{held.plan.public_id}/change/", f"/patients/cover/{held.public_id}/change/"]
    for url in edit:
        assert [client_of(one).get(url).status_code for one in (desk, front, owner)] == [200, 403, 403]
    for part in ("used", "ask"):
        url = f"/patients/cover/{held.public_id}/{part}/"
        assert [client_of(one).get(url).status_code for one in (front, owner)] == [200, 403]
    listed = [client_of(one).get("/patients/").content.decode() for one in (front, dentist)]
    assert ["Payers and their plans" in page for page in listed] == [True, False]
    assert (
        "Who may pay for part of it" not in client_of(dentist).get(f"/patients/{patient.public_id}/").content.decode()
    )


def test_the_same_number_of_queries_for_more(desk: Staff, patient: Patient) -> None:
    held = with_payer(patient, desk)
    client, urls = client_of(desk), ("/patients/payers/", f"/patients/{patient.public_id}/covers/")
    queries_of(client, urls[0])
    before = [queries_of(client, url) for url in urls]
    who: dict[str, Any] = {"actor": desk, "now": NOW}
    for name in ("Silver", "Gold", "Tin"):
        row = payers.add_plan(office=desk.office, plan=bronze(name=name), reason="x", **who)
        payers.add_cover(patient=patient, plan=row, cover=cover(held_as="dependant"), reason="x", **who)
        payers.ask_payer(cover=held, words=f"Is {name} first?", due=TODAY + timedelta(days=5), **who)
    assert [queries_of(client, url) for url in urls] == before
    assert BenefitUsed.objects.count() == 1
