"""Closed rows of the plans' floor: an answered estimate, its showing, its frozen plan, and guesses of payers."""

from typing import Any

from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Answer, Channel, Estimate, FrozenPlan
from planner.plans.payer_guesses import read_guess, record_paid
from planner.plans.payer_models import PayerGuess, PayerPaid
from tests.closed_rows import Ground, Maker
from tests.payers import desk_of, with_payer
from tests.support import NOW, TODAY


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
    given: dict[str, Any] = {"on": TODAY, "actor": desk_of(ground.owner), "now": NOW}
    option = read_guess(guess).options[0].option
    return record_paid(
        guess=guess, option=option, paid_cents=0, signed_if_nothing=True, reason="Cover had ended.", **given
    )[0]


CLOSED_ROWS: dict[str, Maker] = {
    "plans.payerguess": _guess,
    "plans.payerpaid": _paid,
    "plans.estimate": _answered,
    "plans.frozenplan": _frozen,
    "plans.showing": lambda ground: _answered(ground).showings.get(),
}
