"""An accepted plan follows its visits: booked as soon as one is there and the deposit is settled, and back again.

Treatment begins with the consent that the floor below keeps.
"""

from datetime import datetime

from planner.letters.consent_standing import stands_against
from planner.plans.accepted import begin_plan, follow_visits
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.facts import case_facts
from planner.practice.access import require_own
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.trail.errors import Refused


def begin_work(*, plan: AcceptedPlan, seen: int, actor: Staff, now: datetime) -> AcceptedPlan:
    """Treatment starts: a consent to this very plan holds today, and the history was asked again today.

    Raises Refused with everything that is wanting, StaleEdit, NotAllowed.
    """
    require_own(actor, plan)
    history = case_facts(plan.case, today(plan.office, now)).history
    return begin_plan(
        plan=plan,
        seen=seen,
        consent=" ".join(stands_against(plan, now)),
        history_asked_on=history.any_change_asked_on,
        actor=actor,
        now=now,
    )


def follow_items(*, plan: AcceptedPlan, actor: Staff, now: datetime) -> str:
    """Move ``plan`` between accepted and booked as its items stand; the sentence why it stays accepted, if it does."""
    held = AcceptedPlan.objects.get(pk=plan.pk)
    has_visit = held.items.filter(state=ItemState.BOOKED.value).exists()
    if (held.state, has_visit) not in ((PlanState.ACCEPTED, True), (PlanState.BOOKED, False)):
        return ""
    try:
        follow_visits(plan=held, seen=held.version, actor=actor, now=now)
    except Refused as refusal:
        # A visit may be booked before the deposit is there; the plan moves on when it is.
        return refusal.sentence
    return ""
