"""What a dentist decides around the spaces: each decision reaches the sharing, is refused with a sentence, and is told.

Limits are those of the data files: common practice and office rules, no source. The figures of the request to the
orthodontist are those of the worked cases, computed with a general solver.
"""

import copy
from datetime import date
from typing import Any

import pytest

from planner.rules.casefile import CaseFileError, case_data, validate_case
from planner.rules.mouth import CaseFacts
from planner.rules.plan import plan_case, share_spaces
from planner.rules.results import SpacePlanShape, SpaceShape
from planner.rules.segments import limits_of, segment_of
from planner.rules.settings import read_settings
from planner.rules.space_limits import default_limits
from planner.rules.space_model import Kind
from planner.rules.spaces import share_space
from planner.rules.strip import geometry
from planner.rules.verdicts import Verdict
from planner.rules.why_not import compromised, why_not
from tests.rules import space_cases
from tests.rules.space_casefiles import facts_of
from tests.rules.test_segments import lead
from tests.support import small_book

TODAY = date(2026, 3, 2)
BOOK = small_book()


def decided(*locks: dict[str, Any], facts: CaseFacts | None = None) -> CaseFacts:
    """The lead case, or other facts, with decisions added as a case file carries them."""
    data = copy.deepcopy(case_data(facts or lead()))
    known = data.setdefault("choices", {}).setdefault("locks", [])
    known += [{"reason": "Wanted so.", "by": "Dr Imke Sorrel", "on": "2026-03-01"} | lock for lock in locks]
    return validate_case(data, TODAY)


def refused(*locks: dict[str, Any], facts: CaseFacts | None = None) -> str:
    """Everything that a case file with these decisions is refused for."""
    with pytest.raises(CaseFileError) as error:
        decided(*locks, facts=facts)
    return str(error.value)


def best(shape: SpaceShape) -> SpacePlanShape:
    return next(plan for plan in shape.plans if "best proportion" in plan.names)


ALL: list[dict[str, Any]] = [
    {"tooth": "22", "what": "share limit", "value": "2.0"},
    {"tooth": "22", "what": "emergence limit", "degrees": 35},
    {"tooth": "22", "what": "lengthen limit", "value": "2.0"},
    {"tooth": "11", "what": "slenderise mesial", "value": "0.2"},
    {"tooth": "11", "what": "slenderise distal", "value": "0.1"},
    {"tooth": "11", "what": "twins apart"},
    {"tooth": "23", "what": "role", "role": "premolar"},
    {"what": "ratio", "percent": 80},
    {"what": "midline", "value": "-0.3"},
]


@pytest.mark.parametrize("lock", ALL, ids=lambda lock: str(lock["what"]))
def test_every_decision_is_read_and_written_back_alike(lock: dict[str, Any]) -> None:
    facts = decided(lock)
    assert validate_case(case_data(facts), TODAY) == facts
    share_spaces(facts, BOOK)


def test_each_decision_reaches_the_model() -> None:
    facts = decided(*(lock for lock in ALL if lock["what"] not in ("share limit", "emergence limit")))
    segment = segment_of(facts)
    teeth = {tooth.key: tooth for tooth in segment.teeth}
    central, lateral = teeth["upper-right-central-incisor"], teeth["upper-left-lateral-incisor"]
    assert (central.locks.slender_left, central.locks.slender_right) == (2, 1), "mesial is the side to the midline"
    assert central.twins_apart
    assert lateral.limits.lengthen_cap == 20
    assert teeth["upper-left-canine"].role.value == "premolar"
    assert segment.midline_offset == -3
    assert limits_of({}, facts.choices).band_ratio.target == 80
    for what, limit in (("share limit", "share_cap"), ("emergence limit", "emergence_degrees")):
        (lock,) = [lock for lock in ALL if lock["what"] == what]
        tooth = next(each for each in segment_of(decided(lock)).teeth if each.undersized)
        assert getattr(tooth.limits, limit) == (20 if what == "share limit" else 35)


@pytest.mark.parametrize(
    ("lock", "sentence"),
    [
        ({"tooth": "22", "what": "share limit", "value": "2.1"}, "may be raised to 2.0 mm at most"),
        ({"tooth": "11", "what": "share limit", "value": "1.6"}, "may be raised to 1.5 mm at most"),
        (
            {"tooth": "11", "what": "share limit", "value": "1.2"},
            "raises nothing: the largest share on one side is 1.2",
        ),
        ({"tooth": "22", "what": "emergence limit", "degrees": 41}, "may be raised to 40 degrees at most"),
        ({"tooth": "22", "what": "emergence limit", "degrees": 30}, "raises nothing"),
        ({"tooth": "11", "what": "lengthen limit", "value": "2.1"}, "may be raised to 2.0 mm at most"),
        ({"tooth": "53", "what": "lengthen limit", "value": "0.5"}, "is not raised on such a tooth"),
        ({"tooth": "11", "what": "slenderise mesial", "value": "0.3"}, "between 0.0 and 0.2"),
        ({"what": "midline", "value": "5.1"}, "between -5.0 and 5.0"),
        ({"what": "ratio", "percent": 30}, "50"),
        ({"what": "ratio", "tooth": "22", "percent": 80}, "is about the whole front"),
        ({"tooth": "22", "what": "ratio"}, "whole front"),
        ({"tooth": "22", "what": "role"}, "needs the role"),
        ({"tooth": "22", "what": "untouched", "value": "1.0"}, 'has no entry "value"'),
    ],
)
def test_what_cannot_be_decided_is_refused_with_a_sentence(lock: dict[str, Any], sentence: str) -> None:
    assert sentence in refused(lock)


def test_one_limit_at_most_is_raised() -> None:
    assert "One limit at most is raised" in refused(*ALL[:2])


def test_the_limits_of_raising_lie_beyond_the_ordinary_ones() -> None:
    """Otherwise a limit would stand in the data that nobody could ever raise."""
    raised, limits = read_settings("space_raised.toml"), default_limits()
    for kind in (Kind.CENTRAL, Kind.LATERAL, Kind.CANINE, Kind.PREMOLAR, Kind.PRIMARY):
        caps = limits.share_cap_mesial.of(kind), limits.share_cap_distal.of(kind)
        assert raised["share_most"].value[kind] > max(cap or 0 for cap in caps)
    assert raised["share_most"].value["lateral"] > limits.share_cap_undersized
    assert raised["emergence_most"].value > limits.emergence_limit_degrees
    assert raised["lengthen_most"].value["lateral"] >= limits.lengthen_cap_undersized


def test_a_raised_limit_needs_care_where_the_plan_uses_the_tooth() -> None:
    def reasons(facts: CaseFacts) -> list[tuple[Verdict, str]]:
        option = next(each for each in plan_case(facts, BOOK, TODAY).options if each.key == "reshape-bond")
        return [(reason.verdict, reason.words) for reason in option.reasons if reason.gate == "spaces"]

    assert reasons(lead()) == []
    ((verdict, words),) = reasons(decided(ALL[0]))
    assert verdict is Verdict.CARE
    assert words.endswith("is raised to 2.0 mm by Dr Imke Sorrel: Wanted so.")
    untouched = {"tooth": "53", "what": "share limit", "value": "1.1"}
    assert reasons(decided(untouched)) == [], "a limit of a tooth that nobody touches changes nothing"


def test_a_raised_limit_makes_room() -> None:
    """Case 4 with more on one side: the undersized lateral of 4.6 mm reaches the floor of proportion, 6.0."""
    facts = facts_of(space_cases.DEMO_4, lead(), "wide gap")
    gaps = facts.examination.gaps
    wide = (*gaps[:2], gaps[2].model_copy(update={"width": 20}), gaps[3].model_copy(update={"width": 0}))
    facts = facts.model_copy(update={"examination": facts.examination.model_copy(update={"gaps": wide})})
    without = share_spaces(facts, BOOK)
    with_it = share_spaces(decided({"tooth": "22", "what": "share limit", "value": "2.0"}, facts=facts), BOOK)
    assert max(gap.to_left_tooth_tenths for plan in with_it.plans for gap in plan.gaps) > 0
    assert without.verdict != with_it.verdict or best(without).misfit >= best(with_it).misfit


def narrower() -> CaseFacts:
    """Case 2, its right central made 0.2 mm narrower beside a gap of 0.3."""
    return decided(
        {"tooth": "11", "what": "slenderise distal", "value": "0.2"}, facts=facts_of(space_cases.CASE_2, lead(), "two")
    )


def test_what_is_taken_off_a_side_counts_and_can_be_drawn() -> None:
    facts = narrower()
    plan = best(share_spaces(facts, BOOK))
    lateral, central = plan.teeth[:2]
    assert (central.distal_tenths, central.right_tenths) == (-2, -2)
    assert central.width_after_tenths == 81 - 2 + central.mesial_tenths
    assert lateral.mesial_tenths == 5, "the gap of 0.3 and what was taken off the central"
    assert plan.removed_tenths == 2
    assert [gap.width_tenths for gap in plan.gaps] == [3, 17, 0], "what was measured, shared out exactly"
    geometry(plan)
    already = facts.examination.teeth[1].model_copy(update={"sides_removed_before": 1})
    teeth = (facts.examination.teeth[0], already, *facts.examination.teeth[2:])
    worn = facts.model_copy(update={"examination": facts.examination.model_copy(update={"teeth": teeth})})
    assert "at most 0.1 mm may still be taken off" in share_spaces(worn, BOOK).sentence


def test_a_side_made_narrower_is_told_as_removal() -> None:
    option = next(each for each in plan_case(narrower(), BOOK, TODAY).options if each.key == "reshape-bond")
    assert option.removal_tenths == 2
    assert any(line.words.startswith("Side of the upper right central incisor") for line in option.work)


def test_the_request_of_case_3_is_the_worked_one() -> None:
    shape = share_spaces(facts_of(space_cases.CASE_3, lead(), "case 3"), BOOK)
    assert shape.request[:2] == (
        "Close at least 2.7 mm between 11 (Universal 8) and 21 (Universal 9); leave 0.7 mm or less.",
        "Material is added afterwards; target widths: 11 (Universal 8) 9.2 mm, 21 (Universal 9) 9.2 mm.",
    )
    assert share_spaces(facts_of(space_cases.CASE_2, lead(), "case 2"), BOOK).request == ()


def test_the_request_of_case_4_names_both_gaps_and_the_least_width() -> None:
    facts = facts_of(space_cases.CASE_4, lead(), "case 4")
    request = share_spaces(decided({"tooth": "22", "what": "build up"}, facts=facts), BOOK).request
    assert request[0].startswith("Open at least 0.8 mm between 22 (Universal 10) and 23")
    assert "open at least 0.8 mm between 21" in request[1]
    assert "22 (Universal 10) 6.0 mm" in request[2]


def test_what_is_not_recorded_before_closing_at_the_midline_is_named() -> None:
    facts = facts_of(space_cases.CASE_3, lead(), "case 3")
    blank = facts.examination.bite.model_copy(update={"frenum_checked": None, "extra_tooth_checked": None})
    facts = facts.model_copy(update={"examination": facts.examination.model_copy(update={"bite": blank})})
    assert share_spaces(facts, BOOK).request[-1] == (
        "Not recorded yet, to be looked at before closing: the frenum, a film for an extra tooth at the midline."
    )


def test_less_movement_names_what_stays_compromised() -> None:
    facts = facts_of(space_cases.CASE_4, lead(), "case 4")
    facts = decided({"tooth": "22", "what": "build up"}, facts=facts)
    assert compromised(facts, BOOK, 8) == (
        "Open at least 0.8 mm between 22 and 23 or elsewhere; then everything fits.",
    )
    some = compromised(facts, BOOK, 5)
    assert "Without moving teeth; still broken: proportion." in some


def test_the_nearest_ideas_are_told_in_the_numbers_of_the_case() -> None:
    facts = facts_of(space_cases.CASE_2, lead(), "case 2")
    found = why_not(facts, BOOK)
    assert 1 <= len(found) <= 3
    assert all(idea and why and "upper-" not in idea + why for idea, why in found)
    assert why_not(facts_of(space_cases.CASE_3, lead(), "case 3"), BOOK) == ()


def test_sharing_is_remembered_and_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = facts_of(space_cases.CASE_2, lead(), "case 2")
    once = share_spaces(facts, BOOK)
    assert share_spaces(facts, BOOK) == once
    assert share_space(segment_of(facts)).plans, "the remembered answer is that of the model itself"
