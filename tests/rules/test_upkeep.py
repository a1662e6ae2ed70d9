"""Survival and upkeep against published input and output, and against their own laws."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules import survival as curves
from planner.rules.treatments import treatment
from planner.rules.upkeep import (
    Counts,
    all_without_event,
    annual_from_survival,
    cost_over_years,
    demands,
    survival,
    survival_at,
    survival_from_annual,
    survival_from_hazard,
    tooth_account,
)

# Invented prices of the demo office, in cents.
PRICES = {
    "yearly-check": 65_00,
    "small-repair": 150_00,
    "build-up": 445_00,
    "ceramic-face": 1_480_00,
    "whitening-refill": 48_00,
    "wing-bridge": 2_650_00,
    "implant-placing": 2_350_00,
    "implant-crown": 2_450_00,
    "clear-retainer": 320_00,
}


def upkeep(*treatments, years=10, grinding=False, seed=20260302):
    asked = demands([(treatment(key), counts) for key, counts in treatments], grinding)
    return cost_over_years(asked, years, PRICES.__getitem__, seed=seed)


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
    with pytest.raises(ValueError, match="at least 1"):
        upkeep(("none", Counts()), years=0)


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
        rates = [curves.yearly_hazard(curve, year) for year in range(1, 31)]
        assert max(rates[:10]) - min(rates[:10]) < Decimal("1e-15")
        assert rates[10:] == sorted(rates[10:])
        assert rates[10] > rates[9]


def test_a_plan_of_three_teeth_is_less_often_untouched_than_one_tooth():
    """Three teeth at 79 of 100 each, independent: 0.79 cubed leaves 49 of 100 people without an event, 51 with one."""
    assert round(all_without_event(79, 3)) == 49
    assert all_without_event(79, 1) == 79


class TestTenYearsOfTheDemo:
    """The demo office's invented prices; the rates are the evidence's. ``docs/upkeep.md`` explains the figures."""

    def test_a_yearly_check_applies_to_every_option(self):
        assert upkeep(("none", Counts())).total_cents == 650_00
        assert upkeep(("reshaping", Counts(teeth=1))).total_cents == 650_00
        assert upkeep(("reshaping", Counts(teeth=1)), ("bonding", Counts())).total_cents == 650_00

    def test_whitening_adds_five_refills(self):
        cost = upkeep(("whitening", Counts()))
        assert cost.total_cents == 650_00 + 5 * 48_00
        assert (cost.low_cents, cost.high_cents) == (cost.total_cents, cost.total_cents)

    def test_three_bonded_teeth(self):
        """4.6 % a year (Collares 2017), of which 31.3 % repairs (Kanzow 2018): by hand
        3 x 10 x 0.046 x (0.313 x 150 + 0.687 x 445) = 486.67 beside the checks."""
        by_hand = 3 * 10 * Decimal("0.046") * (Decimal("0.313") * 150 + Decimal("0.687") * 445)
        cost = upkeep(("bonding", Counts(teeth=3)))
        assert abs(cost.total_cents - 650_00 - by_hand * 100) < 1
        assert cost.total_cents == 1_136_68

    def test_four_ceramic_faces(self):
        """By hand from the shares that Mazzetti's yearly rates leave at five and ten years."""
        kept = {5: 100 * Decimal("0.986") ** 5, 10: 100 * Decimal("0.988") ** 10}
        untouched = {5: 100 * Decimal("0.971") ** 5, 10: 100 * Decimal("0.972") ** 10}

        def events(points):
            first = annual_from_survival(points[5], 5) / 100
            second = annual_from_survival(100 * points[10] / points[5], 5) / 100
            return 5 * (first + second)

        renewed, any_event = events(kept), events(untouched)
        by_hand = 4 * (renewed * 1480 + (any_event - renewed) * 150)
        cost = upkeep(("ceramic-veneer", Counts(teeth=4)))
        assert abs(cost.total_cents - 650_00 - by_hand * 100) < 1

    def test_grinding_without_a_guard_doubles_the_events(self):
        quiet, loud = upkeep(("bonding", Counts(teeth=3))), upkeep(("bonding", Counts(teeth=3)), grinding=True)
        assert quiet.total_cents < loud.total_cents
        assert 1.9 < loud.services[1].number / quiet.services[1].number < 2.0

    def test_a_wire_is_not_kept_up_where_the_bridge_stands(self):
        alone = upkeep(("braces", Counts(arches=2)))
        with_bridge = upkeep(("braces", Counts(arches=2)), ("wing-bridge", Counts(places=1)))
        assert any(service.words == "The retainer wire glued again" for service in alone.services)
        assert all(service.words != "The retainer wire glued again" for service in with_bridge.services)

    @pytest.mark.parametrize(
        ("row", "treatments"),
        [
            ("Nothing", [("none", Counts())]),
            ("Whitening |", [("whitening", Counts())]),
            ("Bond three teeth", [("reshaping", Counts(teeth=1)), ("bonding", Counts(teeth=3))]),
            ("Whitening, then", [("whitening", Counts()), ("bonding", Counts(teeth=3))]),
            ("Ceramic faces", [("ceramic-veneer", Counts(teeth=4))]),
        ],
    )
    def test_the_page_prints_these_figures(self, row, treatments):
        page = (Path(__file__).parents[2] / "docs" / "upkeep.md").read_text(encoding="utf-8")
        line = next(line for line in page.splitlines() if line.startswith(f"| {row}"))
        cost = upkeep(*treatments)
        assert f"{cost.total_cents / 100:,.2f}" in line
        if cost.low_cents != cost.high_cents:
            assert f"{cost.low_cents // 100:,} to {cost.high_cents // 100:,}" in line

    def test_years_beyond_the_source_are_named(self):
        assert upkeep(("ceramic-veneer", Counts(teeth=4))).extrapolated_from is None
        assert upkeep(("ceramic-veneer", Counts(teeth=4)), years=12).extrapolated_from == 11
        assert upkeep(("bonding", Counts(teeth=3))).extrapolated_from == 6

    @pytest.mark.parametrize("years", [1, 10, 23])
    def test_lines_and_years_add_up_to_the_cent(self, years):
        cost = upkeep(("whitening", Counts()), ("bonding", Counts(teeth=3)), years=years)
        assert sum(service.cents for service in cost.services) == cost.total_cents
        assert sum(year.cents for year in cost.years) == cost.total_cents == cost.years[-1].so_far_cents

    def test_the_band_is_repeatable_and_holds_the_expected_sum(self):
        one, two = upkeep(("bonding", Counts(teeth=3))), upkeep(("bonding", Counts(teeth=3)))
        assert one == two
        assert one.low_cents < one.total_cents < one.high_cents
        assert one.low_cents >= 650_00

    def test_the_band_holds_8_of_10_draws_of_another_seed(self):
        """A 10-90 band from one seed covers about 80 of 100 single draws of others."""
        cost = upkeep(("ceramic-veneer", Counts(teeth=4)))
        asked = demands([(treatment("ceramic-veneer"), Counts(teeth=4))])
        singles = [cost_over_years(asked, 10, PRICES.__getitem__, seed=seed, draws=1).low_cents for seed in range(60)]
        inside = sum(cost.low_cents <= single <= cost.high_cents for single in singles)
        assert 45 <= inside <= 60


@settings(max_examples=25)
@given(st.integers(1, 6), st.integers(1, 15))
def test_more_teeth_and_more_years_never_cost_less(teeth, years):
    asked = demands([(treatment("ceramic-veneer"), Counts(teeth=teeth))])
    more = demands([(treatment("ceramic-veneer"), Counts(teeth=teeth + 1))])
    cost = cost_over_years(asked, years, PRICES.__getitem__, draws=1)
    assert cost.total_cents <= cost_over_years(more, years, PRICES.__getitem__, draws=1).total_cents
    assert cost.total_cents <= cost_over_years(asked, years + 1, PRICES.__getitem__, draws=1).total_cents


def test_account_of_tooth_over_23_years():
    """From 47 to 70: renewed faces cost tooth and one in ten steps up; a renewed addition costs almost none."""
    ceramic, bonded = tooth_account(treatment("ceramic-veneer"), 4, 23), tooth_account(treatment("bonding"), 3, 23)
    assert ceramic.step_ups == ceramic.renewals / 10
    assert ceramic.renewal_mm == (ceramic.renewals * Decimal("0.1"), ceramic.renewals * Decimal("0.2"))
    assert bonded.first_tenths == (0, 0)
    assert bonded.renewal_mm == (0, bonded.renewals * Decimal("0.05"))
    assert tooth_account(treatment("whitening"), 6, 23).renewals == 0
