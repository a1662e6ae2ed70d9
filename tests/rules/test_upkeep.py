"""Upkeep: repairs, renewals and what they cost, by hand, by simulation, and against its own laws."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.treatments import treatment
from planner.rules.upkeep import (
    Counts,
    annual_from_survival,
    cost_over_years,
    demands,
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
