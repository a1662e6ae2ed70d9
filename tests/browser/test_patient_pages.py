"""The pages about people in a browser: finding, registering, correcting, the history, and two editors at once."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.patients import services
from planner.patients.models import Patient
from planner.practice.models import Staff
from planner.rules.mouth import History
from tests.browser.conftest import SCREENSHOTS, assert_no_axe_violations, look


@pytest.fixture
def people(owner: Staff) -> list[Patient]:
    """Three people, two of them twins."""
    written = (
        ("Anselm Brightwater", date(1979, 3, 2), "416 555 0101"),
        ("Mara Ó Conaill", date(1990, 7, 14), "416 555 0102"),
        ("Mira Ó Conaill", date(1990, 7, 14), "416 555 0103"),
    )
    return [
        services.register_patient(name=name, birth_date=born, phone=phone, actor=owner, now=timezone.now())
        for name, born, phone in written
    ]


def test_search_and_create_by_keyboard_alone(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, people: list[Patient]
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/")
    look(page, "patients")
    box = page.get_by_label("Name or birth date")
    box.focus()
    page.keyboard.type("cona")
    expect(page.get_by_role("row", name="Anselm Brightwater")).to_have_count(0)
    expect(page.get_by_role("link", name="Mara Ó Conaill")).to_be_visible()
    expect(box).to_be_focused()
    expect(page.get_by_role("status")).to_contain_text("2 people")
    look(page, "patients-found")
    page.keyboard.press("Control+a")
    page.keyboard.type("2 March 1979")
    expect(page.get_by_role("link", name="Anselm Brightwater")).to_be_visible()
    assert "conaill" not in page.url.lower()

    page.get_by_role("link", name="New patient").focus()
    page.keyboard.press("Enter")
    page.get_by_label("Full name").focus()
    page.keyboard.type("Mora Ó Conaill")
    page.keyboard.press("Tab")
    page.keyboard.type("14/7/1990")
    page.keyboard.press("Tab")
    expect(page.get_by_text("Sorted as “conaill mora o”")).to_be_visible()
    expect(page.get_by_text("Somebody like this is on file")).to_be_visible()
    expect(page.get_by_label("Sorted in lists as")).to_be_focused()
    look(page, "patient-new")
    page.get_by_role("button", name="Open the file").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Nothing has been stored yet")).to_be_visible()
    expect(page.get_by_label("Full name")).to_have_value("Mora Ó Conaill")
    assert_no_axe_violations(page)
    page.get_by_label("this is somebody else").focus()
    page.keyboard.press("Space")
    page.get_by_role("button", name="Open the file").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Mora Ó Conaill")).to_be_visible()
    expect(page.get_by_text("Easily mistaken for")).to_be_visible()
    look(page, "patient-twins")
    assert console == []


def test_search_without_script_finds_the_same(
    browser: Any, signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff, people: list[Patient]
) -> None:
    cookies = signed_in(owner).context.cookies()
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies(cookies)
    page = context.new_page()
    page.goto(f"{live_server.url}/patients/")
    page.get_by_label("Name or birth date").fill("bright")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_role("link", name="Anselm Brightwater")).to_be_visible()
    expect(page.get_by_role("link", name="Mara Ó Conaill")).to_have_count(0)
    page.get_by_role("link", name="New patient").click()
    page.get_by_label("Full name").fill("Mara Ó Conaill")
    page.get_by_label("Birth date", exact=True).fill("1990-07-14")
    page.get_by_role("button", name="Look for somebody like this").click()
    expect(page.get_by_text("Somebody like this is on file")).to_be_visible()
    expect(page.get_by_label("Full name")).to_have_value("Mara Ó Conaill")
    context.close()


def test_the_file_and_the_history(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, people: list[Patient]
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/{people[0].public_id}/")
    look(page, "patient-empty")
    page.get_by_role("link", name="Enter a signed form").click()
    look(page, "history-new")
    page.get_by_role("group", name="Allergy to latex?").get_by_label("yes").check()
    page.get_by_label("HbA1c, percent").fill("7,25")
    page.get_by_label("Signed by").fill("Anselm Brightwater")
    page.get_by_role("button", name="Put it on file").click()
    expect(page.get_by_role("alert")).to_contain_text("“7,25” is not a number with one decimal")
    expect(page.get_by_role("group", name="Allergy to latex?").get_by_label("yes")).to_be_checked()
    assert_no_axe_violations(page)
    page.get_by_label("HbA1c, percent").fill("7,2")
    page.get_by_label("HbA1c measured on").fill("2 March 2026")
    page.get_by_role("button", name="Put it on file").click()
    expect(page.get_by_text("The medical history is on file.")).to_be_visible()
    look(page, "patient")
    page.get_by_role("link", name="Ask “any change?”").click()
    look(page, "any-change")
    page.get_by_label("no", exact=True).check()
    page.get_by_role("button", name="Keep the answer").click()
    page.get_by_role("link", name="Read the history").click()
    expect(page.get_by_role("row", name="Allergy to latex?")).to_contain_text("yes")
    expect(page.get_by_role("row", name="Allergy to nickel?")).to_contain_text("not asked")
    expect(page.get_by_role("row", name="HbA1c, percent")).to_contain_text("7.2")
    look(page, "history")
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Sign out")).to_be_hidden()
    expect(page.get_by_role("row", name="Allergy to latex?")).to_be_visible()
    page.screenshot(path=SCREENSHOTS / "history-print.png", full_page=True)
    assert console == []


def test_the_second_editor_sees_both_versions(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, people: list[Patient]
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/{people[0].public_id}/change/")
    look(page, "patient-change")
    services.change_patient(
        patient=people[0], seen=1, changes={"phone": "416 555 9999"}, actor=owner, now=timezone.now()
    )
    page.get_by_label("Telephone").fill("416 555 7777")
    page.get_by_label("14 points").check()
    page.get_by_role("button", name="Save").click()
    row = page.get_by_role("row", name="Telephone")
    expect(row).to_contain_text("416 555 9999")
    expect(row).to_contain_text("416 555 7777")
    expect(page.get_by_label("Telephone")).to_have_value("416 555 7777")
    look(page, "patient-both-versions")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("416 555 7777")).to_be_visible()
    assert Patient.objects.get(pk=people[0].pk).version == 3
    page.get_by_role("link", name="Stop all contact").click()
    look(page, "patient-stop")
    page.get_by_label("Reason").fill("moved away")
    page.get_by_role("button", name="Stop all contact").click()
    expect(page.get_by_text("No contact of any kind.")).to_be_visible()
    assert console == []


def test_a_session_that_ended_leads_the_whole_page_to_signing_in(
    signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff, people: list[Patient]
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/")
    page.context.clear_cookies(name="leastways-session")
    page.get_by_label("Name or birth date").press_sequentially("bri")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    expect(page.get_by_label("Name or birth date")).to_have_count(0)


def test_error_pages(signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff, colleague: Staff) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/nobody-here/")
    expect(page.get_by_role("heading", name="There is nothing here")).to_be_visible()
    look(page, "error-404")
    signed_in(colleague)
    page.goto(f"{live_server.url}/staff/")
    expect(page.get_by_role("heading", name="This is not yours to do")).to_be_visible()
    look(page, "error-403")


def test_history_typed_facts_reach_the_page(
    signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff, people: list[Patient]
) -> None:
    services.record_history(
        patient=people[1],
        facts=History(signed_on=date(2026, 1, 5), jaw_radiation="dose unknown", nicotine_per_day=0),
        actor=owner,
        now=timezone.now(),
    )
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/{people[1].public_id}/history/")
    expect(page.get_by_role("row", name="Radiation of the head")).to_contain_text("dose unknown")
    expect(page.get_by_role("row", name="Cigarettes a day")).to_contain_text("0")
