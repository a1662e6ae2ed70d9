"""No option ever contradicts itself: every option of many mouths is held against the table of what may stand together.

The table is common practice, no source.
"""

import copy
import json
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from planner.rules.casefile import resolve_days, validate_case
from planner.rules.compose import compose
from planner.rules.courses import Course, Work
from planner.rules.options import Desk
from planner.rules.segments import MeasureFirst, segment_of
from planner.rules.space_model import SpaceError
from planner.rules.spaces import share_space
from planner.rules.together import clash, clashes, rules
from planner.rules.treatments import all_combinations, all_treatments
from tests.rules.books import tern_row
from tests.rules.cases import iso
from tests.rules.test_casefile import TODAY, lead

CASES = sorted((Path(__file__).parents[2] / "fixtures" / "cases").glob("*.json"))
TREATMENTS, COMBINATIONS = all_treatments(), all_combinations()


def composed(data: Any) -> dict[str, tuple[Course, tuple[str, ...]]]:
    """Every course of a case, with what it contradicts."""
    facts = validate_case(data, TODAY)
    try:
        spaces = share_space(segment_of(facts))
    except (MeasureFirst, SpaceError):
        spaces = None
    book = tern_row()
    desk = Desk(facts, book, TODAY, book.price_list_on(TODAY), TREATMENTS, COMBINATIONS)
    found = compose(facts, spaces, TREATMENTS, COMBINATIONS, TODAY)
    return {course.key: (course, clashes(course, TREATMENTS, desk.combination(course))) for course in found}


def mouths() -> dict[str, Any]:
    """The demo's cases, and the lead with everything that brings courses along turned on and off."""
    found = {path.stem: resolve_days(json.loads(path.read_text(encoding="utf-8")), TODAY) for path in CASES}
    lighter = {"rank": 4, "words": "lighter", "targets": [{"kind": "colour lighter"}]}
    turned_on: list[set[int]] = [set(), *({at} for at in range(5)), *({0, at} for at in range(1, 5)), set(range(5))]
    for on in turned_on:
        wish, gum, resin, gone, place = (at in on for at in range(5))
        data = copy.deepcopy(lead())
        teeth = data["examination"]["teeth"]
        data["wishes"] += [lighter] if wish else []
        teeth[4]["gum_too_low"] = "1.5" if gum else "0.0"
        data["history"]["methacrylate"] = "positive" if resin else "no"
        if gone:
            teeth[3] |= {"crown_lost_percent": 70, "ferrule": "2.0"}
        if place:
            teeth[1]["place"] = "13"
            del teeth[0]
            data["examination"]["gaps"] = data["examination"]["gaps"][2:]
            data["examination"]["empty_places"] = [{"place": "12", "crown_distance": "6.9"}]
            data["choices"]["locks"] = []
        found[f"lead {wish} {gum} {resin} {gone} {place}"] = data
    return found


MOUTHS = mouths()


@cache
def of_mouth(name: str) -> dict[str, tuple[Course, tuple[str, ...]]]:
    return composed(MOUTHS[name])


@pytest.mark.parametrize("name", MOUTHS)
def test_no_course_contradicts_itself(name: str) -> None:
    found = of_mouth(name)
    assert "none" in found
    for key, (_, against) in found.items():
        assert against == (), f"{key}: {against}"


def test_every_treatment_and_combination_is_proposed_to_somebody() -> None:
    data = copy.deepcopy(MOUTHS["lead True True False False False"])
    data["patient"]["birth_date"] = "2007-01-02"
    young = copy.deepcopy(MOUTHS["lead False False False False True"])
    young["patient"]["birth_date"] = "2007-01-02"
    proposed: set[str] = set()
    for found in (*map(of_mouth, MOUTHS), composed(data), composed(young)):
        proposed |= {part for course, _ in found.values() for part in (course.key, *course.treatments)}
    left_out = (set(TREATMENTS) | set(COMBINATIONS)) - proposed
    assert left_out <= {"gum-line-then-bonding"}  # the lead's edge is always shortened too


class TestTheTable:
    @pytest.mark.parametrize(
        ("one", "two"),
        [
            *product(("bonding", "direct-face", "lab-face", "ceramic-veneer", "crown"), repeat=2),
            *product(("reshaping",), ("ceramic-veneer", "crown", "bridge")),
            *product(("bridge",), ("bonding", "direct-face", "crown", "wing-bridge")),
            *product(("wing-bridge",), ("direct-face", "lab-face", "ceramic-veneer", "crown")),
        ],
    )
    def test_what_never_stands_on_one_tooth(self, one: str, two: str) -> None:
        course = Course("x", (one, two), (Work(one, iso("11")), Work(two, iso("11"))))
        assert clashes(course, TREATMENTS, None)

    @pytest.mark.parametrize(
        ("one", "two"), [("reshaping", "bonding"), ("reshaping", "direct-face"), ("gum-line", "bonding")]
    )
    def test_what_may(self, one: str, two: str) -> None:
        course = Course("x", (one, two), (Work(one, iso("11")), Work(two, iso("11"))))
        assert clashes(course, TREATMENTS, None) == ()
        assert clashes(Course("x", (two, one), course.work), TREATMENTS, None)  # in this order only

    def test_exclusions_hold_both_ways(self) -> None:
        for one, two in product(TREATMENTS.values(), repeat=2):
            assert bool(clash(one, two).tooth) == bool(clash(two, one).tooth)

    def test_whitening_and_resin_are_no_one_visit(self) -> None:
        joined = COMBINATIONS["whiten-then-bond"].model_copy(update={"same_visit": (("whitening", "bonding"),)})
        course = Course("x", ("whitening", "bonding"), (Work("whitening"), Work("bonding", iso("11"))))
        assert "oxygen" in clashes(course, TREATMENTS, joined)[0]
        assert clashes(course, TREATMENTS, COMBINATIONS["whiten-then-bond"]) == ()

    def test_a_place_takes_one_final_filling(self) -> None:
        def filled(*keys: str) -> Course:
            work = tuple(Work(key, iso("12"), fills_place=True) for key in keys)
            return Course("x", keys, work, places_filled=(iso("12"),))

        assert clashes(filled("bridge", "implant-crown"), TREATMENTS, None)
        assert clashes(filled("wing-bridge"), TREATMENTS, None) == ()

    def test_gums_are_never_moved_by_themselves(self) -> None:
        assert clashes(Course("gum-line", ("gum-line",), (Work("gum-line", iso("11")),)), TREATMENTS, None)
        assert all(course != "gum-line" for name in MOUTHS for course in of_mouth(name))

    def test_the_table_names_what_there_is(self) -> None:
        for place in rules().places:
            assert {*place.final, *place.interim} <= set(TREATMENTS)
