"""The exact search against plain enumeration (:mod:`tests.rules.brute_force`): values and the very plan, ties included.

Source of the comparison: every possible answer is tried, so nothing can be missed. Arches of two and three teeth.
"""

import pytest

from planner.rules.space_results import Goal
from planner.rules.spaces import best_plan
from tests.rules.brute_force import best_of_all
from tests.rules.space_cases import CASE_4, SMALL, random_arch
from tests.rules.space_checks import LIMITS, done, objective

TINY = tuple(layout for layout in SMALL if len(layout.split()) <= 3)


@pytest.mark.parametrize("start", range(0, 100, 25))
def test_every_answer_tried(start: int) -> None:
    fitting = 0
    for seed in range(start, start + 25):
        segment = random_arch(seed, layouts=TINY)
        best = best_of_all(segment)
        for goal in Goal:
            plan = best_plan(segment, LIMITS, goal)
            own = None if plan is None else (objective(plan, goal), done(plan))
            assert own == best[goal.value], f"arch {seed}"
            fitting += plan is not None
    assert 15 < fitting < 60


def test_a_worked_case_that_nothing_fits() -> None:
    assert best_of_all(CASE_4) == {goal.value: None for goal in Goal}
