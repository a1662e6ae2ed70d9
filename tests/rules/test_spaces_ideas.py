"""Rejected ideas beside a plan: every reason is what solving again with the idea's lock gives.

Checked against HiGHS (through scipy) with the model written a second time in :mod:`tests.rules.highs_model`.
"""

from dataclasses import replace

import pytest

from planner.rules.space_ideas import rejected_ideas
from planner.rules.space_limits import default_limits
from planner.rules.space_model import Locks, Segment
from planner.rules.space_results import Goal, RejectedIdea, Rule
from planner.rules.spaces import share_space
from tests.rules.highs_model import HighsModel
from tests.rules.space_cases import CASE_2, DEMO_4, DEMO_12, lead

LIMITS = default_limits()
ALL = 99


def ideas_of(segment: Segment, goal: Goal = Goal.BEST_PROPORTION, most: int = ALL) -> dict[str, RejectedIdea]:
    plan = share_space(segment).plan(goal)
    return {idea.idea: idea for idea in rejected_ideas(segment, LIMITS, plan, most)}


@pytest.fixture(scope="module")
def of_lead() -> dict[str, RejectedIdea]:
    return ideas_of(lead())


def varied(segment: Segment, key: str, **changes: object) -> Segment:
    teeth = tuple(replace(t, **changes) if t.key == key else t for t in segment.teeth)  # type: ignore[arg-type]
    return replace(segment, teeth=teeth)


class TestLead:
    def test_three_of_different_kinds(self) -> None:
        assert list(ideas_of(lead(), most=3)) == [
            "share 11·21 equally",
            "leave the edge of 22 as it is",
            "leave 21·22 open as it is",
        ]

    def test_what_fits_loses_by_the_figure_that_highs_finds(self, of_lead: dict[str, RejectedIdea]) -> None:
        idea = of_lead["leave the edge of 22 as it is"]
        assert idea.plan is not None
        theirs = HighsModel(varied(lead(), "22", locks=Locks(lengthening=0))).best_proportion()
        best = HighsModel(lead()).best_proportion()
        assert theirs is not None
        assert best is not None
        assert (idea.worse, idea.by) == ("misfit", theirs[2] - best[2])
        assert idea.why.startswith("it fits, but the misfit is 44.0 points instead of 34.0: ")

    def test_what_breaks_a_limit_says_which_and_by_how_much(self, of_lead: dict[str, RejectedIdea]) -> None:
        """By hand: 11 must take the whole 0.8 of the midline gap and gets 9.1 wide, 0.7 more than 21 as it is; twins
        may differ by 0.3, so 0.4 more would be needed."""
        untouched = varied(lead(), "21", untouchable=True)
        assert not HighsModel(untouched).fits()
        assert HighsModel(untouched, frozenset({Rule.TWINS})).fits()
        idea = of_lead["leave 21 untouched"]
        assert idea.plan is None
        assert [(breach.rule, breach.amount) for breach in idea.breaches] == [(Rule.TWINS, "0.4 mm")]
        assert idea.why == "nothing fits then without breaking twins by at least 0.4 mm"

    def test_a_share_too_thin(self, of_lead: dict[str, RejectedIdea]) -> None:
        idea = of_lead["share 13·11 equally"]
        assert (idea.worse, idea.by) == ("sliver", 2)
        assert "0.1 mm" in idea.why

    def test_what_goes_against_a_lock_says_so(self, of_lead: dict[str, RejectedIdea]) -> None:
        idea = of_lead["leave the edge of 13 as it is"]
        assert idea.worse == "decision"
        assert "a lock shortens 13 by 0.5 mm" in idea.why


def test_the_least_widening_is_the_least() -> None:
    """One unit less does not fit, by HiGHS: 53·13 closed needs shape wider by 0.01, and nothing less helps."""
    idea = ideas_of(lead())["close 53·13 fully"]
    assert [(breach.rule, breach.by) for breach in idea.breaches] == [(Rule.SHAPE, 1)]
    closed = replace(lead(), gap_locks=(0, None, None, None, None))
    assert not HighsModel(closed).fits()
    assert HighsModel(closed, frozenset({Rule.SHAPE})).fits()


@pytest.mark.parametrize("segment", [CASE_2, DEMO_4, DEMO_12], ids=["case 2", "demo 4", "demo 12"])
@pytest.mark.parametrize("goal", Goal)
def test_no_idea_goes_before_the_plan(segment: Segment, goal: Goal) -> None:
    """Whatever fits and goes against no decision is worse at the first figure in which it differs, or quite equal."""
    plan = share_space(segment).plan(goal)
    ideas = rejected_ideas(segment, LIMITS, plan, ALL)
    assert len(ideas) > 3
    for idea in ideas:
        assert idea.why
        if idea.plan is not None and idea.worse != "decision":
            assert idea.by > 0 or not idea.worse
            assert idea.plan != plan
        if idea.plan is None:
            assert idea.breaches or idea.worse in ("sliver", "movement") or "whatever limit" in idea.why
