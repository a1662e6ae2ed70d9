"""Upkeep: repairs, renewals and what they cost, by hand, by simulation, and against its own laws."""

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.evidence import Evidence
from planner.rules.treatment_parts import Curve, Upkeep, UpkeepLine
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


# ---------------------------------------------------------------- worked example with its own yearly rates


def steady(key, service, repaired, renewed):
    """The treatment ``key`` with rates that hold for 30 years: so much repaired and renewed a year, percent."""

    def rate(name, value):
        return Evidence(
            key=name,
            words=name,
            measure="yearly rate",
            value=value,
            unit="% a year",
            years=30,
            certainty="memory",
            note="worked example",
        )

    def curve(name, value):
        words = {"setting": "worked example", "setting_es": "ejemplo"}
        return Curve(key=name, kind="part", points=(rate(name, value),), **words)

    def line(service, follows):
        return UpkeepLine(service=service, counted="teeth", follows=follows, words=service, words_es=service)

    check = next(line for line in treatment(key).upkeep.lines if line.service == "yearly-check")
    upkeep = Upkeep(
        curves=(curve("repaired", repaired), curve("renewed", renewed)),
        lines=(check, line("small-repair", "repaired"), line(service, "renewed")),
    )
    return treatment(key).model_copy(update={"upkeep": upkeep})


class TestCostOfTimeWorkedExample:
    """Common practice, no source: fee and ten and thirty years of upkeep at steady rates from memory.

    Bonding 6 % repaired and 4 % renewed a year, ceramic faces 1 % and 1.5 %, faces of composite 7 % and 5 %; a small
    repair 150, a build-up 445, a ceramic face 1,480, a composite face 560, a yearly check 65.
    """

    BONDING = (1_618_25, 3, steady("bonding", "build-up", "6", "4"))
    CERAMIC = (6_300_00, 4, steady("ceramic-veneer", "ceramic-face", "1", "1.5"))
    DIRECT = (2_530_00, 4, steady("bonding", "direct-face", "7", "5"))
    PRICES = PRICES | {"direct-face": 560_00}

    def total(self, course, years):
        fee, teeth, built = course
        return (
            fee + cost_over_years(demands([(built, Counts(teeth=teeth))]), years, self.PRICES.__getitem__).total_cents
        )

    @pytest.mark.parametrize(
        ("course", "years", "cents"),
        [
            (BONDING, 10, 3_072_25),
            (CERAMIC, 10, 7_898_00),
            (DIRECT, 10, 4_720_00),
            (BONDING, 30, 5_980_25),
            (CERAMIC, 30, 11_094_00),
        ],
    )
    def test_ten_and_thirty_years(self, course, years, cents):
        assert self.total(course, years) == cents

    def test_at_steady_rates_they_never_cross(self):
        assert all(self.total(self.BONDING, years) < self.total(self.CERAMIC, years) for years in (1, 10, 20, 30))


# ---------------------------------------------------------------- against a simulation


def test_mean_and_band_against_a_plain_simulation():
    """Renewals as independent throws for every tooth and year with numpy: mean n h t, and the 10th and 90th of 100.

    The closed form of a steady hazard is the mean of a binomial count.
    """
    asked = demands([(steady("ceramic-veneer", "ceramic-face", "6", "4"), Counts(teeth=4))])
    prices = {"yearly-check": 0, "small-repair": 150_00, "ceramic-face": 1_480_00}
    found = cost_over_years(asked, 20, prices.__getitem__, draws=4000)
    dice = np.random.default_rng(11)
    repairs = dice.binomial(4 * 20, 0.06, 20_000)
    renewed = dice.binomial(4 * 20, 0.04, 20_000)
    drawn = 150_00 * repairs + 1_480_00 * renewed
    assert found.total_cents == 80 * (6 * 150 + 4 * 1_480)
    assert abs(drawn.mean() / found.total_cents - 1) < 0.02
    low, high = np.percentile(drawn, [10, 90])
    assert abs(found.low_cents / low - 1) < 0.08
    assert abs(found.high_cents / high - 1) < 0.05


class TestWhereCounted:
    def test_university_figures_mend_and_seldom_renew(self):
        """91.7 untouched and 98.9 in place at ten years: 3 x (0.0866 - 0.011 in hazards) repairs, by hand."""
        there = demands([(treatment("bonding"), Counts(teeth=3))], counted_in="university clinics")
        number = {each.words: each.number for each in cost_over_years(there, 10, PRICES.__getitem__).services}
        assert abs(number["Small repairs"] - 3 * Decimal("0.0745")) < Decimal("0.005")
        assert abs(number["A tooth bonded again"] - 3 * Decimal("0.0110")) < Decimal("0.0005")

    def test_worn_mouths_renew_most_and_are_not_doubled_for_grinding(self):
        """Half still there at five years: 12.9 of 100 a year (Ahmed and Murbay 2016, summary read)."""
        part = [(treatment("bonding"), Counts(teeth=1))]
        worn = cost_over_years(demands(part, worn=True), 5, PRICES.__getitem__)
        again = next(each.number for each in worn.services if each.words == "A tooth bonded again")
        assert abs(again - 5 * Decimal("0.1294")) < Decimal("0.001")
        assert cost_over_years(demands(part, grinding=True, worn=True), 5, PRICES.__getitem__) == worn

    def test_a_treatment_with_one_kind_of_figures_keeps_them(self):
        part = [(treatment("wing-bridge"), Counts(places=1))]
        assert demands(part) == demands(part, counted_in="university clinics", worn=True)


def test_the_band_widens_faster_than_the_sum_beyond_what_was_published():
    cost = upkeep(("ceramic-veneer", Counts(teeth=4)), years=30)
    ten, thirty = cost.years[9], cost.years[29]
    assert (thirty.high_cents - thirty.low_cents) > 2 * (ten.high_cents - ten.low_cents)
    assert thirty.low_cents < thirty.so_far_cents < thirty.high_cents
