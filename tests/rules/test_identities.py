"""Tooth, place and role kept apart: kept baby teeth, transposed pairs, double and turned teeth, swapped sides.

Outside sources are named beside a check; places by anatomy follow ISO 3950:2016 (the number follows the tooth).
"""

from datetime import date
from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.contradictions import contradictions, doubts
from planner.rules.identities import case_doubts, plays_canine, swapped_sides, transposed_pairs
from planner.rules.mouth import Examination, ToothFacts
from planner.rules.segments import MeasureFirst, segment_of
from planner.rules.standing import arch_space, place_of, places_held, role_of, standing_in, turned_space
from planner.rules.teeth import Numbering
from tests.rules.cases import TODAY, iso, lead_facts

CONTEXT = {"numbering": Numbering.ISO}


def tooth(number: str, **facts: object) -> ToothFacts:
    return ToothFacts.model_validate({"tooth": number, **facts}, context=CONTEXT)


def examination(*teeth: dict[str, object], **more: object) -> Examination:
    data = {"on": "2026-02-10", "by": "A", "teeth": list(teeth), **more}
    return Examination.model_validate(data, context=CONTEXT)


def wrong(*teeth: dict[str, object], **more: object) -> list[str]:
    """What cannot be true of a mouth of these teeth."""
    facts = lead_facts().model_copy(update={"examination": examination(*teeth, **more)})
    return [words for path, words in contradictions(facts, TODAY) if path.startswith("examination")]


class TestPlaces:
    """Edge cases: a kept baby canine with the canine in the lateral's place, and a premolar as canine."""

    def test_three_facts_of_the_lead_case(self):
        found = {each.tooth.iso: each for each in lead_facts().examination.teeth}
        assert [(number, place_of(found[number]).iso, role_of(found[number])) for number in ("53", "13", "22")] == [
            ("53", "13", "canine"),
            ("13", "12", "lateral"),
            ("22", "22", "lateral"),
        ]
        standing = standing_in(lead_facts().examination)
        assert (standing[iso("13")].tooth, standing[iso("12")].tooth) == (iso("53"), iso("13"))

    def test_an_absent_tooth_leaves_no_empty_place(self):
        facts = lead_facts()
        assert [absent.tooth for absent in facts.examination.absent] == [iso("12")]
        assert iso("12") in standing_in(facts.examination)
        assert facts.examination.empty_places == ()

    def test_premolar_as_canine(self):
        assert plays_canine(tooth("14", place="13"))
        assert not plays_canine(tooth("14"))
        assert not plays_canine(tooth("13", place="12"))
        assert not plays_canine(tooth("44", place="43"))

    def test_a_transposed_pair_is_one_pair(self):
        mouth = examination({"tooth": "13", "place": "14"}, {"tooth": "14", "place": "13"}, {"tooth": "11"})
        assert [(one.tooth.iso, other.tooth.iso) for one, other in transposed_pairs(mouth)] == [("14", "13")]
        assert transposed_pairs(lead_facts().examination) == ()
        assert wrong({"tooth": "13", "place": "14"}, {"tooth": "14", "place": "13"}) == []

    def test_half_of_a_transposed_pair_is_two_teeth_in_one_place(self):
        (words,) = wrong({"tooth": "13", "place": "14"}, {"tooth": "14"})
        assert "both stand in the place of the upper right first premolar" in words

    def test_no_tooth_stands_in_the_other_jaw(self):
        (words,) = wrong({"tooth": "13", "place": "43"})
        assert words.endswith("which is in the other jaw.")

    def test_across_the_middle_is_asked(self):
        [(path, words)] = doubts(examination({"tooth": "12", "place": "22"}))
        assert path == "examination.teeth[0].place"
        assert words.endswith("is that so, or are right and left swapped?")


class TestDoubleTeeth:
    """Edge case: a double tooth counts once (a bud that split) or twice (two that grew together)."""

    FUSED = {"tooth": "11", "double": True, "double_counts": "twice", "double_with": "12"}

    def test_twice_holds_two_places(self):
        assert places_held(tooth("11", **{k: v for k, v in self.FUSED.items() if k != "tooth"})) == (
            iso("11"),
            iso("12"),
        )
        assert places_held(tooth("11", double=True, double_counts="once")) == (iso("11"),)
        assert standing_in(examination(self.FUSED))[iso("12")].tooth == iso("11")
        assert wrong(self.FUSED, {"tooth": "13"}) == []

    def test_baby_teeth_grow_together_too(self):
        """Common practice: the usual double baby teeth are lower incisors."""
        fused = {"tooth": "71", "double": True, "double_counts": "twice", "double_with": "72"}
        assert wrong(fused) == []
        assert places_held(examination(fused).teeth[0]) == (iso("31"), iso("32"))

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"double": False}, "is not marked as one: mark it"),
            ({"double_with": None}, "say which one it has grown together with, or let it count once"),
            ({"double_counts": "once"}, "so it counts twice: say so"),
            ({"double_with": "13"}, "are not neighbours"),
            ({"double_with": "41"}, "are not neighbours"),
            ({"double_with": "extra beside 11"}, "are not neighbours"),
        ],
    )
    def test_what_does_not_go_together(self, change, words):
        assert [found for found in wrong(self.FUSED | change) if words in found]

    @pytest.mark.parametrize(
        ("more", "words"),
        [
            ({}, "is recorded by itself and as a part of"),
            ({"place": "22"}, "is recorded by itself and as a part of"),
        ],
    )
    def test_the_second_tooth_is_not_there_as_well(self, more, words):
        (found,) = wrong(self.FUSED, {"tooth": "12", **more})
        assert words in found

    def test_the_second_tooth_is_not_absent(self):
        (found,) = wrong(self.FUSED, absent=[{"tooth": "12"}])
        assert "is declared absent and is a part of" in found

    def test_its_place_is_not_empty(self):
        found = wrong(self.FUSED, empty_places=[{"place": "12"}])
        assert any("reaches into it, counting twice" in words for words in found)

    def test_no_third_tooth_stands_in_its_second_place(self):
        (found,) = wrong(self.FUSED, {"tooth": "13", "place": "12"})
        assert "both stand in the place of the upper right lateral incisor" in found


class TestReachingTheModel:
    """What the model of sharing space is told: kind by anatomy, role by place."""

    @staticmethod
    def told(changes: dict[str, object]) -> list[tuple[str, str, str]]:
        return [(t.key, t.kind.value, t.role.value) for t in segment_of(lead_facts(changes)).teeth]

    def test_the_lead_case(self):
        assert self.told({})[:2] == [
            ("upper-right-primary-canine", "primary", "canine"),
            ("upper-right-canine", "canine", "lateral"),
        ]

    def test_a_premolar_as_canine(self):
        changes = {"tooth.23": None, "gap.22-23": None, "gap.22-24.width": "0.9"}
        changes |= {"tooth.24": {"place": "23", "width": "7.0", "length": "8.6"}}
        assert self.told(changes)[-1] == ("upper-left-first-premolar", "premolar", "canine")

    def test_a_transposed_pair(self):
        changes = {
            "tooth.22.place": "23",
            "tooth.23.place": "22",
            "gap.21-22": None,
            "gap.21-23.width": "0.7",
            "tooth.22.undersized": False,
        }
        assert self.told(changes)[-2:] == [
            ("upper-left-canine", "canine", "lateral"),
            ("upper-left-lateral-incisor", "lateral", "canine"),
        ]

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"tooth.11.double": True}, "is a double tooth"),
            ({"tooth.extra beside 11": {"width": "5.0"}}, "stands among the upper front teeth"),
        ],
    )
    def test_what_is_for_the_dentist_to_plan(self, changes, words):
        with pytest.raises(MeasureFirst, match=words):
            segment_of(lead_facts(changes))

    @pytest.mark.parametrize("number", ["extra beside 18", "extra beside 31"])
    def test_an_extra_tooth_elsewhere_is_in_nobodys_way(self, number):
        assert self.told({f"tooth.{number}": {"width": "5.0"}}) == self.told({})

    def test_an_extra_tooth_still_in_the_jaw_is_in_nobodys_way(self):
        assert self.told({"tooth.extra beside 11": {}}) == self.told({})


class TestTurnedTeeth:
    def test_worked_values(self):
        """w cos phi + d sin phi (geometry): 7.0 wide, 9.0 thick; Wheeler's first premolar. At 30 degrees 6.06 + 4.5."""
        assert [turned_space(70, 90, degrees) for degrees in (0, 30, 90, 150, 180)] == [70, 106, 90, 106, 70]

    @given(st.integers(10, 140), st.integers(10, 140), st.integers(0, 180))
    def test_against_the_corners_of_a_turned_box(self, width, thickness, degrees):
        """The reference: turn the four corners and take how far apart the outermost lie along the arch."""
        angle = radians(degrees)
        along = [x * width / 2 * cos(angle) - y * thickness / 2 * sin(angle) for x in (-1, 1) for y in (-1, 1)]
        assert abs(turned_space(width, thickness, degrees) - (max(along) - min(along))) <= 0.5 + 1e-6

    @pytest.mark.parametrize("given", [(0, 70, 0), (70, 0, 0), (70, 70, -1), (70, 70, 181)])
    def test_refused(self, given):
        with pytest.raises(ValueError, match="do not go together"):
            turned_space(*given)

    def test_measured_goes_before_worked_out_and_unknown_is_unknown(self):
        assert arch_space(tooth("14", width="7.0", thickness="9.0", rotation=30, arch_space="9.9")) == 99
        assert arch_space(tooth("14", width="7.0", thickness="9.0", rotation=30)) == 106
        assert arch_space(tooth("14", width="7.0", rotation=30)) is None
        assert arch_space(tooth("14", width="7.0", rotation=0)) == 70
        assert arch_space(tooth("14", width="7.0")) == 70

    def test_measured_far_from_worked_out_is_asked(self):
        turned = {"tooth": "14", "width": "7.0", "thickness": "9.0", "rotation": 30}
        assert list(doubts(examination(turned | {"arch_space": "9.6"}))) == []
        [(path, words)] = doubts(examination(turned | {"arch_space": "9.5"}))
        assert path.endswith("arch_space")
        assert "it would be 10.6 mm" in words

    def test_the_closure_check_takes_what_a_turned_tooth_takes(self):
        teeth = [
            {"tooth": "12", "width": "6.5", "length": "9.0"},
            {"tooth": "11", "width": "8.5", "length": "10.5", "thickness": "7.0", "rotation": 40},
            {"tooth": "21", "width": "8.5", "length": "10.5"},
        ]
        gaps = [{"between": ["12", "11"], "width": "0.0"}, {"between": ["11", "21"], "width": "0.0"}]
        assert list(doubts(examination(*teeth, gaps=gaps, strip_length="11.0"))) == []
        [(path, _words)] = doubts(examination(*teeth, gaps=gaps, strip_length="8.5"))
        assert path == "examination.strip_length"
        teeth[1].pop("thickness")
        assert list(doubts(examination(*teeth, gaps=gaps, strip_length="8.5"))) == []


class TestCusps:
    def test_only_premolars_and_molars_have_a_palatal_cusp(self):
        assert wrong({"tooth": "14", "palatal_cusp": "full"}) == []
        (words,) = wrong({"tooth": "13", "palatal_cusp": "low"})
        assert "has no palatal cusp" in words


class TestSwappedSides:
    """Edge case: a mirrored picture. Common practice, no source: readings repeat to about 0.2 mm."""

    BEFORE = {"12": "6.3", "11": "8.1", "21": "8.6", "22": "5.5"}

    @staticmethod
    def of(widths: dict[str, str], on: str = "2026-02-10") -> Examination:
        found = examination(*({"tooth": number, "width": width} for number, width in widths.items()))
        return found.model_copy(update={"on": date.fromisoformat(on)})

    def test_all_widths_on_the_other_side_are_asked_about(self):
        now = self.of({"22": "6.4", "21": "8.1", "11": "8.5", "12": "5.5"})
        words = swapped_sides(now, self.of(self.BEFORE, "2025-11-01"))
        assert words.startswith("Beside the readings of 2025-11-01 right and left have changed places on 4 teeth")

    def test_the_same_mouth_again_is_not(self):
        assert swapped_sides(self.of(self.BEFORE), self.of(self.BEFORE)) == ""

    def test_an_even_mouth_cannot_tell(self):
        even = self.of({"12": "6.4", "11": "8.4", "21": "8.5", "22": "6.4"})
        assert swapped_sides(even, even) == ""

    def test_one_tooth_that_grew_is_no_swap(self):
        assert swapped_sides(self.of(self.BEFORE | {"22": "6.4"}), self.of(self.BEFORE)) == ""

    def test_nothing_measured_before(self):
        assert swapped_sides(self.of(self.BEFORE), examination()) == ""

    @given(st.lists(st.integers(50, 100), min_size=6, max_size=6))
    def test_swapping_twice_is_no_swap(self, tenths):
        numbers = ("13", "12", "11", "21", "22", "23")
        mouth = self.of({n: f"{w // 10}.{w % 10}" for n, w in zip(numbers, tenths, strict=True)})
        mirrored = self.of({iso(n).twin.iso: f"{w // 10}.{w % 10}" for n, w in zip(numbers, tenths, strict=True)})
        assert bool(swapped_sides(mirrored, mouth)) == bool(swapped_sides(mouth, mirrored))
        assert swapped_sides(mouth, mouth) == ""

    def test_a_picture_that_shows_another_tooth_absent(self):
        [(path, words)] = case_doubts(
            lead_facts({"pictures": [{"kind": "panoramic", "on": "2026-02-10", "reader": "R", "absent": ["22"]}]})
        )
        assert path == "pictures[0].absent"
        assert words.endswith(
            "Declared absent is the upper right lateral incisor (12, Universal 7): are right and left swapped?"
        )

    def test_a_picture_that_is_simply_at_odds(self):
        [(_path, words)] = case_doubts(
            lead_facts({"pictures": [{"kind": "panoramic", "on": "2026-02-10", "reader": "R", "absent": ["21"]}]})
        )
        assert words.endswith("One of the two is a slip.")
        assert list(case_doubts(lead_facts())) == []


class TestCounts:
    """ISO 3950: eight permanent teeth on each side of each jaw."""

    def test_more_than_sixteen_in_one_jaw_are_asked_about(self):
        row = [{"tooth": f"{quarter}{n}"} for quarter in (1, 2) for n in range(1, 9)]
        assert list(doubts(examination(*row))) == []
        [(path, words)] = doubts(examination(*row, {"tooth": "extra beside 11"}))
        assert path == "examination.teeth"
        assert words.startswith("17 teeth are recorded in the upper jaw")

    def test_an_empty_row_and_one_tooth_are_no_contradiction(self):
        assert wrong() == []
        assert wrong({"tooth": "11"}) == []


def test_gum_steps_and_contact_heights_have_bounds():
    assert wrong({"tooth": "12", "gum_step": "-1.0"}) == []
    (words,) = wrong({"tooth": "12", "gum_step": "9.0"})
    assert words == "9.0 mm is out of range: it lies between -8.0 and 8.0 mm."
    teeth = ({"tooth": "11"}, {"tooth": "21"})
    assert wrong(*teeth, gaps=[{"between": ["11", "21"], "width": "0.0", "connector_height": "5.0"}]) == []
    (words,) = wrong(*teeth, gaps=[{"between": ["11", "21"], "width": "0.5", "connector_height": "5.0"}])
    assert "do not touch, so their contact has no height" in words
