"""What two files of one person mean for work, visits and calls once they are joined: it is one mouth, and one no."""

from collections.abc import Callable
from datetime import time
from typing import Any

import pytest

from planner.followup.calling import calling_of, to_call
from planner.patients.joining import ask_apart, take_apart
from planner.patients.models import Patient
from planner.patients.services import change_patient, register_patient
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepting import clashes_with_open
from planner.plans.estimates import read_frozen
from planner.plans.facts import case_facts
from planner.plans.payer_guesses import open_work
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.partial import whole_of
from planner.rules.plan_states import PlanState
from planner.trail.errors import Refused
from planner.visits import services
from tests.followup.sample import patient_of, shown_estimate
from tests.patients.joined import join_files
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db


@pytest.fixture
def join(owner: Staff, person: Callable[..., Staff]) -> Callable[..., Any]:
    """Joins the second file to the first."""
    manager, dentist = person(Role.MANAGER), person(Role.DENTIST)
    return lambda kept, joined: join_files(kept, joined, owner, manager, dentist)


def test_nobody_is_in_two_chairs_at_once_under_two_names(owner: Staff, booking: Any, join: Any, person: Any) -> None:
    one, two = accepted_plan(owner), accepted_plan(owner, name="A. Brightwater")
    second = person(Role.DENTIST, username="ben")
    services.book_visit(plan=one, booking=booking(), actor=owner, now=NOW)
    at_once = booking(hour=time(9), minutes=30, clinician=second, chair="Chair 2")
    row = join(two.patient, one.patient)
    for plan in (one, two):
        with pytest.raises(Refused, match="The patient has another visit"):
            services.book_visit(plan=plan, booking=at_once, actor=owner, now=NOW)
    # Taken apart, they are two people again, who may come at one hour.
    row = ask_apart(join=row, reason="Two people.", actor=owner, now=NOW)
    take_apart(join=row, actor=second, now=NOW)
    services.book_visit(plan=two, booking=at_once, actor=owner, now=NOW)


def test_what_is_open_in_one_file_stands_against_the_same_work_in_the_other(owner: Staff, join: Any) -> None:
    one, two = accepted_plan(owner, planned=True), accepted_plan(owner, planned=True, name="A. Brightwater")
    assert two.estimate is not None
    assert two.frozen is not None
    shape = read_frozen(two.frozen).option(two.option_key)
    AcceptedPlan.objects.filter(pk=two.pk).update(state=PlanState.STOPPED)

    def clashes() -> tuple[str, ...]:
        assert two.estimate is not None
        return clashes_with_open(two.estimate, shape, whole_of(shape))

    assert clashes() == ()
    assert open_work(two.patient, {}, TODAY) == ()
    join(two.patient, one.patient)
    assert clashes()
    assert len(open_work(two.patient, {}, TODAY)) == one.items.count()


def test_a_no_told_in_the_file_that_goes_on_holds_for_what_was_shown_before(owner: Staff, join: Any) -> None:
    old = patient_of(owner)
    estimate = shown_estimate(owner, old)
    kept = register_patient(
        name="A. Other", birth_date=old.birth_date, phone="0170 555 0123", contact_consent=True, actor=owner, now=NOW
    )
    join(kept, old)
    assert calling_of(estimate, TODAY).person == kept
    assert [one.estimate for one in to_call(owner.office, TODAY)] == [estimate]
    kept = Patient.objects.get(pk=kept.pk)
    change_patient(patient=kept, seen=kept.version, changes={"contact_consent": False}, actor=owner, now=NOW)
    assert calling_of(estimate, TODAY).why_not
    assert to_call(owner.office, TODAY) == ()


def test_who_decides_is_asked_of_the_file_that_goes_on(owner: Staff, join: Any) -> None:
    plan = accepted_plan(owner)
    kept = register_patient(
        name="A. Other",
        birth_date=plan.patient.birth_date,
        about={"can_decide_alone": False, "decision_maker": "A guardian"},
        actor=owner,
        now=NOW,
    )
    assert case_facts(plan.case).patient.can_decide_alone is not False
    join(kept, plan.patient)
    assert case_facts(plan.case).patient.can_decide_alone is False
