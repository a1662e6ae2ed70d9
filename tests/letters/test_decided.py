"""What a dentist decided and what matters to the patient stand on every paper; its figures lead to their sources."""

import re
from dataclasses import replace
from datetime import date

import pytest

from planner.letters.issue import Issue
from planner.letters.papers import job
from planner.letters.sources import Source, leading_to
from planner.rules.results import CasePlan, MatterShape, OverrideShape, OwnShape
from tests.letters.conftest import ISSUE
from tests.letters.sample import case_plan

DAY = date(2026, 3, 2)
WHY = "Tried on in wax, and the patient liked it."


def decided() -> tuple[CasePlan, str]:
    """A plan whose first priced option is a dentist's own, set against a verdict, and does well on what matters."""
    plan = case_plan()
    first = next(
        option for option in plan.options if option.estimate.lines and option.verdict.value in ("offer", "care")
    )
    changed = replace(
        first,
        own=OwnShape("Dr Own", DAY, WHY, changed_from="bonding"),
        overrides=(OverrideShape("bonding.overjet", "Looked at twice on the models.", "Dr Sure", DAY),),
        matters=(
            MatterShape("visits", "a lot", "well", "few visits", "pocas visitas"),
            MatterShape("soon", "a little", "well", "being finished soon", "terminar pronto"),
            MatterShape("cost_now", "a lot", "least well", "a low cost now", "un coste bajo ahora"),
        ),
    )
    options = tuple(changed if option.key == first.key else option for option in plan.options)
    return replace(plan, options=options), first.key


@pytest.mark.parametrize("kind", ["option-sheet", "estimate", "consent-letter"])
def test_what_a_dentist_decided_stands_wherever_the_option_does(kind: str) -> None:
    plan, key = decided()
    html = job(plan.to_json(), kind, replace(ISSUE, chosen=key)).html
    assert "Put together by Dr Own on 2 March 2026" in html
    assert WHY in html
    assert "Dr Sure decided on 2 March 2026 to offer it all the same" in html
    assert "Looked at twice on the models." in html


@pytest.mark.parametrize("kind", ["option-sheet", "consent-letter"])
def test_what_matters_a_lot_is_marked_and_moves_nothing(kind: str) -> None:
    plan, key = decided()
    marked = job(plan.to_json(), kind, ISSUE).html
    bare = replace(plan, options=tuple(replace(option, matters=()) for option in plan.options))
    plain = job(bare.to_json(), kind, ISSUE).html
    assert "Does well on what matters a lot to you" in marked
    assert "Few visits" in marked
    assert "eing finished soon" not in marked
    assert "Does well on what matters" not in plain
    heads = [re.findall(r"<thead>.*?</thead>", html, re.DOTALL) for html in (marked, plain)]
    assert heads[0] == heads[1]
    assert key


def test_the_figures_of_the_option_sheet_lead_to_a_numbered_list() -> None:
    html = job(case_plan().to_json(), "option-sheet", Issue()).html
    table, _, listed = html.partition("Where these numbers come from")
    numbers = [int(one) for one in re.findall(r"(?:</strong> |\. )(\d+)\. ", listed)]
    led = re.findall(r"\(sources?\u00a0([\d,–\s]+)\)", table)
    assert led
    for part in led:
        for run in part.split(", "):
            first, _, last = run.partition("–")
            assert set(range(int(first), int(last or first) + 1)) <= set(numbers)


def test_numbers_in_a_row_are_told_as_a_run() -> None:
    listed = tuple(Source(number, (f"k{number}",), (), "", "abstract", "") for number in range(1, 10))
    assert leading_to([f"k{number}" for number in (1, 3, 4, 5, 8, 9)], listed) == "(sources\u00a01, 3–5, 8, 9)"
    assert leading_to(["k2"], listed) == "(source\u00a02)"
    assert leading_to(["gone"], listed) == ""
