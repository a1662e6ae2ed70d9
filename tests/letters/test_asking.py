"""The request to an orthodontist and the question to a payer: when there is one, and what stands in it."""

from dataclasses import replace

import pytest

from planner.letters import ortho_said, payer_request_said
from planner.letters.papers import job, kinds_of
from planner.letters.pdf import PaperError
from tests.letters.conftest import ISSUE, guessed
from tests.letters.sample import case_plan

ASKED = replace(ISSUE, payer_guess=guessed())


def test_the_request_says_every_frozen_sentence_the_gaps_and_whose_judgement_it_is() -> None:
    plan = case_plan()
    html = job(plan.to_json(), ortho_said.KEY, ISSUE).html
    assert "Close at least 0.4 mm between" in html
    assert "leave 0.4 mm or less" in html
    assert "8.5 mm" in html
    for gap in ("0.5", "0.3", "0.8", "0.7", "0.9"):
        assert f'<td class="number">{gap}</td>' in html
    assert "is judged and decided by whoever treats" in html


def test_without_movement_there_is_no_request() -> None:
    plan = case_plan()
    shared = replace(plan, spaces=replace(plan.spaces, request=())).to_json()
    assert ortho_said.KEY not in kinds_of(shared, ISSUE)
    with pytest.raises(PaperError, match="No movement of teeth"):
        job(shared, ortho_said.KEY, ISSUE)


def test_the_question_has_the_whole_price_line_by_line_and_the_payers_name() -> None:
    html = job(case_plan().to_json(), payer_request_said.KEY, ASKED).html
    for words in ("Harbour Mutual", "BND", "CAD\u00a01,268.25", "CAD\u00a01,618.25", "belong to no national list"):
        assert words in html
    # Nothing of what was guessed, and nothing of the other options: the payer is asked, not told.
    assert "guess" not in html.split("<body", 1)[1].split("Is this paper the real one?", 1)[0]
    assert "6,300" not in html


def test_large_print_takes_lines_instead_of_a_table() -> None:
    html = job(case_plan().to_json(), payer_request_said.KEY, ASKED, points=24).html
    assert "our code BND" in html
    assert '<table class="sums">' not in html


def test_without_a_payer_there_is_nobody_to_ask() -> None:
    assert payer_request_said.KEY not in kinds_of(case_plan().to_json(), ISSUE)
    with pytest.raises(PaperError, match="nobody to ask"):
        job(case_plan().to_json(), payer_request_said.KEY, ISSUE)


def test_what_costs_nothing_is_not_asked_about() -> None:
    with pytest.raises(PaperError, match="nothing to ask a payer"):
        job(case_plan().to_json(), payer_request_said.KEY, replace(ASKED, chosen="none"))


def test_a_guess_of_other_prices_is_refused() -> None:
    plan = case_plan()
    bonding = plan.option("bonding")
    dearer = replace(bonding, estimate=replace(bonding.estimate, total_cents=bonding.estimate.total_cents + 1))
    options = tuple(dearer if option is bonding else option for option in plan.options)
    with pytest.raises(PaperError, match="other prices"):
        job(replace(plan, options=options).to_json(), payer_request_said.KEY, ASKED)
