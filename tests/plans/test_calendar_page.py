"""The calendar of a case: who may see it, that it says what the plan says, and its cost."""

from datetime import timedelta

import pytest
from django.utils import timezone

from planner.plans.casefiles import import_case_file
from planner.plans.cases import change_case
from planner.plans.estimates import compute_plan
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of, refusals

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


def test_every_option_with_work_stands_with_its_days(owner: Staff, case: Case) -> None:
    page = client_of(owner).get(f"/plans/{case.public_id}/calendar/")
    plan, _book = compute_plan(case, timezone.now())
    shown = {option.key: option.calendar for option in page.context["options"]}
    assert shown["reshape-bond"] == plan.option("reshape-bond").calendar
    assert {"reshape-bond", "whitening", "braces-then-bonding"} <= set(shown)
    assert "none" not in shown
    # Crowns on sound teeth are ruled out by more than the patient's own limits.
    assert "crown" not in shown
    assert TrailEntry.objects.filter(reason__contains="calendar of case").exists()


def test_a_day_that_comes_too_early_is_said_with_the_soonest_instead(
    owner: Staff, case: Case, lead_case: CaseFacts
) -> None:
    soon = timezone.now().date() + timedelta(days=8)
    limits = lead_case.limits.model_copy(update={"wish_by": soon, "wish_by_firm": True})
    change_case(case=case, seen=case.version, limits=limits, actor=owner, now=timezone.now())
    page = client_of(owner).get(f"/plans/{case.public_id}/calendar/")
    late = {option.key for option in page.context["too_late"]}
    assert "reshape-bond" in late
    assert "It cannot be done by" in page.content.decode()
    assert "too late" in page.content.decode()


def test_who_may_not_see_options_is_refused_and_a_foreign_office_finds_nothing(case: Case, outsider: Staff) -> None:
    with refusals() as noted:
        assert client_of(outsider).get(f"/plans/{case.public_id}/calendar/").status_code == 404
    assert noted
    assert client_of(None).get(f"/plans/{case.public_id}/calendar/").status_code == 302


def test_the_queries_do_not_grow_with_the_cases(owner: Staff, case: Case, lead_case: CaseFacts) -> None:
    before = queries_of(client_of(owner), f"/plans/{case.public_id}/calendar/")
    import_case_file(facts=lead_case, actor=owner, now=timezone.now())
    assert queries_of(client_of(owner), f"/plans/{case.public_id}/calendar/") == before
