"""Which options a paper tells in full: at most seven, gentlest first, and the others never without a reason."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.letters.choosing import MOST, can_be_done, told_in_full
from planner.letters.papers import job
from planner.rules.results import CasePlan, OptionShape
from planner.rules.verdicts import Reason, Verdict
from tests.letters.conftest import ISSUE
from tests.letters.sample import NONE, case_plan

OWN_LIMIT = (Reason("G11", Verdict.NO, "This is outside your own limit.", patient_limit=True),)
REFUSED = (Reason("x", Verdict.NO, "It cannot be done."),)


def option(index: int, verdict: Verdict, reasons: tuple[Reason, ...] = (), struck: str = "") -> OptionShape:
    shown = Verdict.NO if struck else verdict
    return replace(NONE, key=f"option-{index}", name=f"Way {index}", verdict=shown, reasons=reasons, struck=struck)


def plan_of(*options: OptionShape) -> CasePlan:
    return replace(case_plan(), options=(NONE, *options), recommended="")


def group(one: OptionShape) -> int:
    if one.verdict in (Verdict.OFFER, Verdict.CARE):
        return 1
    if one.verdict in (Verdict.WAIT, Verdict.ASK):
        return 2
    return 3 if not one.struck and one.reasons == OWN_LIMIT else 4


OPTIONS = st.lists(
    st.sampled_from(
        [
            (Verdict.OFFER, (), ""),
            (Verdict.CARE, (), ""),
            (Verdict.WAIT, (), ""),
            (Verdict.ASK, (), ""),
            (Verdict.NO, OWN_LIMIT, ""),
            (Verdict.NO, REFUSED, ""),
            (Verdict.NO, OWN_LIMIT + REFUSED, ""),
            (Verdict.OFFER, (), "The dentist struck it."),
        ]
    ),
    max_size=12,
)


@given(OPTIONS)
def test_the_better_group_goes_first_and_the_order_stays(drawn: list[tuple[Verdict, tuple[Reason, ...], str]]) -> None:
    options = [option(index, *what) for index, what in enumerate(drawn)]
    plan = plan_of(*options)
    told = told_in_full(plan)
    assert told[0] is NONE, "doing nothing is always told"
    assert len(told) <= MOST
    assert list(told) == [one for one in plan.options if one in told]
    left = [one for one in options if one not in told and group(one) < 4]
    assert all(group(one) < 4 for one in told[1:])
    if left:
        assert len(told) == MOST
        # Nobody was left out for a worse one, nor for one further back of the same group.
        last = max((group(one), options.index(one)) for one in told[1:])
        assert last < min((group(one), options.index(one)) for one in left)


@pytest.mark.parametrize("verdict", [Verdict.ASK, Verdict.NO])
def test_what_the_letter_is_about_is_always_told(verdict: Verdict) -> None:
    many = [option(index, Verdict.OFFER) for index in range(9)]
    last = option(9, verdict, REFUSED)
    assert last in told_in_full(plan_of(*many, last), "option-9")
    assert last not in told_in_full(plan_of(*many, last))


def test_whether_anything_can_be_done() -> None:
    assert can_be_done(plan_of(option(1, Verdict.CARE)))
    assert not can_be_done(plan_of(option(1, Verdict.ASK), option(2, Verdict.OFFER, struck="No.")))


@pytest.mark.parametrize("kind", ["option-sheet", "consent-letter"])
def test_every_option_is_told_or_named_with_its_reason(kind: str) -> None:
    options = [option(index, Verdict.OFFER) for index in range(1, 8)]
    options.append(option(8, Verdict.NO, REFUSED))
    options.append(option(9, Verdict.NO, OWN_LIMIT))
    html = job(plan_of(*options).to_json(), kind, ISSUE).html
    said = {"option-sheet": "Other ways, and why they are not told in full here"}
    above, others = html.split(said.get(kind, "Other ways, and all the reasons"))
    assert all(f"Way {index}" in above for index in range(1, 7))
    assert "Way 7.</strong> We can offer this." in others
    assert "Way 8.</strong> We do not offer this. It cannot be done." in others
    assert "outside your own limit. You may change your own limits." in others
