"""Whose figures the years ahead of a case are reckoned with: decided by a dentist, with a reason."""

from datetime import datetime

from planner.patients.stored import to_json
from planner.plans.cases import decide
from planner.plans.models import Case
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Staff
from planner.rules.choices import Choices, FiguresChoice
from planner.rules.settings import CountedIn
from planner.trail.errors import Refused


def set_figures(
    *, case: Case, seen: int, counted_in: CountedIn | None, worn: bool | None, reason: str, actor: Staff, now: datetime
) -> Case:
    """Reckon the years ahead of ``case`` with such figures; None for both takes the decision back.

    Raises Refused without a reason, StaleEdit, NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.APPROVE, Thing.OPTIONS, subject=case)
    if not reason.strip():
        raise Refused("Taking other figures needs a reason.", field="reason")
    usual = counted_in is None and worn is None
    chosen = FiguresChoice(counted_in=counted_in, worn=worn, reason=reason.strip(), by=actor.full_name)

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"figures": None if usual else chosen})

    return decide(case, seen, change, "case.figures", reason, {"after": to_json(chosen)}, actor, now)
