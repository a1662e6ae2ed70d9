"""What the Monday page reads of rows: what a visit lacks, what ends, what counts as something that happened."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from planner.followup.page import monday_page
from planner.followup.reading_cohort import read_cohort
from planner.followup.reading_truth import repairs, teeth_followed
from planner.followup.reviewing import Seen, note_review
from planner.patients.models import HistoryForm
from planner.plans.accepted import finish_plan
from planner.plans.accepted_models import AcceptedPlan, Route
from planner.plans.accepting import Promise, accept_repair
from planner.plans.account import receive, waive_deposit
from planner.plans.items import finish_item
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.monday import Block
from planner.rules.promise import Condition, Moment, SeenTooth
from planner.rules.teeth import Tooth
from planner.rules.visit_states import LaboratoryState
from planner.visits.laboratory import move_work, order_work
from planner.visits.ready import ready_of
from planner.visits.services import Booking, book_visit, cancel_visit
from tests.followup.sample import patient_of, shown_estimate
from tests.followup.work import accepted
from tests.pages import priced_office
from tests.plans.sample import accepted as lead_plan
from tests.plans.sample import under_way, when
from tests.rules.books import charge
from tests.support import NOW, TODAY, guards_lifted

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def block(owner: Staff, key: str, now: Any = NOW) -> Block:
    (found,) = [one for one in monday_page(actor=owner, now=now).blocks if one.key == key]
    return found


def booked(owner: Staff, plan: AcceptedPlan, days: int = 3) -> Any:
    asked = Booking(
        clinician=owner, chair="Chair 1", day=TODAY + timedelta(days=days), hour=time(9), minutes=60, words="Bonding",
        key="bonding.bonding", items=tuple(plan.items.all()),
    )  # fmt: skip
    return book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


def test_what_a_visit_lacks(owner: Staff, person: Any) -> None:
    plan = accepted(owner, patient_of(owner), deposit=9000)
    booked(owner, plan)
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    work = order_work(
        plan=plan, words="Wax-up", laboratory="In town", teeth=[Tooth.from_iso("21")], visit_key="bonding.bonding",
        **who,
    )  # fmt: skip
    (row,) = block(owner, "breaking").rows
    assert row.words == (
        "No consent letter has been handed over for this plan. Of the deposit 90.00 is unpaid. "
        "Laboratory work is ordered, and no day is said on which it is back. No signed history is on record."
    )
    # The page of the visit says the same, in the same words.
    visit = plan.visits.get()
    assert row.words == " ".join(one.lack for one in ready_of(visit, NOW).rows if one.lack and one.key != "materials")
    # Settled one by one, each falls away.
    HistoryForm.objects.create(
        office=owner.office, patient=plan.patient, signed_on=TODAY - timedelta(days=400), entered_by=owner, at=NOW
    )
    waive_deposit(plan=plan, reason="known for years", actor=person(Role.MANAGER), now=NOW)
    for to in (LaboratoryState.SENT, LaboratoryState.RECEIVED):
        work = move_work(case=work, seen=work.version, to=to, due=TODAY + timedelta(days=1), **who)
    (row,) = block(owner, "breaking").rows
    assert row.words == (
        "No consent letter has been handed over for this plan. The box is here, and nobody has read "
        "its label. The history was signed on 2025-01-26 and holds through 2026-01-26: it is signed anew."
    )


def test_a_visit_that_falls_away_makes_it_bookable_again_on_that_day(owner: Staff) -> None:
    plan = accepted(owner, patient_of(owner), accepted_on=TODAY - timedelta(days=60))
    visit = booked(owner, plan, days=14)
    assert block(owner, "no-date").rows == ()
    cancel_visit(visit=visit, seen=visit.version, reason="ill", actor=owner, now=NOW + timedelta(days=5))
    (row,) = block(owner, "no-date", NOW + timedelta(days=7)).rows
    assert row.days == 2


def test_what_ends_soon(owner: Staff) -> None:
    young = patient_of(owner, "Young One")
    with guards_lifted():
        type(young).objects.filter(pk=young.pk).update(birth_date=date(2008, 3, 26))
    accepted(owner, patient_of(owner, "Held Long"), accepted_on=TODAY - timedelta(days=160))
    shown_estimate(owner, young, on=TODAY - timedelta(days=80))
    ends = block(owner, "ending").rows
    assert [(row.patient, row.days, row.cents, row.act) for row in ends] == [
        ("Young One", 10, 57000, "estimate"),
        ("Held Long", 23, 44500, "hold"),
        ("Young One", 24, None, "patient"),
    ]


def test_money_is_something_that_happened(owner: Staff) -> None:
    plan = accepted(owner, patient_of(owner), deposit=9000, accepted_on=TODAY - timedelta(days=45))
    booked(owner, plan, days=2)
    receive(plan=plan, cents=9000, payer="A. B.", route=Route.CASH, actor=owner, now=NOW)
    later = NOW + timedelta(days=29)
    type(plan).objects.filter(pk=plan.pk).update(state="booked")
    assert block(owner, "resting", later).rows == ()
    (row,) = block(owner, "resting", later + timedelta(days=1)).rows
    assert row.days == 30
    assert block(owner, "resting", later + timedelta(days=1)).figures[0].said == "1 of 1"


def test_work_done_again_under_promise_is_a_repair_and_no_acceptance(owner: Staff) -> None:
    """Common practice, no source: a corner chips in the year of the promise; it costs nothing and counts once."""
    now, plan = when("lead"), lead_plan(owner, "lead", "reshape-bond")
    day = now.date()
    begun = under_way(plan, owner, now)
    for item in plan.items.order_by("position"):
        finish_item(item=item, seen=item.version, actor=owner, now=now)
    done = finish_plan(plan=begun, seen=begun.version, review_done=True, actor=owner, now=now)
    later = now + timedelta(days=150)
    span = (owner.office, day - timedelta(days=9), day + timedelta(days=150), later.date())
    before = read_cohort(*span)
    assert [answer.cents for one in before[0].people for answer in one.answers] == [161825]
    accept_repair(
        plan=done,
        charges=[charge("small-repair", 1, "22")],
        by=plan.patient.name,
        capacity="patient",
        reason="a corner chipped in the fifth month",
        promise=Promise(minutes=30, material_cents=1200),
        actor=owner,
        now=later,
    )
    assert read_cohort(*span) == before
    (mended,) = repairs(owner.office, later.date())
    assert (mended.cents, mended.days_after) == (0, 150)
    assert sum(one.repairs for one in teeth_followed(owner.office, later.date())) == 1
    # Mended at a review: on the day of that repair it is the same one, on another day a second.
    for moment, when_seen in ((Moment.OTHER, later), (Moment.TWO_WEEKS, later + timedelta(days=20))):
        teeth = {Tooth.from_iso("22"): SeenTooth(Condition.MENDED)}
        seen = Seen(moment=moment, on=when_seen.date(), measured_by="Dr X", teeth=teeth)
        note_review(plan=done, seen=seen, actor=owner, now=when_seen)
        count = sum(one.repairs for one in teeth_followed(owner.office, when_seen.date()))
        assert count == (1 if moment == Moment.OTHER else 2)
