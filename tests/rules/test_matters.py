"""What matters to the patient marks options and moves none."""

from functools import cache
from itertools import product
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.casefile import case_data, validate_case
from planner.rules.matters import marked, questions
from planner.rules.mouth import Matters, Weight
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan, OptionShape
from planner.rules.verdicts import Verdict
from tests.rules.books import tern_row
from tests.rules.test_casefile import TODAY, lead

LEAD = validate_case(lead(), TODAY)
BOOK = tern_row(TODAY)
WEIGHTS = (None, *get_args(Weight))


@cache
def plan() -> CasePlan:
    return plan_case(LEAD, BOOK, TODAY)


def standing(options: tuple[OptionShape, ...], question: str) -> dict[str, str]:
    return {option.key: one.standing for option in options for one in option.matters if one.key == question}


@given(st.builds(Matters, **{name: st.sampled_from(WEIGHTS) for name in Matters.model_fields}))
@settings(max_examples=60, deadline=None)
def test_whatever_is_answered_the_order_stays(matters):
    options = marked(plan().options, matters)
    assert [(option.key, option.rank, option.verdict) for option in options] == [
        (option.key, option.rank, option.verdict) for option in plan().options
    ]
    answered = [name for name in Matters.model_fields if getattr(matters, name) in ("a lot", "a little")]
    for option in options:
        assert [one.key for one in option.matters] == ([] if option.verdict is Verdict.NO else answered)


def test_in_the_whole_plan_order_recommendation_and_fees_stay():
    everything = Matters.model_validate(dict.fromkeys(Matters.model_fields, "a lot"))
    with_answers = plan_case(LEAD.model_copy(update={"matters": everything}), BOOK, TODAY)
    assert [option.key for option in with_answers.options] == [option.key for option in plan().options]
    assert (with_answers.recommended, with_answers.recommended_why) == (plan().recommended, plan().recommended_why)
    for one, other in zip(with_answers.options, plan().options, strict=True):
        assert (one.rank, one.verdict, one.reasons, one.estimate) == (
            other.rank,
            other.verdict,
            other.reasons,
            other.estimate,
        )


@pytest.mark.parametrize("weight", ["a lot", "a little"])
def test_who_does_well_is_who_nobody_beats(weight):
    options = marked(plan().options, Matters(visits=weight, cost_now=weight, undo=weight))
    treating = [option for option in options if option.verdict is not Verdict.NO and option.key != "none"]
    fewest = min(option.visits for option in treating)
    most = max(option.visits for option in treating)
    for option in treating:
        said = standing(options, "visits")[option.key]
        assert (said == "well") == (option.visits == fewest)
        assert (said == "least well") == (option.visits == most)
    cheapest = min(treating, key=lambda option: option.estimate.compared_cents)
    assert standing(options, "cost_now")[cheapest.key] == "well"
    assert standing(options, "undo")["none"] == "well"
    assert {one.weight for option in options for one in option.matters} == {weight}


def test_what_no_study_tells_is_not_praised():
    options = marked(plan().options, Matters(lasting="a lot"))
    for option in options:
        if option.verdict is Verdict.NO:
            continue
        known = any(point.years == 10 and point.still_in_place_of_100 is not None for point in option.upkeep.curve)
        assert (standing(options, "lasting")[option.key] == "not known") == (not known)


def test_where_all_are_alike_nothing_is_marked():
    alone = tuple(option for option in plan().options if option.key in ("none", "reshaping"))
    options = marked(alone, Matters(visits="a lot"))
    assert standing(options, "visits") == {"none": "well", "reshaping": "alike"}


def test_what_does_not_matter_is_not_marked():
    options = marked(plan().options, Matters.model_validate(dict.fromkeys(Matters.model_fields, "not")))
    assert all(option.matters == () for option in options)


def test_the_answers_go_through_a_case_file_and_come_back():
    for one, two in product(get_args(Weight), repeat=2):
        facts = LEAD.model_copy(update={"matters": Matters(tooth=one, cost_now=two)})
        assert validate_case(case_data(facts), TODAY) == facts


def test_every_question_has_a_place_for_its_answer_and_both_languages():
    assert [one.key for one in questions()] == list(Matters.model_fields)
    assert all(one.words and one.words_es for one in questions())
