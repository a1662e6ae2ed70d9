"""The exact search against HiGHS.

Source of the comparison: HiGHS via scipy, an independent solver, with the model written a second time in
:mod:`tests.rules.highs_model`. The arches are made up, from fixed seeds; ``make soak`` runs thousands more.
"""

from dataclasses import replace

import pytest

from planner.rules.space_limits import with_limits
from planner.rules.space_model import Film, Locks, Segment
from planner.rules.space_results import Goal, Rule
from planner.rules.spaces import best_plan
from tests.rules.highs_model import HighsModel
from tests.rules.space_cases import CASE_2, CASE_3, CASE_4, DEMO_4, DEMO_12, SMALL, lead, random_arch
from tests.rules.space_checks import (
    LIMITS,
    check_compromises,
    check_conflicts,
    check_elsewhere,
    check_lock_faults,
    check_movement,
    check_part_closing,
    check_plans,
    done,
    objective,
)


def changed(segment: Segment, key: str, **facts: object) -> Segment:
    """The segment with some facts of one tooth otherwise."""
    teeth = tuple(replace(each, **facts) if each.key == key else each for each in segment.teeth)  # type: ignore[arg-type]
    return replace(segment, teeth=teeth)


CASES = {
    "lead": lead(),
    "lead, primary tooth free": lead(primary_locked=False),
    "lead with a film": lead(gap_13_11=2, film=Film.ALLOWED),
    "lead, a side of 11 slenderised": changed(lead(), "11", locks=Locks(slender_right=2)),
    "case 2": CASE_2,
    "case 2, 21 turned": changed(CASE_2, "21", twins_apart=True),
    "case 3": CASE_3,
    "case 4": CASE_4,
    "demo 4": DEMO_4,
    "demo 12": DEMO_12,
    "demo 12, additive only": replace(DEMO_12, additive_only=True),
}
BLOCK = 50


@pytest.mark.parametrize("name", CASES)
def test_worked_cases(name: str) -> None:
    check_plans(CASES[name], name)


@pytest.mark.parametrize("start", range(0, 100, BLOCK))
def test_plans_of_two_to_four_teeth(start: int) -> None:
    fitting = sum(check_plans(random_arch(seed, layouts=SMALL), seed) for seed in range(start, start + BLOCK))
    assert 10 < fitting < BLOCK - 10  # both answers are met often enough to mean something


@pytest.mark.parametrize("start", range(5000, 5050, BLOCK))
def test_plans_of_up_to_eight_teeth(start: int) -> None:
    fitting = sum(check_plans(random_arch(seed), seed) for seed in range(start, start + BLOCK))
    assert 5 < fitting < BLOCK - 5


@pytest.mark.parametrize("segment", [CASE_2, DEMO_12], ids=["case 2", "demo 12"])
def test_tie_rule(segment: Segment) -> None:
    """HiGHS follows the tie rule as further stages; both must end at the very same plan."""
    plan = best_plan(segment, LIMITS, Goal.BEST_PROPORTION)
    assert plan is not None
    assert done(plan) == HighsModel(segment).tied_best_proportion()


@pytest.mark.parametrize("target", [70, 76, 80])
def test_another_ratio_to_aim_at(target: int) -> None:
    limits = with_limits(LIMITS, {"band_ratio.target": target})
    plan = best_plan(CASE_2, limits, Goal.BEST_PROPORTION)
    assert objective(plan, Goal.BEST_PROPORTION) == HighsModel(CASE_2, ratio=target).best_proportion()


def test_part_closing_and_movement() -> None:
    tried = 0
    for seed in range(1000, 1035):
        segment = random_arch(seed, layouts=SMALL)
        if best_plan(segment, LIMITS, Goal.FEWEST_TEETH) is None:
            tried += 1
            check_part_closing(segment, seed)
            check_movement(segment, seed)
    assert tried > 10


def test_places_elsewhere_move_as_little() -> None:
    segments = (CASE_4, *(random_arch(seed, locks=False, layouts=SMALL) for seed in range(2000, 2050)))
    assert sum(check_elsewhere(segment, place) for place, segment in enumerate(segments)) > 20


def test_conflict_sets() -> None:
    """Worked cases, then arches: the sets are all of the fewest size, and no smaller one helps."""
    assert check_conflicts(CASE_3, "case 3") == 3
    assert check_conflicts(CASE_4, "case 4") == 1
    sizes = [check_conflicts(random_arch(seed, layouts=SMALL), seed) for seed in range(3000, 3015)]
    assert sum(size > 0 for size in sizes) > 3


def test_what_stays_compromised() -> None:
    """Case 3 may move only 1.5 of the 2.7 mm it needs: what then has to give way, and with how little movement."""
    assert check_compromises(CASE_3, 15, "case 3") > 0
    assert check_compromises(CASE_4, 4, "case 4") > 0
    assert check_compromises(CASE_3, 27, "case 3") == 1


def test_locks_outside_their_own_limit() -> None:
    found = sum(check_lock_faults(random_arch(seed, layouts=SMALL), seed) for seed in range(6000, 6060))
    assert found > 5


def test_what_the_second_model_says_of_a_worked_case() -> None:
    """The second model is no echo: dropping one rule of case 3 does not help it, dropping a set does."""
    assert not HighsModel(CASE_3).fits()
    assert not HighsModel(CASE_3, frozenset({Rule.SHAPE})).fits()
    assert HighsModel(CASE_3, frozenset({Rule.SHARE_CAP, Rule.SHAPE, Rule.PROPORTION})).fits()
