"""An accepted plan follows its visits: booked as soon as one is there and the deposit is settled, and back again."""

from datetime import datetime

from planner.plans.accepted import follow_visits
from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.trail.errors import Refused


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
