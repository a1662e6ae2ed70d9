"""Money held on a plan that another took the place of: carried forward to that one, by an act of its own.

No money moves, so two rows are written for each receipt that is touched: one takes it from the old plan, one brings it
to the new, and each names who paid and how, so that it can still go back to the one it came from. Neither account is
ever set: both are added up from their rows, as always.
"""

from datetime import datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan, Follows, Payment, PaymentKind
from planner.plans.account import account_of, is_over, locked, pending_cents, returnable, write_payment
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.plan_states import PlanState
from planner.rules.settling import drawn
from planner.rules.units import format_cents
from planner.trail.errors import Refused
from planner.trail.services import record


def successor(plan: AcceptedPlan) -> AcceptedPlan | None:
    """The plan that took the place of ``plan`` and goes on; where that one was replaced too, the last of the row.

    None where nothing took its place, or where what did is over. A query for each plan in the row.
    """
    found = plan
    while found.state == PlanState.CHANGED:
        after = found.followed_by.filter(follows_as=Follows.REPLACES).select_related("office").first()
        if after is None:
            return None
        found = after
    return found if found.pk != plan.pk and not is_over(found) else None


def can_carry_cents(plan: AcceptedPlan) -> int:
    """What is held on a replaced plan and not asked back, so that it can be carried forward; 0 for any other plan."""
    if plan.state != PlanState.CHANGED:
        return 0
    return max(account_of(plan).held_cents - pending_cents(plan), 0)


def carry_forward(
    *, plan: AcceptedPlan, cents: int, reason: str, actor: Staff, now: datetime
) -> tuple[tuple[Payment, Payment], ...]:
    """Carry ``cents`` of what is held on ``plan`` to the plan that took its place, from the oldest receipt on.

    Returns the pairs of rows, taken and brought. Raises Refused without a reason, for an amount of nothing or more than
    is free, and when no plan took its place that goes on; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.RECEIPT, subject=plan)
    if not reason.strip():
        raise Refused(
            "Say who agreed that it is carried forward: whoever paid can have it back instead.", field="reason"
        )
    if cents <= 0:
        raise Refused(f"{format_cents(cents)} is nothing to carry forward; write an amount.", field="cents")
    with transaction.atomic():
        after = successor(plan)
        # Both in the order of their keys, so that two who carry at once never wait for each other.
        held = {pk: locked(one) for pk, one in sorted({one.pk: one for one in (plan, after) if one}.items())}
        old, new = held[plan.pk], after and held[after.pk]
        if new is None or is_over(new):
            raise Refused("No plan took the place of this one and goes on: what is held here goes back as a refund.")
        free = can_carry_cents(old)
        if cents > free:
            raise Refused(
                f"{account_of(old).settlement.how}; {format_cents(pending_cents(old))} is asked back, so "
                f"{format_cents(free)} can be carried forward, not {format_cents(cents)}.",
                field="cents",
            )
        pairs = _write(old, new, cents, reason.strip(), actor, now)
        content = {"cents": cents, "to": new.public_id}
        record(actor=actor, act="plan.carry_forward", subject=old, content=content, reason=reason.strip(), at=now)
    return pairs


def _write(
    old: AcceptedPlan, new: AcceptedPlan, cents: int, reason: str, actor: Staff, now: datetime
) -> tuple[tuple[Payment, Payment], ...]:
    day = today(old.office, now)
    oldest_first = returnable(old)[::-1]
    pairs = []
    for one, part in zip(oldest_first, drawn(cents, [each.cents for each in oldest_first]), strict=True):
        if part:
            who = {"payer": one.receipt.payer, "route": one.receipt.route, "reason": reason}
            taken = write_payment(old, PaymentKind.CARRIED, part, day, who | {"of": one.receipt}, actor, now)
            brought = write_payment(new, PaymentKind.BROUGHT, part, day, who | {"of": taken}, actor, now)
            pairs.append((taken, brought))
    return tuple(pairs)
