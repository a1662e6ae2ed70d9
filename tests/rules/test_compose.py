"""Which courses a mouth suggests, and what each does: on mouths that no story was written for."""

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.casefile import validate_case
from planner.rules.compose import compose
from planner.rules.courses import Course
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan
from planner.rules.segments import MeasureFirst, segment_of
from planner.rules.spaces import share_space
from planner.rules.treatments import all_combinations, all_treatments
from planner.rules.verdicts import Verdict
from tests.rules.cases import iso
from tests.rules.test_casefile import TODAY, changed, lead

ROOT = Path(__file__).resolve().parents[2]
Data = dict[str, Any]


def courses(data: Data) -> dict[str, Course]:
    facts = validate_case(data, TODAY)
    try:
        spaces = share_space(segment_of(facts))
    except MeasureFirst:
        spaces = None
    return {course.key: course for course in compose(facts, spaces, all_treatments(), all_combinations())}


@pytest.fixture(scope="module")
def book() -> OfficeBook:
    return load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), TODAY)


def planned(data: Data, book: OfficeBook) -> CasePlan:
    return plan_case(validate_case(data, TODAY), book, TODAY)


def mouth(**widths: str) -> Data:
    """The lead case with other teeth, all sound and touching."""
    data = lead()
    sound = dict(data["examination"]["teeth"][-1])
    numbers = [number.removeprefix("t") for number in widths]
    data["examination"]["teeth"] = [
        {**sound, "tooth": number, "width": width, "length": "10.5"}
        for number, width in zip(numbers, widths.values(), strict=True)
    ]
    data["examination"]["gaps"] = [
        {"between": list(pair), "width": "0.0", "new_or_growing": False, "contact_to_bone": "4.5"}
        for pair in pairwise(numbers)
    ]
    data["examination"]["absent"] = []
    data["choices"] = {}
    return data


class TestFaces:
    def test_they_close_the_gaps_that_the_plan_closes(self) -> None:
        """Faces come out as the wax-up has them, so that the gap they are made for is closed as well."""
        found = courses(lead())
        assert found["ceramic-veneer"].gaps_closed == found["reshape-bond"].gaps_closed
        assert found["ceramic-veneer"].gaps_left == found["reshape-bond"].gaps_left

    def test_no_baby_tooth_gets_one(self) -> None:
        data = changed("examination.teeth.0.not_to_be_touched", False)
        data["examination"]["gaps"][0] |= {"width": "0.7", "may_stay": False}
        found = courses(data)
        assert iso("53") in found["reshape-bond"].teeth("bonding")
        assert iso("53") not in found["ceramic-veneer"].teeth()
        assert (iso("53"), iso("13")) not in found["ceramic-veneer"].gaps_closed


class TestWings:
    @staticmethod
    def lost_central(**neighbours: Data) -> Data:
        data = mouth(t13="7.8", t12="6.6", t11="8.6", t22="6.6", t23="7.8")
        data["examination"]["gaps"][2]["width"] = "8.6"
        data["examination"]["absent"] = [{"tooth": "21", "cause": "lost", "lost_on": "2020-05-01"}]
        data["examination"]["empty_places"] = [{"place": "21", "crown_distance": "8.6"}]
        for tooth in data["examination"]["teeth"]:
            tooth.update(neighbours.get(f"t{tooth['tooth']}", {}))
        return data

    def test_of_two_sound_neighbours_the_one_toward_the_midline_carries(self) -> None:
        assert courses(self.lost_central())["wing-bridge"].teeth() == (iso("11"),)

    @pytest.mark.parametrize("objection", [{"crowned": True}, {"mobility": 1}, {"undersized": True}])
    def test_a_crowned_loose_or_small_neighbour_gives_way(self, objection: Data) -> None:
        assert courses(self.lost_central(t11=objection))["wing-bridge"].teeth() == (iso("22"),)

    def test_after_braces_the_neighbours_are_those_that_came_home(self) -> None:
        data = lead()
        data["examination"]["teeth"][2]["crowned"] = True  # 11; on the other side 13 comes home
        assert courses(data)["braces-then-wing-bridge"].teeth("wing-bridge") == (iso("13"),)

    def test_a_lower_place_finds_its_lower_neighbours(self) -> None:
        data = lead()
        sound = dict(data["examination"]["teeth"][-1])
        data["examination"]["teeth"] += [{**sound, "tooth": number, "width": "5.2"} for number in ("42", "31")]
        data["examination"]["empty_places"] = [{"place": "41"}]
        assert courses(data)["wing-bridge"].teeth() == (iso("31"),)

    def test_molars_are_no_smile_work(self) -> None:
        data = lead()
        data["examination"]["empty_places"] = [{"place": "28"}, {"place": "36"}]
        found = courses(data)
        assert found["wing-bridge"].places_filled == ()
        assert "implant-crown" not in found


class TestEdges:
    @staticmethod
    def touching(**lock: str) -> Data:
        data = mouth(t12="6.4", t11="8.0", t21="8.0", t22="6.4")
        for tooth in data["examination"]["teeth"]:
            tooth["length"] = "9.6" if tooth["tooth"] in ("11", "21") else "8.8"
        names = ("11", "21")
        if lock:
            data["choices"] = {"locks": [{"tooth": n, "reason": "x", "by": "Dr Imke Sorrel", **lock} for n in names]}
        data["wishes"] = [{"rank": 1, "words": "it", "targets": [{"kind": "tooth larger", "teeth": list(names)}]}]
        data["limits"] = {}
        return data

    def test_an_edge_may_get_longer_where_all_teeth_touch(self, book: OfficeBook) -> None:
        plan = planned(self.touching(what="lengthen", value="0.6"), book)
        assert [line.lengthening_tenths for line in plan.option("bonding").work] == [6, 6]
        assert plan.recommended == "bonding"

    def test_no_face_that_cuts_is_recommended_while_resin_only_waits_for_an_answer(self, book: OfficeBook) -> None:
        plan = planned(self.touching(), book)
        assert plan.option("bonding").verdict is Verdict.ASK
        assert plan.option("ceramic-veneer").verdict in (Verdict.OFFER, Verdict.CARE)
        assert plan.recommended == "direct-face"
        assert plan.option("direct-face").teeth_reduced == 0
        assert "Gentler, and not to be judged yet: “Bonding”" in plan.recommended_why
        assert "braces-then-bonding" not in {option.key for option in plan.options}
        assert plan.option("bonding").wishes[0].why.endswith("become larger.")

    def test_an_edge_that_is_only_shortened_is_no_reason_for_a_face(self) -> None:
        data = self.touching(what="shorten", value="0.3")
        data["wishes"], data["choices"]["locks"] = [], data["choices"]["locks"][:1]
        found = courses(data)
        assert "reshaping" in found
        assert "ceramic-veneer" not in found


class TestPremolarAsCanine:
    @staticmethod
    def everyday() -> Data:
        """13 never formed, 14 in its place, 22 small, gaps on both sides of it."""
        data = mouth(t14="7.0", t12="6.4", t11="8.5", t21="8.5", t22="5.4", t23="7.6")
        teeth, gaps = data["examination"]["teeth"], data["examination"]["gaps"]
        teeth[0] |= {"place": "13", "length": "8.6"}
        teeth[1]["length"] = "9.0"
        teeth[4] |= {"undersized": True, "infolding_checked": True, "length": "8.2"}
        for gap, width in zip(gaps, ("0.4", "0.0", "0.0", "0.8", "0.7"), strict=True):
            gap["width"] = width
        absent = {"tooth": "13", "cause": "never formed", "palpation_note": "Nothing felt.", "felt": False}
        data["examination"]["absent"] = [absent]
        data["pictures"][0] |= {"absent": ["13"], "roots_of": ["14", "12", "11", "21", "22", "23"]}
        data["limits"] = {}
        data["wishes"] = [{"rank": 1, "words": "it", "targets": [{"kind": "tooth larger", "teeth": ["22"]}]}]
        return data

    def test_what_is_not_written_down_yet_is_asked_and_what_nobody_studied_is_said(self, book: OfficeBook) -> None:
        data = self.everyday()
        plan = planned(data, book)
        assert plan.option("bonding").verdict is Verdict.ASK
        data["examination"]["teeth"][0]["guidance_checked"] = True
        [reason] = planned(data, book).option("bonding").reasons
        assert reason.verdict is Verdict.CARE
        assert "No study" in reason.words

    def test_what_is_gentler_and_only_waits_for_an_answer_is_named(self, book: OfficeBook) -> None:
        plan = planned(self.everyday(), book)
        assert plan.recommended == "braces-then-bonding"
        assert "Gentler, and not to be judged yet: “Bonding”" in plan.recommended_why

    def test_no_implant_for_a_tooth_whose_place_is_taken(self) -> None:
        found = courses(self.everyday())
        assert "implant-crown" not in found
        assert found["wing-bridge"].places_filled == ()


class TestGaps:
    def test_braces_close_what_is_not_to_stay(self) -> None:
        found = courses(lead())
        assert (iso("53"), iso("13")) not in found["braces-then-bonding"].gaps_closed
        assert (iso("11"), iso("21")) in found["braces-then-bonding"].gaps_closed

    def test_why_a_gap_is_new_is_asked_before_braces_close_it_too(self, book: OfficeBook) -> None:
        plan = planned(changed("examination.gaps.3.new_or_growing", True), book)
        for key in ("reshape-bond", "braces-then-bonding", "ceramic-veneer"):
            assert any(reason.gate == "G20.growing" for reason in plan.option(key).reasons)

    def test_a_contact_that_is_tight_to_a_strip_is_not_closed(self) -> None:
        data = mouth(t12="6.6", t11="8.4", t21="8.4", t22="6.6")
        data["examination"]["gaps"][0] |= {"width": "0.1", "film": "tight"}
        data["examination"]["gaps"][1]["width"] = "0.8"
        assert courses(data)["bonding"].gaps_closed == ((iso("11"), iso("21")),)

    def test_where_nothing_needs_adding_only_what_adds_is_a_course(self, book: OfficeBook) -> None:
        data = mouth(t12="6.6", t11="8.4", t21="8.4", t22="6.6", t23="7.8")
        data["examination"]["gaps"][3] |= {"width": "0.6", "may_stay": True}
        plan = planned(data, book)
        assert plan.spaces.sentence.startswith("Nothing needs to be added")
        assert all(option.work for option in plan.options if option.key != "none")
        assert [option.space_plan for option in plan.options if option.key == "bonding"] == ["best-proportion"]
        assert plan.spaces.chosen == "best-proportion"

    def test_braces_are_proposed_only_where_the_spaces_say_teeth_first(self, book: OfficeBook) -> None:
        asked = planned(changed("examination.gaps.1.width", "0.2"), book)
        assert asked.spaces.verdict == "film question"
        assert "braces" not in {option.key for option in asked.options}
        data = mouth(t12="6.6", t11="8.8", t21="8.9", t22="6.7")
        data["examination"]["gaps"][1]["width"] = "3.4"
        first = planned(data, book)
        assert first.spaces.verdict == "orthodontics first"
        assert first.option("braces").verdict is not Verdict.NO


class TestEmptyPlaces:
    def test_nothing_is_added_into_a_missing_tooths_place(self, book: OfficeBook) -> None:
        data = TestWings.lost_central()
        data["examination"]["gaps"][1]["width"] = "0.4"  # 12·11, the side that is whole
        plan = planned(data, book)
        assert plan.spaces.verdict == "shared"
        shown = plan.spaces.plans[0]
        assert [gap.left_open_tenths for gap in shown.gaps] == [0, 0, 86, 0]
        assert any("Empty place at 11·22, 8.6 mm" in line for line in plan.spaces.how)
        assert plan.option("wing-bridge").work[0].tooth == iso("21")

    def test_its_width_need_not_be_typed_twice(self, book: OfficeBook) -> None:
        data = TestWings.lost_central()
        del data["examination"]["gaps"][2]
        assert planned(data, book).spaces.verdict == "nothing to share"

    def test_braces_do_not_close_it(self) -> None:
        data = TestWings.lost_central()
        data["examination"]["gaps"][1]["width"] = "0.4"
        data["examination"]["teeth"][1]["undersized"] = True
        assert courses(data)["braces-then-bonding"].gaps_closed == ((iso("12"), iso("11")),)

    def test_a_share_locked_into_it_cannot_be(self, book: OfficeBook) -> None:
        data = TestWings.lost_central()
        data["examination"]["gaps"][1]["width"] = "0.4"
        lock = {"tooth": "11", "what": "mesial share", "value": "0.5", "reason": "x", "by": "Dr Imke Sorrel"}
        data["choices"] = {"locks": [lock]}
        assert planned(data, book).spaces.verdict not in ("shared", "nothing to share")


class TestSpacesInWords:
    def test_what_leaves_the_house_names_teeth_by_name_and_both_numbers(self, book: OfficeBook) -> None:
        data = mouth(t12="6.6", t11="8.8", t21="8.9", t22="6.7")
        data["examination"]["gaps"][1]["width"] = "3.4"
        plan = planned(data, book)
        [reason] = [found for found in plan.option("bonding").reasons if found.gate == "spaces"]
        assert "between the upper right central incisor (11, Universal 8) and the upper left central" in reason.words
        assert "11·21" not in reason.words
        assert "between 11 and 21" in plan.spaces.sentence  # on the dentist's own screen

    def test_film_question_names_the_gap_in_full(self, book: OfficeBook) -> None:
        [question] = planned(changed("examination.gaps.1.width", "0.2"), book).spaces.questions
        assert "the gap between the upper right canine (13, Universal 6) and the upper right central" in question

    def test_measuring_again_is_asked_and_not_refused(self, book: OfficeBook) -> None:
        """Where 0.1 or 0.2 mm decides, that is within the error of a reading (space model)."""
        data = changed("examination.gaps.0.width", "0.4")  # too narrow to stay, and neither neighbour may take it
        data["choices"]["locks"].append(
            {"tooth": "13", "what": "distal share", "value": "0.0", "reason": "x", "by": "Dr Imke Sorrel"}
        )
        plan = planned(data, book)
        assert plan.spaces.verdict == "measure again"
        assert plan.option("bonding").verdict is Verdict.ASK
        assert "braces" not in {option.key for option in plan.options}

    def test_a_double_tooth_is_left_to_the_dentist(self, book: OfficeBook) -> None:
        plan = planned(changed("examination.teeth.2.double", True), book)
        assert plan.spaces.verdict == "measure first"
        assert "double tooth" in plan.spaces.questions[0]
        assert plan.option("bonding").verdict is Verdict.ASK

    def test_a_steep_side_wall_is_care(self, book: OfficeBook) -> None:
        """0.9 mm over 2.0 mm of height is 24 degrees: beyond the comfort of 20, within the limit of 30."""
        data = changed("examination.teeth.4.contact_height", "2.0")
        data["choices"]["locks"].append(
            {"tooth": "22", "what": "distal share", "value": "0.9", "reason": "x", "by": "Dr Imke Sorrel"}
        )
        plan = planned(data, book)
        steep = [reason for reason in plan.option("reshape-bond").reasons if reason.gate == "spaces"]
        assert steep
        assert all(reason.verdict is Verdict.CARE and "beyond comfort" in reason.words for reason in steep)
        assert all("(22, Universal 10)" in reason.words for reason in steep)


class TestLaterAndNow:
    @staticmethod
    def young(birth_date: str) -> Data:
        data = TestWings.lost_central()
        data["patient"] |= {"birth_date": birth_date, "decision_maker": "M", "own_agreement": True}
        return data

    def test_a_wing_now_and_an_implant_later_states_two_costs(self, book: OfficeBook) -> None:
        """2,650 now; placing 2,350, temporary 620 and crown 2,450 later, at the invented office's prices."""
        option = planned(self.young("2008-01-02"), book).option("wing-bridge-until-implant")
        assert option.treatments == ("wing-bridge",)
        assert option.estimate.total_cents == 265_000
        assert option.estimate.later_cents == 542_000
        assert "CAD 5420.00 more" in option.estimate.not_included[0]
        assert "5420.00" in option.estimate.not_included_es[0]
        assert not any(reason.gate.startswith("implant-crown") for reason in option.reasons)

    def test_grown_people_are_not_told_to_wait(self, book: OfficeBook) -> None:
        assert "wing-bridge-until-implant" not in {
            option.key for option in planned(self.young("2004-01-02"), book).options
        }

    def test_what_is_only_for_the_meantime_is_not_recommended(self, book: OfficeBook) -> None:
        data = TestWings.lost_central()
        data["wishes"] = [{"rank": 1, "words": "it", "targets": [{"kind": "tooth replaced", "teeth": ["21"]}]}]
        plan = planned(data, book)
        assert plan.option("removable-tooth").verdict is not Verdict.NO
        assert plan.recommended != "removable-tooth"


class TestFindingsThatBringCourses:
    def test_trays_without_glue_are_for_those_who_need_them(self, book: OfficeBook) -> None:
        assert "aligners" not in {option.key for option in planned(lead(), book).options}
        for fact, value in (("methacrylate", "positive"), ("nickel", True)):
            assert "aligners" in courses(changed(f"history.{fact}", value))

    def test_crowns_go_on_teeth_that_need_them(self) -> None:
        data = lead()
        data["examination"]["teeth"][3] |= {"crown_lost_percent": 60}
        [work] = courses(data)["crown"].work
        assert (work.tooth, work.removal) == (iso("21"), 20)
        data["examination"]["teeth"][3] |= {"crown_lost_percent": 0, "crowned": True}
        assert len(courses(data)["crown"].work) > 1  # a sound crown is no reason
        data["examination"]["decay"]["leaking_fillings"] = True
        [work] = courses(data)["crown"].work
        assert (work.tooth, work.removal, work.crown_percent) == (iso("21"), 3, (0, 0))  # only what a renewal costs

    def test_a_bridge_stands_on_both_neighbours(self) -> None:
        found = courses(TestWings.lost_central())["bridge"]
        assert set(found.teeth()) == {iso("11"), iso("22")}
        assert set(found.reduced()) == {iso("11"), iso("22")}

    def test_two_places_side_by_side_share_one_bridge(self) -> None:
        data = TestWings.lost_central()
        data["examination"]["teeth"] = [t for t in data["examination"]["teeth"] if t["tooth"] != "11"]
        data["examination"]["gaps"] = [g for g in data["examination"]["gaps"] if "11" not in g["between"]]
        data["examination"]["empty_places"].append({"place": "11", "crown_distance": "8.6"})
        found = courses(data)["bridge"]
        assert sorted(tooth.iso for tooth in found.teeth()) == ["12", "22"]

    def test_the_gum_line_is_moved_before_the_additions(self, book: OfficeBook) -> None:
        data = lead()
        data["examination"]["teeth"][4]["gum_too_low"] = "1.0"
        plan = planned(data, book)
        option, alone = plan.option("gum-line-then-reshape-bond"), plan.option("reshape-bond")
        assert option.rank.surgery == 1
        assert option.estimate.total_cents == alone.estimate.total_cents + 29_000
        assert option.earliest_finish is not None
        assert alone.earliest_finish is not None
        assert (option.earliest_finish - alone.earliest_finish).days >= 90
        data["examination"]["teeth"][4]["gum_too_low"] = "0.9"
        assert "gum-line-then-reshape-bond" not in {each.key for each in planned(data, book).options}
