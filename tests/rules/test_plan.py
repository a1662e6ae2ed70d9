"""The whole computation on the lead demo case: fee, verdicts, order, and that it is the same every time."""

import subprocess
import sys
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.casefile import validate_case
from planner.rules.frozen import thaw
from planner.rules.plan import plan_case, rules_hash, share_spaces
from planner.rules.results import CasePlan
from planner.rules.verdicts import Verdict
from tests.rules.test_casefile import TODAY, changed, lead

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def book() -> OfficeBook:
    return load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), TODAY)


@pytest.fixture(scope="module")
def plan(book: OfficeBook) -> CasePlan:
    return plan_case(validate_case(lead(), TODAY), book, TODAY)


def planned(data: dict[str, Any], book: OfficeBook, day: date = TODAY) -> CasePlan:
    return plan_case(validate_case(data, day), book, day)


class TestLeadCase:
    """Figures of the invented office; the arithmetic was worked by hand."""

    def test_fee_of_the_additions(self, plan: CasePlan) -> None:
        """3 × 445 − 5 % + 4 × 55 + 70 + 60 = 1,618.25; the night guard stands beside it."""
        money = plan.option("reshape-bond").estimate
        assert money.total_cents == 161_825
        assert money.discount_cents == 6_675
        assert [line.service for line in money.beside] == ["night-guard"]
        assert money.compared_cents == 161_825 + 56_000

    @pytest.mark.parametrize(
        ("key", "cents"),
        [
            ("none", 0),
            ("reshaping", 6_000),
            ("whitening", 44_070),
            ("whiten-then-reshape-bond", 205_895),
            ("direct-face", 253_000),
            ("lab-face", 358_000),  # 4 × 840 and 4 × 55
            ("ceramic-veneer", 630_000),
            ("crown", 686_000),
            ("wing-bridge", 0),
            ("bridge", 0),
            ("removable-tooth", 0),
            ("braces-then-bonding", 789_000),
            # 6,400 + 640 + 280, the lateral once with wax-up and index (445 + 55 + 70), half of 445 to finish
            ("bond-then-braces", 811_250),
            ("braces-then-wing-bridge", 978_500),  # 9,690 and 95 for the baby tooth
            ("braces-then-implant", 1_255_500),  # 12,460 and 95 for the baby tooth
        ],
    )
    def test_fees(self, plan: CasePlan, key: str, cents: int) -> None:
        assert plan.option(key).estimate.total_cents == cents

    @pytest.mark.parametrize(
        ("key", "verdict"),
        [
            ("none", Verdict.OFFER),
            ("reshaping", Verdict.OFFER),
            ("whitening", Verdict.OFFER),
            ("reshape-bond", Verdict.CARE),
            ("whiten-then-reshape-bond", Verdict.CARE),
            ("direct-face", Verdict.CARE),
            ("lab-face", Verdict.NO),
            ("ceramic-veneer", Verdict.NO),
            ("crown", Verdict.NO),
            ("wing-bridge", Verdict.NO),
            ("bridge", Verdict.NO),
            ("removable-tooth", Verdict.NO),
            ("braces-then-bonding", Verdict.OFFER),
            ("braces-then-wing-bridge", Verdict.ASK),
            ("braces-then-implant", Verdict.ASK),
        ],
    )
    def test_verdicts(self, plan: CasePlan, key: str, verdict: Verdict) -> None:
        assert plan.option(key).verdict is verdict

    def test_additions_are_care_only_for_the_canine_that_plays_the_lateral(self, plan: CasePlan) -> None:
        [reason] = plan.option("reshape-bond").reasons
        assert "0.876" in reason.words
        assert "0.7 mm wider" in reason.words

    def test_what_needs_an_empty_place_says_that_there_is_none(self, plan: CasePlan) -> None:
        for key in ("wing-bridge", "bridge", "removable-tooth"):
            assert any(reason.gate == "place.none" for reason in plan.option(key).reasons)

    def test_crowns_are_out_because_the_teeth_are_sound(self, plan: CasePlan) -> None:
        [reason] = [reason for reason in plan.option("crown").reasons if reason.gate == "crown.sound"]
        assert (reason.verdict, reason.second_dentist) == (Verdict.NO, True)

    def test_composite_faces_take_nothing_but_the_agreed_half_millimetre(self, plan: CasePlan) -> None:
        option = plan.option("direct-face")
        off = {line.tooth.key: line.removal_tenths for line in option.work if line.tooth and line.removal_tenths}
        assert [(plan.teeth[key].iso, tenths) for key, tenths in off.items()] == [("13", 5)]
        assert (option.undo, option.teeth_reduced) == (2, 1)
        assert {reason.gate for reason in option.reasons} == {"canine-as-lateral"}

    def test_faces_are_out_by_his_own_limit(self, plan: CasePlan) -> None:
        own = [reason for reason in plan.option("ceramic-veneer").reasons if reason.patient_limit]
        assert {reason.verdict for reason in own} == {Verdict.NO}
        assert any("0.5 mm" in reason.words for reason in own)

    def test_space_plan(self, plan: CasePlan) -> None:
        """The shares that a general mixed-integer solver gave for this case."""
        shown = next(each for each in plan.spaces.plans if each.key == plan.spaces.chosen)
        changes = {
            plan.teeth[tooth.tooth.key].iso: (
                tooth.right_tenths,
                tooth.left_tenths,
                tooth.lengthening_tenths,
                tooth.shortening_tenths,
            )
            for tooth in shown.teeth
        }
        assert changes == {
            "53": (0, 0, 0, 0),
            "13": (0, 0, 0, 5),
            "11": (3, 3, 0, 0),
            "21": (5, 0, 0, 0),
            "22": (7, 9, 10, 0),
            "23": (0, 0, 0, 0),
        }
        assert shown.misfit == 340
        assert set(shown.names) == {"fewest teeth", "best proportion"}
        assert shown.gaps[0].left_open_tenths == 5

    def test_minutes(self, plan: CasePlan) -> None:
        """Three teeth and one reshaping, worked by hand: mean 194, 8 in 10 within 207, booked 210."""
        minutes = plan.option("reshape-bond").minutes
        assert (minutes.mean, minutes.eight_in_ten, minutes.nine_in_ten, minutes.booked) == (194, 207, 214, 210)

    def test_wishes_and_recommendation(self, plan: CasePlan) -> None:
        assert [answer.met for answer in plan.option("reshape-bond").wishes] == [True, True, True]
        assert [answer.met for answer in plan.option("reshaping").wishes] == [False, True, True]
        assert plan.recommended == "reshape-bond"

    def test_gentlest_first_and_not_offered_last(self, plan: CasePlan) -> None:
        keys = [option.key for option in plan.options]
        assert keys[0] == "none"
        assert keys.index("reshaping") < keys.index("reshape-bond") < keys.index("braces-then-bonding")
        assert keys.index("reshape-bond") < keys.index("direct-face") < keys.index("braces-then-bonding")
        assert keys.index("ceramic-veneer") < keys.index("crown")
        out = {option.key for option in plan.options if option.verdict is Verdict.NO}
        assert set(keys[-len(out) :]) == out
        assert all(option.rank.decided_by for option in plan.options[1:])

    def test_deposit(self, plan: CasePlan) -> None:
        """290 made at once + 20 % of the 1,328.25 left = 555.65, to the nearest ten."""
        assert plan.option("reshape-bond").estimate.deposit_cents == 56_000

    def test_upkeep_of_doing_nothing_is_ten_yearly_checks(self, plan: CasePlan) -> None:
        assert plan.option("none").upkeep.total_cents == 10 * 6_500

    def test_the_measurements_that_decide(self, book: OfficeBook) -> None:
        spaces = share_spaces(validate_case(lead(), TODAY), book, sensitivity=True)
        flips = [line.split(",")[0] for line in spaces.remeasure if "the answer changes" in line]
        assert sorted(flips) == ["gap 13·11", "gap 53·13"]


class TestOtherTurns:
    def test_a_positive_resin_allergy_ends_everything_bonded(self, book: OfficeBook) -> None:
        plan = planned(changed("history.methacrylate", "positive"), book)
        for key in ("reshape-bond", "whiten-then-reshape-bond", "ceramic-veneer", "braces-then-bonding"):
            assert plan.option(key).verdict is Verdict.NO
        assert plan.option("none").verdict is Verdict.OFFER

    def test_an_absent_tooth_without_picture_asks(self, book: OfficeBook) -> None:
        plan = planned(changed("pictures", []), book)
        assert plan.option("reshape-bond").verdict is Verdict.ASK
        assert any(reason.gate.startswith("G9") for reason in plan.option("reshape-bond").reasons)

    def test_a_film_question_asks(self, book: OfficeBook) -> None:
        plan = planned(changed("examination.gaps.1.width", "0.2"), book)
        assert plan.spaces.verdict == "film question"
        assert plan.option("bonding").verdict is Verdict.ASK

    def test_a_missing_gap_is_measured_first(self, book: OfficeBook) -> None:
        data = lead()
        del data["examination"]["gaps"][2]
        plan = planned(data, book)
        assert plan.spaces.verdict == "measure first"
        assert "not measured" in plan.spaces.questions[0]
        assert plan.option("bonding").verdict is Verdict.ASK

    def test_nothing_recorded_but_the_person(self, book: OfficeBook) -> None:
        data = lead()
        data["examination"] = {"on": data["examination"]["on"], "by": "Chair 1"}
        data["history"], data["choices"], data["pictures"], data["wishes"] = {}, {}, [], []
        plan = planned(data, book)
        assert [option.key for option in plan.options if option.verdict in (Verdict.OFFER, Verdict.CARE)] == ["none"]
        assert plan.recommended == ""

    def test_too_little_space_says_teeth_first(self, book: OfficeBook) -> None:
        data = lead()
        data["examination"]["gaps"][1]["width"] = "0.0"
        data["examination"]["gaps"][0]["may_stay"] = False
        data["examination"]["gaps"][0]["width"] = "0.4"
        plan = planned(data, book)
        assert plan.spaces.verdict in ("orthodontics first", "measure again", "impossible")
        assert plan.spaces.sentence

    def test_a_struck_option_is_no_and_says_why(self, book: OfficeBook) -> None:
        data = changed("choices.struck", [{"option": "whitening", "reason": "Not wanted.", "by": "Dr Imke Sorrel"}])
        option = planned(data, book).option("whitening")
        assert (option.verdict, option.computed_verdict, option.struck) == (Verdict.NO, Verdict.OFFER, "Not wanted.")

    def test_the_dentists_recommendation_holds(self, book: OfficeBook) -> None:
        choice = {"option": "none", "reason": "He wants to think.", "by": "Dr Imke Sorrel"}
        plan = planned(changed("choices.recommended", choice), book)
        assert plan.recommended == "none"
        assert "Dr Imke Sorrel" in plan.recommended_why

    def test_what_is_not_offered_is_not_recommended(self, book: OfficeBook) -> None:
        choice = {"option": "ceramic-veneer", "reason": "He likes them.", "by": "Dr Imke Sorrel"}
        plan = planned(changed("choices.recommended", choice), book)
        assert plan.recommended == "reshape-bond"
        assert plan.notes == ('"Ceramic faces" is recommended but not offered, so it is not recommended here.',)

    def test_no_decision_is_passed_over_in_silence(self, book: OfficeBook) -> None:
        def override(option: str, gate: str, **more: str) -> dict[str, str]:
            made = {"option": option, "gate": gate, "reason": "Talked over at length.", "by": "Dr Imke Sorrel"}
            return made | {"on": "2026-03-01"} | more

        data = lead()
        data["choices"]["struck"] = [{"option": "gold-leaf", "reason": "x", "by": "y"}]
        data["choices"]["overrides"] = [
            override("ceramic-veneer", "G11"),
            override("reshape-bond", "G3"),
            override("reshape-bond", "canine-as-lateral", on="2026-04-01"),
        ]
        said = planned(data, book).notes
        assert len(said) == 4
        assert "gold-leaf" in said[0]
        assert "only the patient can raise it" in said[1]
        assert "meets nothing" in said[2]
        assert "2026-04-01" in said[3]

    def test_a_fee_nobody_knows_beats_none_and_cannot_be_overridden(self) -> None:
        starter = load_book((ROOT / "fixtures/books/starter.toml").read_text(encoding="utf-8"), TODAY)
        data = lead()
        made = {"option": "reshape-bond", "gate": "price", "reason": "It will be cheap.", "by": "Dr Imke Sorrel"}
        data["choices"]["overrides"] = [made | {"on": "2026-03-01"}]
        plan = planned(data, starter)
        assert plan.option("reshape-bond").verdict is Verdict.ASK
        unpriced = [option for option in plan.options if any(reason.gate == "price" for reason in option.reasons)]
        assert len(unpriced) > 5
        assert all(not option.rank.beaten_by for option in unpriced)

    def test_the_recommendation_says_when_a_wish_could_not_be_computed(self, book: OfficeBook) -> None:
        data = lead()
        data["wishes"][1]["targets"] = []
        assert planned(data, book).recommended_why.endswith("answers every wish that could be computed.")

    def test_wishes_are_answered_in_whole_sentences(self, book: OfficeBook) -> None:
        first, second, third = planned(lead(), book).option("reshape-bond").wishes
        left = "the upper left lateral incisor (22, Universal 10)"
        assert first.why == f"The gap between the upper left central incisor (21, Universal 9) and {left} is closed."
        assert second.why == "The edge of the upper right canine (13, Universal 6) becomes shorter."
        assert "0.5 mm off the upper right canine" in third.why

    def test_old_findings_ask(self, book: OfficeBook) -> None:
        later = TODAY + timedelta(days=400)
        plan = plan_case(validate_case(lead(), TODAY), book, later)
        assert plan.option("reshape-bond").verdict is Verdict.ASK

    def test_an_office_without_prices_says_so(self) -> None:
        starter = load_book((ROOT / "fixtures/books/starter.toml").read_text(encoding="utf-8"), TODAY)
        plan = planned(lead(), starter)
        assert plan.option("reshape-bond").verdict is Verdict.ASK
        assert any(reason.gate == "price" for reason in plan.option("reshape-bond").reasons)

    def test_several_lines_without_a_tax_rate_say_it_once(self, book: OfficeBook) -> None:
        plan = planned(lead(), book.model_copy(update={"tax_rates": ()}))
        (reason,) = [one for one in plan.option("reshape-bond").reasons if one.gate == "price"]
        assert reason.words.count("no tax rate") == 1


class TestSameEveryTime:
    def test_to_the_byte_in_another_process_and_hash_seed(self, plan: CasePlan) -> None:
        code = (
            "import sys; from tests.rules.test_plan import *;"
            "b = load_book((ROOT / 'fixtures/books/tern_row.toml').read_text(encoding='utf-8'), TODAY);"
            "sys.stdout.buffer.write(planned(lead(), b).to_json())"
        )
        for seed in ("1", "2"):
            done = subprocess.run(
                [sys.executable, "-c", code],
                cwd=ROOT,
                env={"PYTHONHASHSEED": seed, "PATH": ""},
                capture_output=True,
                check=True,
            )
            assert done.stdout == plan.to_json()

    def test_thawed_it_is_the_same_plan(self, plan: CasePlan) -> None:
        assert thaw(plan.to_json()) == plan

    def test_the_rules_hash_is_a_sha256(self) -> None:
        assert len(rules_hash()) == 64
        assert rules_hash() == rules_hash()


class TestMoneyHoldsTogether:
    @given(
        teeth=st.lists(st.integers(0, 12), min_size=5, max_size=5),
        reconstructive=st.booleans(),
    )
    @settings(max_examples=15, deadline=None)
    def test_whatever_the_gaps_lines_add_up(self, book: OfficeBook, teeth: list[int], reconstructive: bool) -> None:
        data = changed("choices.reconstructive", reconstructive)
        for gap, width in zip(data["examination"]["gaps"], teeth, strict=True):
            gap["width"] = f"{width // 10}.{width % 10}"
        for option in planned(data, book).options:
            money = option.estimate
            assert money.total_cents == sum(line.total_cents for line in money.lines)
            assert money.compared_cents == money.total_cents + sum(line.total_cents for line in money.beside)
            assert option.upkeep.low_cents <= option.upkeep.high_cents
            assert all(Decimal(0) <= line.tax_percent <= 100 for line in money.lines)
