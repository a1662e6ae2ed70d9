"""What an option takes of the office: its minutes, visit by visit, and its materials with what they cost."""

from dataclasses import dataclass
from fractions import Fraction

from planner.rules.cents import half_up
from planner.rules.material_needs import treatment_needs
from planner.rules.materials import MaterialCost, Need, flat_material_cost, material_cost, together
from planner.rules.options import Desk
from planner.rules.results import CasePlan, OptionShape
from planner.rules.segments import limits_of
from planner.rules.series import course_of
from planner.rules.visit_minutes import OptionMinutes, option_minutes


@dataclass(frozen=True, slots=True)
class OptionTakes:
    """What an option takes of the office: minutes and materials."""

    minutes: OptionMinutes
    needs: tuple[Need, ...]
    material: MaterialCost
    flat_cents: int | None
    """The office's planning value of the same materials, which fees are reckoned with; None while it is not typed."""


def option_takes(option: OptionShape, plan: CasePlan, desk: Desk) -> OptionTakes:
    """Minutes and materials of one computed ``option`` of ``plan``, with the book and the day of ``desk``."""
    facts, book = desk.facts, desk.book
    course = course_of(option)
    parts = desk.parts(course)
    gaps = next((each.gaps for each in plan.spaces.plans if each.key == option.space_plan), ())
    limits = limits_of(book.office_limits, facts.choices)
    minutes = option_minutes(
        course, parts, desk.combination(course), facts, book, desk.today, gaps=gaps, gap_left_min=limits.gap_left_min
    )
    # A visit that became several needs at each what a visit needs.
    split = {part.key: [visit.key for visit in minutes.visits if visit.teeth] for part in parts}
    needs: list[Need] = []
    for part in parts:
        keys = [key.partition("#")[0] for key in split[part.key] if key.startswith(f"{part.key}.")]
        visits = max((keys.count(key) for key in set(keys)), default=1)
        needs += treatment_needs(part, course.work, facts, book, visits=visits)
    found = together(needs)
    working = sum(visit.kind == "work" for visit in minutes.visits)
    teeth = len(course.teeth())
    try:
        flat: Fraction | None = flat_material_cost(book, teeth, working)
    except LookupError:
        flat = None
    return OptionTakes(minutes, found, material_cost(found), None if flat is None else half_up(flat))
