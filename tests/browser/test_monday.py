"""The Monday page in a browser: ten blocks, the way to an act, a call written down, pictures, one sheet of paper."""

import io
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pypdf
import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.followup.models import MadeCall
from planner.practice.models import Staff
from tests.browser.conftest import look
from tests.followup.sample import patient_of, shown_estimate
from tests.followup.work import accepted
from tests.pages import priced_office


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def test_from_the_page_to_an_act_and_onto_one_sheet(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff
) -> None:
    today = timezone.now().date()
    plan = accepted(
        owner, patient_of(owner, "Grace Hopper"), deposit=21000, accepted_on=today - timedelta(days=9), items=3
    )
    shown_estimate(owner, patient_of(owner, "Ada Byron"), on=today - timedelta(days=40))
    page = signed_in(owner)
    page.goto(f"{live_server.url}/monday/")
    expect(page.locator(".block")).to_have_count(10)
    expect(page.get_by_role("region", name="Yes, but no date")).to_contain_text("1,335.00")
    book = page.get_by_role("link", name="Book: Grace Hopper")
    expect(book).to_have_attribute("href", f"/visits/of/{plan.public_id}/")
    page.locator("summary", has_text="Yes, but no date").click()
    block = page.get_by_role("region", name="Yes, but no date")
    expect(block.get_by_text("items without consent are left out")).to_be_visible()
    look(page, "monday")
    sheets = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4")))
    assert len(sheets.pages) == 1
    assert "Patients who gave any answer within 90 days" in sheets.pages[0].extract_text().replace("\n", " ")
    page.get_by_role("link", name="Call: Ada Byron").click()
    look(page, "monday-call")
    page.get_by_label("spoke with somebody").check()
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("alert")).to_contain_text("Say with whom you spoke.")
    page.get_by_label("With whom").fill("Ada Byron")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status")).to_contain_text("The call is written down.")
    assert MadeCall.objects.get().spoke_with == "Ada Byron"
    page.goto(f"{live_server.url}/monday/calls/")
    look(page, "monday-calls")
    page.goto(f"{live_server.url}/monday/pictures/")
    expect(page.locator("figure svg")).to_have_count(3)
    look(page, "monday-pictures")
    assert console == []
