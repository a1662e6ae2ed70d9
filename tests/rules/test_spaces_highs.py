"""The exact search against HiGHS, and what must hold of every arch.

Source of the comparison: HiGHS via scipy, an independent solver, with the model written a second time in
:mod:`tests.rules.highs_model`. The arches are made up, from fixed seeds.
"""

from dataclasses import replace
from itertools import combinations

import pytest

from planner.rules.space_conflicts import close_a_part, conflict_sets, smallest_movement
from planner.rules.space_limits import default_limits
from planner.rules.space_model import Film, Locks, Segment
from planner.rules.space_results import Goal, Rule, SpacePlan
from planner.rules.spaces import best_plan
from tests.rules.highs_model import HighsModel
from tests.rules.space_cases import CASE_2, CASE_3, CASE_4, DEMO_4, DEMO_12, lead, random_arch

LIMITS = default_limits()
CASES = {
    "lead": lead(),
    "lead, primary tooth free": lead(primary_locked=False),
    "lead with a film": lead(gap_13_11=2, film=Film.ALLOWED),
    "case 2": CASE_2,
    "case 3": CASE_3,
    "case 4": CASE_4,
    "demo 4": DEMO_4,
    "demo 12": DEMO_12,
}
ARCHES = 240
BLOCK = 40


def objective(plan: SpacePlan | None, goal: Goal) -> tuple[int, ...] | None:
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


def own_values(segment: Segment) -> list[tuple[int, ...] | None]:
    return [objective(best_plan(segment, LIMITS, goal), goal) for goal in Goal]


def highs_values(segment: Segment) -> list[tuple[int, ...] | None]:
    model = HighsModel(segment)
    return [model.fewest_teeth(), model.best_proportion(), model.smallest_shares()]


def keeps_the_rules_of_material(segment: Segment, plan: SpacePlan) -> bool:
    """Balance at every gap, no sliver outside a film gap, no trap."""
    for gap, width in enumerate(segment.gaps):
        right, left = plan.changes[gap], plan.changes[gap + 1]
        both, stays = (right.share_left, left.share_right), plan.gaps_left[gap]
        film = segment.films[gap] is Film.ALLOWED and width in (1, 2)
        if sum(both) + stays != width:
            return False
        if not film and (any(share in (1, 2) for share in both) or 0 < stays < 5):
            return False
    edges = [change.lengthening for change in plan.changes] + [change.shortening for change in plan.changes]
    return plan.changes[0].share_right == plan.changes[-1].share_left == 0 and 1 not in edges


class TestAgainstHighs:
    @pytest.mark.parametrize("name", CASES)
    def test_worked_cases(self, name: str) -> None:
        assert own_values(CASES[name]) == highs_values(CASES[name])

    @pytest.mark.parametrize("start", range(0, ARCHES, BLOCK))
    def test_plans_of_random_arches(self, start: int) -> None:
        fitting = 0
        for seed in range(start, start + BLOCK):
            segment = random_arch(seed)
            own = own_values(segment)
            assert own == highs_values(segment), f"arch {seed}"
            fitting += own[0] is not None
        assert 5 < fitting < BLOCK - 5  # both answers are met often enough to mean something

    def test_tie_rule(self) -> None:
        """HiGHS follows the tie rule as further stages; both must end at the very same plan."""
        tied = 0
        for segment in (*CASES.values(), *(random_arch(seed) for seed in range(500, 540))):
            plan = best_plan(segment, LIMITS, Goal.BEST_PROPORTION)
            if plan is None or len(segment.teeth) > 6:
                continue
            tied += 1
            own = tuple((c.share_right, c.share_left, c.lengthening, c.shortening) for c in plan.changes)
            assert own == HighsModel(segment).tied_best_proportion()
        assert tied > 15

    def test_part_closing_and_movement(self) -> None:
        tried = 0
        for seed in range(1000, 1060):
            segment = random_arch(seed)
            if best_plan(segment, LIMITS, Goal.FEWEST_TEETH) is not None or len(segment.teeth) > 5:
                continue
            tried += 1
            self.same_part_closing(segment, seed)
            for comfortable in (False, True):
                moved = smallest_movement(segment, LIMITS, comfortable=comfortable)
                own = None if moved is None else (moved.total, len(moved.moves))
                assert own == HighsModel(segment, move=True, comfortable=comfortable).movement(), f"arch {seed}"
        assert tried > 15

    @staticmethod
    def same_part_closing(segment: Segment, seed: int) -> None:
        plan, theirs = close_a_part(segment, LIMITS), HighsModel(segment, part=True).part_closing()
        if plan is None:
            # Nothing fits at all, or only leaving every gap as it is.
            assert theirs is None or theirs[2] == sum(segment.gaps), f"arch {seed}"
            return
        left = (sum(gap > 0 for gap in plan.gaps_left), sum(plan.gaps_left))
        own = (plan.removed_beyond_locks, *left, plan.comfort, plan.misfit, plan.touching, plan.material)
        assert own == theirs, f"arch {seed}"

    def test_places_elsewhere_move_as_little(self) -> None:
        """Every other place that is named does fit once its gaps are moved as said."""
        named = 0
        for segment in (CASE_4, *(random_arch(seed, locks=False) for seed in range(2000, 2040))):
            movement = smallest_movement(segment, LIMITS)
            if movement is None or not movement.moves:
                continue
            for moves in (movement.moves, *movement.elsewhere):
                gaps = list(segment.gaps)
                for move in moves:
                    gaps[move.gap] += move.by
                assert sum(abs(move.by) for move in moves) == movement.total
                assert HighsModel(replace(segment, gaps=tuple(gaps))).fits()
                named += 1
        assert named > 20

    def test_conflict_sets(self) -> None:
        """The sets of rules alone; HiGHS keeps every lock, so it also shows that giving one up takes nothing away."""
        tried = 0
        for seed in (82, *range(3000, 3060)):
            segment = random_arch(seed)
            conflicts = conflict_sets(segment, LIMITS)
            if not conflicts:
                assert not HighsModel(segment, frozenset(Rule)).fits(), f"arch {seed}"
                continue
            sizes = {len(conflict.rules) + len(conflict.locks) for conflict in conflicts}
            assert len(sizes) == 1, f"arch {seed}"
            size = sizes.pop()
            tried += size > 0
            if size:
                assert not solving_sets(segment, size - 1), f"arch {seed}"
            own = {conflict.rules for conflict in conflicts if not conflict.locks}
            assert own == solving_sets(segment, size), f"arch {seed}"
        assert tried > 20


def solving_sets(segment: Segment, size: int) -> set[tuple[Rule, ...]]:
    """All sets of that many rules whose removal lets HiGHS find something."""
    return {rules for rules in combinations(Rule, size) if HighsModel(segment, frozenset(rules)).fits()}


class TestEveryArch:
    def test_material_rules_hold(self) -> None:
        met = 0
        for seed in range(4000, 4120):
            segment = random_arch(seed)
            for goal in Goal:
                plan = best_plan(segment, LIMITS, goal)
                if plan is not None:
                    assert keeps_the_rules_of_material(segment, plan), f"arch {seed}"
                    assert sum(item.points for item in plan.items) == plan.misfit
                    met += 1
        assert met > 60

    def test_a_mirror_keeps_every_value(self) -> None:
        for seed in range(4200, 4290):
            segment = random_arch(seed)
            assert own_values(segment.mirrored()) == own_values(segment), f"arch {seed}"
            assert segment.mirrored().mirrored() == segment

    def test_a_lock_never_improves_the_objective(self) -> None:
        """With locked removal counted as removal; a lock that fits may at best leave the objective as it was."""
        fitting = 0
        for seed in range(4300, 4380):
            segment = random_arch(seed, locks=False)
            for goal in (Goal.FEWEST_TEETH, Goal.BEST_PROPORTION):
                free = best_plan(segment, LIMITS, goal)
                for locked in _with_one_lock(segment, seed):
                    plan = best_plan(locked, LIMITS, goal)
                    if plan is None:
                        continue
                    fitting += 1
                    assert free is not None, f"arch {seed}"
                    assert _counted(plan, goal) >= _counted(free, goal), f"arch {seed}"
        assert fitting > 60

    def test_the_order_of_goals_shows(self) -> None:
        for seed in range(4400, 4460):
            segment = random_arch(seed)
            plans = [best_plan(segment, LIMITS, goal) for goal in Goal]
            if plans[0] is None:
                assert plans == [None] * 3
                continue
            fewest, best, smallest = plans
            assert best is not None
            assert smallest is not None
            assert fewest.touching <= min(best.touching, smallest.touching)
            assert best.misfit <= min(fewest.misfit, smallest.misfit)
            assert smallest.largest_share <= min(fewest.largest_share, best.largest_share)


def _with_one_lock(segment: Segment, seed: int) -> list[Segment]:
    """The segment with one lock of each kind, on a tooth or gap that follows from the seed."""
    index, gap = seed % len(segment.teeth), seed % len(segment.gaps)
    facts = segment.teeth[index]
    locks = [Locks(width=facts.width + 3), Locks(share_left=0), Locks(share_right=4), Locks(build_up=True)]
    if facts.shorten_named:
        locks.append(Locks(shortening=2))
    found = [
        replace(segment, teeth=(*segment.teeth[:index], replace(facts, locks=lock), *segment.teeth[index + 1 :]))
        for lock in locks
    ]
    untouched = replace(facts, untouchable=True)
    found.append(replace(segment, teeth=(*segment.teeth[:index], untouched, *segment.teeth[index + 1 :])))
    closed: list[int | None] = [None] * len(segment.gaps)
    closed[gap] = 0
    return [*found, replace(segment, gap_locks=tuple(closed))]


def _counted(plan: SpacePlan, goal: Goal) -> tuple[int, ...]:
    values = objective(plan, goal)
    assert values is not None
    return (plan.removed, *values[1:])
