"""What papers say about an account, as plain data: a receipt, a statement, money gone back, what a payer did not pay.

Everything is read from rows that only grow. A paper notes how far it read, so that the same can be read again later and
held against it (:func:`told_again`), whatever has been written since.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from planner.plans.accepted_models import AcceptedPlan, Payment, PaymentKind, Refund, RefundState, StageEarned
from planner.plans.accepted_rows import option_of_plan
from planner.plans.account import account_of, charged_cents, signed_cents
from planner.plans.charge_models import ChargeKind, PlanCharge
from planner.plans.earning import BILL
from planner.plans.models import Estimate
from planner.plans.payer_guesses import read_guess
from planner.plans.payer_models import PayerPaid
from planner.practice.books import read_book
from planner.rules.benefits_paid import paid_less
from planner.rules.partial import part_of
from planner.rules.results import stable_json
from planner.rules.statement import Entry, balances, by_day, sums
from planner.trail.errors import Refused

RECEIPT: Final = "receipt"
STATEMENT: Final = "statement"
REFUND: Final = "refund-letter"
SHORTFALL: Final = "shortfall-letter"
_FORMAT = {"format": "leastways-account", "version": 1}
_NOW = ("agreed_cents", "to_earn_cents")
"""What a statement says of its day, which later changes of the plan change too."""
_WORDS = ("name_es",)
"""What says the same again in another language; papers that were made before it was kept have none."""


def estimate_of(plan: AcceptedPlan) -> Estimate | None:
    """The estimate that ``plan`` goes back to; for a repair that of the work which is repaired."""
    found: AcceptedPlan | None = plan
    while found is not None and found.estimate is None:
        found = found.follows
    return found.estimate if found is not None else None


def receipt_told(row: Payment) -> dict[str, Any]:
    """What the receipt ``row`` says. Raises Refused for another row of the account, or one that was taken back."""
    if row.kind != PaymentKind.RECEIPT:
        raise Refused("Only what came in has a receipt.")
    if row.taken_back.filter(kind=PaymentKind.VOID).exists():
        raise Refused("This receipt was written by mistake and taken back: there is none to print.")
    before = [one for one in row.plan.payments.all() if one.pk < row.pk]
    return _about(row.plan, RECEIPT) | {
        "row": row.public_id,
        "number": row.public_id,
        "cents": row.cents,
        "payer": row.payer,
        "route": row.route,
        "reference": row.reference,
        "on": row.on.isoformat(),
        "by": row.by.full_name,
        "before_cents": sum(signed_cents(one) for one in before),
        "so_far_cents": sum(signed_cents(one) for one in (*before, row)),
    }


def statement_told(plan: AcceptedPlan, day: date) -> dict[str, Any]:
    """The account of ``plan`` as it stands on ``day``, day by day."""
    account = account_of(plan)
    now = {"agreed_cents": account.agreed_cents, "to_earn_cents": account.to_earn_cents}
    return _statement(plan, day.isoformat(), {}) | now


def refund_told(refund: Refund) -> dict[str, Any]:
    """What is written to the one who gets money back. Raises Refused for one that is not paid."""
    paid = refund.payment
    if refund.state != RefundState.PAID or paid is None or refund.closed_by is None or refund.allowed_by is None:
        raise Refused("Nothing has gone back yet: the letter is written once it has.")
    receipt, plan = refund.receipt, refund.plan
    rows = [one for one in plan.payments.all() if one.pk < paid.pk]
    earned = [one for one in _earned(plan) if one.at <= paid.at]
    bills = sum(one.cents for one in earned if one.stage == BILL)
    income = sum(one.cents for one in earned if one.stage != BILL)
    charged = charged_cents(one for one in plan.charges.all() if one.at <= paid.at)
    before = sum(signed_cents(one) for one in rows)
    return _about(plan, REFUND) | {
        "row": refund.public_id,
        "number": paid.public_id,
        "cents": paid.cents,
        "payer": paid.payer,
        "route": paid.route,
        "on": paid.on.isoformat(),
        "reason": refund.reason,
        "asked_by": refund.asked_by.full_name,
        "allowed_by": refund.allowed_by.full_name,
        "paid_by": refund.closed_by.full_name,
        "receipt": {"number": receipt.public_id, "cents": receipt.cents, "on": receipt.on.isoformat()},
        "paid_before_cents": before,
        "earned_cents": income,
        "bills_cents": bills,
        "charged_cents": charged,
        "held_before_cents": before - income - bills - charged,
        "held_after_cents": before - income - bills - charged - paid.cents,
    }


def shortfall_told(row: PayerPaid) -> dict[str, Any]:
    """What is written to the patient when a payer paid less than was guessed.

    Raises Refused when nothing moves to the patient: then there is nothing to write.
    """
    if not row.to_patient_cents:
        raise Refused("Nothing moves to the patient by this answer, so there is no letter about it.")
    sheet = read_guess(row.guess)
    found = sheet.of(row.option_key)
    if found is None:
        raise Refused("The guess does not name this option any more: call the system keeper.")
    short = paid_less(
        row.guessed_cents, row.paid_cents, signed_if_nothing=row.signed_if_nothing, reason=row.reason, on=row.on
    )
    estimate = row.guess.estimate
    assert estimate.frozen is not None  # a guess stands beside a frozen plan
    return _FORMAT | {
        "paper": SHORTFALL,
        "row": row.public_id,
        "plan_sha256": estimate.frozen.sha256,
        "currency": sheet.currency,
        "name": found.name,
        "name_es": found.name_es,
        "payers": list(sheet.payers),
        "guessed_on": sheet.made_on.isoformat(),
        "rests_on": row.told,
        "whole_cents": found.part.whole_cents,
        "guessed_cents": row.guessed_cents,
        "paid_cents": row.paid_cents,
        "to_patient_cents": row.to_patient_cents,
        "reason": row.reason,
        "on": row.on.isoformat(),
        "due": short.statement_due.isoformat() if short.statement_due else "",
        "by": row.entered_by.full_name,
    }


def told_json(told: Mapping[str, Any]) -> str:
    """The text that is frozen with a paper."""
    return stable_json(told).decode()


def told_again(told: Mapping[str, Any]) -> dict[str, Any] | None:
    """What the rows say now of what a paper said then, without what may change; None where a row is gone."""
    try:
        if told["paper"] == RECEIPT:
            return _receipt_again(told)
        if told["paper"] == REFUND:
            return refund_told(Refund.objects.get(public_id=told["row"]))
        if told["paper"] == SHORTFALL:
            return shortfall_told(PayerPaid.objects.get(public_id=told["row"]))
        plan = AcceptedPlan.objects.get(public_id=told["plan"])
        return _statement(plan, told["on"], told["read"])
    except (AcceptedPlan.DoesNotExist, Payment.DoesNotExist, Refund.DoesNotExist, PayerPaid.DoesNotExist, Refused):
        return None


def lasting(told: Mapping[str, Any]) -> dict[str, Any]:
    """``told`` without what a later change of the plan changes too, and without what says it again."""
    return {key: value for key, value in told.items() if key not in (*_NOW, *_WORDS)}


def _receipt_again(told: Mapping[str, Any]) -> dict[str, Any]:
    row = Payment.objects.select_related("plan", "by").get(public_id=told["row"])
    try:
        return receipt_told(row)
    except Refused:
        # Taken back since: the paper was right when it was made, and the account says what became of it.
        return dict(told)


def _statement(plan: AcceptedPlan, on: str, read: Mapping[str, int]) -> dict[str, Any]:
    """``read`` is how many rows of each kind there were; left empty, all there are."""
    paid_rows = list(plan.payments.order_by("pk"))[: read.get("payments")]
    earned_rows = _earned(plan)[: read.get("earned")]
    charges = list(plan.charges.order_by("pk"))[: read.get("charges")]
    written = [(_of_payment(one), _payment_words(one)) for one in paid_rows]
    written += [(_of_earned(one), _earned_words(one)) for one in earned_rows]
    written += [(Entry(one.on, charged_cents=charged_cents([one])), _charge_words(one)) for one in charges]
    order = by_day([entry for entry, _words in written])
    entries = [written[place][0] for place in order]
    words = [written[place][1] for place in order]
    whole = sums(entries)
    lines = [
        said
        | {
            "on": entry.on.isoformat(),
            "paid_cents": entry.paid_cents,
            "earned_cents": entry.earned_cents,
            "bill_cents": entry.bill_cents,
            "charged_cents": entry.charged_cents,
            "balance_cents": balance,
        }
        for entry, said, balance in zip(entries, words, balances(entries), strict=True)
    ]
    return _about(plan, STATEMENT) | {
        "on": on,
        "read": {"payments": len(paid_rows), "earned": len(earned_rows), "charges": len(charges)},
        "lines": lines,
        "came_in_cents": whole.came_in_cents,
        "went_out_cents": whole.went_out_cents,
        "earned_cents": whole.earned_cents,
        "bills_cents": whole.bills_cents,
        "charged_cents": whole.charged_cents,
        "held_cents": whole.held_cents,
        "owed_cents": whole.owed_cents,
    }


def _about(plan: AcceptedPlan, paper: str) -> dict[str, Any]:
    return _FORMAT | {
        "paper": paper,
        "plan": plan.public_id,
        "plan_sha256": plan.frozen.sha256,
        "currency": read_book(plan.book.data).currency,
        "name": plan.name,
        "name_es": _name_es(plan),
        "accepted_on": plan.accepted_on.isoformat(),
        "accepted_by": plan.accepted_by,
    }


def _name_es(plan: AcceptedPlan) -> str:
    """The option's name in Spanish; empty for a repair, and where there is none."""
    found = option_of_plan(plan)
    if found is None or not found[0].name_es:
        return ""
    return part_of(found[0].name_es, "es") if plan.part is not None else found[0].name_es


def _earned(plan: AcceptedPlan) -> list[StageEarned]:
    return list(StageEarned.objects.filter(item__plan=plan).select_related("item").order_by("pk"))


def _of_payment(row: Payment) -> Entry:
    return Entry(row.on, paid_cents=signed_cents(row))


def _payment_words(row: Payment) -> dict[str, Any]:
    said = {"what": row.kind, "payer": row.payer, "route": row.route, "reference": row.reference}
    return said | ({"waived_cents": row.cents} if row.kind == PaymentKind.WAIVER else {})


def _of_earned(row: StageEarned) -> Entry:
    if row.stage == BILL:
        return Entry(row.on, bill_cents=row.cents)
    return Entry(row.on, earned_cents=row.cents)


def _earned_words(row: StageEarned) -> dict[str, Any]:
    item = row.item
    what = "bill" if row.stage == BILL else "earned"
    return {"what": what, "words": item.words, "words_es": item.words_es, "teeth": item.teeth, "stage": row.stage}


def _charge_words(row: PlanCharge) -> dict[str, Any]:
    return {"what": "charge" if row.kind == ChargeKind.CHARGE else "charge waived", "words": row.words}
