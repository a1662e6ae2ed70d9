"""Stock, the own clock and an option's minutes in the browser: accessible, within their width, and looked at."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.config.demo_shelf import SHORT_LIVED, load_shelf, load_timings
from planner.plans.casefiles import import_case_file
from planner.practice import books
from planner.practice.models import Staff
from planner.practice.stock_models import StockLot
from planner.rules.mouth import CaseFacts
from tests.browser.conftest import look
from tests.pages import priced_office


def test_the_shelf_the_clock_and_the_minutes_of_an_option(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], lead_case: CaseFacts
) -> None:
    owner, now = priced_office(), timezone.now()
    day = books.today(owner.office, now)

    def at(days: int, _hour: int) -> Any:
        return now + timedelta(days=days)

    load_shelf(owner, day, at)
    load_timings(owner, day, at)
    case = import_case_file(facts=lead_case, actor=owner, now=now).case
    page = signed_in(owner)

    page.goto(f"{live_server.url}/stock/")
    expect(page.get_by_text("Expires soon:")).to_be_visible()
    look(page, "stock")
    page.goto(f"{live_server.url}/stock/receive/")
    page.get_by_label("Packs", exact=True).fill("1e12")
    page.get_by_role("button", name="Put on the shelf").click()
    expect(page.get_by_role("alert")).to_contain_text("is not a whole number")
    look(page, "stock-receive")
    lot = StockLot.objects.get(code=SHORT_LIVED)
    page.goto(f"{live_server.url}/stock/lot/{lot.public_id}/")
    look(page, "stock-lot")
    page.goto(f"{live_server.url}/office/clock/")
    look(page, "clock")
    page.goto(f"{live_server.url}/office/clock/bonding.bonding.per-tooth/")
    expect(page.get_by_text("50.5 min", exact=True)).to_be_visible()
    look(page, "clock-work")
    page.goto(f"{live_server.url}/office/clock/note/")
    look(page, "clock-note")
    for name in ("visits:stock_need", "visits:stock_orders"):
        page.goto(live_server.url + reverse(name))
        look(page, name.partition(":")[2].replace("_", "-"))
    page.goto(f"{live_server.url}/plans/{case.public_id}/option/reshape-bond/minutes/")
    expect(page.get_by_text("may stop", exact=True).first).to_be_visible()
    look(page, "option-minutes")
    assert not console
