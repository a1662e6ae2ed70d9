"""Who may open the pages of a case and of an estimate, and that nobody is offered a way they may not go."""

import re
from collections.abc import Callable

import pytest
from django.urls import resolve

from planner.plans.facts import case_choices
from planner.plans.models import Case, Estimate, FrozenPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from tests.pages import client_of, refusals
from tests.plans.pages.conftest import OPTION, REASON, plan_hash, seen

pytestmark = pytest.mark.django_db


# Page below the case, and the roles beside owner and dentist that may open it.
CASE_PAGES = {
    "": {Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.MANAGER},
    "wishes/": {Role.ASSISTANT},
    "about/": {Role.ASSISTANT},
    "matters/": {Role.ASSISTANT},
    "put-together/": set(),
    f"option/{OPTION}/change/": set(),
    "case-file/": {Role.ASSISTANT},
    "check/": set(),
    "estimate/": {Role.FRONT_DESK, Role.DESK_LEAD, Role.MANAGER},
    "surfaces/": set(),
    "tax-class/": {Role.DESK_LEAD, Role.MANAGER},
    "if-then/": set(),
    f"option/{OPTION}/strike/": set(),
    f"option/{OPTION}/restore/": set(),
    f"option/{OPTION}/recommend/": set(),
    f"option/{OPTION}/override/canine-as-lateral/": set(),
    f"option/{OPTION}/override/canine-as-lateral/withdraw/": set(),
}
ESTIMATE_PAGES = {
    "": {Role.FRONT_DESK, Role.DESK_LEAD, Role.MANAGER},
    "show/": {Role.DESK_LEAD},
    "answer/": {Role.DESK_LEAD, Role.MANAGER},
    "new-issue/": {Role.FRONT_DESK, Role.DESK_LEAD, Role.MANAGER},
    "discard/": {Role.DESK_LEAD, Role.MANAGER},
    "plan.json": {Role.ASSISTANT},
}
EVERYBODY = (Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.MANAGER, Role.KEEPER)


def _urls(case: Case, estimate: Estimate) -> dict[str, set[Role]]:
    found = {f"/plans/{case.public_id}/{page}": roles for page, roles in CASE_PAGES.items()}
    found |= {f"/plans/estimate/{estimate.public_id}/{page}": roles for page, roles in ESTIMATE_PAGES.items()}
    return found


def test_who_may_open_what(
    case: Case, checked: Estimate, owner: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    clients = {role: client_of(person(role)) for role in EVERYBODY}
    mine, theirs, nobody = client_of(owner), client_of(outsider), client_of(None)
    for url, allowed in _urls(case, checked).items():
        fine = 302 if url.endswith("/check/") else 200
        assert nobody.get(url)["Location"] == f"/sign-in/?next={url}"
        assert mine.get(url).status_code == fine, url
        with refusals() as noted:
            assert theirs.get(url).status_code == 404, url
        assert len(noted) == 1, url
        for role, client in clients.items():
            with refusals() as noted:
                answer = client.get(url)
            assert answer.status_code == (fine if role in allowed else 403), (url, role)
            assert bool(noted) == (role not in allowed), (url, role)
            assert answer["Cache-Control"] == "no-store"


def test_the_case_page_offers_nobody_a_way_they_may_not_go(case: Case, person: Callable[..., Staff]) -> None:
    """One way of each kind: what decides is the page's own rule and the person's role, not which option it is."""
    for role in (Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.DENTIST, Role.MANAGER):
        client = client_of(person(role))
        page = client.get(f"/plans/{case.public_id}/")
        assert page.status_code == 200
        ways = sorted(set(re.findall(r'href="(/(?!static/)[^"#]+)"', page.content.decode())))
        kinds = {resolve(way.split("?")[0]).view_name: way for way in ways}
        assert len(kinds) > 3, role
        shut = {way: code for way in kinds.values() if (code := client.get(way).status_code) not in (200, 302)}
        assert shut == {}, role


def test_what_is_not_there_is_not_found(case: Case, owner: Staff) -> None:
    client = client_of(owner)
    for url in (
        "/plans/nothing-here/",
        f"/plans/{case.public_id}/option/nothing/strike/",
        f"/plans/{case.public_id}/option/{OPTION}/override/no-such-gate/",
        "/plans/estimate/nothing-here/",
    ):
        assert client.get(url).status_code == 404, url


def test_acts_are_refused_to_those_who_may_not_also_when_posted(case: Case, colleague: Staff, owner: Staff) -> None:
    before = case_choices(case)
    posted = {"seen": seen(case), "reason": REASON}
    client = client_of(colleague)
    for page in ("strike", "recommend", "restore"):
        assert client.post(f"/plans/{case.public_id}/option/{OPTION}/{page}/", posted).status_code == 403
    assert client.post(f"/plans/{case.public_id}/check/", {"plan": plan_hash(case)}).status_code == 403
    assert case_choices(Case.objects.get(pk=case.pk)) == before
    assert not FrozenPlan.objects.exists()
