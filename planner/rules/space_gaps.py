"""What may become of each gap: the shares its two teeth may take, what may stay open, how far teeth may move.

All lengths in 0.1 mm. A use of a gap always balances: the two shares and the gap left add up to the gap as measured
(enamel taken off beside it by a lock included), or as moved where the search lets teeth move.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Film, Segment, SpaceTooth, mesial_is_left
from planner.rules.space_results import Rule
from planner.rules.space_task import Gaps, Task, Weights


class Use(NamedTuple):
    """One use of a gap: share of its right tooth, share of its left tooth, gap left, movement, packed cost."""

    right: int
    left: int
    stay: int
    move: int
    cost: int


@dataclass(frozen=True, slots=True)
class GapFacts:
    """Everything that the uses of one gap follow from."""

    index: int
    near: int
    """How near the midline: the higher, the nearer."""
    right: SpaceTooth
    left: SpaceTooth
    width: int
    """With the enamel that locks take off beside it."""
    tick: bool
    film: Film
    place: bool
    lock: int | None
    additive_only: bool


def gaps_of(segment: Segment) -> list[GapFacts]:
    """The facts of every gap of a segment, in arch order."""
    midline = segment.right_count - 1
    return [
        GapFacts(index, len(segment.teeth) - abs(index - midline), right, left, *own, segment.additive_only)
        for index, ((right, left), own) in enumerate(
            zip(
                pairwise(segment.teeth),
                zip(segment.room, segment.ticks, segment.films, segment.places, segment.locked_gaps, strict=True),
                strict=True,
            )
        )
    ]


def uses_of(gap: GapFacts, limits: SpaceLimits, task: Task, weights: Weights) -> tuple[Use, ...]:
    """Every use of one gap that the task allows."""
    sides = (gap.right, True), (gap.left, False)
    if not all(slender_holds(limits, tooth, left, gap.additive_only) for tooth, left in sides):
        return ()
    if gap.place:
        if not (end_is_free(gap.right, left=True) and end_is_free(gap.left, left=False)):
            return ()
        return (Use(0, 0, gap.width, 0, weights.gap(gap.index, gap.near, gap.width, 0)),)
    filmed = gap.film is Film.ALLOWED and 0 < gap.width <= limits.film_max
    found: set[tuple[int, int, int, int]] = set()
    if filmed:
        found |= _films(gap, limits, task)
    if not filmed or task.gaps is Gaps.MOVED:
        found |= _shared(gap, limits, task)
    return tuple(
        Use(right, left, stay, move, weights.gap(gap.index, gap.near, stay, move))
        for right, left, stay, move in sorted(found)
        if (gap.lock is None or stay == gap.lock) and _may_move(gap, task, move)
    )


def _films(gap: GapFacts, limits: SpaceLimits, task: Task) -> set[tuple[int, int, int, int]]:
    found = {
        (right, left, 0, right + left - gap.width)
        for right in _shares(gap, limits, task, left=True, film=True)
        for left in _shares(gap, limits, task, left=False, film=True)
        if right + left <= limits.film_max
    }
    if gap.right.untouchable and gap.left.untouchable:
        found.add((0, 0, gap.width, 0))
    return found


def _shared(gap: GapFacts, limits: SpaceLimits, task: Task) -> set[tuple[int, int, int, int]]:
    found = set()
    moves = task.gaps is Gaps.MOVED
    lefts = _shares(gap, limits, task, left=False, film=False)
    for right in _shares(gap, limits, task, left=True, film=False):
        for left in lefts:
            rest = gap.width - right - left
            if moves or rest == 0:
                found.add((right, left, 0, -rest))
            elif rest < 0:
                break  # the shares of the left tooth only grow
            for stay in _stays(gap, limits, task, rest):
                found.add((right, left, stay, stay - rest))
    return found


def _shares(gap: GapFacts, limits: SpaceLimits, task: Task, *, left: bool, film: bool) -> tuple[int, ...]:
    """Shares that one side of the gap may take (``left``: that of its right tooth), whole ones or those of a film."""
    tooth = gap.right if left else gap.left
    slender = tooth.locks.slender_left if left else tooth.locks.slender_right
    lock = tooth.locks.share_left if left else tooth.locks.share_right
    if tooth.untouchable or slender:
        allowed: tuple[int, ...] = (0,)
    else:
        most = gap.width
        if task.gaps is Gaps.MOVED:
            most = 10**6 if task.furthest is None else gap.width + task.furthest
        if Rule.SHARE_CAP not in task.dropped:
            most = min(most, bands.share_cap(limits, tooth, mesial=mesial_is_left(tooth) == left))
        if Rule.EMERGENCE not in task.dropped:
            most = min(most, bands.emergence_limit(limits, tooth))
        if task.largest_share is not None:
            most = min(most, task.largest_share)
        if task.comfortable:
            most = min(most, limits.comfort_limit(tooth.contact_height))
        allowed = (0, *range(1 if film else limits.share_min, min(most, limits.film_max if film else most) + 1))
    return allowed if lock is None else tuple(share for share in allowed if share == lock)


def _stays(gap: GapFacts, limits: SpaceLimits, task: Task, rest: int) -> tuple[int, ...]:
    """Gaps that may be left open when ``rest`` is what the shares leave of the measured one."""
    if gap.lock is not None:
        return (gap.lock,) if gap.lock >= limits.gap_left_min else ()
    if not gap.tick and task.gaps is not Gaps.PART:
        return ()
    return (max(rest, limits.gap_left_min),)


def _may_move(gap: GapFacts, task: Task, move: int) -> bool:
    if not move:
        return True
    if task.gaps is not Gaps.MOVED or (task.furthest is not None and abs(move) > task.furthest):
        return False
    return task.movable is None or gap.index in task.movable


def slender_holds(limits: SpaceLimits, tooth: SpaceTooth, left: bool, additive_only: bool) -> bool:
    """Whether the enamel that a lock takes off one side of a tooth may be taken at all."""
    slender = (tooth.locks.slender_left if left else tooth.locks.slender_right) or 0
    return not slender or (not tooth.untouchable and not additive_only and slender <= bands.slender_room(limits, tooth))


def end_is_free(tooth: SpaceTooth, left: bool) -> bool:
    """Whether no lock wants anything on a side at an end of the segment or at an empty place: nothing is done there."""
    locks = tooth.locks
    wanted = (locks.share_left, locks.slender_left) if left else (locks.share_right, locks.slender_right)
    return not any(wanted)
