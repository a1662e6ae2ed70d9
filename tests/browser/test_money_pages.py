"""Discounts and paying in parts in a browser: asked for, worked out live, read without colour or scripts."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.plans.checking import check_case
from planner.plans.estimates import compute_plan
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.results import sha256
from tests.browser.conftest import look
from tests.browser.test_options import case, owner
from tests.support import PASSWORD

__all__ = ["case", "owner"]


def test_a_discount_waits_and_paying_in_parts_is_worked_out_live(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/discounts/")
    page.get_by_label("On which option").select_option("reshape-bond")
    page.get_by_label("courtesy").check()
    page.get_by_label("Percent").fill("12")
    page.get_by_label("Reason").fill("Long-standing patient.")
    page.get_by_role("button", name="Ask for it").click()
    page.get_by_label("Password of").fill(PASSWORD)
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_text("Waits for somebody who may allow it")).to_be_visible()
    look(page, "discounts")

    held = Case.objects.get(pk=case.pk)
    plan, _book = compute_plan(held, timezone.now())
    made = check_case(case=held, seen_plan=sha256(plan.to_json()), actor=owner, now=timezone.now())
    page.goto(f"{live_server.url}/plans/estimate/{made.public_id}/")
    expect(page.get_by_text("None of these is in the figures.")).to_be_visible()
    page.get_by_role("link", name="Pay in parts").click()
    page.evaluate("window.stillThisPage = true")
    page.get_by_label("Monthly instalments").fill("5")
    page.get_by_label("Interest, percent a year").fill("8.24")
    expect(page.get_by_text("European Union (effective)")).to_be_visible()
    expect(page.get_by_role("row", name="5", exact=False).last).to_be_visible()
    look(page, "pay-in-parts")
    page.get_by_label("Monthly instalments").fill("9")
    expect(page.get_by_role("alert")).to_contain_text("this office agrees to 6 at most")
    assert page.evaluate("window.stillThisPage"), "the page was loaded anew"
    assert console == []
