"""The page of a case over the years: who may see it, what it says, what it stores (nothing), and how often it asks."""

from collections.abc import Callable

import pytest
from django.utils import timezone

from planner.plans.casefiles import import_case_file
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_choices
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals

pytestmark = pytest.mark.django_db


def url_of(case: Case, query: str = "") -> str:
    return f"/plans/{case.public_id}/over-the-years/{query}"


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def lead(owner: Staff, lead_case: CaseFacts) -> Case:
    """The lead case on file."""
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


def test_first_seven_options_with_their_letters_and_pictures(owner: Staff, lead: Case) -> None:
    answer = client_of(owner).get(url_of(lead))
    shown = answer.context["shown"]
    assert [one.letter for one in shown.options] == list("ABCDEFG")
    page = answer.content.decode()
    assert page.count('class="chart"') >= 1 + 2
    bonded = next(one for one in shown.options if one.key == "reshape-bond")
    kept, untouched = bonded.curves
    assert "667 build-ups" in kept.about
    assert kept.field.words == "Of 100, after 10 years: 98 to 100 are still in place, 0 to 2 were lost or made again."
    assert (untouched.field, untouched.no_data) == (None, "At 10 years: no data.")
    assert "general practices" in page


def test_chosen_options_and_figures_are_tried_and_nothing_is_stored(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    before = Case.objects.get().version, TrailEntry.objects.exclude(act="patient.view").count()
    query = "?option=reshape-bond&option=crown&counted_in=university+clinics&worn=no"
    answer = client.get(url_of(lead, query), headers={"HX-Request": "true"})
    assert "<html" not in answer.content.decode()
    assert [one.key for one in answer.context["shown"].options] == ["reshape-bond", "crown"]
    assert "university clinics" in answer.content.decode()
    assert (Case.objects.get().version, TrailEntry.objects.exclude(act="patient.view").count()) == before


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("?counted_in=general+practice&worn=found", "Choose one option at least."),
        ("?option=nothing&counted_in=general+practice&worn=found", "“nothing” is not among the options of this case"),
        ("?option=none&counted_in=the+moon&worn=found", "the moon is not one of the available choices"),
    ],
)
def test_bad_input_gets_a_sentence(query: str, sentence: str, owner: Staff, lead: Case) -> None:
    answer = client_of(owner).get(url_of(lead, query))
    assert answer.status_code == 200
    assert sentence in answer.content.decode()
    assert "shown" not in answer.context


def test_a_dentist_decides_whose_figures_hold_and_the_plan_follows(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    usual = compute_plan(lead, timezone.now())[0].option("reshape-bond").upkeep
    data = {"seen": str(lead.version), "counted_in": "university clinics", "worn": "", "reason": ""}
    refused = client.post(f"/plans/{lead.public_id}/figures/", data)
    assert "This is missing" in refused.content.decode()
    data["reason"] = "I was trained there and follow its protocol."
    assert client.post(f"/plans/{lead.public_id}/figures/", data).status_code == 302
    saved = Case.objects.get()
    changed = compute_plan(saved, timezone.now())[0].option("reshape-bond").upkeep
    assert changed.total_cents < usual.total_cents
    assert any("university clinics" in step for step in changed.how)
    assert "university clinics" in changed.curve_words
    assert "general" not in changed.curve_words
    page = client.get(f"/plans/{lead.public_id}/").content.decode()
    assert "as counted in university clinics" in page
    assert data["reason"] in page
    assert client.get(url_of(saved)).context["form"].initial == {}
    assert "university clinics</strong>" in client.get(url_of(saved)).content.decode()
    data |= {"seen": str(saved.version), "counted_in": "", "reason": "Back to the usual."}
    assert client.post(f"/plans/{lead.public_id}/figures/", data).status_code == 302
    assert case_choices(Case.objects.get()).figures is None
    acts = TrailEntry.objects.filter(act="case.figures")
    assert [entry.reason for entry in acts.order_by("sequence")] == [
        "I was trained there and follow its protocol.",
        "Back to the usual.",
    ]


@pytest.mark.parametrize(("role", "page", "decides"), [(Role.FRONT_DESK, 200, 403), (Role.ASSISTANT, 200, 403)])
def test_who_may(
    role: Role, page: int, decides: int, lead: Case, person: Callable[..., Staff], outsider: Staff
) -> None:
    client = client_of(person(role))
    assert client.get(url_of(lead)).status_code == page
    with refusals() as noted:
        assert client.get(f"/plans/{lead.public_id}/figures/").status_code == decides
    assert noted
    assert client_of(outsider).get(url_of(lead)).status_code == 404
    assert client_of(None).get(url_of(lead)).status_code == 302


def test_the_number_of_queries_does_not_grow_with_the_options(owner: Staff, lead: Case) -> None:
    client = client_of(owner)
    client.get(url_of(lead))
    one = queries_of(client, url_of(lead, "?option=none&counted_in=general+practice&worn=found"))
    assert one == queries_of(client, url_of(lead)) <= 30
