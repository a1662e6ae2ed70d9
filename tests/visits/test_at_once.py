"""Two people who book at once: one gets the time, the other a sentence, on either database."""

from datetime import time as hour
from typing import Any

import pytest

from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.visits import services
from planner.visits.models import Visit
from tests.at_once import at_once
from tests.support import NOW
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("shared", ["chair", "clinician", "patient"])
def test_only_one_of_two_gets_the_time(owner: Staff, booking: Any, person: Any, shared: str) -> None:
    second = person(Role.DENTIST, username="ben")
    plan, other = accepted_plan(owner), accepted_plan(owner, name="Ben Other")
    asked = booking(minutes=60)
    against = {
        "chair": (other, booking(hour=hour(9), minutes=60, clinician=second)),
        "clinician": (other, booking(hour=hour(9), minutes=60, chair="Chair 2")),
        "patient": (plan, booking(hour=hour(9), minutes=60, chair="Chair 2", clinician=second)),
    }[shared]
    outcomes = at_once(
        lambda: services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW),
        lambda: services.book_visit(plan=against[0], booking=against[1], actor=owner, now=NOW),
    )
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    assert any("taken from" in said or "another visit" in said for said in outcomes)
    assert Visit.objects.count() == 1
