"""Visits of the invented people that were worked by their step sheets: every step stamped, amounts written down."""

from collections.abc import Mapping
from datetime import timedelta
from decimal import ROUND_UP, Decimal
from types import MappingProxyType

from planner.config.demo_teller import Teller
from planner.rules.step_sheet import runs
from planner.visits.amounts import planned_of
from planner.visits.models import Visit
from planner.visits.step_drawing import read_copy
from planner.visits.step_models import StampKind
from planner.visits.stepping import begin, close, stamp

PACE = (105, 92, 118, 100, 97, 126, 88)
"""Percent of its usual time that one step after the other takes; no two steps of a day go alike."""
_CENT = Decimal("0.01")


def work_by_sheet(
    tell: Teller,
    visit: Visit,
    *,
    used: Mapping[str, int] = MappingProxyType({}),
    usual: int = 100,
    disturbed: str = "",
) -> None:
    """Begin, stamp and close: ``used`` is percent of the planned amount by material, ``usual`` that of all others.

    ``disturbed`` says what disturbed the visit, which is then kept and not learnt from. No lot is opened: what was
    taken from the shelf stands there already.
    """
    now = visit.starts
    copy = begin(visit=visit, actor=tell.assistant, now=now)
    sheet = read_copy(copy)
    for place, run in enumerate(one for one in runs(sheet) if not one.step.only_if):
        now += timedelta(seconds=round(run.seconds * PACE[place % len(PACE)] / 100))
        stamp(copy=copy, run=run.key, kind=StampKind.DONE, actor=tell.assistant, now=now)
    amounts = {one.material: _used(one.amount, used.get(one.material, usual)) for one in planned_of(sheet)}
    close(copy=copy, disturbed=bool(disturbed), why=disturbed, amounts=amounts, actor=tell.assistant, now=now)


def _used(planned: Decimal, percent: int) -> Decimal:
    """So much of what was planned; of what comes in whole pieces a whole number."""
    found = planned * percent / 100
    return found.to_integral_value(ROUND_UP) if planned == planned.to_integral_value() else found.quantize(_CENT)
