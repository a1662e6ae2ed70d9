"""What is agreed for what may be found, and a late fee on the account, in a browser: typed, seen, checked."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.plans import estimates
from planner.plans.accepting import accept_option
from planner.plans.charges import write_charge
from planner.plans.models import Case, Channel
from planner.practice.models import Staff
from planner.rules.partial import whole_of
from tests.browser.conftest import look
from tests.browser.test_options import case, owner

__all__ = ["case", "owner"]


def test_work_is_agreed_beforehand_and_the_range_stands_on_the_case(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/if-then/")
    last = page.get_by_role("group", name="Agreed, 3")
    last.get_by_label("If this is found, then that is done").fill("If 23 is chipped too, its edge is mended.")
    last.get_by_label("The work it stands for").select_option("small-addition")
    last.get_by_label("For which teeth").fill("99")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("If 23 is chipped too, its edge is mended.")).to_be_visible()
    last.get_by_label("For which teeth").fill("23")
    look(page, "if-then")
    page.get_by_role("button", name="Save").click()
    option = page.locator("#option-reshape-bond")
    expect(option.get_by_text("1,618.25–2,148.25")).to_be_visible()
    option.get_by_text("fee, CAD").click()
    expect(option.get_by_text("not more than 2,148.25 without a new signature")).to_be_visible()
    look(page, "case-with-range")
    assert console == []


def test_a_late_fee_stands_on_the_account_and_what_was_agreed_is_told_on_a_change(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    who: dict[str, Any] = {"actor": owner, "now": timezone.now()}
    computed, book = estimates.compute_plan(case, who["now"])
    made = estimates.draft_estimate(case=case, **who)
    made = estimates.check_estimate(estimate=made, seen=1, plan_json=computed.to_json(), book=book, **who)
    made = estimates.show_estimate(estimate=made, seen=2, to="A. B.", channel=Channel.IN_PERSON, **who)
    plan = accept_option(
        estimate=made,
        seen=made.version,
        option="reshape-bond",
        chosen=whole_of(computed.option("reshape-bond")),
        by=case.patient.name,
        capacity="patient",
        **who,
    )
    words = "Cancelling a visit of 2 hours or more less than 48 hours before"
    write_charge(plan=plan, code="LTE", words=words, price_list_version=7, cents=9000, **who)
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/accepted/{plan.public_id}/")
    expect(page.get_by_role("heading", name="Charged beside the work")).to_be_visible()
    look(page, "account-with-charge")
    page.get_by_role("link", name="Change the plan").click()
    page.get_by_label("Added").select_option("small-addition")
    page.get_by_role("group", name="For which teeth").get_by_label("upper left canine").check()
    page.get_by_label("reconstructive", exact=True).check()
    page.get_by_label("finding").check()
    page.get_by_label("Reason").fill("The old filling leaks.")
    page.get_by_role("button", name="See what it comes to").click()
    expect(page.get_by_text("stands in the list agreed before the start")).to_be_visible()
    look(page, "amend-agreed-before")
    assert console == []
