"""Teeth and their numbers, against the published code system and the standards' own rules.

Outside sources: the 52 ISO 3950/Universal pairs and the 41 extra-tooth codes in tests/data (source named at the head
of each file); Unicode Character Database, block Miscellaneous Technical, for the four dentistry corners.
"""

import copy
import csv
import json
import pickle
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from planner.rules import teeth
from planner.rules.teeth import Beside, Kind, Numbering, Side, Tooth, ToothNumberError

DATA = Path(__file__).parents[1] / "data"
ANY_TOOTH = st.sampled_from(teeth.ALL)


def published(file_name: str) -> list[dict[str, str]]:
    lines = (DATA / file_name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


PAIRS = published("numbering_map.csv")
EXTRAS = published("numbering_extra_teeth.csv")


def in_published_words(tooth: Tooth) -> str:
    """The tooth as the published code system words it, built from the parts of a Tooth."""
    anatomy = tooth.name.replace("extra tooth beside the ", "").replace("baby ", "")
    for ours, theirs in (("upper", "maxillary"), ("lower", "mandibular")):
        anatomy = anatomy.replace(ours, theirs)
    words = f"{'deciduous' if tooth.is_primary else 'permanent'} {anatomy} tooth"
    return f"supernumerary {words}" if tooth.is_extra else words


class TestPublishedPairs:
    def test_there_are_fifty_two_and_forty_one(self):
        assert len(PAIRS) == 52
        assert len({pair["iso"] for pair in PAIRS}) == 52
        assert len({pair["universal"] for pair in PAIRS}) == 52
        assert len(EXTRAS) == 41

    @pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair['iso']}={pair['universal']}")
    def test_pair_both_ways_and_by_name(self, pair):
        assert Tooth.from_iso(pair["iso"]).universal == pair["universal"]
        assert Tooth.from_universal(pair["universal"]).iso == pair["iso"]
        assert Tooth.from_iso(pair["iso"]) == Tooth.from_universal(pair["universal"])
        assert in_published_words(Tooth.from_iso(pair["iso"])) == pair["published_name"].lower()

    @pytest.mark.parametrize("extra", EXTRAS, ids=lambda extra: extra["universal"])
    def test_extra_tooth_code_and_name(self, extra):
        tooth = Tooth.from_universal(extra["universal"])
        assert tooth.universal == extra["universal"]
        assert tooth.kind is Kind.EXTRA
        assert tooth.extra is Beside.UNSTATED
        assert in_published_words(tooth) == extra["published_name"].lower()

    def test_numerals_legal_in_both_systems_never_mean_the_same_tooth(self):
        """Eighteen among permanent teeth (11-18, 21-28, 31, 32); seventeen more are baby teeth in ISO and extra teeth
        in Universal."""
        numerals = [str(n) for n in range(100)]
        shared = [n for n in numerals if _is_legal(n, Numbering.ISO) and _is_legal(n, Numbering.UNIVERSAL)]
        both_permanent = [n for n in shared if not Tooth.from_iso(n).is_primary]
        assert both_permanent == [*map(str, range(11, 19)), *map(str, range(21, 29)), "31", "32"]
        assert len(shared) == 18 + 17
        assert all(Tooth.from_iso(n) != Tooth.from_universal(n) for n in shared)

    def test_the_published_map_alone_shows_the_eighteen_clashes(self):
        iso_of = {pair["universal"]: pair["iso"] for pair in PAIRS}
        clashes = [pair["iso"] for pair in PAIRS if pair["iso"] in iso_of]
        assert len(clashes) == 18
        assert all(iso_of[numeral] != numeral for numeral in clashes)


def _is_legal(text: str, system: Numbering) -> bool:
    try:
        Tooth.parse(text, system)
    except ToothNumberError:
        return False
    return True


class TestRoundTrips:
    @given(ANY_TOOTH, st.sampled_from(Numbering))
    def test_every_tooth_through_every_system(self, tooth, system):
        assert Tooth.parse(tooth.written(system), system) == tooth
        assert Tooth.parse(f"  {tooth.written(system)}\n", system) == tooth

    @given(ANY_TOOTH)
    def test_key_is_words_only_and_comes_back(self, tooth):
        assert Tooth.from_key(tooth.key) == tooth
        assert not any(ch.isdigit() for ch in tooth.key)
        assert tooth.key == tooth.key.lower()

    def test_no_two_teeth_share_a_key_a_number_or_a_name(self):
        assert len(teeth.ALL) == 52 * 4
        assert len({tooth.key for tooth in teeth.ALL}) == len(teeth.ALL)
        assert len({tooth.name for tooth in teeth.ALL}) == len(teeth.ALL)
        for system in Numbering:
            assert len({tooth.written(system) for tooth in teeth.ALL}) == len(teeth.ALL)

    @given(ANY_TOOTH)
    def test_pickles_and_copies_to_itself(self, tooth):
        assert pickle.loads(pickle.dumps(tooth)) == tooth
        assert copy.deepcopy(tooth) == tooth
        assert hash(copy.copy(tooth)) == hash(tooth)

    @given(ANY_TOOTH)
    def test_pydantic_reads_and_writes_the_key(self, tooth):
        class Holder(BaseModel):
            tooth: Tooth

        assert json.loads(Holder(tooth=tooth).model_dump_json()) == {"tooth": tooth.key}
        assert Holder.model_validate_json(Holder(tooth=tooth).model_dump_json()).tooth == tooth
        with pytest.raises(ValidationError):
            Holder(tooth=tooth.iso)


class TestPalmer:
    @pytest.mark.parametrize(
        ("iso", "mark", "letters", "shape"),
        [
            # The sign of the tooth stands on the outer side of the upright, which marks the midline, and the level
            # line lies toward the other jaw: below the sign for upper teeth, above it for lower ones.
            ("13", "3\u23cc", "UR3", "BOTTOM LEFT"),
            ("23", "\u23bf3", "UL3", "BOTTOM RIGHT"),
            ("33", "\u23be3", "LL3", "TOP RIGHT"),
            ("43", "3\u23cb", "LR3", "TOP LEFT"),
            ("53", "C\u23cc", "URC", "BOTTOM LEFT"),
            ("75", "\u23beE", "LLE", "TOP RIGHT"),
        ],
    )
    def test_corner_signs_follow_their_unicode_names(self, iso, mark, letters, shape):
        tooth = Tooth.from_iso(iso)
        assert tooth.palmer == mark
        assert Tooth.from_palmer(letters) == tooth
        corner = next(ch for ch in mark if not ch.isalnum())
        assert unicodedata.name(corner) == f"DENTISTRY SYMBOL LIGHT VERTICAL AND {shape}"


class TestRefusals:
    def test_bare_eleven_names_both_readings(self):
        """Edge case: a referral letter says "11"."""
        with pytest.raises(ToothNumberError, match="Which system") as refusal:
            Tooth.guess("11")
        assert "upper right central incisor (Universal 8)" in str(refusal.value)
        assert "upper left canine (ISO 23)" in str(refusal.value)
        assert dict(refusal.value.readings) == {
            Numbering.ISO: Tooth.from_iso("11"),
            Numbering.UNIVERSAL: Tooth.from_iso("23"),
        }

    def test_bare_fifty_three_is_a_baby_tooth_or_an_extra_one(self):
        with pytest.raises(ToothNumberError, match="Which system") as refusal:
            Tooth.guess("53")
        assert "upper right baby canine (Universal C)" in str(refusal.value)
        assert "extra tooth beside the upper right first molar" in str(refusal.value)

    @pytest.mark.parametrize(
        ("text", "system"), [("9", "Universal"), ("48", "ISO"), ("C", "Universal"), ("UR3", "Palmer")]
    )
    def test_one_reading_is_still_a_question(self, text, system):
        with pytest.raises(ToothNumberError, match=f"Only one knows it: {system} {text} .* Is that system meant"):
            Tooth.guess(text)

    @given(st.one_of(st.text(max_size=4), st.integers(-1, 99).map(str), ANY_TOOTH.map(lambda tooth: tooth.universal)))
    def test_guess_never_accepts_anything(self, text):
        with pytest.raises(ToothNumberError) as refusal:
            Tooth.guess(text)
        assert refusal.value.text == text.strip()

    @pytest.mark.parametrize(
        "text", ["", " ", "0", "00", "10", "19", "29", "30", "49", "50", "56", "60", "66", "86", "99"]
    )
    def test_no_such_iso_number(self, text):
        with pytest.raises(ToothNumberError, match="is no ISO tooth number"):
            Tooth.from_iso(text)

    @pytest.mark.parametrize(
        "text", ["011", "1 1", "1.1", "-11", "11.0", "1e1", "\u0661\u0661", "\u00b21", "11a", "A", "UR1"]
    )
    def test_not_iso(self, text):
        with pytest.raises(ToothNumberError, match="is no ISO tooth number"):
            Tooth.from_iso(text)

    @pytest.mark.parametrize(
        "text", ["extra beside", "extra beside 9", "extra beside 13, buccal", "extra 13", "beside 13"]
    )
    def test_not_an_extra_tooth(self, text):
        with pytest.raises(ToothNumberError, match="is no ISO tooth number"):
            Tooth.from_iso(text)

    @pytest.mark.parametrize(
        "text", ["", "0", "00", "01", "33", "50", "83", "-1", "1.0", "U", "Z", "a", "l", "as", "AT", "US", "1s", "#8"]
    )
    def test_not_universal(self, text):
        with pytest.raises(ToothNumberError, match="is no Universal tooth number"):
            Tooth.from_universal(text)

    @pytest.mark.parametrize(
        "text", ["", "3", "9\u23cc", "\u23cc3", "3\u23bf", "F\u23cc", "UR9", "URF", "RU3", "UR", "ur3"]
    )
    def test_not_palmer(self, text):
        with pytest.raises(ToothNumberError, match="is no Palmer tooth number"):
            Tooth.from_palmer(text)

    def test_a_number_of_the_other_system_is_named(self):
        with pytest.raises(
            ToothNumberError, match=r"Universal 9 is the upper left central incisor \(ISO 21\): is that meant"
        ):
            Tooth.from_iso("9")
        with pytest.raises(
            ToothNumberError, match=r"ISO 48 is the lower right third molar \(Universal 32\): is that meant"
        ):
            Tooth.from_universal("48")

    @pytest.mark.parametrize("value", [11, 11.0, None, ["11"], b"11", True])
    def test_only_text_is_read(self, value):
        for read in (Tooth.from_iso, Tooth.from_universal, Tooth.from_palmer, Tooth.from_key, Tooth.guess):
            with pytest.raises(ToothNumberError):
                read(value)

    def test_a_system_must_be_a_system(self):
        with pytest.raises(ValueError, match="is not a valid Numbering"):
            Tooth.parse("11", "roman")

    @pytest.mark.parametrize(
        "key", ["", "13", "upper-right", "Upper-Right-Canine", "upper-right-primary-first-premolar"]
    )
    def test_not_a_key(self, key):
        with pytest.raises(ToothNumberError, match="is no tooth key"):
            Tooth.from_key(key)

    @pytest.mark.parametrize("position", [0, 9, -1])
    def test_no_such_permanent_position(self, position):
        with pytest.raises(ToothNumberError, match="positions run from 1 to 8"):
            Tooth(upper=True, side=Side.RIGHT, position=position)

    def test_baby_teeth_end_at_the_fifth(self):
        with pytest.raises(ToothNumberError, match="no baby tooth 6"):
            Tooth(upper=True, side=Side.LEFT, position=6, is_primary=True)

    def test_the_error_is_a_value_error(self):
        assert issubclass(ToothNumberError, ValueError)


class TestWhatItIs:
    @pytest.mark.parametrize(
        ("key", "iso", "universal", "name", "kind"),
        [
            ("upper-right-canine", "13", "6", "upper right canine", Kind.CANINE),
            ("upper-right-primary-canine", "53", "C", "upper right baby canine", Kind.PRIMARY_CANINE),
            ("upper-left-lateral-incisor", "22", "10", "upper left lateral incisor", Kind.LATERAL),
            ("upper-left-first-premolar", "24", "12", "upper left first premolar", Kind.PREMOLAR),
            ("lower-left-central-incisor", "31", "24", "lower left central incisor", Kind.CENTRAL),
            ("lower-right-third-molar", "48", "32", "lower right third molar", Kind.MOLAR),
            ("lower-left-primary-first-molar", "74", "L", "lower left baby first molar", Kind.PRIMARY_MOLAR),
            (
                "extra-beside-upper-right-canine-mesial",
                "extra beside 13, mesial",
                "56, mesial",
                "extra tooth beside the upper right canine, toward the midline",
                Kind.EXTRA,
            ),
            (
                "extra-beside-upper-left-primary-lateral-incisor",
                "extra beside 62",
                "GS",
                "extra tooth beside the upper left baby lateral incisor",
                Kind.EXTRA,
            ),
        ],
    )
    def test_known_teeth(self, key, iso, universal, name, kind):
        tooth = Tooth.from_key(key)
        assert (tooth.iso, tooth.universal, tooth.name, tooth.kind) == (iso, universal, name, kind)
        assert str(tooth) == name

    def test_label_names_the_tooth_and_both_numbers(self):
        tooth = Tooth.from_iso("22")
        assert tooth.label(Numbering.ISO) == "upper left lateral incisor (22, Universal 10)"
        assert tooth.label(Numbering.UNIVERSAL) == "upper left lateral incisor (10, ISO 22)"
        assert tooth.label(Numbering.PALMER) == "upper left lateral incisor (\u23bf2, ISO 22, Universal 10)"

    @given(ANY_TOOTH, st.sampled_from(Numbering))
    def test_label_always_carries_name_and_both_numbers(self, tooth, system):
        label = tooth.label(system)
        assert label.startswith(tooth.name)
        assert tooth.iso in label
        assert tooth.universal in label

    @given(ANY_TOOTH)
    def test_twin_changes_the_side_and_nothing_else(self, tooth):
        assert tooth.twin.side is not tooth.side
        assert tooth.twin.twin == tooth
        assert (tooth.twin.kind, tooth.twin.upper, tooth.twin.position) == (tooth.kind, tooth.upper, tooth.position)
        assert tooth.arch_index + tooth.twin.arch_index == 15

    def test_an_extra_tooth_keeps_its_neighbour(self):
        extra = Tooth.from_iso("extra beside 13, mesial")
        assert extra.is_extra
        assert extra.neighbour == Tooth.from_iso("13")
        assert Tooth.from_iso("13").neighbour is None
        assert extra != Tooth.from_iso("extra beside 13")


class TestOrder:
    def test_rows_run_from_the_patients_right_to_left(self):
        """The order of both rows as printed in every chart of ISO 3950 (common practice)."""
        assert " ".join(t.iso for t in teeth.UPPER_PERMANENT) == "18 17 16 15 14 13 12 11 21 22 23 24 25 26 27 28"
        assert " ".join(t.iso for t in teeth.LOWER_PERMANENT) == "48 47 46 45 44 43 42 41 31 32 33 34 35 36 37 38"
        assert [t.universal for t in teeth.UPPER_PERMANENT] == [str(n) for n in range(1, 17)]
        assert [t.universal for t in teeth.LOWER_PERMANENT] == [str(n) for n in range(32, 16, -1)]
        assert " ".join(t.iso for t in teeth.UPPER_PRIMARY) == "55 54 53 52 51 61 62 63 64 65"
        assert "".join(t.universal for t in teeth.UPPER_PRIMARY) == "ABCDEFGHIJ"
        assert "".join(t.universal for t in teeth.LOWER_PRIMARY) == "TSRQPONMLK"
        assert " ".join(t.iso for t in teeth.UPPER_FRONT) == "13 12 11 21 22 23"
        assert " ".join(t.iso for t in teeth.LOWER_FRONT) == "43 42 41 31 32 33"

    @given(st.lists(ANY_TOOTH, max_size=12))
    def test_sorting_goes_by_arch_then_right_to_left(self, some):
        ordered = sorted(some)
        assert [(not t.upper, t.arch_index) for t in ordered] == sorted((not t.upper, t.arch_index) for t in some)

    @given(ANY_TOOTH, ANY_TOOTH)
    def test_order_is_total_and_agrees_with_equality(self, a, b):
        assert (a < b) + (a > b) + (a == b) == 1
        assert (a <= b) == (not b < a)

    def test_baby_and_permanent_tooth_share_their_index(self):
        assert Tooth.from_iso("53").arch_index == Tooth.from_iso("13").arch_index == 5
        assert Tooth.from_iso("63").arch_index == Tooth.from_iso("23").arch_index == 10
        assert Tooth.from_iso("13") < Tooth.from_iso("53")

    def test_an_extra_tooth_sorts_on_its_own_side(self):
        """Mesial of 13 is on the patient's left of it, mesial of 23 on the patient's right."""
        texts = ["extra beside 13, distal", "13", "extra beside 13, mesial", "12"]
        assert sorted(map(Tooth.from_iso, texts)) == [Tooth.from_iso(t) for t in texts]
        texts = ["22", "extra beside 23, mesial", "23", "extra beside 23, distal", "24"]
        assert sorted(map(Tooth.from_iso, texts)) == [Tooth.from_iso(t) for t in texts]

    def test_a_tooth_does_not_compare_with_text(self):
        with pytest.raises(TypeError):
            assert Tooth.from_iso("11") < "11"
