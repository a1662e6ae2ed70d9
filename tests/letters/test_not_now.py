"""When nothing can be offered: what must come first, from which day, and what stays possible."""

import pytest

from planner.letters import ipdas
from planner.letters.findings import facts_of, words_of
from planner.letters.not_now import NotNow, not_now
from planner.letters.papers import job, kinds_of
from planner.letters.pdf import PaperError, render_here
from planner.letters.prose import blocks_of_html, patient_prose
from planner.rules.casefile import validate_case
from planner.rules.plan import plan_case
from planner.rules.reading import TARGET, grade
from planner.rules.results import CasePlan
from planner.rules.verdicts import Reason, Verdict
from tests.letters.conftest import ISSUE
from tests.letters.sample import ASKED, FILLED, GUMS, case_plan, plan_with
from tests.rules.test_casefile import TODAY, lead
from tests.rules.test_duration import BOOK


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
        assert ipdas.check(blocks_of_html(html), "en").missing == ()


def test_the_letter_says_what_comes_first_and_nothing_of_a_price() -> None:
    plan = plan_with(ceramic_faces=(ASKED, FILLED), whitening=(GUMS,))
    assert "not-now-letter" in kinds_of(plan.to_json(), ISSUE)
    html = job(plan.to_json(), "not-now-letter", ISSUE).html
    for part in ("Open decay is filled first. First: fill it.", "This is no final no.", "Ring us at once", "licensed"):
        assert part in html, part
    assert "1,618.25" not in html
    assert grade(patient_prose(blocks_of_html(html), "en")) <= TARGET


def test_no_such_letter_where_something_can_be_offered() -> None:
    content = case_plan().to_json()
    assert "not-now-letter" not in kinds_of(content, ISSUE)
    with pytest.raises(PaperError, match="Something can be offered today"):
        job(content, "not-now-letter", ISSUE)


def test_a_mouth_in_which_the_gums_come_first_gets_this_letter_from_the_whole_computation() -> None:
    data = lead()
    data["examination"]["gums"] |= {"bleeding_percent": 45, "deepest_pocket": 6}
    data["examination"]["decay"]["open_lesions"] = 2
    content = plan_case(validate_case(data, TODAY), BOOK, TODAY).to_json()
    html = job(content, "not-now-letter", ISSUE).html
    assert "What must come first:" in html
    assert "This still needs care:" in html, "doing nothing is no way around sick gums"
    assert html.count("Crowns") == 1
    assert grade(patient_prose(blocks_of_html(html), "en")) <= TARGET
    assert render_here(job(content, "not-now-letter", ISSUE)).pages == 2


def test_a_private_reason_stays_private() -> None:
    private = Reason("G12", Verdict.WAIT, "An old grief comes first.", private=True)
    plan = plan_with(bonding=(private,))
    assert "grief" not in job(plan.to_json(), "option-sheet", ISSUE).html
    assert "grief" in job(plan.to_json(), "consent-letter", ISSUE).html
