"""Minutes, visits, order of steps and days.

The three-point rule is project planning's common practice; the starting minutes are the trade's, no source. Outside
check: the quantiles and the sum of correlated spreads are recomputed with SciPy.
"""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from planner.rules.calendar_days import DayStep, OpenDays, back_from, earliest_days, latest_days
from planner.rules.clock import (
    NOTHING,
    Blocks,
    Span,
    StepOrderError,
    Timing,
    VisitTime,
    WrongSums,
    in_pairs,
    office_blocks,
    order_steps,
    propose_minutes,
    share_block,
    split_visits,
    visit_time,
    wrong_sums,
)
from planner.rules.teeth import Tooth
from tests.rules.books import DAY_ZERO, teeth, tern_row

BOOK = tern_row()
RESHAPE = office_blocks(BOOK, Blocks("reshaping", "reshaping", 1))


def bonding(count: int) -> Blocks:
    return office_blocks(BOOK, Blocks("bonding", "bonding", count))


def bonding_time(count: int, *more: Blocks, correlation: str = "0.6") -> VisitTime:
    return visit_time([bonding(count), *more], Decimal(correlation), BOOK.slot_minutes)


@pytest.mark.parametrize(
    ("count", "mean", "eight", "nine", "booked", "usual"),
    [(2, 146, 156, 161, 160, 140), (3, 194, 207, 214, 210, 185), (4, 241, 258, 267, 260, 230)],
)
def test_bonding_with_one_tooth_reshaped(count: int, mean: int, eight: int, nine: int, booked: int, usual: int) -> None:
    found = bonding_time(count, RESHAPE)
    assert (found.mean_minutes, found.eight_in_ten, found.nine_in_ten) == (mean, eight, nine)
    assert (found.booked, found.usual) == (booked, usual)
    assert f"booked {booked}" in found.how[-1]


def test_neither_independence_nor_adding_up_is_the_right_sum() -> None:
    correlated, independent = bonding_time(3), bonding_time(3, correlation="0")
    assert (correlated.mean_minutes, correlated.eight_in_ten, independent.eight_in_ten) == (188, 201, 198)
    added = bonding_time(3, correlation="1").deviation
    blocks = bonding(3)
    each_by_itself = blocks.set_up.spread + 3 * blocks.per_tooth.spread + blocks.finish.spread
    assert round(float(correlated.mean) + float(norm.ppf(0.8)) * float(each_by_itself)) == 208
    assert added < each_by_itself
    assert wrong_sums([bonding(3)], BOOK.slot_minutes) == WrongSums(independent=198, added=208)


@given(st.integers(1, 8), st.decimals("0", "1", places=2))
def test_spread_is_the_root_of_the_covariance_matrix(count: int, correlation: Decimal) -> None:
    found = bonding_time(count, RESHAPE, correlation=str(correlation))
    blocks = bonding(count)
    tooth = float(blocks.per_tooth.spread)
    covariance = sum(tooth * tooth * (1 if a == b else float(correlation)) for a in range(count) for b in range(count))
    once = sum(float(span.spread) ** 2 for span in (blocks.set_up, blocks.finish, RESHAPE.per_tooth))
    assert found.deviation == pytest.approx(sqrt(covariance + once))
    assert found.eight_in_ten == pytest.approx(norm.ppf(0.8, float(found.mean), found.deviation), abs=0.5001)
    assert found.mean_minutes <= found.eight_in_ten <= found.nine_in_ten
    assert found.eight_in_ten <= found.booked + 1
    assert found.booked % BOOK.slot_minutes == 0
    assert found.chance_within(found.booked) >= 80


def test_chances_of_being_done_in_time() -> None:
    found = bonding_time(3, RESHAPE)
    assert found.chance_within(round(found.mean)) == pytest.approx(50, abs=1)
    assert (found.chance_within(100), found.chance_within(300)) == (0, 100)
    fixed = visit_time([Blocks("talk", "talk", 0, set_up=Span(30, 30, 30))], Decimal(0), 5)
    assert (fixed.booked, fixed.chance_within(29), fixed.chance_within(30)) == (30, 0, 100)


def test_the_offices_minutes_replace_the_starting_ones_block_by_block() -> None:
    start = Blocks("bonding", "review", 1, set_up=Span(15, 20, 30))
    assert office_blocks(BOOK, start) == start
    assert bonding(1).per_tooth == Span(35, 45, 70)
    with pytest.raises(ValueError, match="fast, usual, slow"):
        Span(5, 4, 6)
    with pytest.raises(ValueError, match="cannot be"):
        visit_time([], Decimal(2), 5)


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(0, 9)).map(sorted), min_size=1, max_size=9))
def test_a_block_is_shared_among_its_steps_without_loss(minutes: list[list[int]]) -> None:
    steps = [Span(*step) for step in minutes]
    assume(any(step.usual for step in steps))
    block = Span(20, 25, 35)
    shared = share_block(block, steps)
    assert sum(Fraction(step.usual) for step in shared) == 25
    assert sum(Fraction(step.slow) for step in shared) == 35
    assert all((step.usual > 0) == (own.usual > 0) for step, own in zip(shared, steps, strict=True))


def test_steps_without_minutes_share_nothing() -> None:
    with pytest.raises(ValueError, match="no proportion"):
        share_block(Span(1, 2, 3), [NOTHING])


# ---------------------------------------------------------------- visits


def split(*iso: str, limit: int = 240) -> list[tuple[list[str], int, bool]]:
    found = split_visits(in_pairs(teeth(*iso)), lambda some: bonding_time(len(some)), limit)
    return [([tooth.iso for tooth in part.teeth], part.time.booked, part.too_long) for part in found]


def test_teeth_past_the_limit_of_a_visit_go_into_another_and_pairs_stay_together() -> None:
    assert split("11", "21", "22") == [(["11", "21", "22"], 205, False)]
    assert split("12", "11", "21", "22") == [(["12", "22"], 155, False), (["11", "21"], 155, False)]
    assert split("11", "12", "21", limit=110) == [(["11"], 100, False), (["21"], 100, False), (["12"], 100, False)]
    assert split("11", limit=60) == [(["11"], 100, True)]
    assert split() == []


@given(st.permutations(["13", "12", "11", "21", "22", "23"]), st.integers(1, 6), st.sampled_from((110, 160, 240, 480)))
def test_splitting_loses_no_tooth_and_keeps_the_limit(order: list[str], count: int, limit: int) -> None:
    chosen = order[:count]
    parts = split(*chosen, limit=limit)
    assert sorted(tooth for some, _, _ in parts for tooth in some) == sorted(chosen)
    assert all(booked <= limit for _, booked, _ in parts)
    if limit >= 160:
        for right, left in (("11", "21"), ("12", "22"), ("13", "23")):
            if {right, left} <= set(chosen):
                assert any({right, left} <= set(some) for some, _, _ in parts)


def test_an_extra_tooth_is_nobodys_mirror() -> None:
    beside = Tooth.from_iso("extra beside 21")
    assert in_pairs([*teeth("11"), beside, *teeth("21")]) == (teeth("11", "21"), (beside,))


# ---------------------------------------------------------------- order of steps


def test_steps_come_in_working_order_and_ties_as_written() -> None:
    steps = [("A01", []), ("A07", ["A04", "A05"]), ("A05", ["A03"]), ("A04", ["A03"]), ("A03", ["A01"]), ("A02", [])]
    assert order_steps(steps) == ("A01", "A03", "A05", "A04", "A07", "A02")
    assert order_steps([]) == ()


def test_a_circle_is_named() -> None:
    steps = [("A01", []), ("A10", ["A01", "A11"]), ("A11", ["A10"]), ("A12", ["A11"])]
    with pytest.raises(StepOrderError, match=r"A1[01] → A1[01] → A1[01]") as refused:
        order_steps(steps)
    assert sorted(refused.value.cycle) == ["A10", "A11"]
    with pytest.raises(StepOrderError, match='comes after "B01"'):
        order_steps([("A01", ["B01"])])
    with pytest.raises(StepOrderError, match="there twice"):
        order_steps([("A01", []), ("A01", [])])


@given(st.integers(1, 12), st.data())
def test_every_graph_without_a_circle_is_ordered_and_twice_the_same(size: int, data: st.DataObject) -> None:
    names = [f"S{number:02}" for number in range(size)]
    before = {
        name: data.draw(st.lists(st.sampled_from(names[:number]), max_size=3)) if number else []
        for number, name in enumerate(names)
    }
    written = data.draw(st.permutations(names))
    steps = [(name, before[name]) for name in written]
    order = order_steps(steps)
    assert sorted(order) == names
    assert all(order.index(earlier) < order.index(name) for name in names for earlier in before[name])
    assert order == order_steps(steps)


# ---------------------------------------------------------------- the office's own clock


def test_own_timings_propose_and_do_not_decide() -> None:
    # 12 finished visits of the demonstration, minutes per tooth, and one disturbed by a fire alarm
    minutes = (52, 49, 61, 44, 58, 55, 47, 63, 50, 56, 53, 48)
    timings = [*(Timing(value) for value in minutes), Timing(118, disturbed=True)]
    found = propose_minutes(Span(35, 45, 70), timings)
    assert found is not None
    assert (found.count, found.own_mean, found.proposed) == (12, 53, Fraction("50.5"))
    assert found.drift == Fraction(317, 6) - Fraction(319, 6)
    assert found.inside_band == 7  # between 40.02 and 54.98
    assert [round(float(end), 2) for end in found.band] == [40.02, 54.98]
    # 35/45/70 stretched by 50.5 / 47.5 to whole minutes; by hand (37 + 4 × 48 + 74) ÷ 6 = 50.5
    assert (found.span, found.span.mean, found.capped) == (Span(37, 48, 74), Fraction("50.5"), 0)
    assert propose_minutes(Span(35, 45, 70), timings[-1:]) is None
    one = propose_minutes(Span(35, 45, 70), [Timing(400)])
    assert one is not None
    assert (one.own_mean, one.drift, one.capped) == (90, 0, 1)
    # Three teeth at one visit in 159 minutes are 53 for each
    three = propose_minutes(Span(35, 45, 70), [Timing(Fraction(159, 3))])
    assert three is not None
    assert three.own_mean == 53


@given(st.lists(st.integers(1, 300), min_size=1, max_size=30))
def test_a_proposal_lies_between_the_starting_value_and_the_offices_own(minutes: list[int]) -> None:
    start = Span(35, 45, 70)
    found = propose_minutes(start, [Timing(value) for value in minutes])
    assert found is not None
    assert min(start.mean, found.own_mean) <= found.proposed <= max(start.mean, found.own_mean) <= 90
    assert abs(found.span.mean - found.proposed) <= Fraction(1, 2)


@given(st.integers(1, 8), st.decimals("0", "1", places=2))
def test_the_spread_lies_between_independent_and_fully_dependent_teeth(count: int, correlation: Decimal) -> None:
    found = bonding_time(count, correlation=str(correlation)).deviation
    independent, dependent = (bonding_time(count, correlation=end).deviation for end in ("0", "1"))
    assert independent - 1e-9 <= found <= dependent + 1e-9


# ---------------------------------------------------------------- days

OFFICE = OpenDays.of(BOOK)
EVERY_DAY = OpenDays(frozenset(range(7)))
ALONE = (
    DayStep("order", "wax-up ordered"),
    DayStep("check", "wax-up and shade checked", (("order", 7),)),
    DayStep("bond", "bonding", (("check", 4),)),
    DayStep("review", "review", (("bond", 14),)),
)
WHITENED = (
    DayStep("clean", "cleaning"),
    DayStep("trays", "trays fitted", (("clean", 7),)),
    DayStep("night", "last whitening night", (("trays", 21),), in_office=False),
    DayStep("check", "wax-up and shade checked", (("night", 14),)),
    *ALONE[2:],
)


def day(offset: int) -> date:
    return DAY_ZERO + timedelta(days=offset)


def offsets(days: dict[str, date]) -> dict[str, int]:
    return {key: (found - DAY_ZERO).days for key, found in days.items()}


def test_open_days() -> None:
    friday = day(4)
    assert [OFFICE.is_open(day(offset)) for offset in (0, 3, 4, 35, 36)] == [True, True, False, False, True]
    assert (OFFICE.next_open_day(friday), OFFICE.last_open_day(friday)) == (day(7), day(3))
    assert OFFICE.next_open_day(day(34)) == day(36)
    assert [OFFICE.add_open_days(day(0), count) for count in (0, 1, 3, 4)] == [day(0), day(1), day(3), day(7)]
    assert OFFICE.add_open_days(friday, 0) == day(7)
    with pytest.raises(ValueError, match="count from 0"):
        OFFICE.add_open_days(friday, -1)
    with pytest.raises(ValueError, match="no open day within ten years"):
        OpenDays(frozenset()).next_open_day(friday)


def test_a_wedding_on_day_110_with_and_without_whitening() -> None:
    # The waits are the trade's; the 4 days between check and bonding are this test's own.
    assert offsets(earliest_days(WHITENED, DAY_ZERO, EVERY_DAY)) == {
        "clean": 0, "trays": 7, "night": 28, "check": 42, "bond": 46, "review": 60,
    }  # fmt: skip
    assert offsets(earliest_days(ALONE, DAY_ZERO, EVERY_DAY))["review"] == 25
    plan = back_from(WHITENED, DAY_ZERO, day(110), OFFICE)
    assert plan.possible
    # By hand: day 110 is a Saturday and the office works Monday to Thursday, so the review is on Thursday 108, bonding
    # 14 days before on 94; 4 days before that is a Sunday, so the check is on Thursday 87; the last night needs no
    # open day. Bonding cannot be on Friday 46 but on Monday 49.
    assert offsets({row.key: row.latest for row in plan.rows}) == {
        "clean": 45, "trays": 52, "night": 73, "check": 87, "bond": 94, "review": 108,
    }  # fmt: skip
    assert offsets({row.key: row.earliest for row in plan.rows})["bond"] == 49
    assert (plan.finish, {row.slack_days for row in plan.rows}) == (day(63), {45})


def test_a_wish_that_comes_too_early_says_by_how_much() -> None:
    plan = back_from(WHITENED, DAY_ZERO, day(50), OFFICE)
    assert not plan.possible
    assert plan.finish == earliest_days(WHITENED, DAY_ZERO, OFFICE)["review"]
    assert plan.finish.isoformat() in plan.sentence
    assert "days after it" in plan.sentence
    assert back_from(ALONE, DAY_ZERO, day(50), OFFICE).possible
    with pytest.raises(ValueError, match="nothing to reckon"):
        back_from((), DAY_ZERO, day(50), OFFICE)


def test_steps_may_not_start_before_their_day_or_end_on_the_eve() -> None:
    late = DayStep("adult", "own signature", not_before=day(25))  # a Friday
    assert earliest_days([late], DAY_ZERO, OFFICE)["adult"] == day(28)
    settle = DayStep("bond", "bonding", days_before_wish=14)
    assert latest_days([settle], day(21), OFFICE)["bond"] == day(7)
    with pytest.raises(ValueError, match="negative number of days"):
        DayStep("a", "a", (("b", -1),))


@given(
    st.integers(0, 120),
    st.frozensets(st.integers(0, 6), min_size=1),
    st.sets(st.integers(0, 150), max_size=20),
    st.data(),
)
def test_earliest_and_latest_days_keep_every_wait_and_meet_or_miss_together(
    wish: int, weekdays: frozenset[int], closed: set[int], data: st.DataObject
) -> None:
    steps: list[DayStep] = []
    for number in range(data.draw(st.integers(1, 6))):
        earlier = st.sampled_from([step.key for step in steps]) if steps else st.nothing()
        after = data.draw(st.lists(st.tuples(earlier, st.integers(0, 30)), max_size=2)) if steps else []
        steps.append(DayStep(str(number), str(number), tuple(after), in_office=data.draw(st.booleans())))
    office = OpenDays(weekdays, frozenset(day(offset) for offset in closed))
    early, late = earliest_days(steps, DAY_ZERO, office), latest_days(steps, day(wish), office)
    for found in (early, late):
        for step in steps:
            assert not step.in_office or office.is_open(found[step.key])
            assert all(found[step.key] - found[key] >= timedelta(days=days) for key, days in step.after)
    assert all(found <= day(wish) for found in late.values())
    plan = back_from(steps, DAY_ZERO, day(wish), office)
    assert plan.possible == (max(early.values()) <= day(wish))
