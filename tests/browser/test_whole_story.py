"""The whole story in a browser, by everybody in it: the dentist plans, the desk shows and hands the screen over, the
patient signs on it, the manager finds it on Monday, the assistant works by the step sheet, and from the chair's note
the dentist changes the plan.

Everybody signs in by name and password in a browser of their own. Only the clock is held: days pass between the acts.
"""

import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Page, expect

from planner.letters.consent_models import Signature
from planner.letters.pdf import close_pool
from planner.plans.accepted_models import AcceptedPlan, Amendment
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case, Showing
from planner.practice import codes, one_time
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.services import add_staff
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.trail.models import TrailEntry
from planner.visits.models import Visit
from tests.browser.conftest import TABLET, look
from tests.pages import priced_office
from tests.support import NOW, PASSWORD, TODAY

SLOW = 60_000
"""Milliseconds until a page must have come, also one with papers that worker processes draw on a busy machine."""


class Clock:
    """The instant at which every page is asked for."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now

    def at(self, **later: int) -> None:
        """Go on to so much after the first day."""
        self.now = NOW + timedelta(**later)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr("django.utils.timezone.now", clock)
    return clock


SHEETS: dict[str, list[str]] = {}
"""Recovery codes of those who are asked for a code: the story stands still for hours, and a code is good once."""


def with_codes(staff: Staff) -> None:
    """Set up one-time codes, as an owner and a manager have to."""
    secret = one_time.new_secret()
    typed = one_time.code_at(secret, one_time.step_of(NOW))
    SHEETS[staff.username] = list(codes.set_up(staff=staff, secret=secret, typed=typed, now=NOW))


@pytest.fixture(autouse=True)
def patient_screens(settings: Any) -> None:
    """The story jumps by hours: no screen goes blank meanwhile, which is told elsewhere."""
    settings.DESK_MINUTES = settings.CHAIR_MINUTES = 24 * 60


@pytest.fixture(autouse=True)
def patient_and_tidy() -> Iterator[None]:
    """Waits long for what a page is to say, however busy the machine is; ends the worker processes afterwards."""
    expect.set_options(timeout=SLOW)
    yield
    expect.set_options(timeout=None)
    close_pool()


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def case(owner: Staff) -> Case:
    path = settings.BASE_DIR / "fixtures" / "cases" / "lead.json"
    facts = validate_case(resolve_days(parse_case(path.read_bytes()), TODAY), TODAY)
    return import_case_file(facts=facts, actor=owner, now=NOW).case


@pytest.fixture
def enter(browser: Browser, browser_context_args: dict[str, Any], live_server: Any) -> Iterator[Callable[..., Page]]:
    """Opens a browser of their own for somebody, who signs in: ``enter("lea")``."""
    opened = []

    def sign_in(username: str, **size: Any) -> Page:
        context = browser.new_context(**browser_context_args | size)
        opened.append(context)
        context.set_default_timeout(SLOW)
        page = context.new_page()
        come_in(page, live_server.url, username)
        return page

    yield sign_in
    for context in opened:
        context.close()


def come_in(page: Page, url: str, username: str) -> None:
    """Sign in, as everybody does every day: no session lasts longer than twelve hours."""
    page.goto(f"{url}/sign-in/")
    fill_in(page, username)
    page.get_by_role("button", name="Sign in").click()
    if username in SHEETS:
        page.get_by_label("One-time code").fill(SHEETS[username].pop())
        page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def fill_in(page: Page, username: str) -> None:
    page.get_by_label("Sign-in name").fill(username)
    page.get_by_label("Password").fill(PASSWORD)


def go(page: Page, url: str) -> None:
    """Open a page and wait until the parts that it loads by itself are there, so that no act runs beside them."""
    page.goto(url)
    page.wait_for_load_state("networkidle")


def said(page: Page, words: str | re.Pattern[str]) -> None:
    """What the page says after an act: the next one waits for it, and for the parts that load by themselves."""
    expect(page.get_by_role("status").filter(has_text=words).first).to_be_visible()
    page.wait_for_load_state("networkidle")


def test_from_the_plan_to_the_change_at_the_chair(
    enter: Callable[..., Page], live_server: Any, clock: Clock, owner: Staff, case: Case
) -> None:
    who: dict[str, Any] = {"actor": owner, "now": NOW, "password": PASSWORD}
    for username, name, role in (
        ("lea", "Lea Lead", Role.DESK_LEAD), ("asa", "Asa Hand", Role.ASSISTANT), ("mia", "Mia Manager", Role.MANAGER),
    ):  # fmt: skip
        added = add_staff(username=username, full_name=name, roles=[role], **who)
        if codes.must_have(added):
            with_codes(added)
    with_codes(owner)
    patient, url = case.patient.name, live_server.url

    # Monday. The dentist looks at the plan, freezes it, and has the papers made.
    dentist = enter("olive")
    go(dentist, f"{url}/plans/{case.public_id}/")
    dentist.get_by_role("button", name="Check and freeze").click()
    said(dentist, "is checked and frozen")
    dentist.wait_for_load_state("networkidle")
    estimate_url = dentist.url
    go(dentist, f"{url}/letters/of/{estimate_url.rstrip('/').rsplit('/', 1)[1]}/")
    dentist.get_by_role("button", name="Make the papers").click()
    said(dentist, "The papers are made and kept.")

    # The desk shows it, writes a question down, and hands the screen over.
    desk = enter("lea", viewport=TABLET)
    go(desk, estimate_url)
    desk.get_by_role("link", name="Show it to the patient").click()
    expect(desk.get_by_role("heading", name=f"For {patient}")).to_be_visible()
    desk.get_by_role("link", name="Hand this screen to the patient").click()
    desk.get_by_role("button", name="Hand it over").click()
    expect(desk.get_by_role("link", name="For the office: take it back")).to_be_visible()
    while (further := desk.get_by_role("link", name="Go on")).count():
        before = desk.url
        further.click()
        desk.wait_for_url(lambda address, before=before: address != before)
    expect(desk.get_by_role("heading", name="What each option costs")).to_be_visible()
    expect(desk.get_by_role("row", name="Bonding with reshaping").first).to_contain_text("1,618.25")
    desk.get_by_role("link", name="For the office: take it back").click()
    fill_in(desk, "lea")
    desk.get_by_role("button", name="Sign in").click()
    expect(desk.get_by_role("link", name="Hand this screen to the patient")).to_be_visible()
    assert Showing.objects.get().channel == "hand-over screen"
    go(desk, f"{desk.url.rstrip('/')}/question/")
    desk.get_by_label("The question, as it was asked").fill("Will the nerve hurt afterwards?")
    desk.get_by_role("button", name="Record it").click()
    said(desk, "It is written down")
    look(desk, "story-questions")
    next_url = desk.url

    # The dentist answers; the desk records the yes, the letter handed over, and the deposit.
    go(dentist, next_url)
    dentist.get_by_role("link", name="Answer it").click()
    dentist.get_by_label("The answer").fill("It may feel cool for about a week.")
    dentist.get_by_role("button", name="Record it").click()
    said(dentist, "The answer is written.")
    go(desk, estimate_url)
    desk.get_by_role("region", name="The yes").get_by_role("link", name="Bonding with reshaping", exact=True).click()
    desk.get_by_role("button", name="Record the yes").click()
    expect(desk.get_by_role("heading", name="What is to be done")).to_be_visible()
    plan_url = desk.url
    desk.get_by_role("link", name="Write a receipt").click()
    desk.get_by_label("Amount").fill("560")
    desk.get_by_label("cash").check()
    desk.get_by_role("button", name="Record it").click()
    expect(desk.get_by_role("heading", name="What is to be done")).to_be_visible()
    letter = case.frozen_plans.get().documents.get(kind="consent-letter")
    go(desk, f"{url}/letters/{letter.public_id}/hand/")
    desk.get_by_role("button", name="Record it").click()
    said(desk, "From here the time to think it over runs.")
    consent_url = desk.url

    # Two days later the patient signs on the screen, with the dentist's talk written down before it is handed over.
    clock.at(days=2)
    come_in(dentist, url, "olive")
    come_in(desk, url, "lea")
    go(dentist, f"{consent_url}talk/")
    dentist.get_by_role("button", name="Record it").click()
    said(dentist, "The talk is recorded.")
    go(desk, consent_url)
    desk.get_by_role("link", name="Sign on this screen").click()
    desk.get_by_label("Licence number of that dentist").fill("D-4471")
    desk.get_by_role("button", name="Hand the screen over with this page").click()
    expect(desk.get_by_role("link", name="For the office: take it back")).to_be_visible()
    expect(desk.get_by_label("Licence number of that dentist")).to_have_value("D-4471")
    look(desk, "story-sign")
    desk.get_by_label("Said back in the own words").fill("A tip comes off, three teeth get wider.")
    desk.get_by_label("Yes, to all of it").check()
    desk.get_by_label("I type my name").check()
    desk.get_by_label("Type the name as it stands above").fill(patient)
    desk.get_by_role("button", name="Sign", exact=True).click()
    expect(desk.get_by_role("heading", name="Hand it back to us now")).to_be_visible()
    look(desk, "story-hand-back")
    fill_in(desk, "lea")
    desk.get_by_role("button", name="Sign", exact=True).click()
    said(desk, "It is signed.")
    signature = Signature.objects.get()
    assert (signature.signer, signature.by.username) == (patient, "lea")
    go(dentist, f"{consent_url}countersign/")
    dentist.get_by_label("Your licence number").fill("D-4471")
    dentist.get_by_role("button", name="Record it").click()
    dentist.get_by_label("Password of Olive Owner").fill(PASSWORD)
    dentist.get_by_role("button", name="Go on").click()
    said(dentist, "It is countersigned.")

    # The next Monday the manager finds the yes that has no date, and books it from there.
    clock.at(days=7)
    manager = enter("mia")
    go(manager, f"{url}/monday/")
    block = manager.get_by_role("region", name="Yes, but no date")
    expect(block).to_contain_text("1,618.25")
    block.get_by_role("link", name=f"Book: {patient}").click()
    manager.locator(".slots a").first.click()
    manager.get_by_label("Why all the same").fill("The mould and the index come back the day before.")
    manager.get_by_role("button", name="Book it").click()
    said(manager, "Booked for")
    visit = Visit.objects.get()
    go(manager, f"{url}/monday/")
    expect(manager.get_by_role("region", name="Yes, but no date")).not_to_contain_text(patient)

    # The day of the visit: asked for changes, begun, and worked by the step sheet until one tooth is left out.
    clock.now = visit.starts
    come_in(dentist, url, "olive")
    assistant = enter("asa", viewport=TABLET)
    go(assistant, f"{url}/patients/{case.patient.public_id}/")
    assistant.get_by_role("link", name="Ask “any change?”").click()
    assistant.get_by_label("no", exact=True).check()
    assistant.get_by_role("button", name="Keep the answer").click()
    expect(assistant.get_by_role("status").first).to_be_visible()
    go(dentist, f"{url}/visits/of/{AcceptedPlan.objects.get().public_id}/")
    dentist.get_by_role("button", name="Treatment begins").click()
    said(dentist, "Treatment has begun.")
    go(assistant, f"{url}/visits/{visit.public_id}/steps/")
    assistant.get_by_role("button", name="Begin").click()
    for number in range(3):
        done = assistant.get_by_role("button", name="Done", exact=True)
        expect(assistant.get_by_text(re.compile(rf"^{number} of \d+"))).to_be_visible()
        clock.now += timedelta(minutes=4)
        done.click()
    expect(assistant.get_by_text(re.compile(r"^3 of \d+"))).to_be_visible()
    assistant.get_by_role("link", name="Found something").click()
    assistant.get_by_label("Left out", exact=True).check()
    assistant.get_by_role("group", name="Which tooth?").get_by_label(re.compile("upper left lateral|22")).check()
    assistant.get_by_label("In a few words").fill("ran out of time")
    assistant.get_by_role("button", name="Note it").click()
    said(assistant, "stop and ask")
    expect(assistant.get_by_text("A dentist writes the change.")).to_be_visible()

    # The dentist writes the change from the note; the plan says what it comes to now.
    go(dentist, f"{url}/visits/{visit.public_id}/steps/")
    dentist.get_by_role("link", name="Write the change").click()
    dentist.get_by_label("the office").check()
    dentist.get_by_role("button", name="Change the plan").click()
    said(dentist, "It is recorded.")
    expect(dentist.get_by_text("left out: ran out of time").first).to_be_visible()
    dentist.wait_for_url(plan_url)
    # Two build-ups at 445 with the 5 % of three kept, and 220 + 70 + 60 beside them: worked out by hand.
    made = Amendment.objects.get()
    assert (made.before_cents, made.after_cents) == (161825, 119550)
    acts = list(TrailEntry.objects.order_by("sequence").values_list("act", flat=True))
    story = [
        "plan.freeze", "estimate.check", "estimate.show", "screen.hand_over", "screen.take_back", "consent.ask",
        "consent.answer", "plan.accept", "consent.hand", "consent.sign", "consent.countersign", "visit.book",
        "steps.note", "plan.amend", "steps.settle",
    ]  # fmt: skip
    assert [act for act in dict.fromkeys(acts) if act in story] == story
