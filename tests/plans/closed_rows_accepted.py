"""Closed rows of what was accepted: a finished plan, an item that is done, a refund that is paid, what only grows."""

from decimal import Decimal
from typing import Any

from django.db.models import Model

from planner.plans.accepted_models import (
    AcceptedPlan,
    Agreement,
    Amendment,
    BalanceCall,
    BalanceSheet,
    Item,
    ItemPrice,
    Payment,
    PlanMove,
    PriceHold,
    Refund,
    StageEarned,
)
from planner.plans.casefiles import import_case_file
from planner.plans.charge_models import PlanCharge
from planner.plans.consent_models import ConsentStop
from planner.practice.books import version_in_force
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.services import add_staff
from tests.closed_rows import Ground, Maker
from tests.plans.sample import bare_frozen
from tests.support import NOW, PASSWORD, TODAY


def _plan(ground: Ground) -> AcceptedPlan:
    owner = ground.owner
    case = import_case_file(facts=ground.lead_case, actor=owner, now=NOW).case
    book = version_in_force(owner.office, TODAY)
    return AcceptedPlan.objects.create(
        office=owner.office,
        patient=case.patient,
        case=case,
        frozen=bare_frozen(owner, case, book),
        book=book,
        price_list_version=1,
        option_key="bonding",
        name="Bonding",
        accepted_on=TODAY,
        accepted_by=case.patient.name,
        accepted_as="patient",
        price_held_through=TODAY,
        total_cents=44500,
        deposit_cents=0,
        state="finished",
        created_by=owner,
        at=NOW,
    )


def _below(ground: Ground) -> dict[str, Any]:
    """What every row below a plan carries."""
    plan = _plan(ground)
    return {"office": plan.office, "plan": plan, "by": ground.owner, "at": NOW, "on": TODAY}


def _item(ground: Ground) -> Item:
    plan = _plan(ground)
    return Item.objects.create(
        office=plan.office,
        plan=plan,
        position=0,
        line=0,
        service="build-up",
        code="T-BLD",
        words="Build-up of a tooth",
        tax_class="looks only",
        tax_percent=Decimal("0.000"),
        earns="finished",
        state="done",
        done_on=TODAY,
    )


def _amendment(ground: Ground) -> Amendment:
    return Amendment.objects.create(
        number=1, cause="office", reason="put off", before_cents=1, after_cents=1, **_below(ground)
    )


def _agreement(ground: Ground) -> Agreement:
    made = _amendment(ground)
    return Agreement.objects.create(
        office=made.office, amendment=made, agreed_by="A. B.", how="signed", on=TODAY, by=ground.owner, at=NOW
    )


def _price(ground: Ground) -> ItemPrice:
    item = _item(ground)
    return ItemPrice.objects.create(
        office=item.office, item=item, gross_cents=1, taken_off_cents=0, net_cents=1, tax_cents=0, total_cents=1
    )


def _earned(ground: Ground) -> StageEarned:
    item = _item(ground)
    return StageEarned.objects.create(
        office=item.office, item=item, stage="finished", cents=1, on=TODAY, by=ground.owner, at=NOW
    )


def _consent_stop(ground: Ground) -> ConsentStop:
    item = _item(ground)
    return ConsentStop.objects.create(
        office=item.office, item=item, stands_still=True, words="Not that one.", by=ground.owner, at=NOW
    )


def _receipt(below: dict[str, Any]) -> Payment:
    return Payment.objects.create(kind="receipt", cents=5, payer="A. B.", route="cash", **below)


def _refund(ground: Ground) -> Refund:
    below = _below(ground)
    receipt = _receipt(below)
    back = Payment.objects.create(
        kind="refund", cents=5, payer="A. B.", route="cash", reason="unearned", of=receipt, **below
    )
    return Refund.objects.create(
        office=receipt.office,
        plan=receipt.plan,
        receipt=receipt,
        cents=5,
        reason="unearned",
        state="paid",
        asked_by=ground.owner,
        asked_at=NOW,
        allowed_by=_manager(ground.owner),
        closed_by=ground.owner,
        payment=back,
    )


def _manager(owner: Staff) -> Staff:
    return add_staff(
        username="max", full_name="Max Manager", password=PASSWORD, roles=[Role.MANAGER], actor=owner, now=NOW
    )


def _sheet(ground: Ground) -> BalanceSheet:
    nothing = dict.fromkeys(("paid_cents", "earned_cents", "bills_cents", "refund_cents", "balance_due_cents"), 0)
    return BalanceSheet.objects.create(how="nothing", **nothing, **_below(ground))


def _call(ground: Ground) -> Model:
    sheet = _sheet(ground)
    return BalanceCall.objects.create(
        office=sheet.office, sheet=sheet, spoke_with="A. B.", words="thinks", on=TODAY, by=ground.owner, at=NOW
    )


CLOSED_ROWS: dict[str, Maker] = {
    "plans.acceptedplan": _plan,
    "plans.agreement": _agreement,
    "plans.amendment": _amendment,
    "plans.balancecall": _call,
    "plans.balancesheet": _sheet,
    "plans.consentstop": _consent_stop,
    "plans.item": _item,
    "plans.itemprice": _price,
    "plans.payment": lambda ground: _receipt(_below(ground)),
    "plans.plancharge": lambda ground: PlanCharge.objects.create(
        kind="charge", words="Cancelled late", price_list_version=1, cents=5, **_below(ground)
    ),
    "plans.planmove": lambda ground: PlanMove.objects.create(after="accepted", **_below(ground)),
    "plans.pricehold": lambda ground: PriceHold.objects.create(through=TODAY, reason="waits", **_below(ground)),
    "plans.refund": _refund,
    "plans.stageearned": _earned,
}
