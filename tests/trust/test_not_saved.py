"""A save that met a database which is away or full: a sentence and 503, and nothing that was typed is lost."""

import errno
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.db import InterfaceError, OperationalError
from django.test import Client, RequestFactory
from django.urls import reverse

from planner.config.refused import not_saved
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from tests.pages import client_of
from tests.support import NOW, PASSWORD
from tests.trust.filling import MARKUP, forms_of

pytestmark = pytest.mark.django_db
AWAY: list[Exception] = [
    OperationalError("server closed the connection to db7.office.example"),
    InterfaceError("connection already closed"),
    OperationalError("database or disk is full"),
    OSError(errno.ENOSPC, "No space left on device"),
]


def quiet(staff: Staff | None) -> Client:
    client = client_of(staff)
    client.raise_request_exception = False
    return client


def raising(error: Exception) -> Callable[..., Any]:
    def breaks(*_given: object, **_named: object) -> None:
        raise error

    return breaks


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    return import_case_file(facts=lead_case, actor=owner, now=NOW).case


@pytest.mark.parametrize("error", AWAY, ids=str)
def test_what_was_typed_is_sent_again_from_the_page_that_says_not_saved(
    error: Exception, owner: Staff, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    url, client = f"/plans/{case.public_id}/about/", quiet(owner)
    typed = {"name": "Anselm", "numbering": "iso", "notes": MARKUP, "seen": str(case.version)}
    with monkeypatch.context() as away:
        away.setattr("planner.plans.cases.record", raising(error))
        answer = client.post(url, typed | {"password_again": PASSWORD})
    assert answer.status_code == 503
    said = answer.content.decode()
    assert "Not saved, try again." in said
    assert PASSWORD not in said
    assert "db7" not in said
    case.refresh_from_db()
    assert case.notes != MARKUP
    (again,) = (form for form in forms_of(said, url) if form.action == url)
    assert {name: values[0] for name, values in again.values.items()} == typed
    assert client.post(url, again.values).status_code == 302
    case.refresh_from_db()
    assert case.notes == MARKUP


def test_a_part_of_a_page_leaves_the_page_as_it_stands(
    owner: Staff, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.plans.views.load_case", raising(AWAY[0]))
    answer = quiet(owner).post(f"/plans/{case.public_id}/about/", {"notes": "a"}, headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Retarget"]) == (503, "#content")
    assert answer["HX-Reswap"].startswith("afterbegin")
    assert "<html" not in answer.content.decode()


def test_a_page_that_could_not_be_read_offers_to_try_again(
    owner: Staff, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.plans.views.load_case", raising(AWAY[1]))
    answer = quiet(owner).get(f"/plans/{case.public_id}/about/?day=1")
    assert answer.status_code == 503
    assert f'href="/plans/{case.public_id}/about/?day=1"' in answer.content.decode()
    assert "Not saved" not in answer.content.decode()


def test_a_session_that_cannot_be_written_is_no_fault_of_the_browser(
    owner: Staff, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Django takes it for a session that was ended elsewhere, which is 400. The page shows a message, once.
    client = quiet(owner)
    client.post(f"/plans/{case.public_id}/about/", {"name": "a", "numbering": "iso", "notes": "", "seen": case.version})
    monkeypatch.setattr(Session, "save", raising(AWAY[0]))
    assert client.get(f"/plans/{case.public_id}/about/").status_code == 503


def test_nothing_of_a_sign_in_stands_on_the_page(owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.practice.sign_in_views.let_in", raising(AWAY[0]))
    monkeypatch.setattr(Session, "save", raising(AWAY[0]))
    answer = quiet(None).post("/sign-in/", {"username": "olive", "password": PASSWORD})
    assert answer.status_code == 503
    assert PASSWORD not in answer.content.decode()
    assert "olive" not in answer.content.decode()


@pytest.mark.parametrize("page", ["practice:sign_in_code", "practice:codes"])
def test_a_one_time_code_is_left_out_and_an_office_s_own_code_is_kept(page: str, rf: RequestFactory) -> None:
    sent = {"code": "271828", "0.code": "271828", "words": "Build-up"}
    assert "271828" not in not_saved(rf.post(reverse(page), sent)).content.decode()
    kept = not_saved(rf.post(reverse("practice:line"), sent)).content.decode()
    assert kept.count("271828") == 2


def test_a_fault_of_the_program_is_still_called_one(owner: Staff, case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.plans.views.load_case", raising(ValueError("seven")))
    answer = quiet(owner).post(f"/plans/{case.public_id}/about/", {"notes": "a"})
    assert answer.status_code == 500
    assert "Something broke in the program" in answer.content.decode()
