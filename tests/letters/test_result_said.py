"""The paper of promise against result: one page, in both languages, and only for the plan that it tells of."""

import json
from dataclasses import replace

import pytest

from planner.letters.papers import job
from planner.letters.pdf import PaperError
from planner.rules.results import stable_json
from tests.letters.conftest import ISSUE, RESULT, after_two_years, beside, rendered, texts
from tests.letters.sample import case_plan


def test_it_is_one_page_and_says_planned_reached_and_now() -> None:
    (page,) = texts(rendered(RESULT).content)
    assert "22 (Universal 10) 5.5 × 8.3 7.1 × 9.3 7.0 × 9.4 7.0 × 9.1" in page
    assert "I don't want healthy teeth ground down 10 10 10" in page
    assert "20 January 2027: upper left lateral incisor (22, Universal 10), chipped, and mended" in page
    assert "planned 194, taken 209" in page
    assert "No further look is planned" in page
    # The office's own cost of a promise is not the patient's business.
    assert "Repairs under our promise, at no charge 1" in page


def test_large_print_has_lists_and_loses_nothing() -> None:
    pages = " ".join(texts(rendered(RESULT, 24).content))
    assert "22 (Universal 10): before 5.5 × 8.3; planned 7.1 × 9.3; reached 7.0 × 9.4; now 7.0 × 9.1" in pages
    assert "the pointed one on the right; after 14 days: 8; after 12 months: 8; after 24 months: 8" in pages


def test_what_nobody_measured_is_a_dash_and_nothing_is_made_up() -> None:
    said = json.loads(after_two_years())
    said["teeth"][3] |= {"width": [55, 71, None, None], "length": [83, 93, None, None], "happened": []}
    said["looked"], said["wishes"][0]["scores"] = False, []
    what = job(case_plan().to_json(), RESULT, replace(ISSUE, result=stable_json(said).decode()))
    assert '7.1\u00a0×\u00a09.3</td><td class="number">–</td>' in what.html
    assert "A dash means that nobody measured it." in what.html
    assert "Nobody has looked at the teeth since." in what.html
    assert "the teeth were whole" not in what.html


def test_without_reviews_or_for_another_plan_there_is_none() -> None:
    plan = case_plan().to_json()
    with pytest.raises(PaperError, match="made from reviews"):
        job(plan, RESULT, ISSUE)
    other = json.loads(beside(RESULT)["result"]) | {"plan_sha256": "0" * 64}
    with pytest.raises(PaperError, match="another plan"):
        job(plan, RESULT, replace(ISSUE, result=stable_json(other).decode()))
