"""What payers may add, on the printed estimate: apart from the price, from frozen bytes alone, and nothing private."""

import json
from functools import cache

import pytest

from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.papers import job
from planner.letters.payers_said import payers_view
from planner.letters.pdf import PaperError
from planner.letters.services import issue_hash, issue_of, render_papers
from planner.patients import payers
from planner.plans.models import Estimate
from planner.plans.payer_guesses import freeze_guess
from planner.practice.models import Staff
from planner.rules.benefit_plans import PRIVATE, Basis, HeldPlan
from planner.rules.benefit_sheets import Claim, GuessSheet, guess_sheet
from planner.rules.frozen import thaw
from planner.rules.results import sha256
from tests.letters.conftest import texts
from tests.letters.sample import DAY_0, case_plan
from tests.payers import bronze, cover, desk_of, used, with_payer
from tests.support import NOW, render_once

BONDED = "bonding"
OWN = Basis(told="own guess", by="Rhea Osgood", on=DAY_0)


@cache
def lead() -> bytes:
    """The lead case's plan, frozen."""
    return case_plan().to_json()


def sheet(*, finishes_at_year_end: bool = False, gone: str = "120") -> GuessSheet:
    content = lead()
    plan = thaw(content)
    held = HeldPlan(plan=bronze(basis=OWN), cover=cover(basis=OWN), used=(used(basis=OWN, maximum_cents=gone),))
    last = DAY_0.replace(month=12, day=18)
    claim = Claim(starts=last, finishes=last) if finishes_at_year_end else Claim()
    keys = [option.key for option in plan.options]
    return guess_sheet(plan, sha256(content), keys, [held], DAY_0, claim=claim, off_percent={"own guess": 33})


def html(issue: Issue, points: int = 11) -> str:
    return job(lead(), "estimate", issue, points=points).html


def issue_with(found: GuessSheet) -> Issue:
    return Issue(number="104", version=1, priced=(BONDED,), payer_guess=found.to_json().decode())


def test_the_block_stands_under_the_whole_price_and_changes_nothing_above_it() -> None:
    without = html(Issue(number="104", version=1, priced=(BONDED,)))
    written = html(issue_with(sheet()))
    above = without[: without.index('<section class="option')]
    assert "What payers may add" not in without
    total = without.index("CAD\u00a01,618.25", len(above))
    assert written.count('<tr class="total">') == without.count('<tr class="total">')
    assert "What payers may add: a guess, not a promise. You owe the total above." in written
    assert written.rindex("CAD\u00a01,618.25") > written.index("If they pay nothing")
    # The option's own section, up to its block, is the same to the letter.
    section = without[len(above) : total]
    assert section in written
    for words in ("As told", "Likely", "own guess, Rhea Osgood", "33 % too high here", "Asked about: Harbour Mutual"):
        assert words in written


def test_the_three_figures_and_what_another_day_changes() -> None:
    found = sheet(finishes_at_year_end=True).of(BONDED)
    assert found is not None
    view = payers_view(found, "CAD", "en")
    # 703.20 as told (worked out in the tests of the frozen guess); 33 % off: 471.14.
    assert [(figure.name, figure.added, figure.left) for figure in view.figures] == [
        ("As told", "CAD\u00a0703.20", "CAD\u00a0915.05"),
        ("Likely", "CAD\u00a0471.14 to CAD\u00a0703.20", "CAD\u00a0915.05 to CAD\u00a01,147.11"),
        ("If they pay nothing", "CAD\u00a00.00", "CAD\u00a01,618.25"),
    ]
    # 1 January would change nothing, so nothing is said of it; with 500 left of this year it would.
    assert view.other_days == ()
    less = sheet(finishes_at_year_end=True, gone="500").of(BONDED)
    assert less is not None
    assert payers_view(less, "CAD", "en").other_days == (
        "If the last of it is done on 1 January 2027 instead of 18 December 2026, they may add CAD\u00a0703.20.",
    )


def test_a_guess_from_other_prices_is_refused() -> None:
    other = sheet().to_json().decode().replace('"whole_cents":161825', '"whole_cents":150000')
    with pytest.raises(PaperError, match="made from other prices"):
        html(Issue(priced=(BONDED,), payer_guess=other))
    with pytest.raises(PaperError, match="cannot be read"):
        html(Issue(priced=(BONDED,), payer_guess="{}"))


def test_nothing_private_is_printed_for_a_payer() -> None:
    low = html(issue_with(sheet())).casefold()
    assert not [word for word in PRIVATE if word in low]


def test_an_issue_without_a_guess_keeps_its_hash() -> None:
    # As it was before an issue could carry a guess, so that papers made then are still found.
    assert issue_hash(Issue(payer_guess="{}")) != issue_hash(Issue())
    assert issue_hash(Issue()) == "065db2d96ad10377ce7cd314f9f8d44424425db8bca671c78d975830a8771da5"


@pytest.mark.django_db
def test_the_estimate_prints_the_guess_that_holds_and_other_papers_do_not(checked: Estimate, owner: Staff) -> None:
    assert checked.frozen is not None
    plan = thaw(bytes(checked.frozen.content))
    given = {"frozen": checked.frozen, "issue": issue_of(checked), "actor": owner, "estimate": checked}

    def made() -> tuple[str, str]:
        documents = render_papers(kinds=["estimate", "option-sheet"], now=NOW, make=render_once, **given)  # type: ignore[arg-type]
        return tuple(document.public_id for document in documents)  # type: ignore[return-value]

    before = made()
    estimate, options = (Document.objects.get(public_id=public_id) for public_id in before)
    assert json.loads(json.loads(estimate.issue)["cancelling"]) == {"cents": None}, "no price is set for it"
    assert "cancelling" not in json.loads(options.issue)
    held = with_payer(checked.case.patient, desk_of(owner))
    freeze_guess(estimate=checked, plan=plan, actor=owner, now=NOW)
    with_guess = made()
    assert with_guess[0] != before[0]
    assert with_guess[1] == before[1]
    assert made() == with_guess
    # What is told later changes no paper until somebody makes the guess anew.
    payers.tell_used(cover=held, used=used(maximum_cents="900"), actor=desk_of(owner), now=NOW)
    assert made() == with_guess


def test_the_printed_page() -> None:
    made = render_once(job(lead(), "estimate", issue_with(sheet())))
    text = " ".join(texts(made.content))
    for words in ("A guess, not a promise. You owe the whole price", "CAD 915.05", "CAD 1,618.25"):
        assert words in text.replace("\u00a0", " ")
