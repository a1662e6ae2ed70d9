"""What matters to the patient is asked, kept, shown as marks, and moves no option."""

import pytest

from planner.plans import estimates
from planner.plans.checking import standing_of
from planner.plans.facts import case_facts
from planner.plans.models import Case, Estimate
from planner.practice.models import Staff
from planner.rules.mouth import Matters
from tests.pages import client_of
from tests.plans.pages.conftest import seen
from tests.support import NOW

pytestmark = pytest.mark.django_db


def test_the_answers_mark_options_and_move_none(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    before = client.get(base)
    assert "Not asked yet." in before.content.decode()
    assert "Does well on what matters" not in before.content.decode()
    asked = {"seen": seen(case), "visits": "a lot", "cost_now": "a little", "look": "not", "tooth": "a lot"}
    assert client.post(f"{base}matters/", asked)["Location"] == base
    kept = case_facts(Case.objects.get(pk=case.pk)).matters
    assert kept == Matters(visits="a lot", cost_now="a little", look="not", tooth="a lot")
    after = client.get(base)
    text = after.content.decode()
    assert "Does well on what matters a lot:" in text
    assert "does not matter" in text
    shown = [[one.option.key for one in (*page.context["first"], *page.context["rest"])] for page in (before, after)]
    assert shown[0] == shown[1]
    assert after.context["plan"].recommended == before.context["plan"].recommended


def test_asking_makes_no_estimate_stale(case: Case, checked: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    client.post(f"/plans/{case.public_id}/matters/", {"seen": seen(case), "visits": "a lot"})
    now = Case.objects.get(pk=case.pk)
    assert not standing_of(now, estimates.compute_plan(now, NOW)[0], NOW).stale


def test_two_editors_and_what_cannot_be_meant(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/matters/"
    began = dict.fromkeys(Matters.model_fields, "") | {"seen": seen(case)}
    wrong = client.post(url, began | {"visits": "enormously"})
    assert "enormously" in wrong.content.decode()
    client.post(url, began | {"visits": "not"})
    late = client.post(url, began | {"visits": "a lot"})
    rows = {field.name: (theirs, yours) for field, _was, theirs, yours in late.context["rows"]}
    assert rows == {"visits": ("does not matter", "matters a lot")}
