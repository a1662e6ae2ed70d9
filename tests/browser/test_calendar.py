"""The calendar of a case in a browser."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from planner.plans.models import Case
from planner.practice.models import Staff
from tests.browser.conftest import assert_no_axe_violations, look
from tests.browser.test_options import case, owner

__all__ = ["case", "owner"]


def test_the_days_of_every_option(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    case: Case,
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/")
    page.get_by_role("link", name="Calendar").click()
    expect(page.get_by_role("heading", name="Calendar")).to_be_visible()
    expect(page.get_by_role("table").first).to_contain_text("Bonding with reshaping")
    assert_no_axe_violations(page)
    look(page, "calendar")
    assert console == []
