"""The page of fit and proportion in a browser, for a mouth with much in it and for an everyday one."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.plans.casefiles import import_case_file
from planner.practice.models import Staff
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from planner.rules.teeth import Numbering
from tests.browser.conftest import look
from tests.support import TODAY


def fixture(name: str) -> CaseFacts:
    """An invented case with the tests' day as its day zero."""
    path = settings.BASE_DIR / "fixtures" / "cases" / f"{name}.json"
    return validate_case(resolve_days(parse_case(path.read_bytes()), TODAY), TODAY)


def test_every_check_is_reached_from_the_case(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff
) -> None:
    page = signed_in(owner)
    for name in ("lead", "zhenya", "cormac"):
        case = import_case_file(facts=fixture(name), actor=owner, now=timezone.now()).case
        page.goto(f"{live_server.url}/plans/{case.public_id}/")
        page.get_by_role("link", name="Fit and proportion").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Fit and proportion")
        expect(page.get_by_role("heading", name="Width to length")).to_be_visible()
        expect(page.locator("#h-asks")).to_contain_text("not measured")
        look(page, f"fit-{name}")
    page.get_by_label("Significant from").select_option("deviations")
    page.get_by_role("button", name="Judge by these").click()
    expect(page.get_by_label("Significant from")).to_have_value("deviations")
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Judge by these")).to_be_hidden()
    page.locator("a[href='#source-1']").first.evaluate("element => element.click()")
    assert page.url.endswith("#source-1")
    assert console == []


def test_palmer_marks_are_drawn(signed_in: Callable[[Staff], Page], live_server: Any, owner: Staff) -> None:
    """The corners come from the font of the pages, so that no reader's machine has to have them."""
    facts = fixture("lead").model_copy(update={"numbering": Numbering.PALMER})
    case = import_case_file(facts=facts, actor=owner, now=timezone.now()).case
    page = signed_in(owner)
    page.goto(f"{live_server.url}/plans/{case.public_id}/fit/")
    expect(page.locator("#content")).to_contain_text("3\u23cc, ISO 13, Universal 6")
    loaded = "document.fonts.ready.then(() => [...document.fonts].filter(f => f.status == 'loaded').map(f => f.family))"
    assert any("Palmer Corners" in family for family in page.evaluate(loaded))
    look(page, "fit-palmer")
