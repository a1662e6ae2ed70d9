"""What must hold of every arch, whatever is measured, wished and locked."""

import random
from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.mouth import CaseFacts
from planner.rules.segments import segment_of
from planner.rules.space_limits import default_limits
from planner.rules.space_model import Locks, Segment
from planner.rules.space_remeasure import remeasure, scan
from planner.rules.space_results import Goal, SpacePlan
from planner.rules.space_tables import Tables
from planner.rules.spaces import best_found, best_plan, share_space
from tests.rules.space_cases import DEMO_4, DEMO_12, SMALL, random_arch
from tests.rules.space_checks import check_rules_of_material, done, objective, own_values

LIMITS = default_limits()
seeds = st.integers(0, 10**6)
few = settings(max_examples=40, deadline=None, derandomize=True)


@few
@given(seeds)
def test_material_balance_slivers_and_traps(seed: int) -> None:
    segment = random_arch(seed)
    for goal in Goal:
        plan = best_plan(segment, LIMITS, goal)
        if plan is not None:
            check_rules_of_material(segment, plan, seed)


@few
@given(seeds)
def test_a_mirror_keeps_every_value_and_mirrors_the_plan_unless_the_right_first_rule_decided(seed: int) -> None:
    segment = random_arch(seed, layouts=SMALL)
    other = segment.mirrored()
    assert other.mirrored() == segment
    assert own_values(other) == own_values(segment)
    widths = [tooth.width for tooth in segment.teeth]
    plan, seen = (best_plan(each, LIMITS, Goal.BEST_PROPORTION) for each in (segment, other))
    if plan is None or seen is None or len(set(widths)) < len(widths):
        return
    back = tuple((left, right, e, s) for right, left, e, s in reversed(done(seen)))
    if back != done(plan):
        # Narrowest first, the first tooth in which they differ has the same sum: the larger right share decided.
        index = next(i for i in sorted(range(len(widths)), key=lambda i: widths[i]) if back[i] != done(plan)[i])
        mine, theirs = done(plan)[index], back[index]
        assert mine[0] + mine[1] == theirs[0] + theirs[1]
        assert mine[0] > theirs[0]


@few
@given(seeds, st.integers(0, 7), st.sampled_from(("width", "closed", "right", "up", "short", "untouched", "slender")))
def test_a_lock_never_improves_the_objective(seed: int, place: int, kind: str) -> None:
    """With locked removal counted as removal; a lock that fits may at best leave the objective as it was."""
    segment = random_arch(seed, locks=False, layouts=SMALL)
    locked = _locked(segment, place, kind)
    for goal in (Goal.FEWEST_TEETH, Goal.BEST_PROPORTION):
        free, plan = best_plan(segment, LIMITS, goal), best_plan(locked, LIMITS, goal)
        if plan is None or (kind == "slender" and free is None):
            continue  # enamel off a side makes room, so it may make fit what did not
        assert free is not None, f"arch {seed}"
        assert _counted(plan, goal) >= _counted(free, goal), f"arch {seed}"


def _locked(segment: Segment, place: int, kind: str) -> Segment:
    index, gap = place % len(segment.teeth), place % len(segment.gaps)
    facts = segment.teeth[index]
    if kind == "closed":
        return replace(segment, gap_locks=tuple(0 if each == gap else None for each in range(len(segment.gaps))))
    if kind == "untouched":
        changed = replace(facts, untouchable=True)
    else:
        named = facts.shorten_named
        locks = {
            "width": Locks(width=facts.width + 3),
            "right": Locks(share_right=4),
            "up": Locks(build_up=True),
            "short": Locks(shortening=2 if named else 0),
            "slender": Locks(slender_left=1),
        }
        changed = replace(facts, locks=locks[kind])
    return replace(segment, teeth=(*segment.teeth[:index], changed, *segment.teeth[index + 1 :]))


def _counted(plan: SpacePlan, goal: Goal) -> tuple[int, ...]:
    values = objective(plan, goal)
    assert values is not None
    return (plan.removed, *values[1:])


@few
@given(seeds)
def test_the_order_of_goals_shows(seed: int) -> None:
    plans = [best_plan(random_arch(seed, layouts=SMALL), LIMITS, goal) for goal in Goal]
    if None in plans:
        assert plans == [None] * 3
        return
    fewest, best, smallest = (plan for plan in plans if plan is not None)
    firsts = {(plan.removed_beyond_locks, plan.comfort) for plan in (fewest, best, smallest)}
    assert len(firsts) == 1
    assert fewest.touching <= min(best.touching, smallest.touching)
    assert best.misfit <= min(fewest.misfit, smallest.misfit)
    assert smallest.largest_share <= min(fewest.largest_share, best.largest_share)


@settings(max_examples=5, deadline=None, derandomize=True)
@given(st.lists(seeds, min_size=2, max_size=4))
def test_tables_handed_from_search_to_search_change_no_answer(some: list[int]) -> None:
    tables = Tables(LIMITS)
    for seed in some:
        segment = random_arch(seed, layouts=SMALL)
        varied = [segment]
        for gap, (right, _) in enumerate(pairwise(segment.teeth)):
            wider = replace(right, width=right.width + 1)
            varied.append(replace(segment, teeth=tuple(wider if each is right else each for each in segment.teeth)))
            gaps = (*segment.gaps[:gap], segment.gaps[gap] + 1, *segment.gaps[gap + 1 :])
            varied.append(replace(segment, gaps=gaps))
        for each in varied:
            for goal in Goal:
                fresh = best_found(each, LIMITS, goal, Tables(LIMITS))
                assert best_found(each, LIMITS, goal, tables) == fresh
                assert best_found(each, LIMITS, goal, Tables(LIMITS, tables)) == fresh


class TestScan:
    def test_it_counts_up_to_the_whole_and_finds_what_the_list_holds(self) -> None:
        steps = list(scan(DEMO_4))
        assert [step.done for step in steps] == sorted(step.done for step in steps)
        assert steps[-1].done == steps[-1].total == sum(3 + min(3, gap) for gap in DEMO_4.gaps) + 5 * 2 * 6
        assert {step.found.what for step in steps if step.found} == {item.what for item in remeasure(DEMO_4)}

    def test_every_step_is_what_solving_that_segment_alone_gives(self) -> None:
        """The gaps of a worked case, tried by hand at every step."""
        today = share_space(DEMO_12).plan(Goal.BEST_PROPORTION)
        found = {item.what: item for item in remeasure(DEMO_12)}
        for gap, width in enumerate(DEMO_12.gaps):
            flips, teeth = [], []
            for step in (-3, -2, -1, 1, 2, 3):
                varied = replace(DEMO_12, gaps=(*DEMO_12.gaps[:gap], width + step, *DEMO_12.gaps[gap + 1 :]))
                then = best_plan(varied, LIMITS, Goal.BEST_PROPORTION) if width + step > 2 else None
                if then is None:  # nothing fits, or the film question comes first
                    flips.append(step)
                elif then.touched != today.touched:
                    teeth.append(step)
            item = found.get(f"gap {DEMO_12.gap_name(gap)}")
            own = (item.flips_verdict, item.changes_teeth) if item else ((), ())
            assert own == (tuple(flips), tuple(teeth))


def test_the_order_in_which_facts_are_written_changes_nothing(lead_case: CaseFacts) -> None:
    chance = random.Random(7)
    examination, choices = lead_case.examination, lead_case.choices

    def shuffled(items: tuple[object, ...]) -> tuple[object, ...]:
        return tuple(chance.sample(items, len(items)))

    found = segment_of(lead_case)
    for _ in range(3):
        other = lead_case.model_copy(
            update={
                "examination": examination.model_copy(
                    update={"teeth": shuffled(examination.teeth), "gaps": shuffled(examination.gaps)}
                ),
                "choices": choices.model_copy(update={"locks": shuffled(choices.locks)}),
            }
        )
        assert segment_of(other) == found
    assert share_space(DEMO_12) == share_space(replace(DEMO_12))
