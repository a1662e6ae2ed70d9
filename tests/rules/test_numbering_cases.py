"""Tooth numbers that arrive from outside: whose number is it, and is it a number at all.

Outside sources: HL7 Terminology's oral site codes (tests/data, source at its head); ISO 3950 and the American Dental
Association's code system through the published pairs of tests/rules/test_teeth.py; Unicode Character Database, blocks
Miscellaneous Technical and Box Drawing.
"""

import csv
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules import teeth
from planner.rules.casefile import CaseFileError, validate_case
from planner.rules.mouth import ToothFacts
from planner.rules.teeth import Numbering, Side, Tooth, ToothNumberError
from tests.rules.cases import TODAY, lead_data

ORAL_SITES = Path(__file__).parents[1] / "data" / "hl7_oral_sites.csv"


def oral_sites() -> dict[str, str]:
    """The published codes with their definitions."""
    lines = ORAL_SITES.read_text(encoding="utf-8").splitlines()
    return {row["code"]: row["definition"] for row in csv.DictReader(line for line in lines if line[0] != "#")}


class TestOralSiteCodes:
    """HL7 Terminology, OralSiteCodes 0.1.0: its 32 two-digit codes are the permanent teeth of ISO 3950."""

    def test_codes_of_two_digits_are_the_permanent_teeth(self):
        published = {code for code in oral_sites() if len(code) == 2}
        assert len(oral_sites()) == 41
        assert published == {tooth.iso for tooth in teeth.PERMANENT}

    @pytest.mark.parametrize("tooth", teeth.PERMANENT, ids=lambda tooth: tooth.iso)
    def test_quarter_and_place_are_those_defined(self, tooth):
        arch, side = ("Upper" if tooth.upper else "Lower"), ("Right" if tooth.side is Side.RIGHT else "Left")
        words = f"{arch} {side} Tooth {tooth.position} from the central axis, permanent dentition."
        assert oral_sites()[tooth.iso] == words

    @pytest.mark.parametrize("code", ["19", "49", "9", "10", "0"])
    def test_what_is_no_code_of_a_tooth_there_is_none_here(self, code):
        with pytest.raises(ToothNumberError):
            Tooth.from_iso(code)

    def test_the_published_list_lacks_baby_teeth_and_iso_has_them(self):
        assert "55" not in oral_sites()
        assert Tooth.from_iso("55").is_primary


class TestElevenInAReferralLetter:
    """Edge case 1: the numeral 11 is a central in one system and a canine in the other."""

    def test_a_bare_numeral_is_asked_back_with_both_readings(self):
        with pytest.raises(ToothNumberError) as refusal:
            Tooth.guess("11")
        assert str(refusal.value) == (
            "'11' has no numbering system: ISO 11 is the upper right central incisor (Universal 8); "
            "Universal 11 is the upper left canine (ISO 23). Which system is meant?"
        )

    def test_a_case_file_without_its_numbering_is_refused(self):
        data = lead_data() | {"format": "leastways-case", "version": 1}
        with pytest.raises(CaseFileError, match="A tooth number without its system can mean two different teeth"):
            validate_case(data, TODAY)

    def test_facts_read_without_a_numbering_are_refused(self):
        with pytest.raises(ValueError, match="Which system is meant"):
            ToothFacts.model_validate({"tooth": "11"})

    def test_the_same_file_in_the_other_system_is_another_mouth(self):
        head = {"format": "leastways-case", "version": 1, "case": "x", "patient": lead_data()["patient"]}
        exam = {"on": "2026-02-10", "by": "A", "teeth": [{"tooth": "11", "width": "8.3"}]}
        found = [
            validate_case(head | {"numbering": system, "examination": exam}, TODAY).examination.teeth[0].tooth
            for system in ("iso", "universal")
        ]
        assert [tooth.name for tooth in found] == ["upper right central incisor", "upper left canine"]

    @given(st.sampled_from(teeth.ALL), st.sampled_from(Numbering))
    def test_what_is_stored_holds_no_numeral(self, tooth, system):
        stored = ToothFacts.model_validate({"tooth": tooth.written(system)}, context={"numbering": system})
        assert stored.model_dump(mode="json")["tooth"] == tooth.key
        assert not any(sign.isdigit() for sign in tooth.key)


class TestFiftyThree:
    """Edge case 2: 53 is a baby canine in one system and a tooth too many in the other."""

    def test_both_readings(self):
        with pytest.raises(ToothNumberError) as refusal:
            Tooth.guess("53")
        baby, extra = (tooth for _system, tooth in refusal.value.readings)
        assert (baby.key, baby.is_primary, baby.is_extra) == ("upper-right-primary-canine", True, False)
        assert (extra.is_extra, extra.neighbour) == (True, Tooth.from_universal("3"))

    def test_the_extra_tooth_prints_as_each_system_can(self):
        extra = Tooth.from_universal("53")
        assert (extra.iso, extra.universal) == ("extra beside 16", "53")
        assert extra.palmer_letters == "extra beside UR6"

    def test_every_number_the_two_systems_share_is_asked_back(self):
        """Numbers of ISO 3950 from 51 to 85 and of the published extra teeth from 51 to 82, where both know them."""
        shared = [*range(51, 56), *range(61, 66), *range(71, 76), 81, 82]
        for number in map(str, shared):
            with pytest.raises(ToothNumberError, match="Which system is meant") as refusal:
                Tooth.guess(number)
            assert {tooth.is_extra for _system, tooth in refusal.value.readings} == {True, False}


class TestLettersAndSurfaces:
    """Edge case 3: B, D, M, O and I are letters of baby teeth and of surfaces."""

    @pytest.mark.parametrize("letter", ["B", "D", "M", "O", "I"])
    def test_a_letter_is_a_tooth_only_where_universal_is_stated(self, letter):
        assert Tooth.from_universal(letter).is_primary
        with pytest.raises(ToothNumberError, match="Only one knows it: Universal"):
            Tooth.guess(letter)
        with pytest.raises(ToothNumberError, match="is that meant"):
            Tooth.from_iso(letter)

    @pytest.mark.parametrize("text", ["11 M", "11M", "11 mesial", "11, mesial", "8 MO", "21-D", "UR1 B", "#8"])
    @pytest.mark.parametrize("system", Numbering)
    def test_a_tooth_with_a_surface_behind_it_is_no_tooth(self, text, system):
        with pytest.raises(ToothNumberError):
            Tooth.parse(text, system)


class TestPalmerMarks:
    """The corner signs, the box drawings that look like them, and plain letters where a font has neither."""

    @pytest.mark.parametrize(
        ("box", "iso"), [("3\u2518", "13"), ("\u25143", "23"), ("\u250c3", "33"), ("3\u2510", "43"), ("C\u2518", "53")]
    )
    def test_box_drawings_are_read(self, box, iso):
        assert Tooth.from_palmer(box) == Tooth.from_iso(iso)

    @pytest.mark.parametrize(
        ("box", "symbol"),
        [("\u2518", "\u23cc"), ("\u2514", "\u23bf"), ("\u2510", "\u23cb"), ("\u250c", "\u23be")],
    )
    def test_box_and_symbol_have_the_same_arms(self, box, symbol):
        """By their names in the Unicode Character Database. A box names the arms that leave the centre; a dentistry
        symbol the side of the upright on which its level line stands and the end it stands at."""
        arms = set(unicodedata.name(box).removeprefix("BOX DRAWINGS LIGHT ").split(" AND "))
        end, side = unicodedata.name(symbol).removeprefix("DENTISTRY SYMBOL LIGHT VERTICAL AND ").split()
        assert arms == {{"BOTTOM": "UP", "TOP": "DOWN"}[end], side}

    def test_a_wrong_corner_is_no_mark(self):
        for text in ("\u25183", "3\u2514", "\u2518", "3\u2500"):
            with pytest.raises(ToothNumberError):
                Tooth.from_palmer(text)

    @given(st.sampled_from(teeth.ALL))
    def test_plain_letters_name_every_tooth_and_come_back(self, tooth):
        assert tooth.palmer_letters.isascii()
        assert Tooth.from_palmer(tooth.palmer_letters) == tooth

    def test_no_two_teeth_share_their_letters(self):
        assert len({tooth.palmer_letters for tooth in teeth.ALL}) == len(teeth.ALL)
