"""When nothing fits: closing a part, the rules that stand in the way, and the least movement of teeth that would do.

Balance, the smallest additions, the smallest gap left and the limits of shortening are never given up. The dentist's
locks can be, and are named. All lengths in 0.1 mm.
"""

from dataclasses import dataclass, fields, replace
from itertools import combinations

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Film, Locks, Segment
from planner.rules.space_plan import build_plan
from planner.rules.space_results import ConflictSet, GapMove, Movement, Rule, SpacePlan
from planner.rules.space_search import search
from planner.rules.space_task import Gaps, Quantity, Task
from planner.rules.units import format_mm

_PART = (
    Quantity.REMOVED,
    Quantity.GAPS_LEFT,
    Quantity.LEFT_TOTAL,
    Quantity.COMFORT,
    Quantity.MISFIT,
    Quantity.TOUCHING,
    Quantity.MATERIAL,
)
_MOVE = (Quantity.MOVED, Quantity.GAPS_MOVED, Quantity.MOVED_NEAR, Quantity.MOVED_LATE)


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why nothing fits, and what would have to change."""

    part_closing: SpacePlan | None
    conflicts: tuple[ConflictSet, ...]
    shut_in_gaps: tuple[int, ...]
    movement: Movement | None
    comfortable_movement: Movement | None


def explain(segment: Segment, limits: SpaceLimits) -> Explanation:
    """Everything to say about a segment that nothing fits. Its film questions must be settled."""
    movement = smallest_movement(segment, limits)
    far = movement is not None and movement.total > limits.explain_up_to
    conflicts = () if far else conflict_sets(segment, limits)
    return Explanation(
        part_closing=close_a_part(segment, limits),
        conflicts=conflicts,
        shut_in_gaps=() if conflicts else _shut_in(segment, limits),
        movement=movement,
        comfortable_movement=smallest_movement(segment, limits, comfortable=True),
    )


def close_a_part(segment: Segment, limits: SpaceLimits) -> SpacePlan | None:
    """The plan that leaves fewest and smallest gaps where any may stay open at 0.5 mm or more.

    None when even that does not fit, or when it would close nothing.
    """
    found = search(segment, limits, Task(order=_PART, ties=True, gaps=Gaps.PART))
    if found is None or found.gaps_left == segment.room:
        return None
    return build_plan(segment, limits, found, ())


# ------------------------------------------------------------------------------------------------ conflict sets


@dataclass(frozen=True, slots=True)
class _Lock:
    """One lock that could be given up: a field of one tooth's locks, or the lock on one gap (no field)."""

    index: int
    field: str | None
    words: str


def _locks(segment: Segment) -> list[_Lock]:
    found = []
    default = Locks()
    for index, tooth in enumerate(segment.teeth):
        for name in (field.name for field in fields(Locks)):
            value = getattr(tooth.locks, name)
            if value != getattr(default, name):
                found.append(_Lock(index, name, _lock_words(tooth.key, name, value)))
    for gap, lock in enumerate(segment.locked_gaps):
        if lock is not None:
            words = f"gap left of {format_mm(lock)} mm" if lock else "gap fully closed"
            found.append(_Lock(gap, None, f"lock on {segment.gap_name(gap)}: {words}"))
    return found


def _lock_words(key: str, name: str, value: int | bool) -> str:
    if name == "build_up":
        return f"wish that {key} is built up"
    what = {"share_right": "share on the patient's right", "share_left": "share on the patient's left"}.get(name, name)
    return f"lock on {key}: {what} {format_mm(int(value))} mm"


def _without(segment: Segment, locks: tuple[_Lock, ...]) -> Segment:
    # A permission that came with a lock outlives it: the gap may still stay open, the tooth may still be shortened.
    # Giving up a lock then only ever adds possibilities.
    teeth = [replace(tooth, shorten_named=tooth.may_shorten) for tooth in segment.teeth]
    gaps = list(segment.locked_gaps)
    default = Locks()
    for lock in locks:
        if lock.field is None:
            gaps[lock.index] = None
        else:
            tooth = teeth[lock.index]
            freed: dict[str, int | None] = {lock.field: getattr(default, lock.field)}
            teeth[lock.index] = replace(tooth, locks=replace(tooth.locks, **freed))  # type: ignore[arg-type]
    return replace(segment, teeth=tuple(teeth), gap_may_stay=segment.ticks, gap_locks=tuple(gaps))


def conflict_sets(segment: Segment, limits: SpaceLimits) -> tuple[ConflictSet, ...]:
    """All smallest sets of rules and locks whose removal makes the segment shareable; empty when none does.

    Without the share cap the side wall still limits a share; without the lengthening cap there is no limit, for primary
    teeth too.
    """
    candidates: list[Rule | _Lock] = [*Rule, *_locks(segment)]

    def fits(given_up: frozenset[int]) -> bool:
        chosen = [candidates[index] for index in sorted(given_up)]
        rules = frozenset(item for item in chosen if isinstance(item, Rule))
        locks = tuple(item for item in chosen if isinstance(item, _Lock))
        return search(_without(segment, locks), limits, Task(dropped=rules)) is not None

    everything = frozenset(range(len(candidates)))
    if not fits(everything):
        return ()
    # Giving up more never hurts: what cannot be kept even alone is in every set, and the rest is tried by size.
    needed = frozenset(index for index in everything if not fits(everything - {index}))
    others = sorted(everything - needed)
    for size in range(len(others) + 1):
        sets = [needed | frozenset(extra) for extra in combinations(others, size)]
        solving = [given_up for given_up in sets if fits(given_up)]
        if solving:
            return tuple(_conflict(candidates, given_up) for given_up in sorted(solving, key=sorted))
    raise AssertionError("giving up everything fits, so some set must")


def _conflict(candidates: list[Rule | _Lock], given_up: frozenset[int]) -> ConflictSet:
    chosen = [candidates[index] for index in sorted(given_up)]
    return ConflictSet(
        rules=tuple(item for item in chosen if isinstance(item, Rule)),
        locks=tuple(item.words for item in chosen if isinstance(item, _Lock)),
    )


def _shut_in(segment: Segment, limits: SpaceLimits) -> tuple[int, ...]:
    """Gaps between two teeth that are not to be touched which may not stay as they are."""
    found = []
    for gap, width in enumerate(segment.room):
        both = segment.teeth[gap].untouchable and segment.teeth[gap + 1].untouchable
        film = segment.films[gap] is Film.ALLOWED and width <= limits.film_max
        stays = segment.ticks[gap] and width >= limits.gap_left_min
        if width and both and not film and not stays:
            found.append(gap)
    return tuple(found)


# ------------------------------------------------------------------------------------------------ movement


def smallest_movement(segment: Segment, limits: SpaceLimits, *, comfortable: bool = False) -> Movement | None:
    """The least total movement of gaps after which bonding fits; then fewest gaps, then those farther from the midline.

    With ``comfortable`` only plans within comfort count. None when no movement helps.
    """
    moves = _least_moves(segment, limits, comfortable)
    if moves is None:
        return None
    total = sum(abs(move.by) for move in moves)
    elsewhere = []
    for places in combinations(range(len(segment.gaps)), len(moves)):
        if places == tuple(move.gap for move in moves):
            continue
        other = search(segment, limits, _move_task(comfortable, total, frozenset(places)))
        if other is not None:
            elsewhere.append(_moves(segment, other.moves))
    return Movement(total, moves, tuple(elsewhere))


def _move_task(comfortable: bool, furthest: int, movable: frozenset[int] | None = None) -> Task:
    return Task(order=_MOVE, gaps=Gaps.MOVED, comfortable=comfortable, furthest=furthest, movable=movable)


def _least_moves(segment: Segment, limits: SpaceLimits, comfortable: bool) -> tuple[GapMove, ...] | None:
    # Small movements are by far the quickest to search, so the total allowed is doubled until something fits. No gap
    # need close by more than itself, or open beyond the largest shares and the smallest gap left.
    opened = 2 * max(bands.emergence_limit(limits, tooth) for tooth in segment.teeth) + limits.gap_left_min
    most = sum(max(gap, opened) for gap in segment.room)
    furthest = 2
    while True:
        found = search(segment, limits, _move_task(comfortable, furthest))
        if found is not None:
            return _moves(segment, found.moves)
        if furthest >= most:
            return None
        furthest *= 2


def _moves(segment: Segment, moves: tuple[int, ...]) -> tuple[GapMove, ...]:
    return tuple(
        GapMove(gap, (segment.teeth[gap].key, segment.teeth[gap + 1].key), by) for gap, by in enumerate(moves) if by
    )
