"""The page of what is agreed for what may be found: it moves the range, keeps what was typed and says what is wrong."""

from typing import Any

import pytest

from planner.plans.estimates import compute_plan
from planner.plans.facts import case_choices
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.choices import IfThen
from tests.pages import client_of, queries_of
from tests.support import NOW

pytestmark = pytest.mark.django_db
OPTION = "reshape-bond"


def entry(number: int, words: str = "", service: str = "", teeth: str = "", **more: Any) -> dict[str, Any]:
    given = {"words": words, "service": service, "teeth": teeth, "quantity": ""} | more
    return {f"{name}-{number}": value for name, value in given.items()}


def url(case: Case) -> str:
    return f"/plans/{case.public_id}/if-then/"


def agreed(case: Case) -> tuple[str | IfThen, ...]:
    return case_choices(Case.objects.get(pk=case.pk)).if_then


def seen(case: Case) -> int:
    return Case.objects.get(pk=case.pk).version


def test_a_sentence_and_a_piece_are_kept_and_the_range_follows(case: Case, owner: Staff) -> None:
    client = client_of(owner)
    posted = {"seen": seen(case)} | entry(1, " First. ") | entry(2)
    posted |= entry(3, "If it leaks, it is changed.", "small-addition", "23 22", quantity="2", options=[OPTION])
    assert client.post(url(case), posted).status_code == 302
    first, second = agreed(case)
    assert first == "First."
    assert isinstance(second, IfThen)
    assert (second.service, second.quantity, second.options) == ("small-addition", 2, (OPTION,))
    assert [tooth.iso for tooth in second.teeth] == ["23", "22"]
    page = client.get(f"/plans/{case.public_id}/")
    assert page.context["plan"].option(OPTION).estimate.most_cents == 161825 + 2 * 26500
    text = page.content.decode()
    assert "Between 1,618.25 and 2,148.25; not more than 2,148.25 without a new signature." in text
    assert "Covers at most 2 × small-addition" in text
    assert "First. (a sentence alone: it covers no work)" in text
    # What is kept stands on the form again, with two empty parts after it.
    again = client.get(url(case)).content.decode()
    assert "If it leaks, it is changed." in again
    assert 'name="words-4"' in again
    assert 'name="words-5"' not in again


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (entry(1, "", "small-addition", "23"), "Say what may be found, and what is then done."),
        (entry(1, "If so.", "", "23"), "Choose the work for these teeth"),
        (entry(1, "If so.", "small-addition", "12"), "is recorded as absent"),
        (entry(1, "If so.", "small-addition", ""), "say for which teeth it may be needed"),
        (entry(1, "If so.", "small-addition", "23", quantity="0"), "whole number between 1 and 20"),
        (entry(1, "If so.", "small-addition", "23", quantity="-1"), "whole number between 1 and 20"),
        (entry(1, "If so.", "small-addition", "23", quantity="1000000000000"), "whole number between 1 and 20"),
        (entry(1, "If so.", "small-addition", "99"), "99"),
        (entry(1, "If so.", "gold", "23"), "gold is not one of the available choices"),
        (entry(1, "x" * 2001), "at most 2000"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_typed_is_lost(
    case: Case, owner: Staff, typed: dict[str, Any], sentence: str
) -> None:
    before = agreed(case)
    answer = client_of(owner).post(url(case), {"seen": seen(case)} | typed)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert sentence in text
    assert typed["words-1"] in text
    assert agreed(case) == before


def test_of_two_at_once_the_second_sees_both(case: Case, owner: Staff) -> None:
    client, began = client_of(owner), seen(case)
    client.post(url(case), {"seen": began} | entry(1, "Theirs came first."))
    late = client.post(url(case), {"seen": began} | entry(1, "Mine came second."))
    text = late.content.decode()
    assert "Theirs came first." in text
    assert "Mine came second." in text
    assert agreed(case) == ("Theirs came first.",)


def test_the_desk_reads_it_and_only_a_dentist_changes_it(case: Case, owner: Staff, person: Any) -> None:
    desk = client_of(person(Role.DESK_LEAD))
    assert desk.get(url(case)).status_code == 403
    assert "Agreed:" in desk.get(f"/plans/{case.public_id}/").content.decode()


def test_an_outsider_finds_no_page_and_entries_cost_no_queries(case: Case, owner: Staff, outsider: Staff) -> None:
    assert client_of(outsider).get(url(case)).status_code == 404
    before = queries_of(client_of(owner), url(case))
    posted: dict[str, Any] = {"seen": seen(case)}
    for number in range(1, 9):
        posted |= entry(number, f"If it is so, {number}.", "small-addition", "23")
    assert client_of(owner).post(url(case), posted).status_code == 302
    assert len(agreed(case)) == 8
    assert queries_of(client_of(owner), url(case)) == before


def test_the_range_is_frozen_with_the_plan(case: Case, owner: Staff) -> None:
    plan, _book = compute_plan(case, NOW)
    span = plan.option(OPTION).estimate.span
    assert span is not None
    assert (span.low_cents, span.planned_cents, span.high_cents) == (161825, 161825, 188325)
