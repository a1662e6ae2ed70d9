"""Measurements that look like a slip of the pen: each raises a question, and none is a wall.

Bands by anatomy, from data/proportions.toml. A double (fused or twin) tooth may be as wide as two.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from planner.rules.settings import read_settings
from planner.rules.teeth import Tooth
from planner.rules.units import format_mm


@dataclass(frozen=True, slots=True)
class Question:
    """Something to look at again: which datum of which tooth, and the question in one sentence."""

    tooth: Tooth
    field: str
    words: str


def width_band(tooth: Tooth, *, double: bool = False) -> tuple[int, int] | None:
    """Crown widths (0.1 mm) of this tooth that raise no question; None for an extra tooth, which may be any size."""
    if tooth.is_extra:
        return None
    settings = read_settings("proportions.toml")
    kind = tooth.kind.value
    found = settings["plausible_width_upper"].value.get(kind) if tooth.upper else None
    if found is None:
        arch = "upper" if tooth.upper else "lower"
        found = settings["plausible_width_other"].value[f"{arch}_{kind.replace('-', '_')}"]
    low, high = found
    return (low, settings["plausible_width_double"].value if double else high)


def questions(
    tooth: Tooth, *, width: int | None = None, length: int | None = None, double: bool = False
) -> tuple[Question, ...]:
    """What to ask about one tooth's width and length (0.1 mm; None where not measured)."""
    asked = []
    band = width_band(tooth, double=double)
    if width is not None and band is not None and not band[0] <= width <= band[1]:
        asked.append(Question(tooth, "width", _outside(tooth, "width", width, *band)))
    low, high = read_settings("proportions.toml")["plausible_length"].value
    if length is not None and not low <= length <= high:
        asked.append(Question(tooth, "length", _outside(tooth, "length", length, low, high)))
    if width is not None and length is not None and width > length and _is_longer_than_wide(tooth) and not double:
        asked.append(
            Question(
                tooth,
                "width",
                f"The {tooth.name} is {format_mm(width)} mm wide and {format_mm(length)} mm long, wider than long: "
                "are width and length swapped?",
            )
        )
    return tuple(asked)


def pair_question(tooth: Tooth, width: int, twin_width: int) -> Question | None:
    """What to ask when a tooth and its twin on the other side differ in width (0.1 mm) more than such pairs do."""
    most = read_settings("proportions.toml")["plausible_pair"].value.get(tooth.kind.value)
    if most is None or abs(width - twin_width) <= most:
        return None
    return Question(
        tooth,
        "width",
        f"The {tooth.name} is {format_mm(width)} mm wide and the {tooth.twin.name} {format_mm(twin_width)} mm, more "
        f"than {format_mm(most)} mm apart: is one of them misread, or are the sides swapped?",
    )


def readings_apart(first: int, again: int) -> bool:
    """Whether two readings of one distance (0.1 mm) differ so much that a third is asked for."""
    return abs(first - again) > most_apart()


def most_apart() -> int:
    """By how much two readings of one distance may differ, 0.1 mm."""
    most: int = read_settings("proportions.toml")["readings_apart"].value
    return most


def closure_question(strip: int, widths: Sequence[int], gaps: Sequence[int]) -> str:
    """What to ask when the arch in one go differs from the sum of its single readings (0.1 mm); empty for nothing.

    ``strip`` runs between the facing sides of the two outermost teeth, so ``gaps`` is one longer than ``widths``. The
    readings' errors add up by their squares: 0.3 mm times the root of their number is allowed (common practice).
    """
    single, readings = sum(widths) + sum(gaps), len(widths) + len(gaps)
    allowed = read_settings("proportions.toml")["closure_per_reading"].value
    if (strip - single) ** 2 <= allowed**2 * readings:
        return ""
    return (
        f"Taken in one go the arch measures {format_mm(strip)} mm, the single readings between the two outermost "
        f"teeth add up to {format_mm(single)} mm: one of them is probably misread."
    )


def _is_longer_than_wide(tooth: Tooth) -> bool:
    return tooth.kind.value in ("central", "lateral", "canine", "premolar")


def _outside(tooth: Tooth, what: str, value: int, low: int, high: int) -> str:
    return (
        f"The {what} of the {tooth.name} is {format_mm(value)} mm, outside the usual {format_mm(low)} to "
        f"{format_mm(high)} mm: please look again, or confirm it."
    )
