"""The exact search held against HiGHS, piece by piece: used by the tests on few arches and by the long run on many.

Every function raises AssertionError with the arch where the two differ.
"""

from dataclasses import replace
from itertools import combinations

from planner.rules.space_conflicts import close_a_part, conflict_sets, smallest_movement, stays_compromised
from planner.rules.space_limits import default_limits
from planner.rules.space_locks import lock_faults
from planner.rules.space_model import Film, Locks, Segment
from planner.rules.space_results import ConflictSet, Goal, Rule, SpacePlan
from planner.rules.spaces import best_plan
from tests.rules.highs_model import HighsModel

LIMITS = default_limits()
Values = tuple[int, ...]


def objective(plan: SpacePlan | None, goal: Goal) -> Values | None:
    """The lexicographic values of a plan in its goal's own order."""
    if plan is None:
        return None
    first = (plan.removed_beyond_locks, plan.comfort)
    match goal:
        case Goal.FEWEST_TEETH:
            return (*first, plan.touching, plan.misfit, plan.material)
        case Goal.BEST_PROPORTION:
            return (*first, plan.misfit, plan.touching, plan.material)
        case Goal.SMALLEST_SHARES:
            return (*first, plan.largest_share, plan.misfit, plan.touching, plan.material)


def done(plan: SpacePlan) -> tuple[tuple[int, int, int, int], ...]:
    """What a plan does to each tooth."""
    return tuple((c.share_right, c.share_left, c.lengthening, c.shortening) for c in plan.changes)


def own_values(segment: Segment) -> list[Values | None]:
    return [objective(best_plan(segment, LIMITS, goal), goal) for goal in Goal]


def highs_values(segment: Segment) -> list[Values | None]:
    model = HighsModel(segment)
    fewest = model.fewest_teeth()
    if fewest is None:  # the same limits hold for every order of goals
        return [None] * 3
    return [fewest, model.best_proportion(), model.smallest_shares()]


def check_plans(segment: Segment, name: object = "") -> bool:
    """The values of all three goals are the same; answers whether anything fits."""
    own = own_values(segment)
    assert own == highs_values(segment), f"arch {name}"
    return own[0] is not None


def check_rules_of_material(segment: Segment, plan: SpacePlan, name: object = "") -> None:
    """Balance at every gap and so of the whole width, no sliver outside a film gap, no trap."""
    for gap, room in enumerate(segment.room):
        right, left = plan.changes[gap], plan.changes[gap + 1]
        both, stays = (right.share_left, left.share_right), plan.gaps_left[gap]
        film = segment.films[gap] is Film.ALLOWED and room in (1, 2) and not segment.places[gap]
        assert sum(both) + stays == room, f"arch {name}"
        if not film:
            assert not any(share in (1, 2) for share in both), f"arch {name}"
            assert stays == 0 or stays >= 5 or segment.places[gap], f"arch {name}"
    today = sum(tooth.width for tooth in segment.teeth) + sum(segment.gaps)
    assert sum(change.width for change in plan.changes) + sum(plan.gaps_left) == today, f"arch {name}"
    assert plan.changes[0].share_right == plan.changes[-1].share_left == 0, f"arch {name}"
    assert sum(change.shortening > 0 for change in plan.changes) <= 1, f"arch {name}"
    for change in plan.changes:
        assert change.lengthening == 0 or change.lengthening >= 5, f"arch {name}"
        assert change.shortening == 0 or change.shortening >= 2, f"arch {name}"
    assert sum(item.points for item in plan.items) == plan.misfit, f"arch {name}"


def check_part_closing(segment: Segment, name: object = "") -> None:
    plan, theirs = close_a_part(segment, LIMITS), HighsModel(segment, part=True).part_closing()
    if plan is None:
        # Nothing fits at all, or only leaving every gap as it is.
        assert theirs is None or theirs[2] == sum(segment.room), f"arch {name}"
        return
    left = (sum(gap > 0 for gap in plan.gaps_left), sum(plan.gaps_left))
    own = (plan.removed_beyond_locks, *left, plan.comfort, plan.misfit, plan.touching, plan.material)
    assert own == theirs, f"arch {name}"


def check_movement(segment: Segment, name: object = "") -> None:
    """The least movement, and the least for comfort, are as small and change as few gaps."""
    for comfortable in (False, True):
        moved = smallest_movement(segment, LIMITS, comfortable=comfortable)
        own = None if moved is None else (moved.total, len(moved.moves))
        assert own == HighsModel(segment, move=True, comfortable=comfortable).movement(), f"arch {name}"


def check_elsewhere(segment: Segment, name: object = "") -> int:
    """Every place named for the movement fits once its gaps are moved as said; answers how many were named."""
    movement = smallest_movement(segment, LIMITS)
    if movement is None or not movement.moves:
        return 0
    for moves in (movement.moves, *movement.elsewhere):
        gaps = list(segment.gaps)
        for move in moves:
            gaps[move.gap] += move.by
        assert sum(abs(move.by) for move in moves) == movement.total, f"arch {name}"
        assert len(moves) == len(movement.moves), f"arch {name}"
        assert HighsModel(segment, move=True, furthest=movement.total).fits(), f"arch {name}"
        if min(gaps) >= 0:
            moved = replace(segment, gaps=tuple(gaps), gap_may_stay=segment.ticks)
            films = any(film is Film.ALLOWED and width in (1, 2) for film, width in zip(moved.films, gaps, strict=True))
            assert films or HighsModel(moved).fits(), f"arch {name}"
    return 1 + len(movement.elsewhere)


def given_up(segment: Segment, locks: tuple[str, ...]) -> Segment:
    """The segment without the locks of these names (the permissions that came with them stay)."""
    teeth = []
    for tooth in segment.teeth:
        kept = tooth.locks
        for field, value in (
            ("share_right", "share on the patient's right"),
            ("share_left", "share on the patient's left"),
        ):
            if any(words.startswith(f"lock on {tooth.key}: {value} ") for words in locks):
                kept = replace(kept, **{field: None})  # type: ignore[arg-type]
        for field in ("width", "length", "lengthening", "shortening"):
            if any(words.startswith(f"lock on {tooth.key}: {field} ") for words in locks):
                kept = replace(kept, **{field: None})  # type: ignore[arg-type]
        for field, value in (("slender_right", "right"), ("slender_left", "left")):
            if any(words.startswith(f"lock on {tooth.key}: enamel off the patient's {value} side") for words in locks):
                kept = replace(kept, **{field: None})  # type: ignore[arg-type]
        if f"wish that {tooth.key} is built up" in locks:
            kept = replace(kept, build_up=False)
        teeth.append(replace(tooth, locks=kept, shorten_named=tooth.may_shorten))
    gaps = [
        None if any(words.startswith(f"lock on {segment.gap_name(gap)}: gap ") for words in locks) else lock
        for gap, lock in enumerate(segment.locked_gaps)
    ]
    return replace(segment, teeth=tuple(teeth), gap_locks=tuple(gaps), gap_may_stay=segment.ticks)


def lock_names(segment: Segment) -> list[str]:
    """Every lock of the segment by the words the program uses for it: those of the set without any rule kept."""
    default, found = Locks(), []
    words = {
        "share_right": "share on the patient's right",
        "share_left": "share on the patient's left",
        "slender_right": "enamel off the patient's right side",
        "slender_left": "enamel off the patient's left side",
    }
    for tooth in segment.teeth:
        for field in words | dict.fromkeys(("width", "length", "lengthening", "shortening")):
            value = getattr(tooth.locks, field)
            if value is not None:
                found.append(f"lock on {tooth.key}: {words.get(field, field)} {value / 10:.1f} mm")
        if tooth.locks.build_up != default.build_up:
            found.append(f"wish that {tooth.key} is built up")
    for gap, lock in enumerate(segment.locked_gaps):
        if lock is not None:
            what = f"gap left of {lock / 10:.1f} mm" if lock else "gap fully closed"
            found.append(f"lock on {segment.gap_name(gap)}: {what}")
    return found


def check_conflicts(segment: Segment, name: object = "", *, moved: int = 0) -> int:
    """All smallest sets of rules and locks: each solves it, every other of that size and every smaller one does not.

    Answers the size of the sets, 0 where something fits or nothing ever does.
    """

    def fits(names: tuple[Rule | str, ...]) -> bool:
        rules = frozenset(item for item in names if isinstance(item, Rule))
        freed = given_up(segment, tuple(item for item in names if not isinstance(item, Rule)))
        return HighsModel(freed, rules, move=moved > 0, furthest=moved or None).fits()

    everything: list[Rule | str] = [*Rule, *lock_names(segment)]
    found = conflict_sets(segment, LIMITS, moved=moved)
    if not found:
        assert not fits(tuple(everything)), f"arch {name}"
        return 0
    sets = {_together(conflict) for conflict in found}
    sizes = {len(each) for each in sets}
    assert len(sizes) == 1, f"arch {name}"
    size = sizes.pop()
    if not size:
        assert fits(()), f"arch {name}"
        return 0
    # Fewer than that many never do: giving up more never hurts, so trying one less is enough.
    assert not any(fits(each) for each in combinations(everything, size - 1)), f"arch {name}"
    assert sets == {frozenset(each) for each in combinations(everything, size) if fits(each)}, f"arch {name}"
    return size


def _together(conflict: ConflictSet) -> frozenset[Rule | str]:
    return frozenset((*conflict.rules, *conflict.locks))


def check_compromises(segment: Segment, most: int, name: object = "") -> int:
    """What stays compromised after little movement: the sets are the smallest, the movement the least for each."""
    found = stays_compromised(segment, LIMITS, most)
    for compromise in found:
        assert compromise.movement.total <= most, f"arch {name}"
        freed = given_up(segment, compromise.given_up.locks)
        model = HighsModel(freed, frozenset(compromise.given_up.rules), move=True, furthest=most)
        assert model.movement() == (compromise.movement.total, len(compromise.movement.moves)), f"arch {name}"
    check_conflicts(segment, name, moved=most)
    return len(found)


def check_lock_faults(segment: Segment, name: object = "") -> bool:
    """A lock said to lie outside its own limit really fits nothing, however teeth move; answers whether one was."""
    if not lock_faults(segment, LIMITS):
        return False
    assert not HighsModel(segment).fits(), f"arch {name}"
    assert not HighsModel(segment, move=True).fits(), f"arch {name}"
    return True
