"""When nothing can be offered: what must come first, from which day, and what stays possible."""

from dataclasses import replace
from datetime import date

import pytest

from planner.letters import ipdas
from planner.letters.findings import facts_of, words_of
from planner.letters.not_now import NotNow, not_now
from planner.letters.papers import job
from planner.rules.results import CasePlan
from planner.rules.verdicts import Reason, Verdict
from tests.letters.conftest import ISSUE
from tests.letters.sample import case_plan

FILLED = Reason("G2", Verdict.WAIT, "Open decay is filled first.", earliest=date(2026, 3, 16), missing_step="fill it")
GUMS = Reason("G4", Verdict.WAIT, "The gums come first.", earliest=date(2026, 4, 20))
ASKED = Reason("x", Verdict.ASK, "Not known yet: the jaw.")


def plan_with(**reasons: tuple[Reason, ...]) -> CasePlan:
    """The lead case with every option but doing nothing held back; ``reasons`` by key, else the decay."""
    options = []
    for option in case_plan().options:
        found = reasons.get(option.key.replace("-", "_"), (FILLED,))
        if option.key != "none":
            option = replace(option, reasons=found, verdict=max((r.verdict for r in found), key=lambda v: v.severity))
        options.append(option)
    return replace(case_plan(), options=tuple(options), recommended="")


def said(plan: CasePlan, *, show_private: bool = True) -> NotNow | None:
    return not_now(plan, words_of(plan, facts_of(plan)), "en", show_private=show_private)


def test_nothing_is_said_when_something_can_be_offered() -> None:
    assert said(case_plan()) is None


def test_what_holds_all_ways_is_said_once_and_first() -> None:
    found = said(plan_with(ceramic_faces=(ASKED, FILLED), whitening=(GUMS,)))
    assert found is not None
    assert [first.ways for first in found.firsts] == [
        "for all but: Whitening at home",
        "for: Whitening at home",
        "for: Ceramic faces on four teeth",
    ]
    assert found.firsts[0].words == "Open decay is filled first. First: fill it. Earliest day: 16 March 2026."
    assert len(found.possible) == 5


def test_the_first_day_is_that_of_the_way_that_is_free_first() -> None:
    assert said(plan_with()).earliest == "16 March 2026"  # type: ignore[union-attr]
    both = plan_with(**{key.replace("-", "_"): (FILLED, GUMS) for key in [o.key for o in case_plan().options]})
    assert said(both).earliest == "20 April 2026"  # type: ignore[union-attr]


def test_no_day_is_named_where_any_step_has_none() -> None:
    every = {option.key.replace("-", "_"): (FILLED, ASKED) for option in case_plan().options}
    assert said(plan_with(**every)).earliest == ""  # type: ignore[union-attr]


def test_many_open_questions_are_a_list() -> None:
    asked = tuple(Reason(str(n), Verdict.ASK, f"Not known yet: thing {n}.") for n in range(6))
    every = {option.key.replace("-", "_"): asked for option in case_plan().options}
    (first,) = said(plan_with(**every)).firsts  # type: ignore[union-attr]
    assert (first.words, first.ways) == ("Not known yet:", "for all ways")
    assert first.items == tuple(f"thing {n}" for n in range(6))


def test_own_limits_are_named_as_such() -> None:
    limit = Reason("G11", Verdict.NO, "This is outside your own limit.", patient_limit=True)
    found = said(plan_with(ceramic_faces=(limit,)))
    assert found is not None
    assert found.own_limits == ("Ceramic faces on four teeth",)
    assert "Ceramic faces on four teeth" not in found.possible


@pytest.mark.parametrize("kind", ["option-sheet", "consent-letter"])
def test_the_papers_are_fair_not_now_papers(kind: str) -> None:
    html = job(plan_with().to_json(), kind, ISSUE).html
    for part in (
        "Not now: what comes first",
        "This is no final no.",
        "The first day on which one of them may start: 16 March 2026.",
        "What stays possible:",
        "To do nothing for now is a fair choice.",
    ):
        assert part in html, part
    assert html.count("Open decay is filled first. First: fill it.") == 1, "said once, at the beginning"
    if kind == "consent-letter":
        assert "Yes to what must come first." in html
        assert "In my own words, why not now and what comes first:" in html
        assert ipdas.check(html).missing == ()


def test_a_private_reason_stays_private() -> None:
    private = Reason("G12", Verdict.WAIT, "An old grief comes first.", private=True)
    plan = plan_with(bonding=(private,))
    assert "grief" not in job(plan.to_json(), "option-sheet", ISSUE).html
    assert "grief" in job(plan.to_json(), "consent-letter", ISSUE).html
