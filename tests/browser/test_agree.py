"""The page that says where papers differ: both places of each difference, and what an earlier issue said."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.rules.papers_agree import About, Fact, Paper
from tests.browser.conftest import look
from tests.pages import priced_office
from tests.visits.sample import accepted_plan


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


def _fact(about: About, what: str, value: str, page: int) -> Fact:
    return Fact(about, (what,), what, value, value, page)


def test_where_papers_differ(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    plan: AcceptedPlan,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    gap = "the gap between the upper right central incisor and the upper left central incisor"
    estimate = Paper(
        "Estimate", "estimate", "12, version 2",
        facts=(_fact(About.PRICE, "the price of “Bonding with reshaping”", "CAD 1,618.25", 1),),
    )  # fmt: skip
    letter = Paper(
        "Your choice: consent letter", "consent-letter", "12, version 2",
        facts=(_fact(About.PRICE, "the price of “Bonding with reshaping”", "CAD 1,681.25", 2),
               _fact(About.LENGTH, gap, "0.8 mm", 1)),
    )  # fmt: skip
    order = Paper("Wax-up order", "wax-up-order", "12, version 2", facts=(_fact(About.LENGTH, gap, "0.3 mm", 1),))
    before = _fact(About.PRICE, "the price of “Bonding with reshaping”", "CAD 1,540.00", 2)
    older = replace(letter, version="12, version 1", older=True, facts=(before,))
    monkeypatch.setattr("planner.letters.agree_views.compared", lambda _estimate: (estimate, letter, order, older))
    page = signed_in(owner)
    assert plan.estimate is not None
    page.goto(f"{live_server.url}/letters/of/{plan.estimate.public_id}/agree/")
    expect(page.get_by_text("These papers differ in 2 places.")).to_be_visible()
    expect(page.get_by_text("CAD 1,681.25")).to_be_visible()
    page.locator("summary", has_text="Said otherwise by an earlier issue").click()
    expect(page.get_by_text("CAD 1,540.00")).to_be_visible()
    look(page, "agree")
    assert console == []
