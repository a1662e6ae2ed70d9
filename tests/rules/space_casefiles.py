"""The worked cases of sharing space as the facts of a case, so that pages and papers can be tried on them."""

from typing import Any

from planner.rules.choices import Choices
from planner.rules.mouth import CaseFacts, ToothFacts
from planner.rules.mouth import Gap as GapFacts
from planner.rules.space_model import Role, Segment, Side
from planner.rules.teeth import Tooth
from planner.rules.units import format_mm
from tests.rules.space_cases import tooth

EIGHT = Segment(
    (
        tooth("14", 70, 85),
        tooth("13", 77, 101),
        tooth("12", 64, 88),
        tooth("11", 84, 104),
        tooth("21", 84, 104),
        tooth("22", 58, 84, undersized=True),
        tooth("23", 78, 101),
        tooth("24", 70, 85),
    ),
    (0, 4, 0, 9, 6, 5, 0),
    woman=True,
)
"""Eight teeth from premolar to premolar, invented."""
_PLACES = {Role.CENTRAL: 1, Role.LATERAL: 2, Role.CANINE: 3}


def facts_of(segment: Segment, like: CaseFacts, name: str) -> CaseFacts:
    """The facts of a segment whose keys are ISO 3950 numbers, everything else as in ``like``; no locks, no wishes."""
    teeth = [Tooth.from_iso(each.key) for each in segment.teeth]
    found = tuple(_tooth(each, standing) for each, standing in zip(segment.teeth, teeth, strict=True))
    pairs = zip(teeth, teeth[1:], segment.gaps, segment.ticks, strict=False)
    gaps = tuple(
        GapFacts.model_validate({"between": (right, left), "width": format_mm(width), "may_stay": tick})
        for right, left, width, tick in pairs
    )
    examination = like.examination.model_copy(
        update={"teeth": found, "gaps": gaps, "absent": (), "midline_offset": segment.midline_offset}
    )
    return like.model_copy(
        update={"case": name, "examination": examination, "choices": Choices(), "wishes": (), "pictures": ()}
    )


def _tooth(each: Any, standing: Tooth) -> ToothFacts:
    place = _PLACES.get(each.role)
    data: dict[str, Any] = {"tooth": standing, "width": format_mm(each.width), "length": format_mm(each.length)}
    if place is not None and (place != standing.position or standing.is_primary):
        right = each.side is Side.RIGHT
        data["place"] = Tooth.from_iso(f"{'1' if right else '2'}{place}")
    return ToothFacts.model_validate(data | {"undersized": each.undersized, "not_to_be_touched": each.untouchable})
