"""After-care: common practice, no source; what each treatment must say, and how plainly."""

import re

import pytest
import textstat

from planner.rules.after_care import WHEN, care_sheet, general
from planner.rules.treatment_parts import CareLine
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


NAMED = re.compile(
    r"\b(mg|ml|ibuprof\w+|paracetamol|acetaminof\w+|acetaminophen|aspirin\w*|amoxicil\w+|ch?lorhexidin\w+)\b",
    re.IGNORECASE,
)
"""Drugs and doses in English and Spanish, from memory."""
ENGLISH = re.compile(r"\b(the|and|of|is|are|with|not|your|you|for|from|tooth|teeth|days?)\b", re.IGNORECASE)
"""Common English words, from memory; none of them is a word of Spanish."""
INFORMAL = re.compile(r"\b(tú|tus?|tuyo|te|ti|contigo)\b", re.IGNORECASE)
"""Spanish that speaks to somebody one knows well, from memory."""


def every_line() -> list[CareLine]:
    return [*(line for part in KNOWN.values() for line in part.care), *general()]


def test_no_drug_and_no_dose_is_named() -> None:
    assert not [line for line in every_line() if NAMED.search(line.words) or NAMED.search(line.words_es)]


def test_every_line_is_there_in_spanish_and_each_in_one_wording() -> None:
    assert not [line.words for line in every_line() if not line.words_es]
    pairs = {(line.words, line.words_es) for line in every_line()}
    assert len(pairs) == len({english for english, _spanish in pairs}) == len({spanish for _english, spanish in pairs})
    for _english, spanish in pairs:
        assert not ENGLISH.search(spanish), spanish
        assert not INFORMAL.search(spanish), spanish


@pytest.mark.parametrize(("part", "key"), TOLD, ids=lambda value: getattr(value, "key", value))
def test_a_sheet_in_spanish_says_as_much_and_as_plainly(part: Treatment, key: str) -> None:
    """Fernández Huerta's reading ease (1959) as textstat computes it: 80 and above is easy; short sentences."""
    english, sheet = care_sheet([(part, key)]), care_sheet([(part, key)], "es")
    assert english is not None
    assert sheet is not None
    assert sheet.translated
    assert [(each.when, len(each.lines)) for each in sheet.parts] == [
        (each.when, len(each.lines)) for each in english.parts
    ]
    by_when = {each.when: each.lines for each in sheet.parts}
    ring = " ".join(by_when["ring"])
    for word in ("Hinchazón", "se oscurece", "después de una semana todavía"):
        assert word in ring
    assert "número de emergencias" in " ".join(by_when["at once"])
    lines = [line for each in sheet.parts for line in each.lines]
    textstat.set_lang("es")
    try:
        assert textstat.fernandez_huerta(" ".join(lines)) >= 80
    finally:
        textstat.set_lang("en")
    assert max(len(sentence.split()) for line in lines for sentence in re.split(r"[.:;]", line)) <= 16


def test_two_treatments_at_one_visit_are_one_sheet_with_each_line_once() -> None:
    sheet = care_sheet([(KNOWN["reshaping"], "reshaping"), (KNOWN["bonding"], "bonding")])
    assert sheet is not None
    assert sheet.treatments == ("Reshaping", "Bonding")
    lines = [line for each in sheet.parts for line in each.lines]
    assert len(lines) == len(set(lines))
    assert any("old retainer" in line for line in lines)
    assert any("Floss the edge" in line for line in lines), "what the treatment asks for from then on"


def test_a_line_without_a_translation_stands_in_english_and_says_so() -> None:
    """Lines that an office writes itself may have none yet."""
    part = KNOWN["reshaping"]
    half = part.model_copy(update={"care": (part.care[0].model_copy(update={"words_es": ""}),)})
    sheet = care_sheet([(half, "reshaping")], "es")
    assert sheet is not None
    assert part.care[0].words in [line for each in sheet.parts for line in each.lines]
    assert not sheet.translated
    bare = part.model_copy(update={"you_must": (part.you_must[0].model_copy(update={"words_es": ""}),)})
    sheet = care_sheet([(bare, "reshaping")], "es")
    assert sheet is not None
    assert part.you_must[0].words in [line for each in sheet.parts for line in each.lines]
    assert not sheet.translated
