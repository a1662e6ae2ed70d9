"""What a consent means for visits: booking says what is wanting, beginning refuses it, the plan's page shows it."""

from collections.abc import Callable
from typing import Any

import pytest
import time_machine

from planner.patients.services import answer_any_change
from planner.plans.account import waive_deposit
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.rules.plan_states import PlanState
from planner.trail.errors import Refused
from planner.visits import services
from planner.visits.progress import begin_work, follow_items
from tests.letters.consents import LATER, handed, shown_estimate, sign
from tests.letters.test_consents import accepted
from tests.pages import client_of
from tests.standing import changed, stands, told

pytestmark = pytest.mark.django_db


def test_booked_without_consent_and_begun_only_with_one(
    owner: Staff, lead_case: CaseFacts, booking: Any, person: Callable[..., Staff]
) -> None:
    estimate = shown_estimate(owner, lead_case)
    plan, client = accepted(estimate, owner), client_of(owner)
    who: dict[str, Any] = {"actor": owner, "now": LATER}
    with time_machine.travel(LATER, tick=False):
        made = services.book_visit(plan=plan, booking=booking(items=tuple(plan.items.all()[:1])), **who)
        assert made.consent_wanting == ("No consent letter has been handed over for this plan.",)
        if made.plan_stays:
            waive_deposit(plan=plan, reason="known for years", actor=person(Role.MANAGER), now=LATER)
            plan.refresh_from_db()
            follow_items(plan=plan, actor=owner, now=LATER)
        plan.refresh_from_db()
        assert plan.state == PlanState.BOOKED
        page = client.get(f"/visits/of/{plan.public_id}/").content.decode()
        assert "nothing is begun before this is settled" in page
        assert f"/letters/consents/{plan.case.public_id}/" in page
        refused = client.post(f"/visits/of/{plan.public_id}/begin/", {"seen": plan.version}, follow=True)
        assert "No consent letter has been handed over" in refused.content.decode()
        consent = handed(estimate, owner)
        with pytest.raises(Refused, match="not signed yet"):
            begin_work(plan=plan, seen=plan.version, **who)
        sign(consent, owner)
        answer_any_change(patient=plan.patient, asked_on=LATER.date(), changed=False, **who)
        assert "nothing is begun" not in client.get(f"/visits/of/{plan.public_id}/").content.decode()
        done = client.post(f"/visits/of/{plan.public_id}/begin/", {"seen": plan.version}, follow=True)
        assert "Treatment has begun." in done.content.decode()
        other = client_of(person(Role.DENTIST))
        before = stands()
        second = other.post(f"/visits/of/{plan.public_id}/begin/", {"seen": plan.version})
        assert "Olive Owner moved the accepted plan on" in told(second)
        assert changed(before) == []
        plan.refresh_from_db()
        assert plan.state == PlanState.UNDER_WAY


def test_nobody_of_another_office_begins_it(owner: Staff, lead_case: CaseFacts, outsider: Staff) -> None:
    plan = accepted(shown_estimate(owner, lead_case), owner)
    assert client_of(outsider).post(f"/visits/of/{plan.public_id}/begin/", {"seen": 1}).status_code == 404
