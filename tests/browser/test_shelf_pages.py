"""Stock, the own clock and an option's minutes in the browser: accessible, within their width, and looked at."""

from collections.abc import Callable
from datetime import time, timedelta
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
from planner.visits.services import Booking, book_visit
from tests.browser.conftest import assert_no_axe_violations, look
from tests.pages import priced_office
from tests.visits.sample import accepted_plan


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
    assert_no_axe_violations(page)
    page.goto(f"{live_server.url}/office/clock/bonding.bonding.per-tooth/")
    expect(page.get_by_text("50.5 min", exact=True)).to_be_visible()
    look(page, "clock-work")
    page.goto(f"{live_server.url}/office/clock/note/")
    assert_no_axe_violations(page)
    page.goto(f"{live_server.url}/plans/{case.public_id}/option/reshape-bond/minutes/")
    expect(page.get_by_text("may stop", exact=True).first).to_be_visible()
    look(page, "option-minutes")
    assert not console


def test_what_booked_visits_lack(signed_in: Callable[[Staff], Page], live_server: Any, console: list[str]) -> None:
    owner, now = priced_office(), timezone.now()
    day = books.today(owner.office, now)
    load_shelf(owner, day, lambda days, _hour: now + timedelta(days=days))
    plan = accepted_plan(owner)
    monday = day + timedelta(days=14 - day.weekday())
    for place in range(3):
        booking = Booking(
            clinician=owner,
            chair="Chair 1",
            day=monday + timedelta(days=7 * place),
            hour=time(8, 30),
            minutes=105,
            words="Bonding",
            items=tuple(plan.items.all()[place + 1 : place + 2]),
        )
        book_visit(plan=plan, booking=booking, actor=owner, now=now)
    page = signed_in(owner)
    page.goto(live_server.url + reverse("visits:stock_need"))
    expect(page.get_by_text("need it after that day")).to_be_visible()
    page.get_by_text("Bonding").last.click()
    look(page, "stock-need")
    page.goto(live_server.url + reverse("visits:stock_orders"))
    look(page, "stock-orders")
    assert not console
