"""What to ask an orthodontist for, when material alone cannot share the space: the least movement, in one request.

The figures are those of the model: the smallest movement after which adding fits, the smallest after which it is
comfortable, and the widths that the teeth are then built to. A request is a proposal between colleagues; the
orthodontist judges whether and how teeth can be moved. Lengths in 0.1 mm inside, millimetres in sentences.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

from planner.rules.mouth import Examination
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Role, Segment
from planner.rules.space_results import Goal, Movement, SpacePlan, SpaceResult, SpaceVerdict
from planner.rules.spaces import best_plan, film_questions, settled
from planner.rules.units import format_mm

_CHECKS = (
    ("frenum_checked", "the frenum"),
    ("habit_checked", "tongue and other habits"),
    ("extra_tooth_checked", "a film for an extra tooth at the midline"),
)


def orthodontic_request(
    result: SpaceResult, limits: SpaceLimits, examination: Examination, written: Callable[[str], str]
) -> tuple[str, ...]:
    """The request, one sentence after the other; empty where no movement is asked for.

    ``written`` turns the key of a tooth of the segment into what the reader knows it by.
    """
    if result.verdict is not SpaceVerdict.TEETH_FIRST or result.movement is None:
        return ()
    return tuple(_sentences(result, result.movement, limits, examination, written))


def moved(segment: Segment, movement: Movement) -> Segment:
    """The segment after ``movement``: its gaps closed or opened, everything else as it was."""
    gaps = list(segment.gaps)
    for move in movement.moves:
        gaps[move.gap] += move.by
    return replace(segment, gaps=tuple(gaps))


def _sentences(
    result: SpaceResult,
    least: Movement,
    limits: SpaceLimits,
    examination: Examination,
    written: Callable[[str], str],
) -> Iterator[str]:
    segment = result.segment
    yield f"{_request(segment, least, written, 'at least')}."
    if least.elsewhere:
        ways = [_moves(segment, Movement(least.total, other), written, "at least") for other in least.elsewhere]
        yield f"As little movement would do elsewhere: {' or '.join(ways)}."
    plan = _plan_after(segment, least, limits)
    if plan is not None and (widths := _widths(plan, written)):
        yield f"Material is added afterwards; target widths: {widths}."
    comfortable = result.comfortable_movement
    if comfortable is not None and comfortable != least:
        aim = _request(segment, comfortable, written, "")
        after = _plan_after(segment, comfortable, limits)
        to = f"; target widths then: {_widths(after, written)}" if after is not None else ""
        yield f"Better: {aim[0].lower()}{aim[1:]}{to}."
    kept = [
        f"{format_mm(width)} mm between {written(segment.teeth[gap].key)} and {written(segment.teeth[gap + 1].key)}"
        for gap, width in enumerate(segment.gaps)
        if gap not in {move.gap for move in least.moves}
    ]
    if kept:
        yield f"The other gaps as they are today: {'; '.join(kept)}."
    if _at_midline(segment, least):
        open_ = [words for name, words in _CHECKS if not getattr(examination.bite, name)]
        if open_:
            yield f"Not recorded yet, to be looked at before closing: {', '.join(open_)}."


def _request(segment: Segment, movement: Movement, written: Callable[[str], str], least: str) -> str:
    words = _moves(segment, movement, written, least)
    leave = [
        f"leave {format_mm(segment.gaps[move.gap] + move.by)} mm or {'less' if move.by < 0 else 'more'}"
        for move in movement.moves
    ]
    return f"{words[0].upper()}{words[1:]}; {', '.join(leave)}"


def _moves(segment: Segment, movement: Movement, written: Callable[[str], str], least: str) -> str:
    said = []
    for move in movement.moves:
        verb = "close" if move.by < 0 else "open"
        right, left = (written(key) for key in move.between)
        said.append(f"{verb} {least} {format_mm(abs(move.by))} mm between {right} and {left}".replace("  ", " "))
    return " and ".join(said)


def _plan_after(segment: Segment, movement: Movement, limits: SpaceLimits) -> SpacePlan | None:
    after = moved(segment, movement)
    return None if film_questions(after, limits) else best_plan(settled(after, limits), limits, Goal.BEST_PROPORTION)


def _widths(plan: SpacePlan, written: Callable[[str], str]) -> str:
    return ", ".join(
        f"{written(change.key)} {format_mm(change.width)} mm"
        for change in plan.changes
        if change.width != change.tooth.width
    )


def _at_midline(segment: Segment, movement: Movement) -> bool:
    return any(
        all(segment.teeth[gap].role is Role.CENTRAL for gap in (move.gap, move.gap + 1)) for move in movement.moves
    )
