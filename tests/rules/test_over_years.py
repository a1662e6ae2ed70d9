"""Options side by side over the years, and the words for how often something happens."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from planner.rules.bookfile import load_book
from planner.rules.chair_time import minutes_of
from planner.rules.evidence import Evidence
from planner.rules.outlook import asked_for, figures_for
from planner.rules.over_years import Crossing, MoneyYear, OptionOverYears, OverYears, crossings, is_charged, over_years
from planner.rules.results import CasePlan
from planner.rules.treatment_parts import Risk
from planner.rules.treatments import treatment
from tests.rules.test_outlook import BOOK, LEAD, ROOT, TODAY, plan, plan_facts

FACTS = plan_facts()
KEYS = [option.key for option in LEAD.options if is_charged(option)]


def found(case: CasePlan = LEAD, years: int = 30, **given: Any) -> OverYears:
    return over_years(case, FACTS, BOOK, KEYS, figures_for(FACTS, **given), years)


SIDE_BY_SIDE = found()


class TestSideBySide:
    def test_ten_years_are_the_plan_s_own_upkeep(self) -> None:
        """One figure: what the plan prints for ten years is what this page shows at ten years."""
        for option in SIDE_BY_SIDE.options:
            planned = LEAD.option(option.key)
            ten = option.at(10)
            assert ten is not None
            assert ten.total_cents == planned.estimate.compared_cents + planned.upkeep.total_cents
            assert ten.low_cents == planned.estimate.compared_cents + planned.upkeep.low_cents
            assert ten.high_cents == planned.estimate.compared_cents + planned.upkeep.high_cents

    def test_money_and_hours_never_fall(self) -> None:
        for option in SIDE_BY_SIDE.options:
            assert [each.year for each in option.money] == list(range(31))
            for one, two in pairwise(option.money):
                assert one.total_cents <= two.total_cents
                assert one.minutes <= two.minutes
                assert one.extrapolated <= two.extrapolated

    def test_university_figures_cost_less_and_say_so(self) -> None:
        there = {option.key: option for option in found(counted_in="university clinics", years=10).options}
        here = {option.key: option for option in SIDE_BY_SIDE.options}
        bonded = there["reshape-bond"]
        assert bonded.untouched is not None
        assert bonded.untouched.setting == "university clinics"
        assert bonded.untouched.counted == "667 build-ups"
        assert bonded.at(10).total_cents < here["reshape-bond"].at(10).total_cents  # type: ignore[union-attr]
        assert there["braces-then-wing-bridge"].money == here["braces-then-wing-bridge"].money[:11]

    def test_a_worn_mouth_costs_more(self) -> None:
        worn = {option.key: option for option in found(worn=True, years=10).options}["reshape-bond"]
        usual = {option.key: option for option in SIDE_BY_SIDE.options}["reshape-bond"]
        assert worn.at(5).total_cents > usual.at(5).total_cents  # type: ignore[union-attr]
        assert worn.kept is not None
        assert worn.kept.setting == "worn mouths"
        assert worn.untouched is None

    def test_a_missing_price_leaves_that_option_without_money_and_says_which(self) -> None:
        text = (ROOT / "fixtures/books/starter.toml").read_text(encoding="utf-8")
        book = load_book(text, TODAY)
        bare = over_years(LEAD, FACTS, book, ["reshape-bond"], figures_for(FACTS), 5).options[0]
        assert bare.money == ()
        assert "price" in bare.not_priced
        assert bare.kept is not None, "how long it lasts is no matter of prices"


def money(key: str, *totals: int, spread: int = 0) -> OptionOverYears:
    """An option with these totals by year and nothing else."""
    known = SIDE_BY_SIDE.options[0]
    rows = tuple(
        MoneyYear(year, total, total - spread, total + spread, Decimal(0), year > 2)
        for year, total in enumerate(totals)
    )
    return replace(known, key=key, money=rows)


class TestCrossings:
    def test_the_first_year_in_the_new_order(self) -> None:
        """Common practice, no source: by hand. b is dearer at first, equal in year 1, cheaper from year 2."""
        (crossing,) = crossings([money("a", 10, 20, 30), money("b", 15, 20, 25)])
        assert crossing == Crossing(2, "a", "b", 30, within_bands=False, extrapolated=False, alike=True)

    def test_back_and_forth(self) -> None:
        years = [each.year for each in crossings([money("a", 1, 3, 3, 9), money("b", 2, 2, 4, 5)])]
        assert years == [1, 2, 3]

    def test_ranges_that_overlap_are_said(self) -> None:
        (crossing,) = crossings([money("a", 10, 20, 30, 41, spread=10), money("b", 15, 25, 35, 40, spread=10)])
        assert (crossing.year, crossing.within_bands, crossing.extrapolated) == (3, True, True)

    def test_figures_of_two_kinds_are_not_compared_as_one(self) -> None:
        worn = replace(money("a", 10, 20, 30), special="worn mouths")
        (crossing,) = crossings([worn, replace(money("b", 15, 20, 25), special="")])
        assert not crossing.alike
        (crossing,) = crossings([worn, replace(money("b", 15, 20, 25), special="none")])
        assert crossing.alike
        kinds = {option.key: option.special for option in found(worn=True, years=2).options}
        assert (kinds["none"], kinds["reshape-bond"], kinds["ceramic-veneer"]) == ("none", "worn mouths", "")
        assert {option.special for option in SIDE_BY_SIDE.options} == {"none", ""}

    def test_touching_is_no_crossing(self) -> None:
        assert list(crossings([money("a", 1, 2, 3), money("b", 2, 2, 4)])) == []


class TestMinutes:
    def test_a_listed_service_and_the_treatment_s_own_visits(self) -> None:
        """(20 + 4 x 30 + 40) / 6 = 30 for a repair; a tooth bonded again takes set-up, one tooth and finish of the
        office's own blocks: (20+100+35)/6 + (35+180+70)/6 + (10+80+30)/6 = 93.3, by hand."""
        work = LEAD.option("reshape-bond").work
        asked = asked_for((treatment("bonding"),), work, figures_for(FACTS))
        minutes = {each.line.service: minutes_of(each, BOOK) for each in asked}
        assert minutes["small-repair"] == 30
        assert round(minutes["build-up"], 1) == Decimal("93.3")


def risk(of_100: str) -> Risk:
    row = Evidence(
        key="some-row",
        words="some event",
        measure="happened",
        value=Decimal(of_100),
        unit="of 100 people",
        certainty="memory",
        note="invented",
    )
    said = {"of": "people", "of_es": "personas", "period": "in a year", "period_es": "en un año"}
    return Risk.model_construct(words="x", words_es="x", evidence=(row,), at_years=None, **said)


@pytest.mark.parametrize(
    ("of_100", "band", "word"),
    [
        ("10", "very common", "common"),
        ("9.99", "common", "sometimes"),
        ("1", "common", "sometimes"),
        ("0.999", "uncommon", "rare"),
        ("0.1", "uncommon", "rare"),
        ("0.01", "rare", "rare"),
        ("0.009", "very rare", "rare"),
    ],
)
def test_words_for_how_often_follow_the_european_bands(of_100: str, band: str, word: str) -> None:
    """European Commission, A guideline on summary of product characteristics, 2009: very common from 1 in 10, common
    from 1 in 100, uncommon from 1 in 1,000, rare from 1 in 10,000, very rare below. Ours are three: often, sometimes,
    and rarely for the last three, so that no word promises more than its band."""
    assert risk(of_100).frequency == word
    assert {"very common": "common", "common": "sometimes"}.get(band, "rare") == word


def test_a_case_with_wear_is_reckoned_as_worn_without_being_told() -> None:
    worn = plan(wear=2)
    assert worn.option("reshape-bond").upkeep.total_cents > LEAD.option("reshape-bond").upkeep.total_cents
