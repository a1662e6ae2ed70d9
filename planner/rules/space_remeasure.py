"""Which measurement decides: the readings worth taking again before a plan is shown.

Every width, length and gap is tried a little off, both ways; a reading is listed when the answer would flip, other
teeth would be touched or a contact would move. Lengths in 0.1 mm.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from typing import Literal

from planner.rules.space_limits import SpaceLimits, default_limits
from planner.rules.space_model import Segment
from planner.rules.space_results import Goal, Remeasure, SpacePlan
from planner.rules.spaces import best_plan, film_questions, moved_contacts, settled


def remeasure(
    segment: Segment, limits: SpaceLimits | None = None, goal: Goal = Goal.BEST_PROPORTION
) -> tuple[Remeasure, ...]:
    """The measurements that decide the plan of one goal, the most sensitive first; empty when none does.

    Each is tried at every tenth up to the setting ``remeasure_steps`` off, both ways. A verdict flips between "fits",
    "nothing fits" and "ask about a film". Whether the movement is long or short when nothing fits is not looked at.
    """
    limits = limits or default_limits()
    today = _answer(segment, limits, goal)
    found = []
    for what, value, vary in _measurements(segment):
        flips, teeth, contacts = [], [], []
        for step in range(-limits.remeasure_steps, limits.remeasure_steps + 1):
            if not step or value + step < (0 if what.startswith("gap") else 1):
                continue
            then = _answer(vary(step), limits, goal)
            if isinstance(then, str) or isinstance(today, str):
                if then != today:
                    flips.append(step)
            elif then.touched != today.touched:
                teeth.append(step)
            elif moved_contacts(then, today, limits.plans_differ_contact):
                contacts.append(step)
        if flips or teeth or contacts:
            found.append(Remeasure(what, value, tuple(flips), tuple(teeth), tuple(contacts)))
    return tuple(sorted(found, key=lambda item: (not item.flips_verdict, item.smallest)))


def _answer(segment: Segment, limits: SpaceLimits, goal: Goal) -> SpacePlan | str:
    if film_questions(segment, limits):
        return "ask about a film"
    return best_plan(settled(segment, limits), limits, goal) or "nothing fits"


def _measurements(segment: Segment) -> Iterator[tuple[str, int, Callable[[int], Segment]]]:
    for index, tooth in enumerate(segment.teeth):
        yield f"width of {tooth.key}", tooth.width, partial(_vary_tooth, segment, index, "width")
        yield f"length of {tooth.key}", tooth.length, partial(_vary_tooth, segment, index, "length")
    for gap, width in enumerate(segment.gaps):
        if not segment.places[gap]:
            yield f"gap {segment.gap_name(gap)}", width, partial(_vary_gap, segment, gap)


def _vary_tooth(segment: Segment, index: int, measure: Literal["width", "length"], step: int) -> Segment:
    tooth = segment.teeth[index]
    if measure == "width":
        varied = replace(tooth, width=tooth.width + step)
    else:
        varied = replace(tooth, length=tooth.length + step)
    return replace(segment, teeth=(*segment.teeth[:index], varied, *segment.teeth[index + 1 :]))


def _vary_gap(segment: Segment, gap: int, step: int) -> Segment:
    varied = segment.gaps[gap] + step
    return replace(segment, gaps=(*segment.gaps[:gap], varied, *segment.gaps[gap + 1 :]))
