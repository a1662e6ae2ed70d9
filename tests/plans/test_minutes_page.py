"""The page of an option's minutes and materials: what it says, who sees it, and its cost."""

import pytest
from django.utils import timezone

from planner.plans.casefiles import import_case_file
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    return import_case_file(facts=lead_case, actor=owner, now=timezone.now()).case


def test_the_lead_option_says_minutes_stops_rates_and_materials(
    owner: Staff, case: Case, outsider: Staff, lead_case: CaseFacts
) -> None:
    url = f"/plans/{case.public_id}/option/reshape-bond/minutes/"
    page = client_of(owner).get(url)
    text = page.content.decode()
    assert "194 minutes of treatment expected, 210 booked." in text
    assert "Treating the teeth as independent would say 203" in text
    assert "After the upper left lateral incisor (22)" in text
    assert "its pair is not" in text
    assert "33 cures, at least 630 seconds of light" in text
    takes = page.context["takes"]
    # 3 bonded and 1 reshaped teeth, 1 visit: (4 × 22 + 18) × 1.08 = 114.48
    assert takes.flat_cents == 11448
    assert takes.material.cents == sum(need.cents for need in takes.needs)
    assert {"composite-enamel", "dam-non-latex"} <= {need.material for need in takes.needs}
    assert TrailEntry.objects.filter(reason__contains="minutes of an option").exists()

    assert client_of(owner).get(f"/plans/{case.public_id}/option/nonsense/minutes/").status_code == 404
    assert "takes no minutes" in client_of(owner).get(url.replace("reshape-bond", "none")).content.decode()
    with refusals() as noted:
        assert client_of(outsider).get(url).status_code == 404
    assert noted
    assert client_of(None).get(url).status_code == 302
    before = queries_of(client_of(owner), url)
    import_case_file(facts=lead_case, actor=owner, now=timezone.now())
    assert queries_of(client_of(owner), url) == before
