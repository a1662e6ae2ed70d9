"""The page of the spaces in a browser: redrawn while values change, locks kept with their reasons."""

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.plans.casefiles import import_case_file
from planner.plans.facts import case_choices
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.rules.space_model import Segment
from tests.browser.conftest import look
from tests.rules.space_casefiles import EIGHT, facts_of
from tests.rules.space_cases import CASE_2, CASE_3


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    """The lead case on file."""
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


@pytest.fixture
def worked(owner: Staff, lead_case: CaseFacts) -> Callable[[str, Segment], Case]:
    """A worked case of sharing space on file."""

    def take_in(name: str, segment: Segment) -> Case:
        facts = facts_of(segment, lead_case, name)
        return import_case_file(facts=facts, actor=owner, now=timezone.now()).case

    return take_in


def focused(page: Page) -> str:
    """The id of what has the focus."""
    return str(page.evaluate("document.activeElement.id"))


def test_the_plan_follows_a_changed_gap_and_the_focus_stays(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    url = f"{live_server.url}/plans/{case.public_id}/spaces/"
    page.goto(url)
    expect(page.get_by_role("status").filter(has_text="adding to 11, 21 and 22 and shortening 13")).to_be_visible()
    look(page, "spaces")
    page.evaluate("window.stillThisPage = true")
    page.get_by_label("13·11: gap", exact=True).focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("0,1")
    page.keyboard.press("Tab")
    expect(page.locator("#result")).to_contain_text("is the contact tight to a 0.05 mm strip")
    assert focused(page) == "id_gap-upper-right-central-incisor-width"
    expect(page.locator("#result")).to_contain_text("gap 13·11: 0.3 → 0.1")
    look(page, "spaces-film")
    page.get_by_label("13·11: film").select_option("tight")
    expect(page.locator("#result")).not_to_contain_text("is the contact tight")
    page.get_by_label("11·21: gap", exact=True).fill("3.4")
    page.keyboard.press("Tab")
    expect(page.locator("#result")).to_contain_text("Smallest movement", timeout=20_000)
    look(page, "spaces-nothing-fits")
    page.get_by_label("13·11: gap", exact=True).fill("83")
    page.keyboard.press("Tab")
    expect(page.get_by_role("alert")).to_contain_text("83.0 mm is no gap")
    look(page, "spaces-refused")
    assert page.evaluate("window.stillThisPage"), "the page was loaded anew"
    assert case_choices(Case.objects.get()) == case_choices(case)
    assert console == []


def test_a_lock_is_kept_with_a_reason_and_let_go_again(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/spaces/")
    page.get_by_label("53: not to be touched, as found").uncheck()
    page.get_by_text("Fixed by the dentist").click()
    page.get_by_label("11: do not touch").check()
    expect(page.get_by_label("11, do not touch: free → yes")).to_be_visible()
    look(page, "spaces-lock")
    page.get_by_role("button", name="Keep these locks").click()
    expect(page.get_by_text("A reason is missing")).to_be_visible()
    expect(page.get_by_label("11: do not touch")).to_be_checked()
    look(page, "spaces-no-reason")
    page.get_by_label("11, do not touch: free → yes").fill("A new crown is planned there.")
    page.get_by_label("22: lengthen by").fill("1,0")
    page.keyboard.press("Tab")
    expect(page.get_by_label("22, lengthen by: free → 1.0 mm")).to_be_visible()
    expect(page.get_by_label("11, do not touch: free → yes")).to_have_value("A new crown is planned there.")
    page.get_by_label("22: lengthen by").fill("")
    page.keyboard.press("Tab")
    expect(page.get_by_label("22, lengthen by: free → 1.0 mm")).to_have_count(0)
    page.get_by_role("button", name="Keep these locks").click()
    expect(page.get_by_text("The locks are kept")).to_be_visible()
    (lock,) = [one for one in case_choices(Case.objects.get()).locks if one.what == "untouched"]
    assert (lock.tooth and lock.tooth.iso, lock.reason, lock.by) == (
        "11",
        "A new crown is planned there.",
        owner.full_name,
    )
    page.get_by_text("Fixed by the dentist").click()
    page.get_by_label("11: do not touch").uncheck()
    page.get_by_label("11, do not touch: yes → free").fill("No crown after all.")
    page.get_by_role("button", name="Keep these locks").click()
    expect(page.get_by_text("The locks are kept")).to_be_visible()
    assert [one.what for one in case_choices(Case.objects.get()).locks] == ["shorten"]
    assert console == []


def test_which_measurements_decide_is_looked_at_when_asked(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    worked: Callable[[str, Segment], Case],
) -> None:
    """The page asks on by itself, shows how far it has come, and ends with what is worth taking again."""
    page = signed_in(owner)
    case = worked("case 2", CASE_2)
    page.goto(f"{live_server.url}/plans/{case.public_id}/spaces/")
    expect(page.locator("#why")).to_contain_text("Why it was not taken", timeout=20_000)
    page.get_by_role("button", name="Which measurements decide?").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.locator("#decide")).to_contain_text("again", timeout=30_000)
    page.get_by_label("Below").select_option("today")
    page.get_by_role("button", name="Compare these two").click()
    expect(page.locator("#compare svg")).to_be_visible()
    look(page, "spaces-case-2")
    assert console == []


def test_nothing_fits_and_the_orthodontist_is_asked(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    worked: Callable[[str, Segment], Case],
) -> None:
    page = signed_in(owner)
    case = worked("case 3", CASE_3)
    page.goto(f"{live_server.url}/plans/{case.public_id}/spaces/")
    expect(page.get_by_role("region", name="Request to the orthodontist")).to_contain_text("leave 0.7 mm or less")
    page.get_by_label("Teeth may be moved by").fill("3")
    page.get_by_role("button", name="What stays compromised then?").click()
    expect(page.locator("#less")).to_contain_text("then everything fits")
    look(page, "spaces-case-3")
    assert console == []


def test_eight_teeth_and_every_decision(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    worked: Callable[[str, Segment], Case],
) -> None:
    page = signed_in(owner)
    case = worked("eight teeth", EIGHT)
    page.goto(f"{live_server.url}/plans/{case.public_id}/spaces/")
    page.get_by_text("Fixed by the dentist").click()
    page.get_by_label("23: must look like").select_option("premolar")
    page.get_by_label("11: need not match its twin").check()
    page.get_by_label("Width of the laterals aimed at").fill("78")
    page.get_by_label("One limit raised").select_option("share")
    page.get_by_label("on the tooth").select_option(label="22")
    page.locator("#id_front-raised_to").fill("2,5")
    page.keyboard.press("Tab")
    expect(page.get_by_role("alert")).to_contain_text("may be raised to 2.0 mm at most")
    page.locator("#id_front-raised_to").fill("2,0")
    page.keyboard.press("Tab")
    expect(page.get_by_label("22, largest share on one side: free → 2.0 mm")).to_be_visible()
    expect(page.get_by_role("region", name="What this changes against what is stored")).to_be_visible()
    look(page, "spaces-eight")
    for label in page.locator("#result section.sheet label").all_inner_texts():
        page.get_by_label(label, exact=True).fill("As agreed with the patient.")
    page.get_by_role("button", name="Keep these locks").click()
    expect(page.get_by_text("The locks are kept")).to_be_visible()
    kept = {lock.what for lock in case_choices(Case.objects.get()).locks}
    assert kept == {"role", "twins apart", "ratio", "share limit"}
    page.get_by_text("History of what was fixed").click()
    expect(page.get_by_role("cell", name="23, must look like: free → premolar")).to_be_visible()
    look(page, "spaces-eight-kept")
    assert console == []


def test_it_works_without_scripts(
    browser: Any, signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff, case: Case
) -> None:
    cookies = signed_in(owner).context.cookies()
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies(cookies)
    page = context.new_page()
    page.goto(f"{live_server.url}/plans/{case.public_id}/spaces/")
    page.get_by_text("Fixed by the dentist").click()
    page.get_by_label("22: build up").check()
    page.get_by_role("button", name="Compute with these values").click()
    page.get_by_label("22, build up: free → yes").fill("Her wish.")
    page.get_by_role("button", name="Keep these locks").click()
    expect(page.get_by_text("The locks are kept")).to_be_visible()
    assert "build up" in {lock.what for lock in case_choices(Case.objects.get()).locks}
    context.close()


def test_what_the_case_rests_on(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/rests-on/")
    look(page, "case-rests-on")
    page.get_by_role("group", name="What was read in pictures").get_by_role("checkbox").uncheck()
    page.get_by_role("button", name="Rest the case on these").click()
    expect(page.get_by_text("The case rests on these from now on")).to_be_visible()
    assert not Case.objects.get().case_pictures.exists()
    assert console == []
