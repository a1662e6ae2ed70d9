"""When nothing fits: closing a part, the rules that stand in the way, and the least movement of teeth that would do.

Balance, the smallest additions, the smallest gap left and the limits of shortening are never given up. The dentist's
locks can be, and are named. All lengths in 0.1 mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from planner.rules.space_limits import SpaceLimits
from planner.rules.space_locks import Lock, lock_faults, locks_of, without
from planner.rules.space_model import Film, Segment
from planner.rules.space_plan import build_plan
from planner.rules.space_results import Compromise, ConflictSet, GapMove, Movement, Rule, SpacePlan
from planner.rules.space_search import search
from planner.rules.space_tables import Tables
from planner.rules.space_task import Gaps, Quantity, Task

_PART = (
    Quantity.REMOVED,
    Quantity.GAPS_LEFT,
    Quantity.LEFT_TOTAL,
    Quantity.COMFORT,
    Quantity.MISFIT,
    Quantity.TOUCHING,
    Quantity.MATERIAL,
)
_FEW = 3
_MOVE = (Quantity.MOVED, Quantity.GAPS_MOVED, Quantity.MOVED_NEAR, Quantity.MOVED_LATE)


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why nothing fits, and what would have to change."""

    lock_faults: tuple[str, ...]
    """Locks outside a limit of their own, each with that limit."""
    part_closing: SpacePlan | None
    conflicts: tuple[ConflictSet, ...]
    shut_in_gaps: tuple[int, ...]
    movement: Movement | None
    comfortable_movement: Movement | None


def explain(segment: Segment, limits: SpaceLimits) -> Explanation:
    """Everything to say about a segment that nothing fits. Its film questions must be settled."""
    faults = lock_faults(segment, limits)
    # No movement helps against a lock that lies outside its own limit.
    movement = None if faults else smallest_movement(segment, limits)
    far = movement is not None and movement.total > limits.explain_up_to
    conflicts = () if far else conflict_sets(segment, limits)
    comfortable = None
    if movement is not None:
        comfortable = smallest_movement(segment, limits, comfortable=True, least=movement.total)
    return Explanation(
        lock_faults=faults,
        part_closing=close_a_part(segment, limits),
        conflicts=conflicts,
        shut_in_gaps=() if conflicts else _shut_in(segment, limits),
        movement=movement,
        comfortable_movement=comfortable,
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


def conflict_sets(
    segment: Segment, limits: SpaceLimits, *, moved: int = 0, with_locks: bool = True
) -> tuple[ConflictSet, ...]:
    """All smallest sets of rules and locks whose removal makes the segment shareable; empty when none does.

    Without the share cap the side wall still limits a share; without the lengthening cap there is no limit, for primary
    teeth too. ``moved`` lets all gaps together change by so many tenths first; ``with_locks`` off keeps every lock.
    """
    candidates: list[Rule | Lock] = [*Rule, *(locks_of(segment) if with_locks else ())]
    tables = Tables(limits)

    def fits(given_up: frozenset[int]) -> bool:
        chosen = [candidates[index] for index in sorted(given_up)]
        rules = frozenset(item for item in chosen if isinstance(item, Rule))
        locks = tuple(item for item in chosen if isinstance(item, Lock))
        task = Task(dropped=rules)
        if moved:
            task = Task(order=(Quantity.MOVED,), dropped=rules, gaps=Gaps.MOVED, furthest=moved)
        return search(without(segment, locks), limits, task, tables) is not None

    def solving(size: int, always: frozenset[int], pool: Sequence[int]) -> tuple[ConflictSet, ...]:
        sets = (always | frozenset(extra) for extra in combinations(pool, size))
        return tuple(_conflict(candidates, each) for each in sorted(filter(fits, sets), key=sorted))

    everything = frozenset(range(len(candidates)))
    if moved:
        # With teeth moved, giving up much is slow to search and seldom needed: the smallest sets are tried first.
        for size in range(_FEW):
            if found := solving(size, frozenset(), sorted(everything)):
                return found
    if not fits(everything):
        return ()
    # Giving up more never hurts: what cannot be kept even alone is in every set, and the rest is tried by size.
    needed = frozenset(index for index in everything if not fits(everything - {index}))
    others = sorted(everything - needed)
    for size in range(len(others) + 1):
        if found := solving(size, needed, others):
            return found
    raise AssertionError("giving up everything fits, so some set must")


def _conflict(candidates: list[Rule | Lock], given_up: frozenset[int]) -> ConflictSet:
    chosen = [candidates[index] for index in sorted(given_up)]
    return ConflictSet(
        rules=tuple(item for item in chosen if isinstance(item, Rule)),
        locks=tuple(item.words for item in chosen if isinstance(item, Lock)),
    )


def stays_compromised(segment: Segment, limits: SpaceLimits, most: int) -> tuple[Compromise, ...]:
    """If teeth may move by ``most`` (0.1 mm, all gaps together) and no more: what still has to give way.

    One :class:`Compromise` for every smallest set of rules and locks; a single one without any where that much movement
    is enough; none where nothing helps. The segment's film questions must be settled.
    """
    found = []
    for conflict in conflict_sets(segment, limits, moved=most):
        given_up = tuple(lock for lock in locks_of(segment) if lock.words in conflict.locks)
        task = Task(order=_MOVE, dropped=frozenset(conflict.rules), gaps=Gaps.MOVED, furthest=most)
        freed = without(segment, given_up)
        moved = search(freed, limits, task)
        assert moved is not None  # the set was found with as much movement
        moves = _moves(segment, moved.moves)
        found.append(Compromise(conflict, Movement(sum(abs(move.by) for move in moves), moves)))
    return tuple(found)


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


def smallest_movement(
    segment: Segment, limits: SpaceLimits, *, comfortable: bool = False, least: int = 0
) -> Movement | None:
    """The least total movement of gaps after which bonding fits; then fewest gaps, then those farther from the midline.

    With ``comfortable`` only plans within comfort count. None when no movement helps. ``least`` is a total known
    to be needed (0.1 mm); it saves time and changes nothing.
    """
    tables = Tables(limits)
    moves = _least_moves(segment, limits, comfortable, least, tables)
    if moves is None:
        return None
    total = sum(abs(move.by) for move in moves)
    elsewhere = []
    for places in combinations(range(len(segment.gaps)), len(moves)):
        if places == tuple(move.gap for move in moves):
            continue
        other = search(segment, limits, _move_task(comfortable, total, frozenset(places)), tables)
        if other is not None:
            elsewhere.append(_moves(segment, other.moves))
    return Movement(total, moves, tuple(elsewhere))


def _move_task(comfortable: bool, furthest: int, movable: frozenset[int] | None = None) -> Task:
    return Task(order=_MOVE, gaps=Gaps.MOVED, comfortable=comfortable, furthest=furthest, movable=movable)


def _least_moves(
    segment: Segment, limits: SpaceLimits, comfortable: bool, least: int, tables: Tables
) -> tuple[GapMove, ...] | None:
    if search(segment, limits, Task(gaps=Gaps.MOVED, comfortable=comfortable), tables) is None:
        return None
    # Small movements are by far the quickest to search, so the total allowed is doubled until something fits.
    furthest = max(2, least)
    while True:
        found = search(segment, limits, _move_task(comfortable, furthest), tables)
        if found is not None:
            return _moves(segment, found.moves)
        furthest *= 2


def _moves(segment: Segment, moves: tuple[int, ...]) -> tuple[GapMove, ...]:
    return tuple(
        GapMove(gap, (segment.teeth[gap].key, segment.teeth[gap + 1].key), by) for gap, by in enumerate(moves) if by
    )
