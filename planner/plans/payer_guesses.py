"""Guesses of what payers add, frozen beside a checked estimate. No price follows from them."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import cast

from django.db import IntegrityError, transaction

from planner.patients.files import of_person
from planner.patients.models import Patient
from planner.patients.payers import Held, covers_of
from planner.plans.accepted_models import AcceptedPlan, Item, ItemPrice
from planner.plans.models import Estimate
from planner.plans.payer_models import PayerGuess, PayerPaid
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import current_book, today
from planner.practice.models import Office, Staff
from planner.rules.benefit_plans import Missing, Told, Work, in_order
from planner.rules.benefit_sheets import Claim, GuessSheet, guess_sheet, missing_teeth, thaw_guess
from planner.rules.benefits import BenefitError
from planner.rules.benefits_paid import Shortfall, paid_less, too_high
from planner.rules.instalments import add_months
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.results import CasePlan, sha256
from planner.rules.units import format_cents
from planner.trail.errors import Refused
from planner.trail.services import record

LEARNED_FROM = 200
"""So many final answers, the newest, say how far guesses are off."""
_OVER = (PlanState.FINISHED.value, PlanState.STOPPED.value, PlanState.CHANGED.value)


def freeze_guess(
    *, estimate: Estimate, plan: CasePlan, claim: Claim | None = None, actor: Staff, now: datetime
) -> PayerGuess | None:
    """Keep the guess beside a checked estimate; None where the person has no cover. The same bytes give the same row.

    Part of checking an estimate; whoever makes one by itself goes through :func:`make_guess`. Raises Refused with every
    fault of the payers' plans.
    """
    assert estimate.frozen is not None  # by the database's constraint on checked estimates
    sheet = _sheet(estimate, plan, claim, now)
    if sheet is None:
        return None
    content = sheet.to_json()
    digest = sha256(content)
    known = PayerGuess.objects.filter(estimate=estimate, sha256=digest).first()
    if known is not None:
        return known
    with transaction.atomic():
        row = PayerGuess.objects.create(
            office=estimate.office,
            estimate=estimate,
            content=content,
            sha256=digest,
            plan_sha256=estimate.frozen.sha256,
            made_by=actor,
            at=now,
        )
        record(actor=actor, act="payer.guess", subject=row, content={"sha256": digest, "plan": row.plan_sha256}, at=now)
    return row


def make_guess(
    *, estimate: Estimate, plan: CasePlan, claim: Claim | None = None, actor: Staff, now: datetime
) -> PayerGuess:
    """Make the guess anew, because a payer has answered or days have changed.

    Raises Refused for a draft, for an estimate that was answered or replaced, for somebody without cover, and with
    every fault of the payers' plans.
    """
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.PAYER, subject=estimate)
    if estimate.frozen is None:
        raise Refused("A draft has no prices of its own: the guess is made when a dentist has checked it.")
    if estimate.state not in ("checked", "shown"):
        raise Refused(f"This estimate is {estimate.state}: what was guessed beside it stays as it was.")
    made = freeze_guess(estimate=estimate, plan=plan, claim=claim, actor=actor, now=now)
    if made is None:
        raise Refused("No cover of this person is written down yet.")
    return made


def latest_guess(estimate: Estimate) -> PayerGuess | None:
    """The guess that holds beside an estimate: one query."""
    return PayerGuess.objects.filter(estimate=estimate).select_related("made_by").order_by("-id").first()


def read_guess(row: PayerGuess) -> GuessSheet:
    """The guess, typed. Raises Refused when the stored bytes are not the ones that were frozen."""
    content = bytes(row.content)
    if sha256(content) != row.sha256:
        raise Refused("The stored guess is not the one that was frozen: its hash differs. Call the system keeper.")
    return thaw_guess(content)


def record_paid(
    *,
    guess: PayerGuess,
    option: str,
    paid_cents: int,
    signed_if_nothing: bool,
    reason: str,
    on: date,
    actor: Staff,
    now: datetime,
) -> tuple[PayerPaid, Shortfall]:
    """Write down a payer's final answer, and what follows for the patient. Raises Refused for what cannot be."""
    require_own(actor, guess)
    require(actor, Act.CREATE, Thing.PAYER, subject=guess)
    found = read_guess(guess).of(option)
    if found is None:
        raise Refused("This option has no guess: choose one that was priced.", field="option")
    if on > today(guess.office, now):
        raise Refused(f"{on.isoformat()} lies in the future: it cannot have been paid then.", field="on")
    if paid_cents > found.part.whole_cents:
        raise Refused("More was paid than the whole price: one of the two is a slip.", field="paid")
    try:
        short = paid_less(found.guess.told_cents, paid_cents, signed_if_nothing=signed_if_nothing, reason=reason, on=on)
    except ValueError as error:
        raise Refused(f"{error}.".capitalize(), field="reason") from None
    try:
        with transaction.atomic():
            row = PayerPaid.objects.create(
                office=guess.office,
                guess=guess,
                option_key=option,
                told=found.guess.rests_on,
                guessed_cents=found.guess.told_cents,
                paid_cents=paid_cents,
                to_patient_cents=short.to_patient_cents,
                signed_if_nothing=signed_if_nothing,
                reason=reason.strip(),
                on=on,
                entered_by=actor,
                at=now,
            )
            content = {"option": option, "guessed": row.guessed_cents, "paid": paid_cents}
            record(actor=actor, act="payer.paid", subject=row, content=content, reason=row.reason, at=now)
    except IntegrityError:
        known = PayerPaid.objects.select_related("entered_by").get(guess=guess, option_key=option)
        who = done_by(
            f"{format_cents(known.paid_cents)} was paid, written down", known.entered_by, known.at, guess.office
        )
        raise Refused(f"The final answer for this option is written down already: {who}.", field="option") from None
    return row, short


def off_percent(office: Office) -> dict[Told, int]:
    """How far guesses on each basis have been too high in this office: one query."""
    rows = PayerPaid.objects.filter(office=office).order_by("-id").values_list("told", "guessed_cents", "paid_cents")
    return too_high((cast(Told, told), guessed, paid) for told, guessed, paid in rows[:LEARNED_FROM])


def open_work(patient: Patient, missing: Mapping[str, Missing], day: date) -> tuple[Work, ...]:
    """Work of this person that is accepted and not done: it uses benefits first. Two queries.

    ``missing`` says since when absent teeth are missing, by their keys. Work without a visit is taken as done on the
    first day it may be, ``day`` (today) at the earliest.
    """
    open_plans = AcceptedPlan.objects.filter(of_person(patient)).exclude(state__in=_OVER)
    items = Item.objects.filter(plan__in=open_plans).exclude(state__in=(ItemState.DONE.value, ItemState.DROPPED.value))
    prices = dict(ItemPrice.objects.filter(item__in=items).order_by("id").values_list("item_id", "net_cents"))
    return tuple(
        Work(
            service=item.service,
            words=item.words,
            teeth=tuple(item.teeth),
            quantity=item.quantity,
            fee_cents=prices.get(item.pk, 0),
            starts=(on := max(item.booked_for or item.earliest or day, day)),
            finishes=on,
            looks_only=item.tax_class == "looks only",
            missing_since=next((missing[tooth] for tooth in item.teeth if tooth in missing), None),
        )
        for item in items.order_by("plan_id", "position", "id")
    )


def _sheet(estimate: Estimate, plan: CasePlan, claim: Claim | None, now: datetime) -> GuessSheet | None:
    assert estimate.frozen is not None  # as in freeze_guess
    patient = estimate.case.patient
    covers = covers_of(patient)
    if not covers:
        return None
    day = today(estimate.office, now)
    child = _is_child(covers, patient, estimate.office, day)
    try:
        return guess_sheet(
            plan,
            estimate.frozen.sha256,
            tuple(estimate.options),
            in_order([one.held for one in covers], child=child),
            day,
            claim=claim,
            other_open=open_work(patient, missing_teeth(plan), day),
            child=child,
            off_percent=off_percent(estimate.office),
        )
    except BenefitError as error:
        raise Refused(" ".join(error.faults), faults=[("", fault) for fault in error.faults]) from None
    except ValueError as error:
        raise Refused(f"{error}.", field="finishes") from None


def _is_child(covers: Sequence[Held], patient: Patient, office: Office, day: date) -> bool:
    """Whether the birthday rule decides; where the office has set no age, whether a parent's birthday is on file."""
    majority = current_book(office, day).legal_on("age-of-majority", day)
    if majority is not None and majority.value.isdecimal():
        return add_months(patient.birth_date, 12 * int(majority.value)) > day
    return any(one.held.cover.holder_birthday is not None for one in covers)
