"""How own work lasts: tooth-years, curves, and the published rate that counts beside the office's own."""

import math
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.own_work import (
    IN_PLACE,
    UNTOUCHED,
    OwnTooth,
    Rate,
    blended,
    expected,
    own_curve,
    rate,
)
from planner.rules.treatments import treatment

DAY = date(2020, 1, 1)


def tooth(
    days: int, *mended: int, lost: int | None = None, chipped: tuple[int, ...] = (), patient: str = "a"
) -> OwnTooth:
    return OwnTooth(
        patient,
        "bonding",
        "21",
        DAY,
        DAY + timedelta(days=days),
        chipped=tuple(DAY + timedelta(days=at) for at in chipped),
        mended=tuple(DAY + timedelta(days=at) for at in mended),
        lost_on=None if lost is None else DAY + timedelta(days=lost),
    )


def test_what_ends_each_curve():
    assert tooth(400).until(UNTOUCHED) == (400, False)
    assert tooth(400, 200, 300).until(UNTOUCHED) == (200, True)
    assert tooth(400, 200).until(IN_PLACE) == (400, False)
    assert tooth(400, lost=350).until(IN_PLACE) == (350, True)
    assert tooth(400, lost=350).until(UNTOUCHED) == (350, True)
    # A chip that was left as it is was not touched; it is counted by itself.
    left = tooth(400, chipped=(100,))
    assert left.until(UNTOUCHED) == (400, False)
    assert (left.chips, left.repairs) == (1, 0)
    # What is known only of a time after it was followed is not counted.
    assert tooth(400, 500).until(UNTOUCHED) == (400, False)
    assert tooth(400, 500).repairs == 0


def test_a_chip_that_was_mended_the_same_day_is_one():
    both = tooth(400, 100, chipped=(100, 200))
    assert (both.chips, both.repairs) == (2, 1)


def test_a_rate_is_said_from_ten_teeth_on():
    """Below ten only counts are printed; common practice, no source."""
    few = rate([tooth(365, 100)] * 9, lambda one: one.repairs)
    assert few.said == "9 in 9.0 tooth-years (9 teeth, 1 person)"
    more = rate([tooth(3652, 100, patient=str(at)) for at in range(10)], lambda one: one.repairs)
    assert more.said == "10.0 for 100 tooth-years: 10 in 100.0 tooth-years (10 teeth, 10 people)"
    assert rate([], lambda one: one.repairs).said == "nothing followed yet"


def test_the_published_rate_counts_for_fifty_tooth_years():
    """50 tooth-years at 4 of 100 and 6 in 150 of one's own: (2 + 6) / 200, by hand."""
    own = Rate(6, int(150 * 365.25), 60, 20)
    assert abs(blended(own, Fraction(4)) - 4) < Fraction(1, 100)
    own = Rate(0, int(150 * 365.25), 60, 20)
    assert abs(blended(own, Fraction(4)) - 1) < Fraction(1, 1000)
    # The office's own minutes weigh in the same way: see planner.rules.clock.
    assert blended(Rate(3, 0, 1, 1), Fraction(4)) == 100 * Fraction(5, 50)


def test_expected_by_a_published_curve():
    """Ten years at a published 91.7 of 100 lets one expect -ln 0.917 first events a tooth, whoever places them."""
    curve = treatment("bonding").upkeep.curve("untouched-university")
    ten = [tooth(round(3652.5))] * 100
    assert math.isclose(float(expected(ten, curve)), -100 * math.log(0.917), rel_tol=1e-3)
    assert expected([tooth(0)], curve) == 0
    # Nothing was published beyond fifteen years, and nothing is added.
    assert expected([tooth(365 * 40)], curve) == expected([tooth(365 * 16)], curve)


def test_shares_only_as_long_as_ten_are_followed():
    teeth = [tooth(800 + at, patient=str(at)) for at in range(9)] + [
        tooth(400, 300, patient="z"),
        tooth(500, patient="y"),
    ]
    curve = own_curve(teeth, UNTOUCHED)
    assert (curve.teeth, curve.people, curve.is_few) == (11, 11, False)
    one, two = curve.by_year(2)
    assert (one.at_risk, one.failed, one.share) == (10, 1, Fraction(10, 11))
    assert one.low < Decimal(10) / 11 < one.high
    assert (two.at_risk, two.failed, two.share) == (9, 1, None)
    assert curve.drawn_days == 500
    few = own_curve(teeth[:9], UNTOUCHED)
    assert few.drawn_days == 0
    assert all(year.share is None for year in few.by_year(2))


def test_nothing_is_seen_before_it_was_done():
    with pytest.raises(ValueError, match="cannot have been seen last"):
        tooth(-1)


@st.composite
def histories(draw):
    days = draw(st.integers(0, 4000))
    at = st.integers(0, 4500)
    return tooth(
        days,
        *draw(st.lists(at, max_size=3)),
        lost=draw(st.none() | at),
        chipped=tuple(draw(st.lists(at, max_size=3))),
        patient=draw(st.sampled_from("abcdef")),
    )


@given(st.lists(histories(), min_size=1, max_size=25))
def test_laws(teeth):
    untouched, in_place = own_curve(teeth, UNTOUCHED), own_curve(teeth, IN_PLACE)
    for one in teeth:
        (until, ended), (longer, lost) = one.until(UNTOUCHED), one.until(IN_PLACE)
        assert 0 <= until <= longer == one.days
        assert ended or not lost
        assert one.repairs <= one.chips
    # Whatever was lost is no longer untouched either. Of the shares nothing follows: more may be followed for one.
    for year, other in zip(untouched.by_year(12), in_place.by_year(12), strict=True):
        assert year.at_risk <= other.at_risk
        assert year.failed >= other.failed
    found = rate(teeth, lambda one: one.repairs)
    assert found.days == sum(in_place.days)
    # Shrinkage lies between the two rates it weighs.
    if found.days:
        between = sorted((found.of_100, Fraction(4)))
        assert between[0] <= blended(found, Fraction(4)) <= between[1]


@given(st.lists(histories(), min_size=1, max_size=15))
def test_repairs_and_tooth_years_add_up_over_any_split(teeth):
    def count(rows):
        return rate(rows, lambda one: one.chips)

    whole, parts = count(teeth), [count(teeth[:5]), count(teeth[5:])]
    assert (whole.events, whole.days, whole.teeth) == (
        sum(one.events for one in parts),
        sum(one.days for one in parts),
        sum(one.teeth for one in parts),
    )
