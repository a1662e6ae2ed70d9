"""Whether visits are ready, on the pages: what is wanting, where it leads, who may look, what it costs in queries."""

from collections.abc import Callable, Iterator
from datetime import time

import pytest
import time_machine

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.visits import ready, services
from planner.visits.models import Visit
from tests.pages import client_of, queries_of
from tests.support import NOW
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted_plan(owner, planned=True, deposit=30000)


@pytest.fixture
def visit(plan: AcceptedPlan, owner: Staff, booking: Make) -> Visit:
    asked = booking(items=tuple(plan.items.all()[:4]), key="bonding.bonding")
    return services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW).visit


def test_what_is_wanting_is_named_and_leads_to_the_act(visit: Visit, owner: Staff) -> None:
    found = ready.ready_of(visit, NOW)
    wanting = {row.key: row.lack for row in found.rows if row.lack}
    assert set(wanting) == {"consent", "deposit", "laboratory", "materials"}
    assert "300.00" in wanting["deposit"]
    page = client_of(owner).get(f"/visits/{visit.public_id}/ready/").content.decode()
    assert "4 things are wanting" in page
    for lead in (
        f"/papers/consents/{visit.plan.case.public_id}/",
        f"/cases/accepted/{visit.plan.public_id}/",
        f"/visits/laboratory/of/{visit.plan.public_id}/",
        "/visits/stock/",
    ):
        assert lead.rsplit("/", 3)[1] in page, lead
    part = client_of(owner).get(f"/visits/{visit.public_id}/ready/", headers={"HX-Request": "true"}).content
    assert b"<html" not in part
    assert b"4 things are wanting" in part


def test_the_list_holds_the_coming_week_only_and_does_not_grow_in_queries(
    visit: Visit, plan: AcceptedPlan, owner: Staff, booking: Make
) -> None:
    client = client_of(owner)
    few = queries_of(client, "/visits/ready/")
    for hour in (13, 14, 15):
        asked = booking(hour=time(hour, 30), minutes=10)
        services.book_visit(plan=plan, booking=asked, actor=owner, now=NOW)
    services.book_visit(plan=plan, booking=booking(day=NOW.date().replace(day=19), minutes=10), actor=owner, now=NOW)
    assert queries_of(client, "/visits/ready/") == few
    assert len(ready.coming(owner.office, NOW)) == 4
    assert queries_of(client, f"/visits/{visit.public_id}/ready/") <= 60


def test_who_may_look(visit: Visit, owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    own = f"/visits/{visit.public_id}/ready/"
    assert client_of(person(Role.FRONT_DESK)).get(own).status_code == 200
    assert client_of(outsider).get(own).status_code == 404
    assert client_of(person(Role.KEEPER)).get("/visits/ready/").status_code == 403
    assert client_of(None).get("/visits/ready/").status_code == 302
