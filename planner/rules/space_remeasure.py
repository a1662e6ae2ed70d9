"""Which measurement decides: the readings worth taking again before a plan is shown.

Every width, length and gap is tried a little off, both ways; a reading is listed when the answer would flip, other
teeth would be touched or a contact would move. Lengths in 0.1 mm.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal, TypeAlias

from planner.rules.space_limits import SpaceLimits, default_limits
from planner.rules.space_model import Segment
from planner.rules.space_results import Goal, Remeasure
from planner.rules.space_tables import Tables
from planner.rules.space_task import Choice
from planner.rules.spaces import best_found, film_questions, moved_contacts, settled


@dataclass(frozen=True, slots=True)
class Scan:
    """How far the scan has come, for a page that shows it."""

    done: int
    total: int
    """How many slightly different segments are solved in all."""
    found: Remeasure | None = None
    """The measurement just finished, where it decides."""


def remeasure(
    segment: Segment, limits: SpaceLimits | None = None, goal: Goal = Goal.BEST_PROPORTION
) -> tuple[Remeasure, ...]:
    """The measurements that decide the plan of one goal, the most sensitive first; empty when none does.

    Each is tried at every tenth up to the setting ``remeasure_steps`` off, both ways. A verdict flips between "fits",
    "nothing fits" and "ask about a film". Whether the movement is long or short when nothing fits is not looked at.
    """
    found = [step.found for step in scan(segment, limits, goal) if step.found is not None]
    return tuple(sorted(found, key=lambda item: (not item.flips_verdict, item.smallest)))


def scan(
    segment: Segment,
    limits: SpaceLimits | None = None,
    goal: Goal = Goal.BEST_PROPORTION,
    only: range | None = None,
) -> Iterator[Scan]:
    """The same, step by step and in arch order: one :class:`Scan` whenever another measurement was tried through.

    ``only`` tries some of the :func:`measurements`, by their place.
    """
    limits = limits or default_limits()
    # One set of tables for all: a segment that differs in one measurement shares all that does not follow from it.
    tables = Tables(limits)
    today = _answer(segment, limits, goal, tables)
    chosen = measurements(segment)[only.start : only.stop] if only else measurements(segment)
    tried = [(what, value, list(_steps(what, value, limits)), vary) for what, value, vary in chosen]
    total, done = sum(len(steps) for _, _, steps, _ in tried), 0
    for what, value, steps, vary in tried:
        flips, teeth, contacts = [], [], []
        for step in steps:
            then = _answer(vary(step), limits, goal, Tables(limits, tables))
            if isinstance(then, str) or isinstance(today, str):
                if then != today:
                    flips.append(step)
            elif _touched(then) != _touched(today):
                teeth.append(step)
            elif moved_contacts(then, today, limits.plans_differ_contact):
                contacts.append(step)
        done += len(steps)
        decides = bool(flips or teeth or contacts)
        yield Scan(
            done, total, Remeasure(what, value, tuple(flips), tuple(teeth), tuple(contacts)) if decides else None
        )


def _steps(what: str, value: int, limits: SpaceLimits) -> Iterator[int]:
    for step in range(-limits.remeasure_steps, limits.remeasure_steps + 1):
        if step and value + step >= (0 if what.startswith("gap") else 1):
            yield step


Made: TypeAlias = tuple[Choice, ...]


def _answer(segment: Segment, limits: SpaceLimits, goal: Goal, tables: Tables) -> Made | str:
    if film_questions(segment, limits):
        return "ask about a film"
    found = best_found(settled(segment, limits), limits, goal, tables)
    return found.choices if found else "nothing fits"


def _touched(made: Made) -> tuple[bool, ...]:
    # What a lock takes off a side is the same in every segment of one scan.
    return tuple(any(choice) for choice in made)


def measurements(segment: Segment) -> tuple[tuple[str, int, Callable[[int], Segment]], ...]:
    """Every reading of the segment: what it is, its value, and the segment with it so much off."""
    return tuple(_measurements(segment))


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
