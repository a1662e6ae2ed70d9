"""Taking measurements at the chair in a browser, and seeing the spaces redrawn while values change."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.patients import services
from planner.patients.examinations import store_examination, with_lines
from planner.patients.facts import examination_facts
from planner.patients.models import Examination, Patient
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.rules.standing import place_of
from tests.browser.conftest import look


@pytest.fixture
def patient(owner: Staff) -> Patient:
    """Somebody whose teeth are to be measured."""
    return services.register_patient(
        name="Anselm Brightwater", birth_date=date(1979, 3, 2), actor=owner, now=timezone.now()
    )


def focused(page: Page) -> str:
    """The id of what has the focus."""
    return str(page.evaluate("document.activeElement.id"))


def along(page: Page, *values: str) -> None:
    """Type a row along the arch, going from cell to cell with Tab."""
    for value in values:
        page.keyboard.type(value)
        page.keyboard.press("Tab")


def test_the_lead_case_is_measured_at_the_keyboard(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    patient: Patient,
    lead_case: CaseFacts,
) -> None:
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/{patient.public_id}/examinations/new/")
    look(page, "examination-new")
    # Which teeth stand there: the baby canine in 13's place, the canine in 12's. Typing a number chooses it.
    page.get_by_label("13: tooth that stands here").focus()
    along(page, "53", "13")
    assert focused(page) == "id_upper-right-central-incisor-tooth"
    for _place in range(4):
        page.keyboard.press("Tab")
    page.get_by_role("button", name="Lay out anew").press("Enter")
    expect(page.get_by_text("53 in 13's place").first).to_be_visible()
    expect(page.get_by_role("button", name="Lay out anew")).to_be_focused()
    expect(page.get_by_text("Not recorded, neither as there nor as absent: 12")).to_be_visible()

    page.keyboard.press("Tab")  # past "Must look like"
    for _place in range(6):
        page.keyboard.press("Tab")
    along(page, "6.4", "7.8", "83")
    expect(page.locator("#read-back")).to_contain_text("83.0 mm is no width of a tooth")
    along(page, "8,4")
    expect(page.locator("#read-back")).to_contain_text("eight point four")
    along(page, "5.5", "7.9")
    for _place in range(6):
        page.keyboard.press("Tab")  # second readings
    along(page, "0.5", "0.3", "0.8", "0.7", "0.9")
    for _place in range(5):
        page.keyboard.press("Tab")
    along(page, "6.3", "10.1", "10.5", "10.6", "8.3", "10.4")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("83.0 mm is no width of a tooth")
    expect(page.get_by_label("22: width", exact=True)).to_have_value("5.5")
    look(page, "examination-refused")
    assert not Examination.objects.exists()

    page.get_by_role("alert").get_by_role("link", name="11: width").click()
    page.get_by_label("11: width", exact=True).fill("10.8")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Some values look like a slip")).to_be_visible()
    look(page, "examination-asked")
    page.get_by_label("11: width", exact=True).fill("8.3")
    page.get_by_text("Absent teeth nothing asked yet").click()
    page.get_by_label("Tooth (may stay empty)", exact=True).first.fill("12")
    page.get_by_label("Why").first.select_option("never formed")
    for box in page.get_by_label("Yes, it is right").all():
        box.check()
    page.get_by_role("button", name="Save and confirm in my name").click()
    expect(page.get_by_role("heading", name="Examination of")).to_be_visible()
    look(page, "examination-read")

    facts = examination_facts(with_lines().get())
    lead = {tooth.tooth: tooth for tooth in lead_case.examination.teeth}
    for tooth in facts.teeth:
        known = lead[tooth.tooth]
        assert (tooth.width, tooth.length, place_of(tooth)) == (known.width, known.length, place_of(known))
    assert [gap.width for gap in facts.gaps] == [gap.width for gap in lead_case.examination.gaps]
    assert [(line.tooth.iso, line.cause) for line in facts.absent] == [("12", "never formed")]
    assert facts.confirmed_by == owner.full_name
    assert console == [], "\n".join(sorted({x[:200] for x in console}))


def test_every_group_opens_and_holds_what_is_on_file(
    signed_in: Callable[[Staff], Page],
    live_server: Any,
    console: list[str],
    owner: Staff,
    patient: Patient,
    lead_case: CaseFacts,
) -> None:
    draft = lead_case.examination.model_copy(update={"confirmed_by": ""})
    stored = store_examination(patient=patient, facts=draft, actor=owner, now=timezone.now())
    page = signed_in(owner)
    page.goto(f"{live_server.url}/patients/examinations/{stored.public_id}/edit/")
    for summary in page.locator("details.group > summary").all():
        summary.click()
    look(page, "examination-open")
    expect(page.get_by_label("53 in 13's place: mobility, grade")).to_have_value("1")
    expect(page.get_by_role("group", name="Grinding").get_by_label("suspected")).to_be_checked()
    assert console == [], "\n".join(sorted({x[:200] for x in console}))
