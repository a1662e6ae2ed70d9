"""The lead case's bonding, done: what reviews are written down about."""

from datetime import date, timedelta
from typing import Any

from planner.followup.review_models import Review
from planner.followup.reviewing import Seen, note_review
from planner.patients.models import Instrument
from planner.plans.accepted_models import AcceptedPlan, ItemPrice
from planner.practice.models import Staff
from planner.rules.promise import Condition, Moment, SeenTooth
from planner.rules.teeth import Tooth
from tests.support import NOW, TODAY, guards_lifted
from tests.visits.sample import accepted_plan

CENTRAL, LATERAL = Tooth.from_iso("21"), Tooth.from_iso("22")
DONE = TODAY - timedelta(days=400)


def planned(owner: Staff, name: str = "Anselm Brightwater") -> AcceptedPlan:
    """The lead case said yes to, each item with a price."""
    plan = accepted_plan(owner, planned=True, name=name)
    for item in plan.items.all():
        ItemPrice.objects.create(
            office=owner.office,
            item=item,
            gross_cents=32365,
            taken_off_cents=0,
            net_cents=32365,
            tax_cents=0,
            total_cents=32365,
        )
    return plan


def done_plan(owner: Staff, *, on: date = DONE, name: str = "Anselm Brightwater") -> AcceptedPlan:
    """Everything of the plan done on one day."""
    plan = planned(owner, name)
    with guards_lifted():
        plan.items.update(state="done", done_on=on)
        AcceptedPlan.objects.filter(pk=plan.pk).update(state="finished", accepted_on=on - timedelta(days=20))
    plan.refresh_from_db()
    return plan


def seen(moment: Moment = Moment.TWO_WEEKS, days: int = 14, **more: Any) -> Seen:
    """A review of two teeth by caliper, and of two wishes."""
    given: dict[str, Any] = {
        "measured_by": "Dr Imke Sorrel",
        "instrument": Instrument.CALIPER,
        "teeth": {CENTRAL: SeenTooth(Condition.WHOLE, 89, 106), LATERAL: SeenTooth(Condition.WHOLE, 70, 95)},
        "scores": {1: 9, 2: 8},
    }
    return Seen(moment=moment, on=DONE + timedelta(days=days), **(given | more))


def reviewed(
    owner: Staff, plan: AcceptedPlan, moment: Moment = Moment.TWO_WEEKS, days: int = 14, **more: Any
) -> Review:
    """That review, written down."""
    return note_review(plan=plan, seen=seen(moment, days, **more), actor=owner, now=NOW)
