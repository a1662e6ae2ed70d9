"""The account of an accepted plan: receipts, waivers, voids, refunds by two people, and where it stands.

Nothing here is typed twice: what is paid, earned and owed is added up from rows that only grow. Who pays is kept apart
from the patient, money goes back to the one it came from and in the way it came, and no card number is kept.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from planner.plans.accepted_models import (
    AcceptedPlan,
    Earns,
    Item,
    Payment,
    PaymentKind,
    Refund,
    RefundState,
    Route,
)
from planner.plans.charge_models import ChargeKind, PlanCharge
from planner.plans.items import earned_cents, price_of
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PLAN
from planner.rules.settling import Account
from planner.rules.units import format_cents
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

_DIGITS_OF_A_CARD = re.compile(r"(?:\d[ -]?){12,}")
_SIGN = {
    PaymentKind.RECEIPT: 1,
    PaymentKind.BROUGHT: 1,
    PaymentKind.REFUND: -1,
    PaymentKind.VOID: -1,
    PaymentKind.CARRIED: -1,
    PaymentKind.WAIVER: 0,
}


@dataclass(frozen=True, slots=True)
class Returnable:
    """What can still go back of one receipt, cents."""

    receipt: Payment
    cents: int


def account_of(plan: AcceptedPlan) -> Account:
    """Where the plan stands. Five queries; none where items with prices and stages, payments and charges come along."""
    rows = list(plan.payments.all())
    items = list(_fetched(plan))
    return Account(
        agreed_cents=sum(value_of(item) for item in items if item.state != ItemState.DROPPED or item.earned.all()),
        paid_cents=paid_cents(rows),
        earned_cents=sum(earned_cents(item.earned.all()) for item in items),
        bills_cents=sum(row.cents for item in items for row in item.earned.all() if row.stage == "bill"),
        deposit_cents=plan.deposit_cents,
        deposit_waived=any(row.kind == PaymentKind.WAIVER for row in rows),
        charged_cents=charged_cents(plan.charges.all()),
    )


def charged_cents(rows: Iterable[PlanCharge]) -> int:
    """What is charged beside the work, less what is waived of it."""
    return sum(row.cents if row.kind == ChargeKind.CHARGE else -row.cents for row in rows)


def value_of(item: Item) -> int:
    """What an item is worth: its price, a bill passed on what was billed, one that was dropped what it had earned."""
    earned = list(item.earned.all())
    if item.state == ItemState.DROPPED or (item.earns == Earns.BILL and earned):
        return sum(row.cents for row in earned)
    return price_of(item).total_cents


def is_over(plan: AcceptedPlan) -> bool:
    """Whether the plan is finished, stopped or replaced, so that nothing more is earned in it by and by."""
    return not PLAN.targets(plan.state)


def paid_cents(rows: Iterable[Payment]) -> int:
    """Receipts and what was brought forward, less what was taken back or carried forward."""
    return sum(signed_cents(row) for row in rows)


def signed_cents(row: Payment) -> int:
    """By how much a row changes what is paid: above zero for what came in, 0 for a waiver."""
    return _SIGN[PaymentKind(row.kind)] * row.cents


def deposit_settled(plan: AcceptedPlan) -> bool:
    """Whether the deposit is paid, waived by name, or none is asked for."""
    return not deposit_due(plan)


def deposit_due(plan: AcceptedPlan) -> int:
    """What is wanting of the deposit, cents; nothing once it is paid or waived. One query."""
    rows = list(plan.payments.all())
    waived = any(row.kind == PaymentKind.WAIVER for row in rows)
    return 0 if waived else max(plan.deposit_cents - paid_cents(rows), 0)


def returnable(plan: AcceptedPlan) -> tuple[Returnable, ...]:
    """What can go back of each receipt, the newest first; refunds that are asked or allowed already are taken off.

    What was brought forward from another plan is a receipt like any other: it names who paid it and how.
    """
    rows = list(plan.payments.all())
    pending = [one for one in plan.refunds.all() if one.state in (RefundState.ASKED, RefundState.ALLOWED)]
    found = []
    for receipt in sorted(
        (row for row in rows if row.kind in (PaymentKind.RECEIPT, PaymentKind.BROUGHT)), key=lambda row: -row.pk
    ):
        back = sum(row.cents for row in rows if row.of_id == receipt.pk)
        back += sum(one.cents for one in pending if one.receipt_id == receipt.pk)
        if receipt.cents > back:
            found.append(Returnable(receipt, receipt.cents - back))
    return tuple(found)


def receive(
    *,
    plan: AcceptedPlan,
    cents: int,
    payer: str,
    route: Route,
    reference: str = "",
    on: date | None = None,
    actor: Staff,
    now: datetime,
) -> Payment:
    """Write a receipt. Raises Refused for an amount of nothing, no payer, a day ahead, or a card number, and in a plan
    that is over for more than is owed there; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.RECEIPT, subject=plan)
    day = on or today(plan.office, now)
    if cents <= 0:
        raise Refused(f"{format_cents(cents)} is no receipt; write what came in.", field="cents")
    if not payer.strip():
        raise Refused("Say who paid; that need not be the patient.", field="payer")
    if day > today(plan.office, now):
        raise Refused(f"{day.isoformat()} lies in the future: nothing has come in then.", field="on")
    if _DIGITS_OF_A_CARD.search(reference):
        raise Refused("This looks like a card number; none is kept here. Write the slip's number.", field="reference")
    with transaction.atomic():
        held = locked(plan)
        _refuse_deposit_of_ended(held, cents)
        values = {"payer": payer.strip(), "route": route, "reference": reference.strip()}
        return write_payment(held, PaymentKind.RECEIPT, cents, day, values, actor, now)


def waive_deposit(*, plan: AcceptedPlan, reason: str, actor: Staff, now: datetime) -> Payment:
    """Let work begin without the deposit, by name and with a reason. Raises Refused when none is due; NotAllowed."""
    require_own(actor, plan)
    require(actor, Act.EDIT, Thing.RECEIPT, subject=plan)
    if not reason.strip():
        raise Refused("Say why the deposit is waived.", field="reason")
    with transaction.atomic():
        held = locked(plan)
        due = account_of(held).deposit_due_cents
        if not due:
            before = held.payments.filter(kind=PaymentKind.WAIVER).select_related("by").first()
            who = f" It was {done_by('waived', before.by, before.on, held.office)}." if before is not None else ""
            raise Refused(f"No deposit is due.{who}")
        values = {"reason": reason.strip()}
        return write_payment(held, PaymentKind.WAIVER, due, today(plan.office, now), values, actor, now)


def void_receipt(*, receipt: Payment, reason: str, actor: Staff, now: datetime) -> Payment:
    """Take back a receipt that was written by mistake: no money moves. Raises Refused when any of it went back."""
    require_own(actor, receipt)
    require(actor, Act.EDIT, Thing.RECEIPT, subject=receipt)
    if not reason.strip():
        raise Refused("Say what was wrong with the receipt.", field="reason")
    with transaction.atomic():
        plan = locked(receipt.plan)
        gone = Payment.objects.filter(of=receipt, kind=PaymentKind.VOID).select_related("by").first()
        if gone is not None:
            who = done_by(_("taken back"), gone.by, gone.on, plan.office)
            raise Refused(_("This receipt is not there any more: it was %(who)s.") % {"who": who})
        left = next((one.cents for one in returnable(plan) if one.receipt.pk == receipt.pk), 0)
        if receipt.kind != PaymentKind.RECEIPT or left != receipt.cents:
            raise Refused("Only a receipt of which nothing has gone back or is asked back can be taken back.")
        values = {"payer": receipt.payer, "route": receipt.route, "of": receipt, "reason": reason.strip()}
        return write_payment(plan, PaymentKind.VOID, receipt.cents, today(plan.office, now), values, actor, now)


def ask_refund(*, plan: AcceptedPlan, receipt: Payment, cents: int, reason: str, actor: Staff, now: datetime) -> Refund:
    """Ask that ``cents`` of ``receipt`` go back to the one who paid.

    Raises Refused for more than is held unearned or than is left of that receipt; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.REFUND, subject=plan)
    if not reason.strip():
        raise Refused("Say why it goes back.", field="reason")
    if cents <= 0:
        raise Refused(f"{format_cents(cents)} is no refund; write what goes back.", field="cents")
    with transaction.atomic():
        held = locked(plan)
        left = next((one.cents for one in returnable(held) if one.receipt.pk == receipt.pk), 0)
        if cents > left:
            raise Refused(
                f"Of this receipt {format_cents(left)} can go back, not {format_cents(cents)}.", field="cents"
            )
        _refuse_more_than_held(held, cents, excluding=None)
        refund = Refund.objects.create(
            office=held.office,
            plan=held,
            receipt=receipt,
            cents=cents,
            reason=reason.strip(),
            asked_by=actor,
            asked_at=now,
        )
        content = {"cents": cents, "plan": held.public_id}
        record(actor=actor, act="refund.ask", subject=refund, content=content, reason=reason.strip(), at=now)
    return refund


def allow_refund(*, refund: Refund, seen: int, actor: Staff, now: datetime) -> Refund:
    """The first of two people allows it: somebody else than who asked. Raises Refused, StaleEdit, NotAllowed."""
    require_own(actor, refund)
    require(actor, Act.APPROVE, Thing.REFUND, subject=refund)
    if actor.pk == refund.asked_by_id:
        raise Refused("Nobody allows a refund they asked for themselves.")
    values = {"state": RefundState.ALLOWED, "allowed_by": actor, "allowed_at": now}
    return _close(refund, seen, (RefundState.ASKED,), values, "refund.allow", "", actor, now)


def pay_refund(*, refund: Refund, seen: int, actor: Staff, now: datetime) -> Refund:
    """The second of two people pays it, to the one who paid and in the way it came.

    Raises Refused when this is the person who allowed it or when more than is held would go back; StaleEdit when
    somebody else was first; NotAllowed.
    """
    require_own(actor, refund)
    require(actor, Act.RUN, Thing.REFUND, subject=refund)
    if actor.pk == refund.allowed_by_id:
        raise Refused("Two people stand behind a refund: somebody else than who allowed it pays it.")
    with transaction.atomic():
        plan = locked(refund.plan)
        current = Refund.objects.select_related("receipt").get(pk=refund.pk)
        _in_state(current, (RefundState.ALLOWED,))
        _refuse_more_than_held(plan, current.cents, excluding=current)
        receipt = current.receipt
        values = {"payer": receipt.payer, "route": receipt.route, "of": receipt, "reason": current.reason}
        paid = write_payment(plan, PaymentKind.REFUND, current.cents, today(plan.office, now), values, actor, now)
        closed = {"state": RefundState.PAID, "closed_by": actor, "closed_at": now, "payment": paid}
        return _close(refund, seen, (RefundState.ALLOWED,), closed, "refund.pay", "", actor, now)


def decline_refund(*, refund: Refund, seen: int, reason: str, actor: Staff, now: datetime) -> Refund:
    """Say no to a refund that was asked, with the reason. Raises Refused, StaleEdit, NotAllowed."""
    require_own(actor, refund)
    require(actor, Act.APPROVE, Thing.REFUND, subject=refund)
    if not reason.strip():
        raise Refused("Say why it does not go back.", field="reason")
    values = {
        "state": RefundState.DECLINED,
        "closed_by": actor,
        "closed_at": now,
        "why_declined": reason.strip(),
    }
    states = (RefundState.ASKED, RefundState.ALLOWED)
    return _close(refund, seen, states, values, "refund.decline", reason.strip(), actor, now)


def _fetched(plan: AcceptedPlan) -> Iterable[Item]:
    if "items" in getattr(plan, "_prefetched_objects_cache", {}):
        return plan.items.all()
    return plan.items.prefetch_related("prices", "earned")


def locked(plan: AcceptedPlan) -> AcceptedPlan:
    """The plan, locked until the transaction ends: everything about its money waits in one line."""
    return AcceptedPlan.objects.select_for_update(of=("self",)).select_related("office").get(pk=plan.pk)


def pending_cents(plan: AcceptedPlan, excluding: Refund | None = None) -> int:
    """What is asked back and not paid or declined yet. One query, or none where refunds are fetched."""
    open_now = (one for one in plan.refunds.all() if one.state in (RefundState.ASKED, RefundState.ALLOWED))
    return sum(one.cents for one in open_now if excluding is None or one.pk != excluding.pk)


def _refuse_more_than_held(plan: AcceptedPlan, cents: int, excluding: Refund | None) -> None:
    account = account_of(plan)
    pending = pending_cents(plan, excluding)
    free = account.held_cents - pending
    if cents > free:
        raise Refused(
            f"{account.settlement.how}; {format_cents(pending)} is asked back already, so "
            f"{format_cents(max(free, 0))} can go back, not {format_cents(cents)}.",
            field="cents",
        )


def _refuse_deposit_of_ended(plan: AcceptedPlan, cents: int) -> None:
    if is_over(plan) and cents > (owed := account_of(plan).owed_cents):
        raise Refused(
            f"The plan is {plan.state}, and {format_cents(owed)} is owed in it: {format_cents(cents)} would be held "
            "for work that nobody does. Write the receipt in the plan that goes on.",
            field="cents",
        )


def _in_state(refund: Refund, states: tuple[RefundState, ...]) -> None:
    if refund.state not in states:
        wanted = " or ".join(states)
        raise Refused(f"This refund is {refund.state}; this needs one that is {wanted}.")


def _close(
    refund: Refund,
    seen: int,
    states: tuple[RefundState, ...],
    values: dict[str, Any],
    act: str,
    reason: str,
    actor: Staff,
    now: datetime,
) -> Refund:
    with transaction.atomic():
        locked(refund.plan)
        current = Refund.objects.get(pk=refund.pk)
        _in_state(current, states)
        saved = save_seen(current, seen=seen, what="The refund", values=values)
        content = {"cents": saved.cents, "state": str(saved.state)}
        record(actor=actor, act=act, subject=saved, content=content, reason=reason, at=now)
    return saved


def write_payment(
    plan: AcceptedPlan,
    kind: PaymentKind,
    cents: int,
    on: date,
    values: dict[str, Any],
    actor: Staff,
    now: datetime,
) -> Payment:
    """One row of the account of a plan that is locked, and its entry in the record."""
    row = Payment.objects.create(
        office=plan.office, plan=plan, kind=kind, cents=cents, on=on, by=actor, at=now, **values
    )
    content = {"kind": str(kind), "cents": cents, "on": on.isoformat(), "route": str(row.route)}
    record(actor=actor, act=f"payment.{kind}", subject=plan, content=content, reason=row.reason, at=now)
    return row
