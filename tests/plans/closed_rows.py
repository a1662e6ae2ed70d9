"""Closed rows of the plans' floor: an answered estimate, its showing, its frozen plan, and guesses of payers."""

from typing import Any

from planner.plans import estimates
from planner.plans.arrangement_models import Arrangement
from planner.plans.casefiles import import_case_file
from planner.plans.models import Answer, Channel, Estimate, FrozenPlan
from planner.plans.others_agree import write_say
from planner.plans.others_models import OtherSay
from planner.plans.payer_models import PayerGuess, PayerPaid
from planner.plans.price_requests import note_request
from planner.plans.takeover_models import TakeOver
from planner.practice.roles import Role
from planner.practice.services import add_staff
from planner.rules.others_agree import Say
from planner.rules.results import sha256
from tests.closed_rows import Ground, Maker
from tests.payers import desk_of, with_payer
from tests.support import NOW, PASSWORD, TODAY


def _answered(ground: Ground) -> Estimate:
    case = import_case_file(facts=ground.lead_case, actor=ground.owner, now=NOW).case
    plan, book = estimates.compute_plan(case, NOW)
    who = {"actor": ground.owner, "now": NOW}
    estimate = estimates.draft_estimate(case=case, **who)
    estimate = estimates.check_estimate(estimate=estimate, seen=1, plan_json=plan.to_json(), book=book, **who)
    estimate = estimates.show_estimate(estimate=estimate, seen=2, to="A. B.", channel=Channel.PAPER, **who)
    return estimates.answer_estimate(estimate=estimate, seen=3, answer=Answer.NONE, by="A. B.", **who)


def _frozen(ground: Ground) -> FrozenPlan:
    frozen = _answered(ground).frozen
    assert frozen is not None
    return frozen


def _take_over(ground: Ground) -> TakeOver:
    case = _answered(ground).case
    next_one = add_staff(
        username="nadia", full_name="Nadia Next", password=PASSWORD, roles=[Role.DENTIST], actor=ground.owner, now=NOW
    )
    return TakeOver.objects.create(
        office=case.office, case=case, before=ground.owner, by=next_one, at=NOW, reason="She left.", reviewed="All.",
        licence="D-1", told_on=TODAY, told_how="by telephone",
    )  # fmt: skip


def _other_say(ground: Ground) -> OtherSay:
    return write_say(
        case=_answered(ground).case, person="A. B., father", said=Say.WANTED, words="Shared custody.",
        actor=ground.owner, now=NOW,
    )  # fmt: skip


def _guess(ground: Ground) -> PayerGuess:
    case = import_case_file(facts=ground.lead_case, actor=ground.owner, now=NOW).case
    with_payer(case.patient, desk_of(ground.owner))
    plan, book = estimates.compute_plan(case, NOW)
    who: dict[str, Any] = {"actor": ground.owner, "now": NOW}
    estimate = estimates.draft_estimate(case=case, **who)
    estimates.check_estimate(estimate=estimate, seen=1, plan_json=plan.to_json(), book=book, **who)
    return PayerGuess.objects.get()


def _paid(ground: Ground) -> PayerPaid:
    guess = _guess(ground)
    return PayerPaid.objects.create(
        office=guess.office,
        guess=guess,
        option_key="bonding",
        told="phone",
        guessed_cents=44880,
        paid_cents=30120,
        to_patient_cents=14760,
        signed_if_nothing=True,
        reason="One surface only.",
        on=TODAY,
        entered_by=ground.owner,
        at=NOW,
    )


def _arrangement(ground: Ground) -> Arrangement:
    estimate = _answered(ground)
    content = b"{}"
    return Arrangement.objects.create(
        office=estimate.office,
        estimate=estimate,
        number=1,
        content=content,
        sha256=sha256(content),
        by=ground.owner,
        at=NOW,
    )


CLOSED_ROWS: dict[str, Maker] = {
    "plans.arrangement": _arrangement,
    "plans.pricerequest": lambda ground: note_request(
        estimate=_answered(ground), event="asked", on=TODAY, actor=ground.owner, now=NOW
    ),
    "plans.takeover": _take_over,
    "plans.othersay": _other_say,
    "plans.payerguess": _guess,
    "plans.payerpaid": _paid,
    "plans.estimate": _answered,
    "plans.frozenplan": _frozen,
    "plans.showing": lambda ground: _answered(ground).showings.get(),
}
