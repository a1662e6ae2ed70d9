"""From facts to the space-sharing model and back: what the page and the papers get of a plan can be drawn."""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from planner.rules.plan import share_spaces
from planner.rules.segments import MeasureFirst, segment_of
from planner.rules.strip import geometry
from tests.rules.test_casefile import changed
from tests.support import small_book

ROOT = Path(__file__).resolve().parents[2]
TODAY = date(2026, 3, 2)


def lead(**gap: str) -> CaseFacts:
    """The lead case with another gap between 13 and 11."""
    data: Any = resolve_days(parse_case((ROOT / "fixtures/cases/lead.json").read_bytes()), TODAY)
    data["examination"]["gaps"][1] |= gap
    return validate_case(json.loads(json.dumps(data, default=str), parse_float=Decimal), TODAY)


@pytest.mark.parametrize(
    ("width", "film", "left"),
    [("0.1", "tight", 0), ("0.2", "tight", 0), ("0.1", "film", 1), ("0.3", None, 3)],
)
def test_every_plan_shares_out_what_it_says_and_can_be_drawn(width: str, film: str | None, left: int) -> None:
    """A gap that is tight to a strip counts as a contact (the space model's own rule), so nothing of it is shared."""
    answer = {"film": film} if film else {}
    spaces = share_spaces(lead(width=width, **answer), small_book())
    assert spaces.plans
    for plan in spaces.plans:
        geometry(plan)
        assert plan.gaps[1].width_tenths == left


def test_a_plan_that_is_not_offered_says_why() -> None:
    told = {plan.key: plan.not_offered_because for plan in share_spaces(lead(), small_book()).plans}
    assert told["fewest-teeth"] == ""
    assert told["smallest-shares"] == (
        "its misfit of 51.0 is 17.0 above the best proportion's; at most 10.0 above is offered"
    )


def test_a_midline_nobody_looked_at_is_asked_for_and_never_read_as_in_line() -> None:
    blank = changed("examination.midline_offset", None)
    with pytest.raises(MeasureFirst, match="middle of the face"):
        segment_of(validate_case(blank, TODAY))
    fixed = blank | {"choices": blank["choices"] | {"locks": [midline_lock()]}}
    assert segment_of(validate_case(fixed, TODAY)).midline_offset == -3


def midline_lock() -> dict[str, str]:
    return {"what": "midline", "value": "-0.3", "reason": "the face leans", "by": "Dr Imke Sorrel", "on": "2026-03-02"}
