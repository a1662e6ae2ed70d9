"""Reviews of finished work in a browser: written down, set beside the promise, and all of them together."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from planner.followup.review_models import Review
from planner.practice.models import Staff
from tests.browser.conftest import look
from tests.followup.reviewed import done_plan
from tests.pages import priced_office


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def test_a_review_from_the_plan_to_all_of_them_together(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff
) -> None:
    plan = done_plan(owner)
    page = signed_in(owner)
    page.goto(f"{live_server.url}/monday/result/{plan.public_id}/")
    page.get_by_role("link", name="Write a review down").click()
    look(page, "review-write")
    page.get_by_label("Width of 22, mm").fill("7.0")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("alert")).to_contain_text("It was measured: say how it was found.")
    expect(page.get_by_label("Width of 22, mm")).to_have_value("7.0")
    page.get_by_label("How 22 was found").select_option("whole")
    page.get_by_label("the gap beside my left front tooth").fill("9")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("status")).to_contain_text("The review is kept.")
    assert Review.objects.get().measured_by == owner.full_name
    look(page, "review-result")
    page.goto(f"{live_server.url}/monday/lasts/")
    expect(page.locator("figure svg")).to_have_count(4)
    look(page, "own-work-lasts")
    page.get_by_role("link", name="Promise and result").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("all together")
    look(page, "own-results")
    page.goto(f"{live_server.url}/visits/took/")
    look(page, "what-visits-took")
    assert console == []
