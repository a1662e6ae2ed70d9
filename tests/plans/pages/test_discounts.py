"""Discounts on the page: asked for, waiting, allowed by who may, taken back; what was checked no longer holds."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from planner.plans import discounting
from planner.plans.casefiles import export_case_file, import_case_file
from planner.plans.estimates import facts_changed
from planner.plans.facts import case_choices
from planner.plans.models import Case, Estimate
from planner.practice.again import FIELD
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.plan import plan_case
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of
from tests.plans.pages.conftest import OPTION, _worked_out_once, seen
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db
WORDS = "Long-standing patient."
AGAIN = {FIELD: PASSWORD}


@pytest.fixture(autouse=True)
def _plans_of_trials(monkeypatch: pytest.MonkeyPatch) -> None:
    assert discounting.plan_case is plan_case
    monkeypatch.setattr(discounting, "plan_case", _worked_out_once)


def ask(client: Client, case: Case, **typed: Any) -> Any:
    data = {"option": OPTION, "line": "", "kind": "courtesy", "percent": "5", "reason": WORDS, "seen": seen(case)}
    return client.post(f"/plans/{case.public_id}/discounts/", data | AGAIN | typed)


def allow(client: Client, case: Case, key: str = "discount-1") -> str:
    client.post(f"/plans/{case.public_id}/discounts/{key}/allow/", {"seen": seen(case)} | AGAIN)
    return client.get(f"/plans/{case.public_id}/discounts/").content.decode()


def fee(client: Client, case: Case) -> Any:
    return client.get(f"/plans/{case.public_id}/").context["plan"].option(OPTION).estimate


def kept(case: Case) -> Any:
    return case_choices(Case.objects.get(pk=case.pk)).discounts


def test_the_desk_lead_gives_a_small_one_and_a_checked_estimate_no_longer_holds(
    case: Case, checked: Estimate, person: Callable[..., Staff]
) -> None:
    lead = person(Role.DESK_LEAD)
    client = client_of(lead)
    before = fee(client, case)
    assert ask(client, case)["Location"].endswith("/discounts/")
    (one,) = kept(case)
    assert (one.given, one.allowed_by, one.allowed_role) == (True, lead.full_name, "desk lead")
    after = fee(client, case)
    assert after.discount_cents > before.discount_cents
    assert sum(line.total_cents for line in after.lines) == after.total_cents < before.total_cents
    assert any(WORDS in words for words in after.discount_words)
    assert facts_changed(Estimate.objects.get(pk=checked.pk), TODAY)
    assert TrailEntry.objects.filter(act="discount.give").count() == 1


def test_a_larger_one_waits_for_the_manager_and_takes_nothing_off_meanwhile(
    case: Case, checked: Estimate, person: Callable[..., Staff]
) -> None:
    dentist, lead, manager = person(Role.DENTIST), person(Role.DESK_LEAD), person(Role.MANAGER)
    before = fee(client_of(dentist), case)
    ask(client_of(dentist), case, percent="12")
    assert not kept(case)[0].given
    assert fee(client_of(dentist), case) == before
    assert not facts_changed(Estimate.objects.get(pk=checked.pk), TODAY), "asking changes no price"
    assert "a desk lead may not allow this much" in allow(client_of(lead), case)
    assert not kept(case)[0].given
    allow(client_of(dentist), case)
    assert not kept(case)[0].given, "nobody allows what they asked for"
    assert "Given" in allow(client_of(manager), case)
    assert kept(case)[0].allowed_by == manager.full_name
    assert fee(client_of(manager), case).total_cents < before.total_cents


def test_nothing_is_taken_off_without_the_password(case: Case, person: Callable[..., Staff]) -> None:
    client = client_of(person(Role.DESK_LEAD))
    page = ask(client, case, **{FIELD: "wrong"}).content.decode()
    assert "This is not your password" in page
    assert f'value="{WORDS}"' in page, "what was typed goes on with the password"
    assert kept(case) == ()


def test_for_ones_own_family_a_second_person_agrees(case: Case, person: Callable[..., Staff]) -> None:
    dentist = person(Role.DENTIST)
    first, second = person(Role.MANAGER), person(Role.MANAGER)
    ask(client_of(dentist), case, kind="staff or family", percent="50", own_family="on")
    page = allow(client_of(first), case)
    assert "Waits for a second person" in page
    assert "needs a second person" in allow(client_of(first), case)
    assert not kept(case)[0].given
    allow(client_of(second), case)
    assert (kept(case)[0].allowed_by, kept(case)[0].second_person) == (first.full_name, second.full_name)


def test_what_is_refused_keeps_what_was_typed(case: Case, owner: Staff) -> None:
    client = client_of(owner)
    forbidden = ask(client, case, kind="payer share").content.decode()
    assert "forbidden here" in forbidden
    assert WORDS in forbidden
    assert "either a percentage or an amount" in ask(client, case, percent="").content.decode()
    assert "write less" in ask(client, case, percent="", cents="99999").content.decode()
    assert "above 0 percent" in ask(client, case, percent="-3").content.decode()
    assert kept(case) == ()


def test_it_is_taken_back_with_a_reason(case: Case, person: Callable[..., Staff]) -> None:
    client = client_of(person(Role.MANAGER))
    before = fee(client, case)
    ask(client, case, percent="", cents="20.00")
    assert fee(client, case).discount_cents - before.discount_cents == 2000
    url = f"/plans/{case.public_id}/discounts/discount-1/take-back/"
    assert "This is missing" in client.post(url, {"seen": seen(case), "reason": ""}).content.decode()
    assert "Password of" in client.post(url, {"seen": seen(case), "reason": "Given by mistake."}).content.decode()
    assert kept(case)
    client.post(url, {"seen": seen(case), "reason": "Given by mistake."} | AGAIN)
    assert kept(case) == ()
    assert fee(client, case) == before


def test_a_case_file_allows_nothing(case: Case, person: Callable[..., Staff], owner: Staff) -> None:
    ask(client_of(person(Role.DESK_LEAD)), case)
    facts = export_case_file(case=Case.objects.get(pk=case.pk), actor=owner, now=NOW)
    assert import_case_file(facts=facts, actor=owner, now=NOW).case.pk == case.pk
    assert kept(case)[0].given, "the same is left alone"
    other = facts.model_copy(update={"case": "another"})
    copied = import_case_file(facts=other, actor=owner, now=NOW).case
    assert [one.given for one in kept(copied)] == [False]


def test_who_gets_in(case: Case, colleague: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    url = f"/plans/{case.public_id}/discounts/"
    assert client_of(colleague).get(url).status_code == 403
    assert client_of(person(Role.ASSISTANT)).get(url).status_code == 403
    assert client_of(outsider).get(url).status_code == 404
    assert client_of(person(Role.DESK_LEAD)).get(url).status_code == 200


def test_the_page_asks_the_same_of_the_database_whatever_is_on_it(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/discounts/"
    client.get(url)
    few = queries_of(client, url)
    for percent in ("1", "2"):
        ask(client, case, percent=percent)
    client.get(url)
    assert queries_of(client, url) == few
