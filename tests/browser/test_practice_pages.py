"""The pages of the practice in a browser: opening an office, signing in, people, and the office book."""

import base64
from collections.abc import Callable
from typing import Any

from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.practice.models import Office, Staff
from planner.practice.one_time import code_at, step_of
from tests.browser.conftest import assert_no_axe_violations, look
from tests.support import PASSWORD


def test_a_new_office_is_opened_in_seven_pages(page: Page, live_server: Any, console: list[str], db: None) -> None:
    page.goto(live_server.url)
    expect(page.get_by_role("heading", name="Open your office")).to_be_visible()
    look(page, "begin-1-owner")
    page.get_by_label("Your full name").fill("Dr Ada Quill")
    page.get_by_label("Sign-in name").fill("ada quill")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_contain_text("has a blank inside")
    expect(page.get_by_label("Your full name")).to_have_value("Dr Ada Quill")
    page.get_by_label("Sign-in name").fill("ada")
    page.get_by_role("button", name="Go on").click()

    look(page, "begin-2-office")
    page.get_by_label("Name of the office").fill("Quill Dental")
    page.get_by_label("Place", exact=True).fill("Lower Heath")
    page.get_by_label("Currency").fill("eur")
    page.get_by_label("Time zone").select_option("Europe/Lisbon")
    page.get_by_role("button", name="Go on").click()

    for weekday in ("Monday", "Tuesday"):
        page.get_by_label(f"{weekday}, opens", exact=True).fill("8:30")
        page.get_by_label(f"{weekday}, closes").first.fill("12:30")
    page.get_by_label("Chairs").fill("Chair 1\nChair 2")
    page.get_by_label("Closed days").fill("25 December 2026")
    look(page, "begin-3-opening")
    page.get_by_role("button", name="Go on").click()

    page.get_by_label("Full name").first.fill("Noor Desk")
    page.get_by_label("Sign-in name").first.fill("noor")
    page.get_by_label("front desk").first.check()
    look(page, "begin-4-people")
    page.get_by_role("button", name="More lines").click()
    expect(page.get_by_label("Full name")).to_have_count(7)
    expect(page.get_by_label("Full name").first).to_have_value("Noor Desk")
    page.get_by_role("button", name="Go on").click()

    page.get_by_label("Silicone index: price").fill("70,5")
    look(page, "begin-5-prices")
    page.get_by_role("button", name="Go on").click()

    page.get_by_label("Age from which a patient consents alone").fill("16")
    page.get_by_label("On what ground").fill("national law, read on 3 January")
    look(page, "begin-6-legal")
    page.get_by_role("button", name="Go on").click()

    expect(page.get_by_text("Monday")).to_be_visible()
    look(page, "begin-7-ready")
    page.get_by_label("Your password", exact=True).fill(PASSWORD)
    page.get_by_label("Your password once more").fill(PASSWORD)
    page.get_by_role("button", name="Open the office").click()
    expect(page.get_by_role("heading", name="The office is open")).to_be_visible()
    expect(page.get_by_role("cell", name="noor")).to_be_visible()
    look(page, "begin-8-done")
    page.get_by_role("link", name="To the first day").click()
    expect(page.get_by_role("heading", name="Set up one-time codes")).to_be_visible()
    page.get_by_label("One-time code").fill(_shown_by_an_app(page))
    page.get_by_role("button", name="Ask me for codes from now on").click()
    page.get_by_role("link", name="I have them: go on").click()
    expect(page.get_by_text("Price list 1 is in effect since")).to_be_visible()
    look(page, "home-new-office")
    page.goto(f"{live_server.url}/begin/")
    expect(page.get_by_text("has an office already")).to_be_visible()
    assert Office.objects.count() == 1
    refused = [text for text in console if "403" not in text]
    assert refused == []


def _shown_by_an_app(page: Page) -> str:
    """What an app shows that was given the letters on the page."""
    written = page.locator("p.code").inner_text().replace(" ", "")
    return code_at(base64.b32decode(written), step_of(timezone.now()))


def test_signing_in_and_out_by_keyboard(page: Page, live_server: Any, console: list[str], owner: Staff) -> None:
    page.goto(live_server.url)
    look(page, "sign-in")
    expect(page.get_by_label("Sign-in name")).to_be_focused()
    page.keyboard.type("olive")
    page.keyboard.press("Tab")
    page.keyboard.type("not the password")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("do not belong together")
    expect(page.get_by_label("Sign-in name")).to_have_value("olive")
    assert_no_axe_violations(page)
    page.get_by_label("Password").focus()
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Set up one-time codes")).to_be_visible()
    expect(page.get_by_role("img", name="A code to scan")).to_be_visible()
    look(page, "codes-set-up")
    expect(page.get_by_label("One-time code")).to_be_focused()
    page.keyboard.type("000000")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("is not the code")
    page.get_by_label("One-time code").fill(_shown_by_an_app(page))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Recovery codes")).to_be_visible()
    look(page, "codes-sheet")
    sheet = page.locator("li.code").all_inner_texts()
    page.get_by_role("link", name="I have them: go on").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    look(page, "home")
    page.reload()
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    page.goto(f"{live_server.url}/account/")
    look(page, "account")
    page.get_by_role("link", name="One-time codes").click()
    look(page, "codes")
    page.get_by_role("button", name="Sign out", exact=True).focus()
    page.keyboard.press("Enter")

    expect(page.get_by_label("Sign-in name")).to_be_focused()
    page.keyboard.type("olive")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="One-time code")).to_be_visible()
    look(page, "sign-in-code")
    expect(page.get_by_label("One-time code")).to_be_focused()
    page.keyboard.type(sheet[2])
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    assert console == []


def test_a_screen_that_is_left_goes_blank_in_place_and_loses_nothing(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff
) -> None:
    page = signed_in(owner)
    page.clock.install()
    page.goto(f"{live_server.url}/staff/add/")
    page.get_by_label("Full name").fill("Ines Assist")
    page.get_by_label("assistant").check()
    page.clock.run_for(165_000)
    expect(page.get_by_role("status").get_by_text("goes blank in a moment")).to_be_visible()
    page.keyboard.press("Shift")
    expect(page.get_by_text("goes blank in a moment")).to_be_hidden()
    other = page.context.new_page()
    other.goto(f"{live_server.url}/staff/")
    page.clock.run_for(181_000)
    cover = page.get_by_role("dialog", name="This screen is blank")
    expect(cover).to_be_visible()
    expect(other.get_by_role("dialog", name="This screen is blank")).to_be_visible()
    expect(page.get_by_label("Full name")).to_be_hidden()
    assert page.title() == "Blank"
    look(page, "screen-blank")
    # The program itself answers nothing any more, whatever the page shows.
    third = page.context.new_page()
    third.goto(f"{live_server.url}/staff/")
    expect(third.get_by_role("heading", name="This screen is blank")).to_be_visible()
    look(third, "screen-unlock")
    third.close()
    page.bring_to_front()
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    expect(cover).to_be_visible()
    cover.get_by_label("Password of").fill("wrong")
    cover.get_by_role("button", name="Go on").click()
    expect(cover.get_by_role("alert")).to_contain_text("not your password")
    cover.get_by_label("Password of").fill(PASSWORD)
    page.keyboard.press("Enter")
    expect(cover).to_be_hidden()
    expect(other.get_by_role("dialog")).to_be_hidden()
    expect(page.get_by_label("Full name")).to_have_value("Ines Assist")
    page.get_by_label("Sign-in name").fill("ines")
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("heading", name="Password for one sign-in")).to_be_visible()
    assert [text for text in console if "403" not in text] == []


def test_too_many_tries_get_a_page_that_says_so(page: Page, live_server: Any, owner: Staff) -> None:
    page.goto(f"{live_server.url}/sign-in/")
    for _try in range(5):
        page.get_by_label("Sign-in name").fill("olive")
        page.get_by_label("Password").fill("wrong once more")
        page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Too many tries")).to_be_visible()
    look(page, "throttled")


def test_people_of_the_office(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, colleague: Staff
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/staff/")
    look(page, "staff")
    page.get_by_role("link", name="Add somebody").click()
    look(page, "staff-add")
    page.get_by_label("Full name").fill("Ines Assist")
    page.get_by_role("button", name="Add this person").click()
    expect(page.get_by_role("alert")).to_be_visible()
    assert_no_axe_violations(page)
    page.get_by_label("Sign-in name").fill("ines")
    page.get_by_label("assistant").check()
    page.get_by_role("button", name="Add this person").click()
    once = page.locator(".code").inner_text()
    look(page, "password-once")
    page.get_by_role("link", name="To the people of the office").click()
    page.get_by_role("link", name="Cleo Colleague").click()
    look(page, "person")
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Sign-in name").fill("ines")
    page.get_by_label("Password").fill(once)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Choose a password")).to_be_visible()
    look(page, "password")
    page.goto(f"{live_server.url}/account/")
    expect(page.get_by_role("heading", name="Choose a password")).to_be_visible()
    page.get_by_label("New password", exact=True).fill("a wholly own sentence")
    page.get_by_label("New password once more").fill("a wholly own sentence")
    page.get_by_role("button", name="Use this password").click()
    expect(page.get_by_role("heading", name="Your account")).to_be_visible()
    look(page, "account")
    assert console == []


def test_the_office_book(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/office/")
    look(page, "office")
    page.get_by_role("link", name="Change opening hours, chairs, closed days").click()
    page.get_by_label("Monday, opens", exact=True).fill("9")
    page.get_by_label("Monday, closes").first.fill("17:00")
    page.get_by_label("Chairs").fill("Window\nDoor")
    look(page, "opening")
    page.get_by_label("Reason").fill("winter hours")
    page.get_by_role("button", name="Show what would change").click()
    expect(page.get_by_text("Nothing is stored yet")).to_be_visible()
    expect(page.get_by_role("row", name="Monday")).to_contain_text("9:00–17:00")
    look(page, "opening-preview")
    page.get_by_role("button", name="Save this").click()
    expect(page.get_by_text("The opening hours are set.")).to_be_visible()
    page.get_by_role("link", name="Prepare the next list").click()
    look(page, "next-prices")
    page.get_by_label("Build-up of a tooth: price").fill("460")
    page.get_by_label("Reason").fill("yearly rise")
    page.get_by_role("button", name="Show what would change").click()
    expect(page.get_by_role("row", name="Build-up of a tooth")).to_contain_text("460.00")
    page.get_by_role("button", name="Save this").click()
    page.get_by_role("link", name="Price list 2").click()
    look(page, "prices")
    page.goto(f"{live_server.url}/office/legal/")
    look(page, "legal")
    assert console == []
