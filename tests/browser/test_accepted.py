"""Half of an option tried on its page, the yes to it, and the accepted plan: money in, a change, rest, stop."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from planner.plans import amending, estimates
from planner.plans.accepted import change_plan
from planner.plans.accepted_models import Cause, Route
from planner.plans.account import receive
from planner.plans.items import finish_item
from planner.plans.models import Case, Channel
from planner.practice.models import Staff
from tests.browser.conftest import look
from tests.browser.test_options import case, owner
from tests.pages import priced_office
from tests.plans.sample import accepted, plan_like, under_way, when
from tests.rules.books import charge
from tests.support import NOW

__all__ = ["case", "owner"]


def test_from_half_an_option_to_the_end_of_the_plan(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    from django.utils import timezone

    who: dict[str, Any] = {"actor": owner, "now": timezone.now()}
    plan, book = estimates.compute_plan(case, who["now"])
    made = estimates.draft_estimate(case=case, **who)
    made = estimates.check_estimate(estimate=made, seen=1, plan_json=plan.to_json(), book=book, **who)
    estimates.show_estimate(estimate=made, seen=2, to="A. B.", channel=Channel.IN_PERSON, **who)
    name = plan.option("reshape-bond").name
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/estimate/{made.public_id}/")
    # The list of papers loads by itself; going on before it has come would be told as a broken request.
    page.wait_for_load_state("networkidle")
    page.get_by_role("region", name="The yes").get_by_role("link", name=name, exact=True).click()
    look(page, "part-whole")
    page.evaluate("window.stillThisPage = true")
    page.get_by_label("Or: the best part for at most").fill("800")
    page.get_by_role("button", name="Find the best part").click()
    expect(page.get_by_text("685.00 CAD, 42 % of the whole")).to_be_visible()
    assert page.evaluate("window.stillThisPage"), "the page was loaded anew"
    look(page, "part-best")
    boxes = page.get_by_role("group", name="Only these")
    boxes.get_by_label("upper right central incisor").check()
    expect(page.get_by_role("alert")).to_contain_text("only as a pair")
    look(page, "part-refused")
    boxes.get_by_label("upper right central incisor").uncheck()
    expect(page.get_by_role("heading", name="Yes to just this")).to_be_visible()
    page.get_by_role("button", name="Record the yes").click()
    expect(page.get_by_role("heading", name="What is to be done")).to_be_visible()
    look(page, "accepted")
    page.get_by_role("link", name="Write a receipt").click()
    page.get_by_label("Amount").fill("300")
    page.get_by_label("Paid by").fill("Grandmother")
    page.get_by_label("bank transfer").check()
    look(page, "receipt")
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name="Change the plan").click()
    page.locator("#id_service").select_option("small-addition")
    page.get_by_label("upper left canine").check()
    page.get_by_label("for looks only").check()
    page.get_by_label("a finding").check()
    page.get_by_label("Reason").fill("A corner has chipped.")
    page.get_by_role("button", name="See what it comes to").click()
    expect(page.get_by_text("new tooth")).to_be_visible()
    look(page, "change-preview")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("Not agreed to yet: what it added")).to_be_visible()
    page.get_by_role("link", name="Record the yes").click()
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name="Stop it").click()
    page.get_by_label("the patient").check()
    page.get_by_label("Reason").fill("Moves away.")
    look(page, "stop")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_role("heading", name="Balance when it was stopped")).to_be_visible()
    page.get_by_role("link", name="Ask for a refund").click()
    look(page, "refund")
    page.get_by_label("Reason").fill("Nothing was begun.")
    page.get_by_role("button", name="Record it").click()
    look(page, "accepted-stopped")
    assert console == []


def test_what_is_earned_bit_by_bit_finished_and_repaired(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str]
) -> None:
    owner = priced_office()
    plan = accepted(owner, "lead", "reshape-bond")
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    added = [charge("implant-placing"), charge("aligners-both")]
    made = amending.amend(plan=plan, cause=Cause.FINDING, reason="Found later.", added=added, **who)
    amending.agree(amendment=made, by=plan.accepted_by, capacity="patient", **who)
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/accepted/{plan.public_id}/")
    page.get_by_role("link", name="the bill has come").click()
    page.get_by_label("Amount of the bill").fill("2410.50")
    look(page, "bill")
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name="a month has passed").click()
    look(page, "month")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_role("row", name="Bills passed on")).to_contain_text("2,410.50")
    look(page, "accepted-bill")
    begun = under_way(plan, owner, when("lead"))
    for item in plan.items.exclude(state="done"):
        finish_item(item=item, seen=item.version, **who)
    page.reload()
    page.get_by_role("link", name="Finish it").click()
    page.get_by_label("The review after the work is done").check()
    look(page, "finish")
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name="Repair finished work").click()
    page.get_by_label("What is done").select_option("small-repair")
    page.get_by_label("upper left lateral incisor").check()
    page.get_by_label("for looks only").check()
    page.get_by_label("Done again under the office's promise").check()
    page.get_by_label("Minutes in the chair").fill("30")
    page.get_by_label("What is repaired").fill("A corner chipped in the fifth month.")
    look(page, "repair")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("The repair is a plan of its own.")).to_be_visible()
    look(page, "repair-plan")
    assert begun.pk == plan.pk
    assert console == []


def test_what_is_held_is_carried_forward_and_the_account_is_printed(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str]
) -> None:
    owner = priced_office()
    plan = accepted(owner, "lead", "reshape-bond")
    receive(plan=plan, cents=30000, payer="Grandmother", route=Route.CARD, actor=owner, now=NOW)
    change_plan(plan=plan, replaced_by=plan_like(plan, owner), actor=owner, now=NOW)
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/accepted/{plan.public_id}/")
    page.get_by_role("link", name="Carry what is held forward").click()
    page.get_by_label("Who agreed, and why").fill("Grandmother agreed on the telephone.")
    look(page, "carry")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("carried forward 300.00")).to_be_visible()
    look(page, "accepted-carried")
    page.get_by_role("link", name="print the receipt").click()
    look(page, "print-receipt")
    page.go_back()
    page.get_by_role("link", name="Print a statement of account").click()
    page.get_by_label("24 pt").check()
    look(page, "print-statement")
    assert console == []
