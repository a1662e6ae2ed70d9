"""After-care: common practice, no source; what each treatment must say, and how plainly."""

import re

import pytest
import textstat

from planner.rules.after_care import WHEN, care_sheet, general
from planner.rules.treatments import Treatment, all_treatments

KNOWN = all_treatments()
WORKING = [
    (part, visit.key) for part in KNOWN.values() for visit in part.visits if visit.kind == "work" and part.key != "none"
]
TOLD = [(part, key) for part, key in WORKING if care_sheet([(part, key)]) is not None]


def test_work_that_hurts_cuts_or_glues_always_has_a_sheet() -> None:
    silent = {(part.key, key) for part, key in WORKING} - {(part.key, key) for part, key in TOLD}
    # Records, scans, planning and healing checks leave nothing behind that wants care at home.
    assert silent == {
        ("aligners", "records"),
        ("braces", "records"),
        ("implant-crown", "plan"),
        ("implant-crown", "hold"),
        ("implant-crown", "impression"),
        ("removable-tooth", "impression"),
    }


@pytest.mark.parametrize(("part", "key"), TOLD, ids=lambda value: getattr(value, "key", value))
def test_every_sheet_says_when_to_ring_and_what_does_not_wait(part: Treatment, key: str) -> None:
    sheet = care_sheet([(part, key)])
    assert sheet is not None
    by_when = {each.when: each.lines for each in sheet.parts}
    assert list(by_when) == [when for when in WHEN if when in by_when]
    ring = " ".join(by_when["ring"])
    # Swelling, a dark tooth and a bite that stays high are always said.
    for word in ("Swelling", "turns dark", "high after a week"):
        assert word in ring
    assert "emergency number" in " ".join(by_when["at once"])
    assert by_when.get("today") or by_when.get("soon")


@pytest.mark.parametrize(("part", "key"), TOLD, ids=lambda value: getattr(value, "key", value))
def test_a_sheet_reads_at_grade_6_or_below(part: Treatment, key: str) -> None:
    """Flesch-Kincaid grade as textstat computes it."""
    sheet = care_sheet([(part, key)])
    assert sheet is not None
    lines = [line for each in sheet.parts for line in each.lines]
    assert textstat.flesch_kincaid_grade(" ".join(lines)) <= 6
    for line in lines:
        assert textstat.flesch_kincaid_grade(line) < 10, line


def test_no_drug_and_no_dose_is_named() -> None:
    lines = [line.words for part in KNOWN.values() for line in part.care] + [line.words for line in general()]
    named = re.compile(r"\b(mg|ml|ibuprofen|paracetamol|acetaminophen|aspirin|amoxicillin|chlorhexidine)\b", re.I)
    assert not [line for line in lines if named.search(line)]


def test_two_treatments_at_one_visit_are_one_sheet_with_each_line_once() -> None:
    sheet = care_sheet([(KNOWN["reshaping"], "reshaping"), (KNOWN["bonding"], "bonding")])
    assert sheet is not None
    assert sheet.treatments == ("Reshaping", "Bonding")
    lines = [line for each in sheet.parts for line in each.lines]
    assert len(lines) == len(set(lines))
    assert any("old retainer" in line for line in lines)
    assert any("Floss the edge" in line for line in lines), "what the treatment asks for from then on"


def test_a_line_without_a_translation_stands_in_english_and_says_so() -> None:
    part = KNOWN["reshaping"]
    half = part.model_copy(update={"care": (part.care[0].model_copy(update={"words_es": "Puede comer ya."}),)})
    sheet = care_sheet([(half, "reshaping")], "es")
    assert sheet is not None
    assert "Puede comer ya." in [line for each in sheet.parts for line in each.lines]
    assert sheet.translated == all(line.words_es for line in general())
