"""The page of a case over the years in a browser: redrawn while choices change, read without colour or scripts."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from planner.plans.models import Case
from planner.practice.models import Staff
from tests.browser.conftest import look
from tests.browser.test_options import case, owner

__all__ = ["case", "owner"]


def test_options_side_by_side_over_the_years(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/")
    page.get_by_role("link", name="Over the years", exact=True).click()
    expect(page.get_by_role("heading", name="What each comes to")).to_be_visible()
    expect(page.get_by_role("status").filter(has_text="general practices")).to_be_visible()
    look(page, "over-years")
    page.evaluate("window.stillThisPage = true")
    page.get_by_label("university clinics").check()
    expect(page.get_by_role("status").filter(has_text="university clinics")).to_be_visible()
    page.get_by_label("yes, worn").check()
    expect(page.get_by_role("status").filter(has_text="worn mouths")).to_be_visible()
    assert page.evaluate("window.stillThisPage"), "the page was loaded anew"
    page.get_by_text("The numbers behind it").nth(3).click()
    look(page, "over-years-worn")
    page.get_by_role("link", name="Decide whose figures hold for this case").click()
    look(page, "figures")
    page.go_back()
    for box in page.get_by_role("group", name="Options side by side").get_by_role("checkbox").all():
        box.uncheck()
    expect(page.get_by_role("alert")).to_contain_text("Choose one option at least")
    assert console == []
