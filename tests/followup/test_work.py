"""How own work lasts, read from rows; and the pages of all patients together."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta

import pytest
import time_machine

from planner.followup.reading_work import own_teeth
from planner.followup.results import pooled_results
from planner.plans.accepted_models import AcceptedPlan, Follows, Item
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.own_work import UNTOUCHED, own_curve
from planner.rules.pooled import pool
from planner.rules.promise import Condition, Moment, SeenTooth
from tests.followup.reviewed import CENTRAL, DONE, LATERAL, done_plan, reviewed
from tests.pages import client_of, priced_office, queries_of
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def repaired(owner: Staff, plan: AcceptedPlan, tooth: str, on: date, service: str = "small-repair") -> AcceptedPlan:
    """A repair of ``plan`` written straight into the tables."""
    made = AcceptedPlan.objects.create(
        office=owner.office, patient=plan.patient, case=plan.case, frozen=plan.frozen, book=plan.book,
        price_list_version=7, option_key="", name="Repair", accepted_on=on, accepted_by="x", accepted_as="patient",
        price_held_through=on, total_cents=15000, deposit_cents=0, follows=plan, follows_as=Follows.REPAIR,
        created_by=owner, at=NOW,
    )  # fmt: skip
    Item.objects.create(
        office=owner.office, plan=made, position=0, line=0, service=service, code="RPR", words="Small repair",
        teeth=[tooth], tax_class="reconstructive", tax_percent=0, earns="finished",
    )  # fmt: skip
    return made


def test_each_tooth_is_followed_as_long_as_somebody_saw_it(owner: Staff) -> None:
    plan = done_plan(owner)
    reviewed(owner, plan, Moment.ONE_YEAR, 370, teeth={CENTRAL: SeenTooth(Condition.CHIPPED)})
    repaired(owner, plan, LATERAL.key, DONE + timedelta(days=150))
    found = {one.tooth: one for one in own_teeth(owner.office, TODAY, with_edges=True)}
    assert len(found) == 4
    central, lateral = found[CENTRAL.key], found[LATERAL.key]
    assert (central.days, central.chips, central.repairs) == (370, 1, 0)
    assert (lateral.days, lateral.chips, lateral.repairs) == (370, 1, 1)
    assert lateral.until(UNTOUCHED) == (150, True)
    # What the plan said of the edges: 1.0 mm longer at 22, the tip of 13 shorter.
    assert (lateral.lengthened, central.lengthened) == (10, 0)
    assert lateral.treatment == "bonding"
    assert {one.treatment for one in found.values()} == {"bonding", "reshaping"}


def test_a_repair_of_a_repair_counts_at_the_work_and_doing_it_again_ends_it(owner: Staff) -> None:
    plan = done_plan(owner)
    first = repaired(owner, plan, LATERAL.key, DONE + timedelta(days=100))
    repaired(owner, first, LATERAL.key, DONE + timedelta(days=200))
    repaired(owner, plan, CENTRAL.key, DONE + timedelta(days=300), service="build-up")
    found = {one.tooth: one for one in own_teeth(owner.office, TODAY)}
    assert found[LATERAL.key].repairs == 2
    assert found[CENTRAL.key].lost_on == DONE + timedelta(days=300)
    assert found[CENTRAL.key].repairs == 0


def test_a_corrected_review_and_what_is_still_to_come_do_not_count(owner: Staff) -> None:
    plan = done_plan(owner)
    reviewed(owner, plan, Moment.TWO_WEEKS, 14, teeth={CENTRAL: SeenTooth(Condition.LOST)})
    assert sum(one.lost_on is not None for one in own_teeth(owner.office, TODAY)) == 1
    assert sum(one.lost_on is not None for one in own_teeth(owner.office, DONE + timedelta(days=13))) == 0
    assert own_teeth(owner.office, DONE - timedelta(days=1)) == ()
    assert accepted_plan(owner, planned=True, name="Somebody Else").items.exists()
    assert len(own_teeth(owner.office, TODAY)) == 4, "what is not done is not followed"


def test_the_office_equals_a_recomputation_by_hand(owner: Staff) -> None:
    """Three patients with four teeth each; every number again from the rows as they were written here."""
    told = []
    for at in range(3):
        plan = done_plan(owner, name=f"Person {at}")
        days = 100 * (at + 1)
        reviewed(
            owner, plan, Moment.OTHER, days, teeth={LATERAL: SeenTooth(Condition.MENDED)} if at else {}, scores={1: 8}
        )
        told += [(days, False)] * 3 + [(days, bool(at))]
    teeth = own_teeth(owner.office, TODAY)
    curve = own_curve(teeth, UNTOUCHED)
    assert sorted(told) == sorted(one.until(UNTOUCHED) for one in teeth)
    # 8 were followed beyond day 199, one failed on day 200; 4 beyond day 299, one failed on day 300.
    assert [(int(step.time), step.at_risk, step.failed) for step in curve.steps] == [(200, 8, 1), (300, 4, 1)]
    assert float(curve.steps[-1].share) == pytest.approx(7 / 8 * 3 / 4)
    assert (curve.teeth, curve.people) == (12, 3)


def test_pages_of_all_patients_together(owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
    plan = done_plan(owner)
    reviewed(owner, plan, scores={1: 9, 2: 8, 3: 10})
    client = client_of(owner)
    page = client.get("/monday/lasts/").content.decode()
    for words in (
        "Bonding",
        "Never touched",
        "Fewer than ten: no curve is drawn",
        "The table behind it",
        "tooth-years",
    ):
        assert words in page, words
    assert "for 100 tooth-years:" not in page, "no rate of so few"
    page = client.get("/monday/results/").content.decode()
    assert "3 asked" in page
    assert "Too few for a comparison" in page
    for url in ("/monday/lasts/", "/monday/results/"):
        assert client_of(outsider).get(url).status_code == 200
        assert "Bonding" not in client_of(outsider).get(url).content.decode()
        assert client_of(person(Role.DESK_LEAD, username=f"lead{len(url)}")).get(url).status_code == 403
        # Another dentist sees nobody's work but the own.
        theirs = client_of(person(Role.DENTIST, username=f"dentist{len(url)}")).get(url).content.decode()
        assert "You see what you checked" in theirs
        assert "3 asked" not in theirs


def test_pooled_results_are_those_of_the_plans(owner: Staff) -> None:
    for at in range(3):
        reviewed(owner, done_plan(owner, name=f"Person {at}"), scores={1: 7 + at})
    found = pool(pooled_results(owner.office), own_teeth(owner.office, TODAY, with_edges=True))
    assert (found.plans, found.people) == (3, 3)
    # Of 21 8.9 x 10.6 was planned and measured; of 22 7.0 x 9.5 where 7.1 x 9.3 was planned: each within 0.2 mm.
    assert found.near.said == "100.0 % (12 of 12)"
    (wishes,) = found.wishes
    assert wishes.values == (7, 8, 9)
    assert wishes.said == "3 asked"
    assert [middle.values for middle in found.off] == [(0, -1) * 3, (0, 2) * 3]


def test_queries_do_not_grow_with_the_data(owner: Staff) -> None:
    client = client_of(owner)
    reviewed(owner, done_plan(owner, name="Person 0"))
    few = {url: queries_of(client, url) for url in ("/monday/lasts/", "/monday/results/")}
    for at in range(1, 5):
        plan = done_plan(owner, name=f"Person {at}")
        reviewed(owner, plan)
        repaired(owner, plan, LATERAL.key, DONE + timedelta(days=100))
    for url, count in few.items():
        assert queries_of(client, url) <= count, url
