"""Where work may stop, and the chance of being over in time.

The chance is held against SciPy's normal distribution. That a single central and a gap of a few tenths are no places to
stop is common practice, no source.
"""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from planner.rules.clock import Blocks, VisitTime, office_blocks, visit_time
from planner.rules.results import GapShape
from planner.rules.space_limits import default_limits
from planner.rules.stopping import best_order, finish_chance, stopping_points, why_not_here
from planner.rules.teeth import Tooth
from tests.rules.books import teeth, tern_row

LEAST = default_limits().gap_left_min
T12, T11, T21, T22, T23 = (Tooth.from_iso(iso) for iso in ("12", "11", "21", "22", "23"))
START = datetime(2026, 3, 2, 13, 30, tzinfo=UTC)


def time_of(some: tuple[Tooth, ...]) -> VisitTime:
    book = tern_row()
    return visit_time([office_blocks(book, Blocks("bonding", "bonding", len(some)))], Decimal("0.6"), 5)


def gap(right: Tooth, left: Tooth, width: int, to_right: int, to_left: int) -> GapShape:
    return GapShape(right, left, width, to_right, to_left, width - to_right - to_left)


MIDLINE = gap(T11, T21, 8, 3, 5)
SIDES = (gap(T21, T22, 7, 0, 7), gap(T22, T23, 9, 9, 0))


def test_never_after_one_of_two_centrals() -> None:
    found = stopping_points((T11, T21, T22), (MIDLINE, *SIDES), time_of, LEAST)
    assert [point.safe for point in found] == [False, True, True]
    assert found[0].why_not[0] == "The upper right central incisor is finished and its pair is not."


def test_a_central_alone_may_be_finished_where_its_pair_is_not_to_be() -> None:
    assert why_not_here([T11], [T11, T22], (), LEAST) == ()


def test_never_with_a_gap_that_traps_food() -> None:
    between = gap(T21, T22, 6, 3, 3)
    found = why_not_here([T21], [T21, T22], (between,), LEAST)
    assert found == (
        "0.3 mm would stay open between the upper left central incisor and the upper left lateral incisor, which traps "
        "food.",
    )
    assert why_not_here([T21], [T21, T22], (gap(T21, T22, 9, 3, 6),), LEAST) == (), "0.6 mm can be cleaned"
    assert why_not_here([T21], [T21, T22], (gap(T21, T22, 3, 0, 3),), LEAST) == (), "it was so before"
    left = GapShape(T21, T22, 6, 3, 0, 3)
    assert why_not_here([T21], [T21, T23], (left,), LEAST) == (), "the dentist planned to leave it"


def test_times_grow_and_the_whole_may_always_stop() -> None:
    found = stopping_points((T11, T21, T22), (MIDLINE, *SIDES), time_of, LEAST)
    assert found[-1].safe
    assert [point.time.booked for point in found] == sorted(point.time.booked for point in found)
    assert found[1].time == time_of((T11, T21))


@given(st.permutations([T12, T11, T21, T22]), st.lists(st.integers(0, 12), min_size=6, max_size=6))
@settings(max_examples=30, deadline=None)
def test_no_order_has_more_places_to_stop(order: list[Tooth], widths: list[int]) -> None:
    gaps = tuple(
        gap(right, left, one + two, one, two)
        for (right, left), one, two in zip(((T12, T11), (T11, T21), (T21, T22)), widths[::2], widths[1::2], strict=True)
    )
    chosen = best_order(order, gaps, LEAST)
    assert sorted(chosen) == sorted(order)

    def stops(tried: tuple[Tooth, ...]) -> int:
        return sum(not why_not_here(tried[:count], order, gaps, LEAST) for count in range(1, 4))

    assert stops(chosen) == max(stops(each) for each in permutations(order))


def test_more_teeth_than_a_visit_holds_keep_their_order() -> None:
    many_teeth = teeth("14", "13", "12", "11", "21", "22", "23", "24")
    assert best_order(many_teeth, (), LEAST) == tuple(many_teeth)


@pytest.mark.parametrize("minutes", [150, 194, 210, 240])
def test_the_chance_of_being_over_in_time(minutes: int) -> None:
    time = time_of((T11, T21, T22))
    by = START + timedelta(minutes=minutes)
    expected = norm(float(time.mean), time.deviation).cdf(minutes) * 100
    assert abs(finish_chance(time, START, by) - expected) <= 0.5
    assert finish_chance(time, START, START - timedelta(hours=1)) == 0
