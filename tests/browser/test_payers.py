"""Pages of payers in a browser: a plan written down, a cover, and the guess beside an estimate."""

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from planner.patients import payers
from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.benefit_plans import Basis
from planner.rules.mouth import CaseFacts
from tests.browser.conftest import look
from tests.pages import priced_office
from tests.payers import bronze, cover, desk_of, used
from tests.support import TODAY


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


def test_a_plan_is_written_down_and_a_person_covered(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    page = signed_in(desk_of(owner))
    page.goto(f"{live_server.url}/patients/payers/new/")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("alert").first).to_contain_text("This is missing")
    look(page, "payer-plan-refused")
    page.get_by_label("Payer", exact=True).fill("Harbour Mutual")
    page.get_by_label("Plan", exact=True).fill("Bronze")
    page.get_by_label("told by telephone").check()
    page.get_by_label("Who said so").fill("Ms Hale")
    page.get_by_label("On which day").fill("2 March 2026")
    page.get_by_label("Yearly maximum (may stay empty)").fill("1000")
    page.get_by_label("Class 1, name").fill("basic")
    page.get_by_label("Class 1, percent").fill("80")
    page.get_by_label("Composite build-up, both sides or edge: pays").select_option("class 1")
    page.get_by_label("Composite build-up, both sides or edge: plan's fee").fill("318")
    page.get_by_label("Why is this written down or changed?").fill("Asked on the phone.")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Harbour Mutual, Bronze")
    look(page, "payer-plan")
    page.goto(f"{live_server.url}/patients/{case.patient.public_id}/covers/new/")
    look(page, "cover-form")
    page.goto(f"{live_server.url}/patients/payers/")
    look(page, "payer-plans")
    assert console == []


def test_the_guess_beside_an_estimate(
    signed_in: Callable[[Staff], Page], live_server: Any, console: list[str], owner: Staff, case: Case
) -> None:
    desk, now = desk_of(owner), timezone.now()
    who: dict[str, Any] = {"actor": desk, "now": now}
    own = Basis(told="own guess", by="Rhea Osgood", on=TODAY)
    row = payers.add_plan(office=owner.office, plan=bronze(missing_before_excluded=None), reason="Phone.", **who)
    held = payers.add_cover(patient=case.patient, plan=row, cover=cover(basis=own), reason="Card.", **who)
    payers.tell_used(cover=held, used=used(), **who)
    payers.ask_payer(cover=held, words="Is a wing bridge paid?", due=now.date().replace(year=2099), **who)
    plan, book = estimates.compute_plan(case, now)
    given: dict[str, Any] = {"actor": owner, "now": now}
    draft = estimates.draft_estimate(case=case, **given)
    made = estimates.check_estimate(estimate=draft, seen=1, plan_json=plan.to_json(), book=book, **given)
    page = signed_in(desk)
    page.goto(f"{live_server.url}/patients/{case.patient.public_id}/covers/")
    look(page, "covers")
    page.goto(f"{live_server.url}/plans/estimate/{made.public_id}/")
    expect(page.get_by_text("A guess, not a promise.")).to_be_visible()
    look(page, "estimate-payers")
    page.get_by_role("link", name="How it came about").click()
    page.get_by_text("test 15").first.click()
    look(page, "payers-guess")
    page.get_by_role("link", name="Write down what was paid").click()
    look(page, "payers-paid")
    assert console == []
