"""An accepted plan follows its items: booked as soon as one has a visit and the deposit is settled, and back again."""

from datetime import datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan, Payment, PaymentKind, PlanMove
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.lifecycles import PLAN, ItemState, PlanFacts, PlanState, may_move
from planner.trail.fields import save_seen
from planner.trail.services import record


def follow_items(*, plan: AcceptedPlan, actor: Staff, now: datetime) -> str:
    """Move ``plan`` between accepted and booked as its items stand; the sentence why it stays accepted, if it does."""
    with transaction.atomic():
        held = AcceptedPlan.objects.select_for_update().get(pk=plan.pk)
        has_visit = held.items.filter(state=ItemState.BOOKED.value).exists()
        facts = PlanFacts(first_item_has_visit=has_visit, deposit_paid_or_waived=deposit_settled(held))
        if held.state == PlanState.ACCEPTED and has_visit:
            if refused := may_move(PLAN, held.state, PlanState.BOOKED, facts):
                return " ".join(refused)
            _move(held, PlanState.BOOKED, "a visit is booked", actor, now)
        elif held.state == PlanState.BOOKED and not has_visit:
            _move(held, PlanState.ACCEPTED, "no visit is left", actor, now)
    return ""


def deposit_settled(plan: AcceptedPlan) -> bool:
    """Whether the deposit is paid, waived by name, or none is asked for."""
    if not plan.deposit_cents:
        return True
    rows = list(Payment.objects.filter(plan=plan))
    if any(row.kind == PaymentKind.WAIVER for row in rows):
        return True
    sign = {PaymentKind.RECEIPT: 1, PaymentKind.REFUND: -1, PaymentKind.VOID: -1}
    return sum(sign[PaymentKind(row.kind)] * row.cents for row in rows) >= plan.deposit_cents


def _move(plan: AcceptedPlan, to: PlanState, reason: str, actor: Staff, now: datetime) -> None:
    before = plan.state
    saved = save_seen(plan, seen=plan.version, what="The accepted plan", values={"state": to.value})
    PlanMove.objects.create(
        office_id=saved.office_id,
        plan=saved,
        before=before,
        after=to.value,
        on=today(saved.office, now),
        reason=reason,
        by=actor,
        at=now,
    )
    record(actor=actor, act="plan.move", subject=saved, content={"before": before, "after": to.value}, at=now)
