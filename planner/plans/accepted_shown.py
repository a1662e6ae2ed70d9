"""Accepted plans as pages show them: items with teeth and states in words, the account, and the acts allowed now."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from planner.plans.accepted import held_through, hold_lapsed
from planner.plans.accepted_models import AcceptedPlan, Amendment, Earns, Item, Payment, PaymentKind, Refund
from planner.plans.accepted_rows import is_agreed
from planner.plans.account import account_of, is_over, returnable, value_of
from planner.plans.carrying import can_carry_cents, successor
from planner.plans.charge_models import ChargeKind, PlanCharge
from planner.plans.charges import waived
from planner.plans.earning import bill_is_open, months_earned
from planner.plans.items import earned_cents, in_mouth, price_of
from planner.practice.access import Act, Thing, may
from planner.practice.fields import day_words
from planner.practice.models import Staff
from planner.practice.templatetags.money import amount
from planner.rules.item_states import ITEM, OPEN_ITEM, ItemState, bookable
from planner.rules.plan_states import OPEN_PLAN, PlanState
from planner.rules.settling import Account
from planner.rules.teeth import Numbering, Tooth


@dataclass(frozen=True, slots=True)
class ShownItem:
    """One item, ready to be drawn."""

    item: Item
    teeth: str
    state: str
    now_or_later: str
    total_cents: int
    earned_cents: int
    stages: tuple[str, ...]
    acts: frozenset[str]


@dataclass(frozen=True, slots=True)
class ShownAmendment:
    """One change, with the yes it needs or has."""

    amendment: Amendment
    agreed: str
    waits: bool


def shown_plan(plan: AcceptedPlan, actor: Staff, day: date) -> dict[str, Any]:
    """Everything the page of one accepted plan shows."""
    numbering = Numbering(plan.case.numbering)
    items = sorted(plan.items.all(), key=lambda item: (item.line, item.position))
    account = account_of(plan)
    sheet = getattr(plan, "balance_sheet", None)
    return {
        "accepted": plan,
        "account": account,
        "items": [_item(item, plan, numbering, actor, day) for item in items],
        "amendments": [_amendment(one) for one in plan.amendments.all()],
        "payments": list(plan.payments.all()),
        "charges": _charges(plan),
        "taken_back": {row.of_id for row in plan.payments.all() if row.kind == PaymentKind.VOID},
        "refunds": [(one, _refund_acts(one, actor)) for one in plan.refunds.all()],
        "moves": list(plan.moves.all()),
        "held_through": held_through(plan),
        "over": is_over(plan),
        "hold_lapsed": not is_over(plan) and hold_lapsed(plan, day),
        "sheet": sheet,
        "calls": list(sheet.calls.all()) if sheet else [],
        "may": acts(plan, actor, account, bool(sheet and sheet.balance_due_cents)),
        "carries": _carries(plan, actor),
    }


def acts(plan: AcceptedPlan, actor: Staff, account: Account, balance_due: bool) -> dict[str, bool]:
    """What may be done with the plan now, by its state and by who looks at it."""
    open_now = plan.state in OPEN_PLAN
    over = is_over(plan)
    edits = may(actor, Act.EDIT, Thing.ACCEPTED)
    return {
        "rest": open_now and edits,
        "resume": plan.state == PlanState.RESTING and edits,
        "stop": not over and edits,
        "amend": open_now and may(actor, Act.APPROVE, Thing.AMENDMENT),
        "pay": (not over or account.owed_cents > 0) and may(actor, Act.CREATE, Thing.RECEIPT),
        "print": may(actor, Act.CREATE, Thing.RECEIPT),
        "void": may(actor, Act.EDIT, Thing.RECEIPT),
        "waive": not over and account.deposit_due_cents > 0 and may(actor, Act.EDIT, Thing.RECEIPT),
        "hold": not over and may(actor, Act.EDIT, Thing.ESTIMATE),
        "refund": account.held_cents > 0 and may(actor, Act.CREATE, Thing.REFUND),
        "finish": plan.state == PlanState.UNDER_WAY and may(actor, Act.APPROVE, Thing.ITEM),
        "repair": plan.state == PlanState.FINISHED and may(actor, Act.APPROVE, Thing.AMENDMENT),
        "write_refunds": may(actor, Act.CREATE, Thing.REFUND),
        "agree": may(actor, Act.CREATE, Thing.ACCEPTED),
        "call": balance_due and may(actor, Act.CREATE, Thing.BALANCE),
    }


def _charges(plan: AcceptedPlan) -> list[tuple[PlanCharge, PlanCharge | None]]:
    """Every charge beside the work, and the row that waives it."""
    rows = list(plan.charges.all())
    return [(row, waived(row, rows)) for row in rows if row.kind == ChargeKind.CHARGE]


def _carries(plan: AcceptedPlan, actor: Staff) -> AcceptedPlan | None:
    """The plan to which what is held here can be carried forward by ``actor``, if there is any."""
    if plan.state != PlanState.CHANGED or not may(actor, Act.CREATE, Thing.RECEIPT):
        return None
    return successor(plan) if can_carry_cents(plan) else None


def item_words(item: Item, numbering: Numbering) -> str:
    """An item in one line: its words and teeth."""
    teeth = teeth_words(item, numbering)
    return f"{item.words} ({teeth})" if teeth else item.words


def teeth_words(item: Item, numbering: Numbering) -> str:
    """The teeth of an item by number, in the numbering of the case."""
    return ", ".join(Tooth.from_key(key).written(numbering) for key in item.teeth)


def receipts_of(plan: AcceptedPlan) -> list[tuple[Payment, str]]:
    """Receipts of which something can go back, in words."""
    words = _("%(left)s of %(whole)s, from %(payer)s on %(day)s, %(route)s")
    return [
        (
            one.receipt,
            words
            % {
                "left": amount(one.cents),
                "whole": amount(one.receipt.cents),
                "payer": one.receipt.payer,
                "day": day_words(one.receipt.on),
                "route": one.receipt.route,
            },
        )
        for one in returnable(plan)
    ]


def _item(item: Item, plan: AcceptedPlan, numbering: Numbering, actor: Staff, day: date) -> ShownItem:
    earned = list(item.earned.all())
    total = value_of(item) if item.state == ItemState.DROPPED else price_of(item).total_cents
    return ShownItem(
        item=item,
        teeth=teeth_words(item, numbering),
        state=_state_words(item),
        now_or_later=_when(item, day) if plan.state in OPEN_PLAN else "",
        total_cents=total,
        earned_cents=earned_cents(earned),
        stages=tuple(
            _("bill: %(money)s") % {"money": amount(row.cents)} if row.stage == "bill" else row.stage
            for row in earned
            if row.stage != "finished"
        ),
        acts=frozenset(_item_acts(item, plan, actor)),
    )


def _state_words(item: Item) -> str:
    if item.state == ItemState.WAITING:
        return _("waiting for: %(what)s") % {"what": item.waiting_for}
    if item.state == ItemState.BOOKED and item.booked_for:
        return _("booked for %(day)s") % {"day": day_words(item.booked_for)}
    if item.state == ItemState.DONE and item.done_on:
        return _("done on %(day)s") % {"day": day_words(item.done_on)}
    if item.state == ItemState.DROPPED:
        return _("dropped (%(who)s)") % {"who": item.dropped_because}
    return str(item.state)


def _when(item: Item, day: date) -> str:
    if item.state not in (ItemState.TO_DO, ItemState.WAITING):
        return ""
    if not is_agreed(item):
        return _("not agreed to yet")
    if item.state == ItemState.WAITING and item.earliest is None:
        return ""
    if bookable(item.earliest, day):
        return _("can be booked")
    return _("from %(day)s") % {"day": day_words(item.earliest)} if item.earliest else ""


def _item_acts(item: Item, plan: AcceptedPlan, actor: Staff) -> Iterator[str]:
    if bill_is_open(item, plan) and may(actor, Act.CREATE, Thing.RECEIPT):
        yield "bill"
    if plan.state not in OPEN_PLAN:
        return
    targets = ITEM.targets(item.state)
    edits = may(actor, Act.EDIT, Thing.ITEM)
    if ItemState.WAITING in targets and edits:
        yield "wait"
    if item.state == ItemState.WAITING and edits:
        yield "free"
    begun = plan.state == PlanState.UNDER_WAY or not in_mouth(item, plan)
    if ItemState.DONE in targets and begun and is_agreed(item) and may(actor, Act.APPROVE, Thing.ITEM):
        yield "done"
    earns = item.state in OPEN_ITEM and is_agreed(item) and edits
    if item.earns == Earns.STAGES and earns:
        yield "stage"
    if item.earns == Earns.MONTHS and earns and months_earned(item) < (item.months or 0):
        yield "month"


def _amendment(one: Amendment) -> ShownAmendment:
    agreement = getattr(one, "agreement", None)
    words = ""
    if agreement is not None:
        words = _("%(how)s by %(who)s on %(day)s") % {
            "how": agreement.how,
            "who": agreement.agreed_by,
            "day": day_words(agreement.on),
        }
    return ShownAmendment(one, words, bool(one.new_signature) and agreement is None)


def _refund_acts(one: Refund, actor: Staff) -> frozenset[str]:
    found = set()
    approves, pays = may(actor, Act.APPROVE, Thing.REFUND), may(actor, Act.RUN, Thing.REFUND)
    if one.state == "asked" and approves and one.asked_by_id != actor.pk:
        found |= {"allow", "decline"}
    if one.state == "allowed":
        found |= ({"pay"} if pays and one.allowed_by_id != actor.pk else set()) | ({"decline"} if approves else set())
    return frozenset(found)
