"""Survival against published input and output, and against its own laws."""

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.survival import (
    all_without_event,
    annual_from_survival,
    curve_by_year,
    survival,
    survival_at,
    survival_from_annual,
    survival_from_hazard,
    yearly_hazard,
)
from planner.rules.treatments import treatment


def near(value, printed):
    """Within half of the last digit that the source prints."""
    last = Decimal(1).scaleb(Decimal(printed).as_tuple().exponent)
    return abs(value - Decimal(printed)) <= last / 2


class TestPublishedChecks:
    """Input and output are both printed in the source; the tolerance is half the last printed digit."""

    @pytest.mark.parametrize(("per_1000", "printed"), [("34.1", "71.1"), ("16", "85.2"), ("74", "47.7")])
    def test_hazard_of_bridges(self, per_1000, printed):
        """34.1 (16 to 74) failures per 1,000 bridge-years, ten years by exp(-10 x rate): 71.1 (47.7 to 85.2).

        Rate and formula: Evidence-Based Dentistry 2005;6(3):74-75. Result: Tan and others, Clin Oral Implants Res
        2004;15:654-666. The bounds change places.
        """
        assert near(survival_from_hazard(Decimal(per_1000) / 10, 10), printed)

    def test_a_hazard_is_not_a_yearly_probability(self):
        """The same source: 34.1 read as a yearly probability gives 70.7, not the printed 71.1."""
        assert near(survival_from_annual("3.41", 10), "70.7")
        assert not near(survival_from_annual("3.41", 10), "71.1")

    @pytest.mark.parametrize(("years", "printed"), [(1, "98.0"), (5, "90.5")])
    def test_hazard_at_two_horizons(self, years, printed):
        """2.0 a year leaves 98.0 and 90.5 (transplanted teeth): Chung and others, J Clin Periodontol 2014;41:412."""
        assert near(survival_from_hazard("2.0", years), printed)

    @pytest.mark.parametrize(("failed", "of", "printed"), [(15, 120, "2.74"), (38, 80, "12.6")])
    def test_crude_failures_to_yearly_rate(self, failed, of, printed):
        """15 of 120 and 38 of 80 in 4.8 years: 2.74 and 12.6 % a year. Vieira and others, J Dent Oral Care 2024."""
        kept = 100 * (1 - Decimal(failed) / of)
        assert near(annual_from_survival(kept, "4.8"), printed)

    @pytest.mark.parametrize(("ten_years", "printed"), [("63", "20.6"), ("71.1", "15.7")])
    def test_another_horizon(self, ten_years, printed):
        """Success at ten years, complications at five. Pjetursson and Tan reviews 2004 (Clin Oral Implants Res 15),
        five-year figures as a textbook table derives them from the same reviews."""
        assert near(100 - survival([(10, ten_years)], 5), printed)

    def test_half_life(self):
        """Half of the dentures gone at ten years is printed as the half-life: Vermeulen and others, J Prosthet Dent
        1996;76:267-272. The printed 75 at five years must *not* follow from it: the rate was not constant."""
        assert near(annual_from_survival(50, 10), "6.70")
        assert near(survival([(10, 50)], 5), "70.7")
        assert survival([(5, 75), (10, 50)], 5) == 75


shares = st.decimals(min_value=1, max_value=100, places=2)
times = st.decimals(min_value=0, max_value=40, places=2)


@st.composite
def published(draw):
    years = sorted(draw(st.sets(st.integers(1, 30), min_size=1, max_size=4)))
    falling = sorted((draw(shares) for _ in years), reverse=True)
    return list(zip(years, falling, strict=True))


@given(published(), times, times)
def test_a_curve_never_rises_and_stays_within_0_and_100(points, one, other):
    early, late = sorted((one, other))
    assert 0 < survival(points, late) <= survival(points, early) <= 100


@given(published())
def test_a_curve_starts_at_100_and_passes_through_its_points(points):
    assert survival(points, 0) == 100
    for year, share in points:
        assert survival(points, year) == share


@given(shares, st.decimals(min_value="0.5", max_value=40, places=1))
def test_yearly_rate_and_share_undo_each_other(share, years):
    assert abs(survival_from_annual(annual_from_survival(share, years), years) - share) < Decimal("1e-15")


@given(published(), st.integers(0, 25))
def test_beyond_the_last_point_the_last_rate_goes_on(points, more):
    last = points[-1][0]
    one_year = survival(points, last + 1) / survival(points, last)
    expected = survival(points, last) * one_year**more
    assert abs(survival(points, last + more) - expected) < Decimal("1e-15")


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([], "at least one point"),
        ([(5, 90), (5, 80)], "two points at 5"),
        ([(5, 80), (10, 90)], "rises"),
        ([(5, 0)], "above 0"),
        ([(5, 101)], "at most 100"),
    ],
)
def test_points_that_are_no_curve_are_refused(points, why):
    with pytest.raises(ValueError, match=why):
        survival(points, 3)


def test_times_and_shares_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="before the start"):
        survival([(5, 90)], -1)
    with pytest.raises(ValueError, match="yearly rate"):
        annual_from_survival(90, 0)
    with pytest.raises(ValueError, match="0 to 100"):
        annual_from_survival(120, 5)


class TestReadingACurve:
    def test_between_published_points_names_both(self):
        curve = treatment("wing-bridge").upkeep.curve("in-place-pooled")
        seven = survival_at(curve, 7)
        assert not seven.extrapolated
        assert [row.key for row in seven.source] == ["wing-bridge-5y", "wing-bridge-10y"]
        assert seven.share == survival([(5, "91.4"), (10, "82.9")], 7)

    def test_beyond_the_last_year_says_so(self):
        curve = treatment("wing-bridge").upkeep.curve("in-place-pooled")
        assert not survival_at(curve, 10).extrapolated
        twelve = survival_at(curve, 12)
        assert twelve.extrapolated
        assert [row.key for row in twelve.source] == ["wing-bridge-10y"]

    def test_rates_rise_beyond_year_ten_only(self):
        curve = treatment("bonding").upkeep.curve("untouched-practice")
        rates = [yearly_hazard(curve, year) for year in range(1, 31)]
        assert max(rates[:10]) - min(rates[:10]) < Decimal("1e-15")
        assert rates[10:] == sorted(rates[10:])
        assert rates[10] > rates[9]


def test_a_plan_of_three_teeth_is_less_often_untouched_than_one_tooth():
    """Three teeth at 79 of 100 each, independent: 0.79 cubed leaves 49 of 100 people without an event, 51 with one."""
    assert round(all_without_event(79, 3)) == 49
    assert all_without_event(79, 1) == 79


class TestByYear:
    def test_within_the_published_years_it_passes_through_points_and_bounds(self):
        """Build-ups in three university clinics (J Adhes Dent 2020;22:573-580): 91.7 (89.0 to 93.8) of 667 at ten."""
        years = curve_by_year(treatment("bonding").upkeep.curve("untouched-university"), 15)
        assert (years[10].share, years[10].low, years[10].high) == (Decimal("91.7"), Decimal("89.0"), Decimal("93.8"))
        assert (years[15].share, years[15].low, years[15].high) == (Decimal("77.6"), Decimal("72.2"), Decimal("82.2"))
        assert not any(year.extrapolated for year in years)

    def test_best_and_worst_dentists_make_the_band_where_the_source_prints_them(self):
        """2 and 11 % a year among 47 dentists: 0.98 and 0.89 to the fifth, by hand."""
        five = curve_by_year(treatment("bonding").upkeep.curve("untouched-practice"), 5)[5]
        assert round(five.high, 1) == Decimal("90.4")
        assert round(five.low, 1) == Decimal("55.8")

    def test_no_band_where_the_source_prints_none(self):
        years = curve_by_year(treatment("ceramic-veneer").upkeep.curve("in-place-practice"), 12)
        assert all(year.low is None and year.high is None for year in years)

    @pytest.mark.parametrize("key", ["untouched-practice", "untouched-university", "in-place-university"])
    def test_beyond_the_data_it_is_marked_and_the_band_widens(self, key):
        curve = treatment("bonding").upkeep.curve(key)
        years = curve_by_year(curve, 30)
        last = int(curve.last_year)
        assert [year.extrapolated for year in years] == [year > last for year in range(31)]
        for one, two in pairwise(years):
            assert two.low <= two.share <= two.high
            assert two.share < one.share or two.share == one.share == 100
        # The band counted in hazards, so that the falling share itself does not hide how it widens.
        wide = [float((year.high / year.low).ln() / (year.share / 100).ln() * -1) for year in (years[last], years[30])]
        assert wide[1] > wide[0]

    def test_the_picture_and_the_money_go_by_the_same_rates(self):
        curve = treatment("ceramic-veneer").upkeep.curve("untouched-practice")
        years = curve_by_year(curve, 30)
        lasting = sum((yearly_hazard(curve, year) for year in range(1, 31)), Decimal(0))
        assert abs(years[30].share - 100 * (-lasting).exp()) < Decimal("1e-15")
