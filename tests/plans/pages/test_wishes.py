"""Wishes and limits: read, refused with a sentence, and laid side by side for two editors."""

import pytest
from django.test import Client

from planner.plans import cases
from planner.plans.facts import case_facts
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.verdicts import Verdict
from tests.pages import client_of
from tests.plans.pages.conftest import OPTION
from tests.support import NOW

pytestmark = pytest.mark.django_db


def _typed(client: Client, url: str) -> dict[str, str]:
    form = client.get(url).context["form"]
    shown = {field.html_name: field.value() for field in form}
    return {name: str(value) for name, value in shown.items() if value not in (None, False, "")} | {
        field.html_name: "" for field in form if field.value() in (None, "")
    }


def test_saving_the_wishes_as_shown_changes_nothing(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    before = case_facts(case)
    assert client.post(url, _typed(client, url)).status_code == 302
    after = case_facts(Case.objects.get(pk=case.pk))
    assert (after.wishes, after.limits) == (before.wishes, before.limits)


def test_wishes_are_read_in_the_cases_numbering(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    cases.change_case(case=case, seen=case.version, numbering="universal", actor=owner, now=NOW)  # type: ignore[arg-type]
    typed = _typed(client, url)
    assert typed["wish-1-teeth-1"] == "9 10"
    typed |= {"wish-4": "a fourth wish", "wish-4-kind-1": "tooth larger", "wish-4-teeth-1": "10"}
    typed |= {"removal": "0,3", "money": "2000", "visits": "4", "wish_by": "20 June 2026"}
    assert client.post(url, typed).status_code == 302
    facts = case_facts(Case.objects.get(pk=case.pk))
    assert [tooth.iso for tooth in facts.wishes[3].targets[0].teeth] == ["22"]
    assert (facts.limits.removal, facts.limits.money, facts.limits.visits) == (3, 2000_00, 4)
    plan = client.get(f"/plans/{case.public_id}/").context["plan"]
    # His new limit of 0.3 mm rules out what takes 0.5 mm.
    assert plan.option(OPTION).verdict is Verdict.NO
    assert any(reason.patient_limit for reason in plan.option(OPTION).reasons)


CANNOT_BE_MEANT: tuple[tuple[dict[str, str], str], ...] = (
    ({"wish-1-teeth-1": "21"}, "A gap lies between two teeth"),
    ({"wish-1-teeth-1": "21 99"}, "99"),
    ({"wish-2-teeth-1": ""}, "This target names one tooth"),
    ({"wish-3-teeth-1": "11"}, "This target names no tooth"),
    ({"wish-1-kind-2": "", "wish-1-teeth-2": "11"}, "Say what is to be true of these teeth"),
    ({"wish-2": ""}, "A target needs the wish it belongs to"),
    ({"wish-1-kind-1": "whiter than white"}, "whiter than white"),
    ({"removal": "0.55"}, "0.55"),
    ({"removal": "-1"}, "-1"),
    ({"visits": "0"}, "between 1 and 100"),
    ({"months": "many"}, "between 0 and 120"),
    ({"money": "1,000.00"}, "grouped by thousands"),
    ({"wish_by": "31 June 2026"}, "not in the calendar"),
    ({"wish-1": "x" * 4001}, "4000"),
)


def test_wishes_that_cannot_be_meant(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    shown = _typed(client, url)
    for typed, words in CANNOT_BE_MEANT:
        answer = client.post(url, shown | typed)
        assert answer.status_code == 200, typed
        assert words in answer.content.decode().replace("&#x27;", "'"), typed
    assert Case.objects.get(pk=case.pk).version == case.version


def test_the_second_editor_of_the_wishes_sees_both(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/wishes/"
    typed = _typed(client, url)
    client.post(url, typed | {"visits": "5"})
    late = client.post(url, typed | {"visits": "7"})
    rows = {field.name: (theirs, yours) for field, _was, theirs, yours in late.context["rows"]}
    assert rows == {"visits": ("5", "7")}
    assert case_facts(Case.objects.get(pk=case.pk)).limits.visits == 5
