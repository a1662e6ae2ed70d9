"""What an option may come to: each number as published, in the setting it was counted in, and led to its source."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from planner.rules.bookfile import load_book
from planner.rules.casefile import validate_case
from planner.rules.evidence import CERTAINTY_WORDS
from planner.rules.mouth import CaseFacts
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan
from planner.rules.survival import all_without_event
from planner.rules.treatments import all_treatments
from tests.rules.test_casefile import TODAY, lead

ROOT = Path(__file__).resolve().parents[2]
BOOK = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), TODAY)


def plan_facts(**bite: Any) -> CaseFacts:
    data = lead()
    wear = bite.pop("wear", None)
    data["examination"]["bite"] |= bite
    if wear is not None:
        data["examination"]["teeth"][3] |= {"wear": wear, "wear_cause": "acid"}
    return validate_case(data, TODAY)


def plan(**bite: Any) -> CasePlan:
    return plan_case(plan_facts(**bite), BOOK, TODAY)


LEAD = plan()


class TestLasting:
    def test_three_teeth_for_one_person(self) -> None:
        """0.79 ** 3 = 0.493: 49 people without anything on any of three teeth, 51 with something (arithmetic)."""
        words = LEAD.option("reshape-bond").lasts_words
        assert "Of 100 people with 3 such teeth, about 49 need nothing done to any of them in 5 years" in words
        assert "51 need something done to at least one" in words
        assert round(all_without_event(Decimal(79), 3)) == 49
        assert "49 no necesitan nada en ninguno en 5 años" in LEAD.option("reshape-bond").lasts_words_es

    def test_one_tooth_needs_no_such_sentence(self) -> None:
        assert "Of 100 people" not in LEAD.option("braces-then-bonding").lasts_words

    def test_joined_sentences_say_what_stays_and_what_fades(self) -> None:
        words = LEAD.option("whiten-then-reshape-bond").lasts_words
        assert "The lighter shade fades" in words
        assert "The shorter edge stays." in words


class TestCurves:
    def test_two_settings_are_named(self) -> None:
        upkeep = LEAD.option("reshape-bond").upkeep
        assert "university clinics" in upkeep.curve_words
        assert "general practices" in upkeep.curve_words
        assert "clínicas universitarias" in upkeep.curve_words_es
        assert LEAD.option("ceramic-veneer").upkeep.curve_words == "Counted in: one private practice (n = 416)."

    def test_the_source_s_range_and_number_stand_beside_the_share(self) -> None:
        """91.7 (89.0 to 93.8) of 667 and the best and worst dentists of 72,196 fillings, as printed there."""
        upkeep = LEAD.option("reshape-bond").upkeep
        at = {point.years: point for point in upkeep.curve}
        assert (at[10].still_in_place_of_100, at[10].still_in_place_range) == (99, (98, 100))
        assert (at[5].untouched_of_100, at[5].untouched_range) == (79, (56, 90))
        assert at[10].untouched_of_100 is at[10].untouched_range is None, "published for five years only"
        assert "n = 667" in upkeep.curve_words
        assert "n = 72.196" in upkeep.curve_words_es, "as Spanish writes it"

    @pytest.mark.parametrize("option", [option.key for option in LEAD.options])
    def test_no_more_are_untouched_than_are_in_place(self, option: str) -> None:
        for point in LEAD.option(option).upkeep.curve:
            if point.still_in_place_of_100 is not None and point.untouched_of_100 is not None:
                assert point.untouched_of_100 <= point.still_in_place_of_100

    @pytest.mark.parametrize("worn", [{"wear": 2}, {"grinding": "confirmed"}])
    def test_a_worn_mouth_gets_the_figures_of_worn_mouths(self, worn: dict[str, Any]) -> None:
        """About half still there at five years (Ahmed and Murbay 2016, summary read)."""
        upkeep = plan(**worn).option("reshape-bond").upkeep
        assert [(point.years, point.still_in_place_of_100) for point in upkeep.curve][-1] == (5, 50)
        assert all(point.untouched_of_100 is None for point in upkeep.curve)
        assert "worn mouths" in upkeep.curve_words


class TestGrinding:
    def test_chips_double_only_where_no_guard_is_worn(self) -> None:
        worn = plan(grinding="confirmed", guard_agreed=True, guard_nights_per_week=5).option("reshape-bond").upkeep
        seldom = plan(grinding="confirmed", guard_agreed=True, guard_nights_per_week=4).option("reshape-bond").upkeep
        unasked = plan(grinding="confirmed", guard_agreed=None).option("reshape-bond").upkeep
        assert worn.total_cents == LEAD.option("reshape-bond").upkeep.total_cents
        assert seldom.total_cents > worn.total_cents
        assert unasked.total_cents == seldom.total_cents


class TestWords:
    def test_nothing_is_told_twice(self) -> None:
        for option in LEAD.options:
            for told in (option.benefits, option.risks):
                assert len({chance.words for chance in told}) == len(told)

    def test_everything_from_the_catalogue_is_there_in_spanish(self) -> None:
        for option in LEAD.options:
            assert all(chance.words_es for chance in (*option.benefits, *option.risks))
            assert all(chance.group_es and chance.period_es for chance in option.risks if chance.of_100_low is not None)
            for name in ("you_must", "later", "does_not", "undo_words", "lasts_words"):
                assert bool(getattr(option, name)) == bool(getattr(option, f"{name}_es"))
            assert option.name_es
            assert option.estimate.not_included_es
            assert all(line.words_es for line in option.estimate.lines)

    def test_two_plans_of_one_treatment_have_two_names_in_both_languages(self) -> None:
        names = [(option.name, option.name_es) for option in LEAD.options]
        assert len({name for name, _ in names}) == len({name for _, name in names}) == len(names)

    def test_serious_risks_say_so(self) -> None:
        serious = {risk.words for risk in all_treatments()["implant-crown"].risks if risk.serious}
        told = {chance.words for chance in LEAD.option("braces-then-implant").risks if chance.serious}
        assert serious <= told

    def test_every_source_that_is_named_is_listed_with_how_it_is_known(self) -> None:
        listed = {line.key: line for line in LEAD.evidence}
        for option in LEAD.options:
            named = {key for _, keys in option.word_sources for key in keys} | set(option.upkeep.sources)
            named |= {key for chance in option.risks for key in chance.evidence.split(", ") if key}
            assert named <= set(listed)
        assert all(line.certainty in CERTAINTY_WORDS for line in LEAD.evidence)
        assert "bonding-yearly-practice" in dict(LEAD.option("reshape-bond").word_sources)["lasts_words"]


class TestReduced:
    def test_a_baby_tooth_that_makes_way_is_counted_once_and_not_as_reduced(self) -> None:
        option = LEAD.option("braces-then-implant")
        assert option.teeth_reduced == 0
        assert option.rank.teeth_reduced == 1  # taken out for good, and ranked so

    def test_a_carrier_that_is_thinned_counts(self) -> None:
        assert LEAD.option("braces-then-wing-bridge").teeth_reduced == 1


class TestRisksOfTheWorkDone:
    def test_enamel_off_the_sides_is_no_risk_of_a_shorter_edge(self) -> None:
        for key in ("reshaping", "reshape-bond"):
            assert not any("from the sides" in risk.words for risk in LEAD.option(key).risks)
        data = lead()
        lock = {"tooth": "13", "what": "slenderise mesial", "value": "0.2", "reason": "x", "by": "Dr Imke Sorrel"}
        data["choices"]["locks"].append(lock)
        narrowed = plan_case(validate_case(data, TODAY), BOOK, TODAY).option("reshaping")
        assert sum("from the sides" in risk.words for risk in narrowed.risks) == 2

    def test_a_dead_nerve_is_told_where_there_is_one(self) -> None:
        assert not any("dead nerve" in risk.words for risk in LEAD.option("direct-face").risks)
        data = lead()
        data["examination"]["teeth"][3]["root_treated"] = True
        found = plan_case(validate_case(data, TODAY), BOOK, TODAY).option("direct-face")
        assert any("dead nerve" in risk.words for risk in found.risks)
