"""The step sheet in a browser: before it begins, one tap a step, something found, and by keyboard alone."""

import re
from collections.abc import Callable
from datetime import time, timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.visits import services, step_drawing
from planner.visits.models import Visit
from planner.visits.step_models import ChairNote, StepStamp
from tests.browser.conftest import look
from tests.pages import priced_office
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff) -> Visit:
    asked = services.Booking(
        clinician=owner,
        chair="Chair 1",
        day=TODAY.replace(day=5),
        hour=time(8, 30),
        minutes=210,
        words="Bonding",
        items=tuple(plan.items.all()[:4]),
        key="bonding.bonding",
    )
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


def test_a_visit_by_its_step_sheet(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    visit: Visit,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    page = signed_in(owner)
    url = f"{live_server.url}/visits/{visit.public_id}/steps/"
    page.goto(url)
    expect(page.get_by_role("heading", name="This sheet is not printed")).to_be_visible()
    look(page, "steps-refused")
    monkeypatch.setattr(step_drawing, "stops_of", lambda _visit, _now: ())
    page.goto(url)
    look(page, "steps-before")
    page.get_by_role("button", name="Begin").click()
    expect(page.get_by_role("heading", name="Two facts")).to_be_visible()
    look(page, "steps-tablet")
    # By keyboard alone: the one large button has the focus after every step.
    page.get_by_role("button", name="Done", exact=True).focus()
    for heading in ("Photos before", "Pumice and water", "Shade on the moist tooth"):
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name=heading)).to_be_visible()
        expect(page.get_by_role("button", name="Done", exact=True)).to_be_focused()
    assert StepStamp.objects.filter(kind="done").count() == 3
    page.get_by_role("link", name="Found something").click()
    look(page, "steps-found")
    page.get_by_label("Found", exact=True).check()
    page.get_by_label("In a few words").fill("a crack in the edge")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_role("status")).to_contain_text("stop and ask")
    assert ChairNote.objects.get().words == "a crack in the edge"
    look(page, "steps-noted")
    page.get_by_role("link", name="Write the change").click()
    look(page, "steps-settle")
    assert console == []


def test_whether_visits_are_ready(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, plan: AcceptedPlan
) -> None:
    day = timezone.now().date() + timedelta(days=1)
    while day.weekday() > 3:
        day += timedelta(days=1)
    asked = services.Booking(
        clinician=owner,
        chair="Chair 1",
        day=day,
        hour=time(8, 30),
        minutes=210,
        words="Bonding",
        items=tuple(plan.items.all()[:4]),
        key="bonding.bonding",
        despite="Talked over with the patient.",
    )
    visit = services.book_visit(plan=plan, booking=asked, actor=owner, now=timezone.now()).visit
    page = signed_in(owner)
    page.goto(f"{live_server.url}/visits/ready/")
    expect(page.get_by_text("Laboratory work is needed and not ordered.")).to_be_visible()
    look(page, "ready-list")
    page.goto(f"{live_server.url}/visits/{visit.public_id}/")
    look(page, "ready-visit")
    page.get_by_role("link", name="Is it ready?").click()
    look(page, "ready-one")
    page.get_by_role("link", name=re.compile("Settle it.*Laboratory work")).click()
    expect(page.get_by_label("What is made")).to_be_visible()
    assert console == []
