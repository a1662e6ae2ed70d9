"""Closed rows of the plans' floor: an answered estimate, its showing and its frozen plan."""

from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Answer, Channel, Estimate, FrozenPlan
from tests.closed_rows import Ground, Maker
from tests.support import NOW


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


CLOSED_ROWS: dict[str, Maker] = {
    "plans.estimate": _answered,
    "plans.frozenplan": _frozen,
    "plans.showing": lambda ground: _answered(ground).showings.get(),
}
