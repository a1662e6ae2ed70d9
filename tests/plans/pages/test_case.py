"""What the page of a case shows, to whom, and what it says where nothing can be offered."""

from datetime import timedelta

import pytest
import time_machine

from planner.patients.models import HistoryForm
from planner.plans import cases, estimates
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts, History
from planner.rules.verdicts import Verdict
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.plans.pages.conftest import OPTION
from tests.support import NOW

pytestmark = pytest.mark.django_db


def test_the_case_page_shows_every_option_and_how_each_figure_was_reached(case: Case, owner: Staff) -> None:
    answer = client_of(owner).get(f"/plans/{case.public_id}/")
    text = answer.content.decode()
    plan = answer.context["plan"]
    assert [one.option.key for one in (*answer.context["first"], *answer.context["rest"])] == [
        option.key for option in plan.options
    ]
    assert len(answer.context["first"]) == 7
    assert "1,618.25" in text
    assert "2,178.25" in text
    chosen = plan.option(OPTION)
    for step in (*chosen.estimate.how, *chosen.upkeep.how, *chosen.minutes.how, *chosen.how):
        assert step in text.replace("&#x27;", "'")
    assert "The patient's own limit" in text
    assert "13 (Universal 6)" in text
    assert "summary read, not the full study" in text.lower()
    assert "<svg" in text
    assert TrailEntry.objects.filter(act="patient.view", subject_id=case.patient.public_id).count() == 1


def test_the_other_numbering_stands_first_when_the_case_says_so(case: Case, owner: Staff) -> None:
    cases.change_case(case=case, seen=case.version, numbering="universal", actor=owner, now=NOW)  # type: ignore[arg-type]
    text = client_of(owner).get(f"/plans/{case.public_id}/").content.decode()
    assert "6 (ISO 13)" in text
    assert "upper right canine (6, ISO 13)" in text


def test_private_reasons_are_not_for_the_desk(owner: Staff, colleague: Staff, lead_case: CaseFacts) -> None:
    worried = lead_case.model_copy(
        update={"case": "worried", "history": lead_case.history.model_copy(update={"looks_worry": True})}
    )
    case = import_case_file(facts=worried, actor=owner, now=NOW).case
    plan = estimates.compute_plan(case, NOW)[0]
    private = next(reason for option in plan.options for reason in option.reasons if reason.private)
    url = f"/plans/{case.public_id}/"
    dentist = client_of(owner).get(url).content.decode()
    desk = client_of(colleague).get(url).content.decode()
    assert private.gate in dentist
    assert private.words.split(":")[0] in dentist.replace("&#x27;", "'")
    assert f">{private.gate}<" not in desk
    assert private.words.split(":")[0] not in desk.replace("&#x27;", "'")
    assert "A private reason; the dentist knows it." in desk


def test_where_nothing_can_be_offered_the_page_says_what_must_change(owner: Staff, lead_case: CaseFacts) -> None:
    blank = lead_case.model_copy(update={"case": "blank", "history": History()})
    case = import_case_file(facts=blank, actor=owner, now=NOW).case
    assert not HistoryForm.objects.exists()
    answer = client_of(owner).get(f"/plans/{case.public_id}/")
    changes = answer.context["must_change"]
    assert changes
    assert "What has to change first" in answer.content.decode()
    plan = answer.context["plan"]
    assert all(option.verdict not in (Verdict.OFFER, Verdict.CARE) for option in plan.options[1:])
    for option in plan.options[1:]:
        for reason in option.reasons:
            if reason.verdict in (Verdict.ASK, Verdict.WAIT):
                assert any(option.name in change.options for change in changes)


def test_a_case_in_an_office_without_prices_says_so(case: Case, owner: Staff) -> None:
    with time_machine.travel(NOW - timedelta(days=90), tick=False):
        answer = client_of(owner).get(f"/plans/{case.public_id}/")
    assert answer.status_code == 200
    assert "No office book of Test office is in force" in answer.content.decode()
