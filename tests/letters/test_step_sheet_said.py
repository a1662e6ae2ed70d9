"""The paper of the step sheet: large enough for arm's length, two large pages and one to look up."""

import io
import json
from dataclasses import replace

import pypdf
import pytest

from planner.letters.papers import job
from planner.letters.pdf import PaperError
from planner.letters.step_sheet_said import POINTS
from planner.rules.legible import sheet_points
from planner.rules.results import stable_json
from tests.letters.conftest import ISSUE, STEP_SHEET, beside, drawn_up, rendered, texts
from tests.letters.sample import case_plan


def sizes(content: bytes, page: int) -> dict[str, float]:
    """Each piece of text of a page with its type size in points, as pypdf reads them."""
    found: dict[str, float] = {}

    def note(text: str, cm: list[float], tm: list[float], _font: object, size: float) -> None:
        if text.strip():
            found[" ".join(text.split())] = abs(size * tm[3] * cm[3])

    pypdf.PdfReader(io.BytesIO(content)).pages[page].extract_text(visitor_text=note)
    return found


def test_step_lines_are_printed_no_smaller_than_arms_length_asks() -> None:
    assert sheet_points() <= POINTS
    content = rendered(STEP_SHEET).content
    for page, begins in ((0, "Pumice and water"), (0, "Dam on"), (1, "Bite marks: close"), (1, "Texture, last")):
        (size,) = [size for text, size in sizes(content, page).items() if text.startswith(begins)]
        assert size >= sheet_points() - 0.01, begins


def test_two_large_pages_then_one_to_look_up_and_it_says_that_it_goes_on() -> None:
    first, second, third = texts(rendered(STEP_SHEET).content)
    assert "it does not fit on one page" in first
    assert second.index("One tooth to the end, then the next: 22, 11, 21") < second.index("Dam off")
    assert "mesial +0.7, distal +0.9, edge +1.3" in first
    assert "do NOT stop after it" in first
    assert "Etch gel 37 %" in third
    assert "29 s at 600" in third, "16 J/cm² through a sleeve that lets 93 % pass: 16000 ÷ (600 × 0.93) = 28.7"
    assert "Decay under the edge of 22" in third


def test_it_refuses_without_a_visit_and_for_another_plan() -> None:
    plan = case_plan().to_json()
    with pytest.raises(PaperError, match="belongs to a visit"):
        job(plan, STEP_SHEET, ISSUE)
    other = json.loads(drawn_up()) | {"plan_sha256": "0" * 64}
    with pytest.raises(PaperError, match="another plan"):
        job(plan, STEP_SHEET, replace(ISSUE, steps=stable_json(other).decode()))
    care = json.loads(beside("after-care")["care"]) | {"plan_sha256": "0" * 64}
    with pytest.raises(PaperError, match="another plan"):
        job(plan, "after-care", replace(ISSUE, care=stable_json(care).decode()))
