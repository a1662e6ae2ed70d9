"""The page of fit and proportion: who may, what it says of the lead case, the choice of norm, and its cost."""

from collections.abc import Callable

import pytest
from django.utils import timezone

from planner.patients.examinations import change_examination, with_lines
from planner.patients.facts import examination_facts
from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.fit_results import FitChecks
from planner.rules.mouth import CaseFacts, ToothFacts
from planner.rules.teeth import LOWER_PERMANENT, UPPER_PERMANENT
from planner.trail.models import TrailEntry
from tests.pages import client_of, queries_of, refusals

pytestmark = pytest.mark.django_db

LOWER = ("11.0", "7.0", "7.0", "7.0", "5.5", "5.0", "5.0", "5.5", "7.0", "7.0", "7.0", "11.0")
UPPER_BACK = {"16": "10.0", "15": "7.0", "14": "7.0", "24": "7.0", "25": "7.0", "26": "10.0"}


@pytest.fixture
def lead(owner: Staff, lead_case: CaseFacts) -> Case:
    """The lead case on file."""
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


def url_of(case: Case) -> str:
    return f"/plans/{case.public_id}/fit/"


def measure_the_rest(case: Case, owner: Staff) -> None:
    """Record both rows from first molar to first molar: textbook means, Wheeler's (several recalled)."""
    examination = with_lines().get(pk=case.examination_id)
    facts = examination_facts(examination)
    back = [
        ToothFacts(tooth=tooth, width=UPPER_BACK[tooth.iso]) for tooth in UPPER_PERMANENT if tooth.iso in UPPER_BACK
    ]
    lower = [ToothFacts(tooth=tooth, width=w) for tooth, w in zip(LOWER_PERMANENT[2:14], LOWER, strict=True)]
    change_examination(
        examination=examination,
        seen=examination.version,
        facts=facts.model_copy(update={"teeth": (*facts.teeth, *back, *lower), "confirmed_by": ""}),
        actor=owner,
        now=timezone.now(),
    )


def test_who_may_open_it(lead: Case, owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    url = url_of(lead)
    assert client_of(owner).get(url).status_code == 200
    assert client_of(None).get(url)["Location"] == f"/sign-in/?next={url}"
    with refusals() as noted:
        assert client_of(outsider).get(url).status_code == 404
        for role in (Role.FRONT_DESK, Role.DESK_LEAD):
            assert client_of(person(role)).get(url).status_code == 403, role
        for role in (Role.ASSISTANT, Role.DENTIST, Role.MANAGER):
            assert client_of(person(role)).get(url).status_code == 200, role
    assert len(noted) == 3


def test_the_lead_case(lead: Case, owner: Staff) -> None:
    """Values of the lead case by hand: 8.3 over 10.5, 7.8 over 8.3 and 5.5 over 8.4 mm."""
    answer = client_of(owner).get(url_of(lead))
    page, found = answer.content.decode(), answer.context["fit"]
    assert isinstance(found, FitChecks)
    values = {(check.what, check.teeth[0].iso): check.value_words for check in found.checks if check.teeth}
    assert values["width to length", "11"] == "79\u00a0%"
    assert values["width over its central's", "13"] == "94\u00a0%"
    assert values["width over its central's", "22"] == "65.5\u00a0%"
    assert "standing in place of 12 (Universal 7)" in page
    assert "not measured" in page
    assert "Tarnow DP" in page
    assert "summary read, not the full study" in page.lower()
    assert 'id="source-1"' in page
    for source in found.sources:
        assert f'href="#source-{source.number}"' in page
    case_page = client_of(owner).get(f"/plans/{lead.public_id}/").content.decode()
    assert f'href="{url_of(lead)}"' in case_page


def test_it_stores_nothing_and_notes_that_it_was_read(lead: Case, owner: Staff) -> None:
    client_of(owner).get(url_of(lead))
    last = TrailEntry.objects.order_by("-sequence").first()
    assert last is not None
    assert (last.act, Case.objects.get().version) == ("patient.view", lead.version)


def test_norm_and_rule_are_choices(lead: Case, owner: Staff) -> None:
    measure_the_rest(lead, owner)
    client = client_of(owner)
    shown = {}
    for chosen in ("", "?norm=north_east_india", "?rule=deviations", "?norm=black_2000&rule=deviations"):
        found = client.get(url_of(lead) + chosen).context["fit"]
        shown[chosen] = [check for group in found.groups if group.key == "sums" for check in group.checks]
    assert shown[""][0].source == "sum_norms_1958"
    assert "rule of 2.0 mm of correction" in shown[""][0].sentence
    assert shown["?norm=north_east_india"][0].source == "sum_norms_north_east_india"
    assert "rule of 2 standard deviations" in shown["?rule=deviations"][0].sentence
    refused = shown["?norm=black_2000&rule=deviations"]
    assert "there is no anterior norm for it" in refused[0].sentence
    assert "has no standard deviation" in refused[1].sentence


def test_a_norm_that_is_none_leaves_the_settings_and_says_so(lead: Case, owner: Staff) -> None:
    answer = client_of(owner).get(url_of(lead) + "?norm=martian&rule=whim")
    assert answer.status_code == 200
    assert set(answer.context["form"].errors) == {"norm", "rule"}


def test_no_more_queries_for_more_teeth(lead: Case, owner: Staff) -> None:
    client = client_of(owner)
    before = queries_of(client, url_of(lead))
    measure_the_rest(lead, owner)
    assert queries_of(client, url_of(lead)) == before
