"""The diary in a browser: from an accepted plan to a visit, the day and the week, laboratory work and its label."""

from collections.abc import Callable
from datetime import time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.visits import diary
from planner.visits.models import LaboratoryCase, Visit
from tests.browser.conftest import look
from tests.pages import priced_office
from tests.visits.sample import accepted_plan


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


def test_from_an_accepted_plan_to_the_day(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, plan: AcceptedPlan
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/visits/to-book/")
    expect(page.get_by_role("heading", name="Wants a visit")).to_be_visible()
    look(page, "diary-to-book")
    page.get_by_role("link", name="Anselm Brightwater").click()
    look(page, "diary-plan")
    page.get_by_role("link", name="Order it").first.click()
    page.get_by_label("What is made").fill("Wax-up")
    page.get_by_label("Laboratory", exact=True).fill("The laboratory in town")
    look(page, "diary-order")
    page.get_by_role("button", name="Order it").click()
    page.get_by_role("link", name="Send it out").click()
    page.get_by_role("button", name="Send it out").click()
    look(page, "diary-laboratory-case")
    case = LaboratoryCase.objects.get()
    page.goto(f"{live_server.url}/visits/of/{plan.public_id}/")
    page.locator(".slots a").first.click()
    look(page, "diary-book")
    page.get_by_label("Begins at").fill("11")
    page.get_by_role("button", name="Book it").click()
    expect(page.get_by_role("alert")).to_contain_text("does not lie within opening hours")
    look(page, "diary-book-refused")
    page.get_by_label("Begins at").fill("8:30")
    page.get_by_label("Why all the same").fill("Talked over with the patient.")
    page.get_by_role("button", name="Book it").click()
    expect(page.get_by_role("status").first).to_contain_text("Booked for")
    expect(page.get_by_role("status").last).to_contain_text("Before anything is begun on")  # no consent holds yet
    visit = Visit.objects.get()
    assert case.due is not None
    assert visit.starts.astimezone(ZoneInfo(visit.zone)).date() >= case.due
    _other_times(owner, visit)
    day = visit.starts.astimezone(ZoneInfo(visit.zone)).date()
    page.goto(f"{live_server.url}/visits/?on={day.isoformat()}")
    look(page, "diary-day")
    page.goto(f"{live_server.url}/visits/week/?on={day.isoformat()}")
    look(page, "diary-week")
    page.goto(f"{live_server.url}/visits/{visit.public_id}/")
    look(page, "diary-visit")
    page.goto(f"{live_server.url}/visits/times/")
    look(page, "diary-times")
    page.goto(f"{live_server.url}/visits/laboratory/")
    look(page, "diary-laboratory")
    assert console == []


def _other_times(owner: Staff, visit: Visit) -> None:
    now, day = timezone.now(), visit.starts.astimezone(ZoneInfo(visit.zone)).date()
    who: dict[str, Any] = {"actor": owner, "now": now}
    blocks = ((time(9), time(9, 40), "Other appointment"), (time(14), time(15), "Repair of the light"))
    for opens, closes, words in blocks:
        diary.block_time(office=owner.office, day=day, opens=opens, closes=closes, words=words, chair="Chair 2", **who)
    diary.block_time(
        office=owner.office, day=day, opens=time(15), closes=time(16), words="Talk", clinician=owner, **who
    )
    last = day + timedelta(days=30)
    diary.add_absence(clinician=owner, first=day + timedelta(days=21), last=last, **who)
    diary.set_work_week(clinician=owner, weekdays=[0, 1, 2, 3], effective=day, **who)
