"""The register as a page: everything in it, found by words, treatment and certainty; every figure leads to its row."""

import re
from collections.abc import Callable

import pytest

from planner.plans.models import Case, Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.register import whole_register
from tests.pages import client_of, queries_of

pytestmark = pytest.mark.django_db

URL = "/plans/evidence/"


def test_everything_is_shown_and_can_be_looked_for(owner: Staff) -> None:
    client = client_of(owner)
    page = client.get(URL)
    keys = [one.entry.key for _words, entries in page.context["groups"] for one in entries]
    assert sorted(keys) == sorted(entry.key for entry in whole_register().entries)
    assert len(re.findall(r'<tr id="e-', page.content.decode())) == len(keys)
    for asked, holds in (
        ({"words": "whitening bonding 14"}, lambda one: "14" in " ".join((one.value, one.key, one.source, one.span))),
        ({"treatment": "braces"}, lambda one: "braces" in one.treatments),
        ({"certainty": "memory"}, lambda one: one.certainty == "memory"),
        ({"kind": "shelf life"}, lambda one: one.kind == "shelf life"),
    ):
        found = [one.entry for _w, entries in client.get(URL, asked).context["groups"] for one in entries]
        assert 0 < len(found) < len(keys), asked
        assert all(holds(entry) for entry in found), asked
    nothing = client.get(URL, {"words": "no such thing anywhere"}).content.decode()
    assert "No number answers that" in nothing


def test_where_sources_disagree_both_are_shown_with_which_is_taken_and_why(owner: Staff) -> None:
    text = client_of(owner).get(URL, {"words": "whitening-bond-wait"}).content.decode()
    assert "Other sources say otherwise" in text
    assert "the more cautious value wins" in text
    assert "kept for comparison; another value is taken" in text


def test_every_figure_on_a_case_leads_to_a_row_that_is_there(case: Case, checked: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    there = set(re.findall(r'<tr id="(e-[^"]+)"', client.get(URL).content.decode()))
    for url in (f"/plans/{case.public_id}/", f"/plans/estimate/{checked.public_id}/"):
        page = client.get(url)
        led = set(re.findall(rf'href="{URL}#(e-[^"]+)"', page.content.decode()))
        assert led <= there
        assert len(led) > 20
        if "first" in page.context:
            assert {f"e-{line.key}" for line in page.context["plan"].evidence} <= led


def test_who_may_look_and_what_it_costs(owner: Staff, person: Callable[..., Staff]) -> None:
    assert client_of(None).get(URL)["Location"] == f"/sign-in/?next={URL}"
    assert client_of(person(Role.KEEPER)).get(URL).status_code == 403
    for role in (Role.FRONT_DESK, Role.ASSISTANT, Role.MANAGER):
        assert client_of(person(role)).get(URL).status_code == 200
    assert queries_of(client_of(owner), URL) <= 6
