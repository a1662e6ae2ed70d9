"""Fit and proportion of one mouth: each check at its bounds, what nobody measured, and mouths with little in them.

Outside sources are named beside each check; where a check has none it is marked as common practice.
"""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.fit import fit_checks, populations
from planner.rules.fit_results import FitCheck, FitChecks, FitWord, fit_setting
from planner.rules.mouth import CaseFacts
from planner.rules.proportions import SumRule
from planner.rules.space_limits import default_limits, with_limits
from planner.rules.teeth import LOWER_PERMANENT, UPPER_PERMANENT, Numbering
from tests.rules.cases import lead_data, lead_facts

GOOD, ACCEPTABLE, LIMIT, ASK = FitWord.GOOD, FitWord.ACCEPTABLE, FitWord.LIMIT, FitWord.ASK


def mouth(teeth: dict[str, dict[str, Any]], **examination: Any) -> CaseFacts:
    """A case with nothing but these teeth, by ISO number."""
    data = lead_data()
    data["examination"] = {
        "on": "2026-02-10",
        "by": "A",
        "teeth": [{"tooth": number, **facts} for number, facts in teeth.items()],
        **examination,
    }
    return CaseFacts.model_validate(data, context={"numbering": Numbering.ISO})


def checks(facts: CaseFacts, **how: Any) -> FitChecks:
    return fit_checks(facts, default_limits(), **how)


def group(found: FitChecks, key: str) -> list[FitCheck]:
    return [check for each in found.groups if each.key == key for check in each.checks]


def notes(found: FitChecks, key: str) -> str:
    return " ".join(note.words for each in found.groups if each.key == key for note in each.notes)


def words(found: FitChecks, key: str) -> list[FitWord]:
    return [check.word for check in group(found, key)]


EVEN = {
    "13": {"width": "7.6", "length": "9.9"},
    "12": {"width": "6.6", "length": "8.6"},
    "11": {"width": "8.4", "length": "10.5"},
    "21": {"width": "8.4", "length": "10.5"},
    "22": {"width": "6.6", "length": "8.6"},
    "23": {"width": "7.6", "length": "9.9"},
}


class TestShape:
    @pytest.mark.parametrize(
        ("width", "length", "word"),
        [
            ("7.5", "10.0", GOOD),
            ("8.5", "10.0", GOOD),
            ("8.6", "10.0", ACCEPTABLE),
            ("7.4", "10.0", ACCEPTABLE),
            ("7.2", "10.0", ACCEPTABLE),
            ("7.1", "10.0", LIMIT),
            ("8.7", "10.0", LIMIT),
        ],
    )
    def test_central(self, width, length, word):
        """75 to 85 % accepted (Springer 2016, as quoted); beyond it the limits of the space model, 72 to 86 %."""
        (check,) = group(checks(mouth({"11": {"width": width, "length": length}})), "shape")
        assert (check.word, check.low, check.high) == (word, 75, 85)

    @pytest.mark.parametrize(("number", "percent"), [("11", "85.1"), ("12", "78.6"), ("13", "78.7")])
    def test_published_mean_crowns_are_not_at_a_limit(self, number, percent):
        """Orozco-Varo 2015 (n = 412): 8.71 by 10.23, 6.75 by 8.59 and 7.81 by 9.93 mm, here to the tenth."""
        sizes = {"11": ("8.7", "10.2"), "12": ("6.8", "8.6"), "13": ("7.8", "9.9")}
        width, length = sizes[number]
        (check,) = group(checks(mouth({number: {"width": width, "length": length}})), "shape")
        assert check.word in (GOOD, ACCEPTABLE)
        assert abs(check.value - Decimal(percent)) <= Decimal("0.6")

    def test_baby_and_double_teeth_have_no_bounds(self):
        found = checks(lead_facts({"tooth.11.double": True, "tooth.11.width": "13.0"}))
        assert {check.teeth[0].iso for check in group(found, "shape")} == {"13", "21", "22", "23"}
        assert "(53, Universal C) is a baby tooth" in notes(found, "shape")
        assert "(11, Universal 8) is a double tooth" in notes(found, "shape")

    def test_a_canine_in_the_laterals_place_is_judged_as_a_lateral(self):
        """Common practice: by role. Space model: a lateral may be 66 to 86 % as wide as long."""
        check = next(check for check in group(checks(lead_facts()), "shape") if check.teeth[0].iso == "13")
        assert check.about == "upper right canine (13, Universal 6), standing in place of 12 (Universal 7)"
        assert "healthy lateral incisors" in check.sentence

    def test_what_was_not_measured_is_asked_for(self):
        (check,) = group(checks(mouth({"11": {}})), "shape")
        assert (check.word, check.value_words) == (ASK, "not measured")
        assert check.sentence == "The width and the length were not measured: measure this."


class TestPairsAndNeighbours:
    def test_an_even_mouth_is_good_throughout(self):
        found = checks(mouth(EVEN))
        for key in ("shape", "pairs", "neighbours"):
            assert set(words(found, key)) == {GOOD}

    @pytest.mark.parametrize(
        ("width", "word"), [("8.5", GOOD), ("8.6", ACCEPTABLE), ("8.7", ACCEPTABLE), ("8.8", LIMIT)]
    )
    def test_widths_of_the_centrals(self, width, word):
        """Limits of the space model (common practice): alike up to 0.1, at most 0.3 mm."""
        found = checks(mouth(EVEN | {"21": {"width": width, "length": "10.5"}}))
        assert group(found, "pairs")[0].word is word

    @pytest.mark.parametrize(
        ("width", "word"),
        [("6.2", ACCEPTABLE), ("6.3", GOOD), ("6.8", GOOD), ("6.9", LIMIT), ("5.7", LIMIT), ("5.8", ACCEPTABLE)],
    )
    def test_lateral_over_central_by_caliper(self, width, word):
        """Natural median 79 % (Wolfart 2006); limits of the space model 68 to 82 %; central 8.4 mm."""
        found = checks(mouth(EVEN | {"12": {"width": width, "length": "8.6"}}))
        assert group(found, "neighbours")[0].word is word

    def test_a_canine_playing_the_lateral_may_be_wider_with_care(self):
        """Space model: to 90 % where a canine plays the lateral."""
        row = {**EVEN, "13": {"width": "7.5", "length": "9.9", "place": "12"}}
        del row["12"]
        (first, _second) = group(checks(mouth(row)), "neighbours")
        assert (first.word, first.value) == (ACCEPTABLE, Decimal("89.3"))
        row["13"]["width"] = "7.6"
        assert group(checks(mouth(row)), "neighbours")[0].word is LIMIT

    def test_bounds_are_the_offices(self):
        wide = with_limits(default_limits(), {"proportion_ceiling": 95})
        found = fit_checks(mouth(EVEN | {"12": {"width": "7.0", "length": "8.6"}}), wide)
        assert group(found, "neighbours")[0].word is GOOD


class TestFromTheFront:
    """Recurring proportion 62 to 80 % (Rodriguez-Lopez 2021), natural 66 and 84 % (Preston 1993, as quoted by Ward)."""

    @staticmethod
    def front(*widths: str) -> CaseFacts:
        names = ("13", "12", "11", "21", "22", "23")
        seen = {n: {"frontal_width": w} if w else {} for n, w in zip(names, widths, strict=True)}
        return mouth({number: EVEN[number] | seen[number] for number in names})

    def test_natural_proportions(self):
        """Of 38 mm: 8.58, 5.66 and 4.76 mm (worked from the two ratios)."""
        found = checks(self.front("4.8", "5.7", "8.6", "8.6", "5.7", "4.8"))
        ratios = group(found, "front-view")
        assert [check.word for check in ratios] == [GOOD] * 5
        assert [check.value for check in ratios[:2]] == [Decimal("66.3"), Decimal("84.2")]
        assert "\u201cnatural\u201d" in notes(found, "front-view")

    @pytest.mark.parametrize(
        ("canine", "lateral", "central", "scheme"),
        [
            ("3.8", "5.7", "9.5", "golden percentage"),
            ("4.8", "5.7", "8.6", "natural"),
            ("6.0", "5.6", "7.5", "measured 2021"),
            ("4.0", "6.0", "9.0", "measured Jordan"),
        ],
    )
    def test_the_nearest_published_scheme(self, canine, lateral, central, scheme):
        """Shares of Snow 1999, Preston 1993, PMC8081617 and Alhabahbah, of 38 mm and brought to one half."""
        found = checks(self.front(canine, lateral, central, central, lateral, canine))
        assert f"\u201c{scheme}\u201d" in notes(found, "front-view")

    @pytest.mark.parametrize(
        ("lateral", "word"), [("6.2", GOOD), ("8.0", GOOD), ("6.1", ACCEPTABLE), ("8.5", ACCEPTABLE), ("5.6", LIMIT)]
    )
    def test_lateral_over_central(self, lateral, word):
        found = checks(self.front("", lateral, "10.0", "10.0", "", ""))
        assert group(found, "front-view")[0].word is word

    def test_sides_of_unequal_width(self):
        found = checks(self.front("4.8", "5.7", "9.6", "8.6", "5.7", "4.8"))
        assert group(found, "front-view")[-1].word is ACCEPTABLE

    def test_they_never_mix_with_caliper_widths(self):
        """Frontal widths change nothing among the caliper checks, and the other way round."""
        plain, front = checks(mouth(EVEN)), checks(self.front("4.8", "5.7", "8.6", "8.6", "5.7", "4.8"))
        for key in ("shape", "pairs", "neighbours", "sums"):
            assert group(plain, key) == group(front, key)
        assert words(plain, "front-view") == [ASK]

    def test_one_that_is_missing_is_asked_for(self):
        found = group(checks(self.front("", "5.7", "8.6", "8.6", "5.7", "4.8")), "front-view")
        (asked,) = [check for check in found if check.word is ASK]
        assert "upper right canine (13, Universal 6) was not measured" in asked.sentence


def textbook(**changes: str) -> dict[str, dict[str, Any]]:
    """Wheeler's mean widths, first molar to first molar (several recalled)."""
    upper = ("10.0", "7.0", "7.0", "7.5", "6.5", "8.5", "8.5", "6.5", "7.5", "7.0", "7.0", "10.0")
    lower = ("11.0", "7.0", "7.0", "7.0", "5.5", "5.0", "5.0", "5.5", "7.0", "7.0", "7.0", "11.0")
    pairs = [*zip(UPPER_PERMANENT[2:14], upper, strict=True), *zip(LOWER_PERMANENT[2:14], lower, strict=True)]
    row = {tooth.iso: {"width": width, "length": "9.0"} for tooth, width in pairs}
    return row | {number.removeprefix("t"): {"width": width, "length": "9.0"} for number, width in changes.items()}


class TestSums:
    def test_textbook_widths(self):
        """Worked from Wheeler's widths: 77.78 and 91.40 %, 0.34 and 0.10 mm; no published case."""
        front, all_twelve, lateral = group(checks(mouth(textbook())), "sums")
        assert (front.word, front.value) == (GOOD, Decimal("77.78"))
        assert (all_twelve.word, all_twelve.value) == (GOOD, Decimal("91.40"))
        assert "upper 0.34 mm too narrow" in front.sentence
        assert front.sentence.endswith("Not significant by the rule of 2.0 mm of correction.")
        assert lateral.value == Decimal("6.50")

    def test_two_pegs_are_at_the_limit_and_one_is_not(self):
        """Pegs of 5.0 mm: 3.34 mm, significant by both rules; one peg: 1.84 mm, by neither (worked)."""
        two = group(checks(mouth(textbook(t12="5.0", t22="5.0"))), "sums")
        assert (two[0].word, two[0].value) == (LIMIT, Decimal("83.33"))
        assert two[-1].word is LIMIT
        one = group(checks(mouth(textbook(t12="5.0"))), "sums")
        assert one[0].word is GOOD

    def test_the_bounds_shown_are_those_of_the_rule(self):
        """A ratio at the bound shown corrects by 2.0 mm (Othman and Harradine 2007) or lies at two deviations (Freeman
        1996): 77.2 - 2 x 1.65 = 73.9."""
        by_mm = group(checks(mouth(textbook())), "sums")[0]
        assert abs((by_mm.high - Decimal("77.2")) * 45 / Decimal("77.2") - 2) < Decimal("0.01")
        by_sd = group(checks(mouth(textbook()), rule=SumRule.DEVIATIONS), "sums")[0]
        assert (by_sd.low, by_sd.high) == (Decimal("73.90"), Decimal("80.50"))

    def test_norm_is_a_choice(self):
        found = group(checks(mouth(textbook()), population="north_east_india"), "sums")
        assert found[0].source == "sum_norms_north_east_india"
        assert "upper" in found[0].sentence.lower()
        assert found[0].certainty == "abstract"
        assert "north_east_india" in populations()

    def test_a_norm_for_all_twelve_only(self):
        front, all_twelve, *_ = group(checks(mouth(textbook()), population="black_2000"), "sums")
        assert front.word is ASK
        assert "there is no anterior norm for it" in front.sentence
        assert all_twelve.source == "sum_norms_black_2000"

    def test_an_unknown_norm_is_refused(self):
        with pytest.raises(ValueError, match='population is "martian"'):
            checks(mouth(textbook()), population="martian")

    def test_what_is_missing_is_listed_by_both_numbers(self):
        found = group(checks(lead_facts()), "sums")
        assert words(checks(lead_facts()), "sums") == [ASK, ASK]
        assert found[0].sentence == (
            "6 teeth without a width: 43, 42, 41, 31, 32, 33 (Universal 27, 26, 25, 24, 23, 22). Measure these."
        )


class TestGum:
    @pytest.mark.parametrize(
        ("distance", "word"), [("5.0", GOOD), ("5.1", ACCEPTABLE), ("6.0", ACCEPTABLE), ("6.1", LIMIT), ("7.0", LIMIT)]
    )
    def test_papilla(self, distance, word):
        """Tarnow 1992 (summary read): nearly all at 5 mm, 56 of 100 at 6, 27 at 7."""
        found = checks(lead_facts({"gap.11-21.contact_to_bone": distance}))
        assert group(found, "papilla")[2].word is word

    def test_papilla_not_measured(self):
        found = checks(lead_facts({"gap.11-21.contact_to_bone": None}))
        assert group(found, "papilla")[2].word is ASK

    def test_open_gaps_have_a_target_and_contacts_a_height(self):
        """Raj 2009: taught 50, 40 and 30 % of the central's height; 10.5 mm gives 5.25, 4.20, 3.15."""
        row = {number: dict(facts) for number, facts in EVEN.items()}
        gaps = [
            {"between": ["12", "11"], "width": "0.0", "connector_height": "4.2"},
            {"between": ["11", "21"], "width": "0.4"},
            {"between": ["21", "22"], "width": "0.0"},
        ]
        found = checks(mouth(row, gaps=gaps))
        assert words(found, "connectors") == [GOOD, ASK]
        assert "about 5.1 to 5.3 mm is usual" in notes(found, "connectors")

    @pytest.mark.parametrize(("height", "word"), [("5.3", GOOD), ("3.2", ACCEPTABLE), ("3.1", LIMIT), ("7.5", LIMIT)])
    def test_height_of_a_contact(self, height, word):
        gaps = [{"between": ["11", "21"], "width": "0.0", "connector_height": height}]
        assert group(checks(mouth(dict(EVEN), gaps=gaps)), "connectors")[0].word is word

    @pytest.mark.parametrize(
        ("step", "word"), [("0.7", GOOD), ("1.2", GOOD), ("1.3", ACCEPTABLE), ("-0.3", ACCEPTABLE), ("1.8", LIMIT)]
    )
    def test_gum_step_of_a_lateral(self, step, word):
        """0.68 (0.52) mm (Charruel 2008): within one deviation good, within two acceptable (office)."""
        found = checks(mouth(EVEN | {"12": EVEN["12"] | {"gum_step": step}}))
        assert words(found, "gum") == [word, ASK]

    @pytest.mark.parametrize(("step", "word"), [("1.0", GOOD), ("0.6", ACCEPTABLE), ("1.4", GOOD), ("2.0", LIMIT)])
    def test_gum_step_of_a_premolar_in_the_canines_place(self, step, word):
        """1.04 (0.41) mm (Pankhem, n = 60)."""
        row = {number: facts for number, facts in EVEN.items() if number != "13"}
        row["14"] = {"width": "7.0", "length": "8.5", "place": "13", "gum_step": step}
        assert words(checks(mouth(row)), "gum") == [word, ASK, ASK]


class TestPremolarAsCanine:
    ROW = {**{number: facts for number, facts in EVEN.items() if number != "13"}, "14": {"place": "13"}}

    def test_everything_not_recorded_is_asked_for(self):
        found = checks(mouth(self.ROW))
        asked = [check.what for check in group(found, "identity") if check.word is ASK]
        asked += [check.what for check in group(found, "gum") if check.teeth[0].iso == "14"]
        assert [name.replace("step of the gum line", "gum step") for name in asked] == [
            name for name in fit_setting("premolar_as_canine").value if name != "gum step"
        ] + ["gum step"]

    def test_the_plain_sentence(self):
        assert "no study of how long this lasts was found" in notes(checks(mouth(self.ROW)), "identity")
        assert "no study" not in notes(checks(lead_facts()), "identity")

    def test_recorded(self):
        full = {
            "place": "13",
            "width": "7.0",
            "length": "8.5",
            "rotation": 20,
            "thickness": "9.0",
            "palatal_cusp": "in the bite",
            "root_bulge": False,
            "shade": "A3",
            "side_guidance": "a group",
        }
        found = {check.what: check for check in group(checks(mouth(self.ROW | {"14": full})), "identity")}
        assert found["taken up in the arch"].value == Decimal("9.7")
        assert {
            name: found[name].word for name in ("turn", "palatal cusp", "root bulge", "shade", "side guidance")
        } == {
            "turn": ACCEPTABLE,
            "palatal cusp": LIMIT,
            "root bulge": ACCEPTABLE,
            "shade": GOOD,
            "side guidance": GOOD,
        }

    def test_turned_without_its_thickness(self):
        found = group(checks(mouth(EVEN | {"12": EVEN["12"] | {"rotation": 25}})), "identity")
        assert [(check.word, check.sentence) for check in found] == [
            (ASK, "It is turned by 25\u00b0: measure its thickness, or what it takes up directly.")
        ]

    def test_notes_of_identity(self):
        said = notes(checks(lead_facts()), "identity")
        assert "(53, Universal C) is a kept baby tooth" in said
        assert "its place is not empty: the upper right canine (13, Universal 6) stands there" in said
        double = {"11": EVEN["11"] | {"double": True, "double_counts": "twice", "double_with": "12"}}
        said = notes(checks(mouth({n: f for n, f in EVEN.items() if n != "12"} | double)), "identity")
        assert "have grown together: one crown, counted as two teeth" in said
        swapped = EVEN | {"13": EVEN["13"] | {"place": "12"}, "12": EVEN["12"] | {"place": "13"}}
        assert "have changed places" in notes(checks(mouth(swapped)), "identity")
        extra = EVEN | {"extra beside 11": {"width": "5.0"}}
        assert "An extra tooth is recorded" in notes(checks(mouth(extra)), "identity")

    def test_whether_a_double_tooth_counts_twice_is_asked(self):
        (check,) = group(checks(mouth(EVEN | {"11": EVEN["11"] | {"double": True}})), "identity")
        assert (check.word, check.what) == (ASK, "double tooth")


class TestImplantRoom:
    @staticmethod
    def place(**more: Any) -> CaseFacts:
        row = {number: facts for number, facts in EVEN.items() if number != "12"}
        return mouth(row, empty_places=[{"place": "12", **more}])

    def test_by_diameter(self):
        """Association of Dental Implantology (UK): 1.5 mm to each tooth; 3.3 needs 6.3 and 4.0 needs 7.0 mm."""
        found = group(checks(self.place(crown_distance="6.9", root_distance="6.6", height_to_bite="8.0")), "implant")
        assert [(check.what, check.word, check.low) for check in found[:5]] == [
            ("implant of 3.0 mm", GOOD, Decimal("6.0")),
            ("implant of 3.3 mm", GOOD, Decimal("6.3")),
            ("implant of 3.5 mm", GOOD, Decimal("6.5")),
            ("implant of 4.0 mm", LIMIT, Decimal("7.0")),
            ("implant of 4.3 mm", LIMIT, Decimal("7.3")),
        ]
        assert found[1].value == Decimal("6.6"), "the smaller of crowns and roots decides"

    def test_height_to_the_bite(self):
        """Carpentieri 2019: 4 to 5 mm, 7.5 mm, 7 to 8 mm."""
        by_height = {
            height: group(checks(self.place(height_to_bite=height)), "implant")[-1].word
            for height in ("8.0", "7.6", "5.0", "4.0", "3.9")
        }
        assert list(by_height.values()) == [GOOD, ACCEPTABLE, ACCEPTABLE, ACCEPTABLE, LIMIT]
        assert group(checks(self.place()), "implant")[-1].word is ASK

    def test_two_side_by_side(self):
        """Two of 3.3 mm need 12.6 mm (arithmetic on the same guidance)."""
        row = {number: facts for number, facts in EVEN.items() if number not in ("12", "11")}
        lines = [
            {"place": "12", "crown_distance": "12.6", "root_distance": "12.6"},
            {"place": "11"},
        ]
        found = group(checks(mouth(row, empty_places=lines)), "implant")
        fits = next(check for check in found if check.what == "2 implants of 3.3 mm")
        assert (fits.word, fits.low) == (GOOD, Decimal("12.6"))
        assert "places of the upper right lateral incisor (12, Universal 7)" in fits.about

    def test_a_film_enlarges(self):
        """Edge case: 7.2 mm on a film at 110 % are 6.5 mm; without the factor it is asked for."""
        film = {"measured_with": "film", "crown_distance": "7.2", "root_distance": "7.2"}
        known = group(checks(self.place(**film, film_factor_percent=110)), "implant")
        assert known[0].value == Decimal("6.5")
        (asked, height) = group(checks(self.place(**film)), "implant")
        assert (asked.word, height.word) == (ASK, ASK)
        assert "by how much it enlarges was not said" in asked.sentence

    def test_a_whole_set_measured_on_a_film(self):
        row = {number: facts for number, facts in EVEN.items() if number != "12"}
        lines = [{"place": "12", "crown_distance": "7.2", "root_distance": "7.2"}]
        found = checks(mouth(row, empty_places=lines, instrument="film"))
        assert group(found, "implant")[0].word is ASK
        found = checks(mouth(row, empty_places=lines, instrument="film", film_factor_percent=110))
        assert group(found, "implant")[0].value == Decimal("6.5")

    def test_nothing_measured_is_asked_diameter_by_diameter(self):
        assert set(words(checks(self.place()), "implant")) == {ASK}

    def test_no_empty_place(self):
        """Edge case: an absent tooth is no empty place."""
        assert group(checks(lead_facts()), "implant") == []
        assert "No place is recorded as empty" in notes(checks(lead_facts()), "implant")


class TestLifetime:
    @pytest.mark.parametrize(("before", "word"), [("0.4", GOOD), ("0.5", ACCEPTABLE), ("0.6", LIMIT)])
    def test_edges_of_earlier_visits_count(self, before, word):
        """Office rule: half a millimetre in a lifetime."""
        (check,) = group(checks(lead_facts({"tooth.11.edge_removed_before": before})), "removal")
        assert check.word is word

    def test_what_is_decided_now_is_added(self):
        lock = {"tooth": "13", "what": "shorten", "value": "0.3", "reason": "long", "by": "D"}
        changes = {"choices.locks": [lock], "tooth.13.edge_removed_before": "0.4"}
        (check,) = group(checks(lead_facts(changes)), "removal")
        assert (check.word, check.value) == (LIMIT, Decimal("0.7"))
        assert check.sentence.endswith("0.2 mm more than a lifetime allows.")

    def test_sides(self):
        """0.25 mm a side (Sarig 2015); above 0.20 the enamel is measured (Gonzalez-Garcia 2025)."""
        locks = [
            {"tooth": "23", "what": f"slenderise {side}", "value": value, "reason": "r", "by": "D"}
            for side, value in (("mesial", "0.2"), ("distal", "0.3"))
        ]
        changes = {"choices.locks": locks, "tooth.23.sides_removed_before": "0.1"}
        mesial, distal, both = group(checks(lead_facts(changes)), "removal")
        assert (mesial.word, distal.word) == (GOOD, LIMIT)
        assert (both.value, both.high, both.word) == (Decimal("0.6"), Decimal("0.50"), LIMIT)


class TestLittleInIt:
    """Edge cases: an empty arch, one tooth, a row of sixteen."""

    def test_an_empty_arch(self):
        found = checks(mouth({}))
        assert [check.sentence for check in found.checks] == [
            "No upper front tooth is recorded: measure the upper front teeth first."
        ]

    def test_lower_teeth_only(self):
        assert [check.word for check in checks(mouth({"31": {"width": "5.0"}})).checks] == [ASK]

    def test_one_tooth(self):
        found = checks(mouth({"11": EVEN["11"]}))
        assert words(found, "shape") == [GOOD]
        assert not group(found, "pairs")
        assert not group(found, "papilla")

    def test_a_full_row(self):
        row = {tooth.iso: {"width": "8.0", "length": "9.0"} for tooth in (*UPPER_PERMANENT, *LOWER_PERMANENT)}
        found = checks(mouth(row))
        assert len(group(found, "shape")) == 6
        assert group(found, "sums")[0].word is not ASK

    def test_no_movement_without_gaps(self):
        assert "has no gap" in notes(checks(mouth(EVEN)), "movement")


class TestWhole:
    def test_every_source_is_numbered_once_and_found(self):
        found = checks(lead_facts())
        used = {check.source for check in found.checks}
        used |= {note.source for each in found.groups for note in each.notes if note.source}
        assert set(found.number_of) == used
        assert sorted(found.number_of.values()) == list(range(1, len(used) + 1))
        assert all(source.citation and source.certainty for source in found.sources)
        assert sum(found.counts.values()) == len(found.checks)

    def test_a_measured_check_never_asks_and_an_asking_one_has_no_value(self):
        with pytest.raises(ValueError, match="what is not measured is asked for"):
            FitCheck("x", "y", ASK, "z", "s", "office", Decimal(1))
        with pytest.raises(ValueError, match="what is not measured is asked for"):
            FitCheck("x", "y", GOOD, "z", "s", "office")

    @settings(max_examples=30, deadline=None)
    @given(st.data())
    def test_any_mouth_is_answered_and_the_mirrored_one_alike(self, data):
        """Whatever is measured or left out: no check fails, and right and left are judged by the same bounds."""
        lengths = st.one_of(st.none(), st.integers(30, 120).map(lambda tenths: f"{tenths / 10:.1f}"))
        names = ("13", "12", "11", "21", "22", "23")
        twins = dict(zip(names, reversed(names), strict=True))
        row = {
            number: {name: data.draw(lengths) for name in ("width", "length", "frontal_width", "gum_step")}
            for number in data.draw(st.lists(st.sampled_from(names), unique=True))
        }
        for facts in row.values():
            facts["gum_step"] = None if facts["gum_step"] is None else facts["gum_step"][-3:]
        found = checks(mouth(row))
        mirrored = checks(mouth({twins[number]: facts for number, facts in row.items()}))
        for key in ("shape", "neighbours", "papilla", "gum"):
            assert sorted(words(found, key)) == sorted(words(mirrored, key))
        assert found.counts == mirrored.counts
