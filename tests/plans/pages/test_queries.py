"""What the pages cost in queries."""

import pytest

from planner.plans import cases, estimates
from planner.plans.models import Case, Channel, Estimate
from planner.practice.models import Staff
from tests.pages import client_of, queries_of
from tests.support import NOW

pytestmark = pytest.mark.django_db


def test_queries_do_not_grow_with_the_data(case: Case, checked: Estimate, owner: Staff) -> None:
    client = client_of(owner)
    urls = [
        f"/plans/{case.public_id}/",
        f"/plans/estimate/{checked.public_id}/",
        f"/plans/of/{case.patient.public_id}/",
        f"/plans/{case.public_id}/wishes/",
        "/plans/",
    ]
    few = [queries_of(client, url) for url in urls]
    for number in range(8):
        cases.open_case(patient=case.patient, examination=case.examination, name=f"more {number}", actor=owner, now=NOW)
        estimates.draft_estimate(case=case, actor=owner, now=NOW)
        estimates.show_estimate(
            estimate=checked, seen=checked.version + number, to="A", channel=Channel.CALL, actor=owner, now=NOW
        )
    assert [queries_of(client, url) for url in urls] == few
    assert max(few) <= 33
