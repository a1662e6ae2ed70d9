"""Charges beside the work of an accepted plan: written by the floors above, waived by whoever may take money back.

A charge is asked for as the price list has it; whether local tax is due on a fee for no work the local tax office says,
and none is added here. It is owed at once and earned by nothing; it leaves the deposit as it is.
"""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan
from planner.plans.account import locked
from planner.plans.charge_models import ChargeKind, PlanCharge
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import today
from planner.practice.models import Staff
from planner.trail.errors import Refused
from planner.trail.services import record


def write_charge(
    *,
    plan: AcceptedPlan,
    code: str,
    words: str,
    price_list_version: int,
    cents: int,
    reason: str = "",
    actor: Staff,
    now: datetime,
) -> PlanCharge:
    """Charge ``cents`` on ``plan`` beside its work, at whatever stage it is.

    Asks for no right of its own: whoever brings the charge about has been asked for theirs. Raises Refused for nothing.
    """
    require_own(actor, plan)
    if cents <= 0:
        raise Refused("A charge is of an amount above nothing.")
    with transaction.atomic():
        held = locked(plan)
        row = PlanCharge.objects.create(
            office=held.office,
            plan=held,
            kind=ChargeKind.CHARGE,
            code=code,
            words=words,
            price_list_version=price_list_version,
            cents=cents,
            on=today(held.office, now),
            reason=reason.strip(),
            by=actor,
            at=now,
        )
        record(actor=actor, act="plan.charge", subject=held, content={"code": code, "cents": cents}, at=now)
    return row


def waive_charge(*, charge: PlanCharge, reason: str, actor: Staff, now: datetime) -> PlanCharge:
    """Ask for a charge no more, by name and with a reason; what was charged stays readable.

    Raises Refused without a reason, for one that is waived already; NotAllowed for whoever may not void a receipt.
    """
    require_own(actor, charge)
    require(actor, Act.EDIT, Thing.RECEIPT, subject=charge)
    if not reason.strip():
        raise Refused("Say why it is not asked for any more.", field="reason")
    with transaction.atomic():
        plan = locked(charge.plan)
        before = PlanCharge.objects.filter(of=charge).select_related("by").first()
        if before is not None or charge.kind != ChargeKind.CHARGE:
            last = before or charge
            raise Refused(f"This charge is waived already: {done_by('waived', last.by, last.on, plan.office)}.")
        row = PlanCharge.objects.create(
            office=plan.office,
            plan=plan,
            kind=ChargeKind.WAIVED,
            code=charge.code,
            words=charge.words,
            price_list_version=charge.price_list_version,
            cents=charge.cents,
            on=today(plan.office, now),
            reason=reason.strip(),
            of=charge,
            by=actor,
            at=now,
        )
        content = {"code": row.code, "cents": row.cents}
        record(actor=actor, act="plan.charge_waive", subject=plan, content=content, reason=row.reason, at=now)
    return row


def waived(charge: PlanCharge, rows: Iterable[PlanCharge]) -> PlanCharge | None:
    """The row by which ``charge`` is waived, among the charges of its plan."""
    return next((row for row in rows if row.of_id == charge.pk), None)
