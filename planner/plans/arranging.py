"""Paying an estimate in parts: what it starts from, trying it out, and the agreement as it is frozen.

Nothing is agreed before the patient's yes. Trying out stores nothing.
"""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max

from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_rows import came_to, change_agreed, changes_of
from planner.plans.arrangement_models import Arrangement as Agreed
from planner.plans.estimates import read_frozen
from planner.plans.models import Answer, Estimate, State
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import read_book, today, version_in_force
from planner.practice.models import Staff
from planner.rules.arrangement import Arrangement, Asked, Law, arrange
from planner.rules.instalments import add_months
from planner.rules.office_law import credit_law, said
from planner.rules.results import sha256, stable_json
from planner.rules.words import speaking
from planner.trail.errors import Refused
from planner.trail.services import record

FORMAT = "leastways-instalments"
VERSION = 1
_YES = (Answer.ALL, Answer.PART)


@dataclass(frozen=True, slots=True)
class Basis:
    """What an arrangement of one estimate starts from. Amounts in cents."""

    option: str
    name: str
    total_cents: int
    deposit_cents: int
    accepted_on: date | None
    """None while it can only be tried out."""
    why_not: str
    """Why nothing can be agreed yet, in one sentence; empty when it can."""
    currency: str
    office_currency: str
    law: Law
    at_most: int
    late: str
    withdrawal: str
    day: date
    part: bool = False
    """Whether only a part of the option was accepted."""


@dataclass(frozen=True, slots=True)
class Typed:
    """What somebody typed."""

    deposit_cents: int
    count: int
    first_due: date
    yearly_percent: Decimal
    fitted_on: date | None = None


@dataclass(frozen=True, slots=True)
class Payer:
    """Who pays; often not the patient."""

    name: str
    capacity: str
    """``the patient``, ``a parent`` ..."""
    address: str = ""


def basis_of(estimate: Estimate, option: str, now: datetime) -> Basis:
    """What is to be paid: of the accepted plan, else of the option said yes to, else of ``option`` for a trial.

    Raises Refused for an estimate that is not frozen or has no such option with a price.
    """
    if estimate.frozen is None:
        raise Refused("A draft has no figures of its own: a dentist checks it first.")
    day = today(estimate.office, now)
    book = read_book(version_in_force(estimate.office, day).data)
    plan = read_frozen(estimate.frozen)
    accepted_on: date | None
    rows = AcceptedPlan.objects.filter(estimate=estimate).order_by("-pk")
    accepted = rows.prefetch_related("amendments__agreement").first()
    if accepted is not None:
        key, name, total = accepted.option_key, accepted.name, came_to(accepted)
        deposit, accepted_on = min(accepted.deposit_cents, total), accepted.accepted_on
        waits = not all(map(change_agreed, changes_of(accepted)))
        why_not = "A change of the plan waits for its signature: record the yes to it first." if waits else ""
    else:
        answered = estimate.state == State.ANSWERED and estimate.answer in _YES
        key = estimate.answered_option if answered else option
        found = next((one for one in plan.options if one.key == key and one.key in estimate.options), None)
        if found is None or not found.estimate.lines:
            raise Refused("Choose an option of this estimate that has a price.", field="option")
        name, total, deposit = found.name, found.estimate.total_cents, found.estimate.deposit_cents
        accepted_on = estimate.answered_on if answered and estimate.answer == Answer.ALL else None
        why_not = _not_yet(estimate, answered)
    return Basis(
        option=key,
        name=name,
        total_cents=total,
        deposit_cents=deposit,
        accepted_on=accepted_on,
        why_not=why_not,
        currency=plan.currency,
        office_currency=book.currency,
        law=credit_law(book, day),
        at_most=book.instalments_at_most,
        late=said(book, "late-payment", day),
        withdrawal=said(book, "credit-withdrawal", day),
        day=day,
        part=accepted is not None and accepted.part is not None,
    )


def _not_yet(estimate: Estimate, answered: bool) -> str:
    if not answered:
        return "Nobody has said yes to this estimate: it can be tried out here, and agreed on after the yes."
    if estimate.answer == Answer.PART:
        return "A part of the option was accepted: keep the accepted plan first, so that its price is known."
    return ""


def usual(basis: Basis) -> Typed:
    """What a talk about paying in parts begins with: the deposit, up to four parts from next month on, no interest."""
    return Typed(basis.deposit_cents, min(4, basis.at_most), add_months(basis.day, 1), Decimal(0))


def try_out(basis: Basis, typed: Typed) -> Arrangement:
    """What ``typed`` comes to. Raises ArrangementError with every fault."""
    return arrange(
        Asked(
            total_cents=basis.total_cents,
            deposit_cents=typed.deposit_cents,
            count=typed.count,
            first_due=typed.first_due,
            agreed_on=basis.day,
            accepted_on=basis.accepted_on,
            currency=basis.currency,
            office_currency=basis.office_currency,
            law=basis.law,
            at_most=basis.at_most,
            yearly_percent=typed.yearly_percent,
            fitted_on=typed.fitted_on,
        )
    )


def _in_spanish(basis: Basis, typed: Typed) -> Arrangement:
    """The same arrangement, its words in the other language that papers come in."""
    with speaking("es"):
        return try_out(basis, typed)


def agree(*, estimate: Estimate, typed: Typed, payer: Payer, reason: str = "", actor: Staff, now: datetime) -> Agreed:
    """Freeze an arrangement as it was agreed with ``payer``. A further one replaces the last and says why.

    Raises Refused before the yes, without a payer, or without a reason for another one; ArrangementError, NotAllowed.
    """
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.ACCEPTED, subject=estimate)
    basis = basis_of(estimate, "", now) if estimate.answered_option else None
    if basis is None:
        raise Refused("Nobody has said yes to this estimate: nothing can be agreed on yet.")
    if basis.why_not:
        raise Refused(basis.why_not)
    if not payer.name.strip():
        raise Refused("Say who pays.", field="payer")
    made = try_out(basis, typed)
    assert estimate.frozen is not None  # basis_of saw to it
    in_spanish = _in_spanish(basis, typed)
    content = stable_json(arrangement_data(str(estimate), estimate.frozen.sha256, basis, made, payer, in_spanish))
    try:
        with transaction.atomic():
            number = int(estimate.arrangements.aggregate(last=Max("number"))["last"] or 0) + 1
            if number > 1 and not reason.strip():
                raise Refused("There is an agreement already: say why this one replaces it.", field="reason")
            agreed = Agreed.objects.create(
                office=estimate.office,
                estimate=estimate,
                number=number,
                content=content,
                sha256=sha256(content),
                reason=reason.strip() if number > 1 else "",
                by=actor,
                at=now,
            )
            seen = {"sha256": agreed.sha256, "number": number, "estimate": str(estimate)}
            record(actor=actor, act="arrangement.agree", subject=agreed, content=seen, reason=reason.strip(), at=now)
    except IntegrityError:
        raise Refused("Somebody else agreed on another arrangement meanwhile: look at it first.") from None
    return agreed


def latest_arrangement(estimate: Estimate) -> Agreed | None:
    """The arrangement that holds: one query."""
    return estimate.arrangements.select_related("by").order_by("-number").first()


def read_arrangement(agreed: Agreed) -> str:
    """Its JSON. Raises Refused when the stored bytes are not the ones that were frozen."""
    content = bytes(agreed.content)
    if sha256(content) != agreed.sha256:
        raise Refused("The stored arrangement is not the one that was agreed: its hash differs.")
    return content.decode()


def arrangement_data(
    estimate: str,
    plan_sha256: str,
    basis: Basis,
    made: Arrangement,
    payer: Payer,
    in_spanish: Arrangement | None = None,
) -> dict[str, Any]:
    """Everything an agreement prints, as it is frozen: amounts in cents, days as ISO dates, rates as text."""
    spanish = in_spanish or made
    asked = made.asked
    return {
        "format": FORMAT,
        "version": VERSION,
        "estimate": estimate,
        "option": basis.option,
        "option_name": basis.name,
        "part": basis.part,
        "plan_sha256": plan_sha256,
        "currency": basis.currency,
        "payer": payer.name.strip(),
        "payer_capacity": payer.capacity.strip(),
        "payer_address": " ".join(payer.address.split()),
        "agreed_on": basis.day.isoformat(),
        "accepted_on": asked.accepted_on.isoformat() if asked.accepted_on else "",
        "total_cents": asked.total_cents,
        "deposit_cents": asked.deposit_cents,
        "financed_cents": made.financed_cents,
        "charge_cents": made.charge_cents,
        "paid_cents": made.paid_cents,
        "price_cents": made.price_cents,
        "yearly_percent": str(asked.yearly_percent),
        "dues": [
            {
                "number": due.number,
                "on": due.on.isoformat(),
                "cents": due.cents,
                "interest_cents": due.interest_cents,
                "left_cents": due.left_cents,
            }
            for due in made.dues
        ],
        "rates": _rates(made),
        "rates_es": _rates(spanish),
        "how": list(made.how),
        "how_es": list(spanish.how),
        "warnings": list(made.warnings),
        "questions": list(made.questions),
        "late": basis.late,
        "withdrawal": basis.withdrawal,
    }


def _rates(made: Arrangement) -> list[dict[str, str]]:
    return [{"label": rate.label, "percent": str(rate.percent), "note": rate.note} for rate in made.rates]
