"""What people are called and what they write must not break a letter, nor run in it."""

import json
from dataclasses import replace

import pytest
from django.utils.html import escape
from pydantic import ValidationError

from planner.letters.issue import Answered, Issue
from planner.letters.papers import KINDS, job
from planner.letters.read_back import blocks
from planner.rules.results import sha256, stable_json
from tests.letters.conftest import ISSUE, NOT_NOW, ORTHODONTIST, PAYER, beside, guess_for
from tests.letters.sample import case_plan, plan_with
from tests.support import render_once

MARKUP = "<script>alert(1)</script><img src=https://example.invalid/x.png><b>bold</b>"
LONG = "I would like my teeth to look as they did before the fall. " * 68
NAMES = [
    "\u05e9\u05e8\u05d4 \u05db\u05d4\u05df",
    "Siobhán O’Brien-D'Arcy",
    "Wolfeschlegelsteinhausenbergerdorffvoralternwarengewissenhaft",
    "Suharto",
    MARKUP,
]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_stands_in_the_file_as_it_is_written(name: str) -> None:
    made = render_once(job(case_plan(name=name).to_json(), "consent-letter", ISSUE))
    assert made.warnings == ()
    words = "".join("".join(block.text for block in blocks(made.content)).split())
    written = "".join(name.split())[:12]
    # Right-to-left letters stand in the file in the order they are drawn.
    assert written in words or written[::-1] in words


@pytest.mark.parametrize("kind", [key for key, kind in KINDS.items() if kind.named])
def test_every_paper_that_names_the_patient_takes_any_name(kind: str) -> None:
    """Written from the right, with apostrophes, of 60 letters, of one word: whole on it, and markup stays text."""
    for name in NAMES:
        plan = replace(plan_with() if kind == NOT_NOW else case_plan(), patient_name=name)
        if kind == ORTHODONTIST:
            plan = replace(plan, spaces=replace(plan.spaces, request=("Move the canine back by 1.0 mm.",)))
        own = {"plan_sha256": sha256(plan.to_json())}
        told = {field: stable_json(json.loads(text) | own).decode() for field, text in beside(kind).items()}
        if kind == PAYER:
            told = {"payer_guess": guess_for(plan)}
        html = job(plan.to_json(), kind, replace(ISSUE, **told)).html
        assert escape(name) in html, name
        assert "<script" not in html


def test_markup_in_any_text_stays_text() -> None:
    issue = Issue(
        number=MARKUP,
        dentist=MARKUP,
        dentist_role=MARKUP,
        does_the_work=MARKUP,
        own_risks=(MARKUP,),
        questions=(Answered(MARKUP, MARKUP, MARKUP),),
        guarantee=MARKUP,
        record=MARKUP,
        needs=MARKUP,
        interpreter=MARKUP,
        shared_with=(MARKUP,),
        if_stopped=MARKUP,
    )
    html = job(case_plan(name=MARKUP).to_json(), "consent-letter", issue).html
    assert "<script" not in html
    assert "<img" not in html
    assert "<b>bold" not in html
    assert html.count("&lt;script&gt;") >= 12


def test_a_long_wish_is_kept_whole_and_told_in_short_after() -> None:
    """A case file takes up to 4,000 characters of a wish, and refuses more with a sentence."""
    plan, words = case_plan(), LONG[:4000].strip()
    facts = dict(plan.facts) | {"wishes": [{"rank": 1, "words": words, "targets": []}]}
    made = render_once(job(replace(plan, facts=facts).to_json(), "consent-letter", ISSUE))
    assert made.warnings == ()
    said = [block.text for block in blocks(made.content)]
    assert len(words) > 3_990
    assert " ".join(said).count(words) == 1, "whole, though it goes on over the page"
    short = [text for text in said if LONG[:60] in text and text.rstrip().endswith("…")]
    assert len(short) == 1, "its beginning, where it is asked what matters"
    longer = facts | {"wishes": [{"rank": 1, "words": LONG[:4001], "targets": []}]}
    with pytest.raises(ValidationError, match="at most 4000 characters"):
        job(replace(plan, facts=longer).to_json(), "consent-letter", ISSUE)
