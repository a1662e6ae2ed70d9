"""Pages of parts and accepted plans: who may, what they say, what they store, and what they cost in queries."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine

from planner.plans import account, amending
from planner.plans.accepted_models import AcceptedPlan, Amendment, Cause, Item, Payment, PriceHold, Refund, Route
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.plans.sample import accepted, shown_estimate, under_way, when
from tests.rules.books import charge
from tests.support import NOW

pytestmark = pytest.mark.django_db
REASON = "Talked over with the patient."


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted(owner, "lead", "reshape-bond")


def address(plan: AcceptedPlan, way: str = "") -> str:
    return f"/plans/accepted/{plan.public_id}/{way}"


class TestParts:
    def test_ticking_stores_nothing_and_a_yes_is_recorded_from_there(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        client = client_of(owner)
        url = f"/plans/estimate/{estimate.public_id}/parts/reshape-bond/"
        assert f'href="{url}"' in client.get(f"/plans/estimate/{estimate.public_id}/").content.decode()
        before = TrailEntry.objects.count()
        best = client.get(url, {"budget": "800", "best": "1"}, headers={"HX-Request": "true"})
        assert "685.00" in best.content.decode()
        assert "<html" not in best.content.decode()
        assert 'hx-swap-oob="true"' in best.content.decode()
        assert TrailEntry.objects.count() == before
        refused = client.get(url, {"pieces": "bonding.upper-right-central-incisor"}).content.decode()
        assert "only as a pair" in refused
        assert "Record the yes" not in refused
        assert "is not one of" in client.get(url, {"pieces": "crown.x"}).content.decode()
        pieces = ["reshaping.upper-right-canine", "bonding.upper-left-lateral-incisor"]
        yes = {"pieces": pieces, "by": estimate.case.patient.name, "capacity": "patient", "seen": estimate.version}
        wrong = client.post(url.replace("parts", "accept"), yes | {"capacity": "decision-maker"})
        assert "decides alone" in wrong.content.decode()
        assert not AcceptedPlan.objects.exists()
        stale = client.post(url.replace("parts", "accept"), yes | {"seen": "1"})
        assert "changed by somebody else" in stale.content.decode()
        made = client.post(url.replace("parts", "accept"), yes, follow=True)
        assert "The yes is recorded" in made.content.decode()
        assert AcceptedPlan.objects.get().total_cents == 68500

    def test_a_yes_to_what_is_not_on_the_estimate_is_said_to_be_none(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        said = client_of(owner).post(f"/plans/estimate/{estimate.public_id}/accept/gold/", follow=True)
        assert "A yes is to one of the options on the estimate" in said.content.decode()

    def test_after_its_last_day_a_new_issue_is_offered_and_no_yes(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        with time_machine.travel(NOW + timedelta(days=120), tick=False):
            page = client_of(owner).get(f"/plans/estimate/{estimate.public_id}/parts/reshape-bond/").content.decode()
        assert "Begin a new issue" in page
        assert "Record the yes" not in page


class TestThePage:
    def test_who_may_look_and_who_may_act(
        self, plan: AcceptedPlan, colleague: Staff, outsider: Staff, person: Any
    ) -> None:
        desk = client_of(colleague)
        page = desk.get(address(plan)).content.decode()
        assert "1,618.25" in page
        assert "Write a receipt" in page
        assert "Stop it" not in page
        with refusals() as noted:
            for way in ("change/", "rest/", "stop/", "waive/", "refund/"):
                assert desk.get(address(plan, way)).status_code == 403, way
            assert client_of(outsider).get(address(plan)).status_code == 404
            assert client_of(person(Role.KEEPER)).get(address(plan)).status_code == 403
        assert len(noted) == 7
        assert client_of(None).get(address(plan)).status_code == 302

    def test_it_says_what_stands_against_it_now(self, plan: AcceptedPlan, owner: Staff) -> None:
        with time_machine.travel(NOW + timedelta(days=400), tick=False):
            page = client_of(owner).get(address(plan)).content.decode()
        assert "would not be offered" in page
        assert "Prices were held through" in page

    def test_queries_do_not_grow_with_items_receipts_and_changes(self, plan: AcceptedPlan, owner: Staff) -> None:
        client = client_of(owner)
        who: dict[str, Any] = {"actor": owner, "now": NOW}
        account.receive(plan=plan, cents=100, payer="A", route=Route.CASH, **who)
        amending.amend(plan=plan, cause=Cause.FINDING, reason="chip", added=[charge("small-addition", 1, "23")], **who)
        few = queries_of(client, address(plan))
        for iso in ("12", "14", "24"):
            account.receive(plan=plan, cents=100, payer="A", route=Route.CASH, **who)
            amending.amend(
                plan=plan, cause=Cause.FINDING, reason="chip", added=[charge("small-addition", 1, iso)], **who
            )
        assert queries_of(client, address(plan)) == few
        assert few <= 45


class TestActing:
    def test_from_a_receipt_to_a_refund_through_the_pages(self, plan: AcceptedPlan, owner: Staff, person: Any) -> None:
        client = client_of(owner)
        receipt = {"cents": "300.00", "payer": "Grandmother", "route": "card", "on": "2 March 2026"}
        wrong = client.post(address(plan, "receipt/"), receipt | {"reference": "4111111111111111"})
        assert "card number" in wrong.content.decode()
        assert "Grandmother" in wrong.content.decode()
        assert client.post(address(plan, "receipt/"), receipt).status_code == 302
        assert Payment.objects.get().cents == 30000
        rest = {"seen": plan.version, "reason": REASON, "look_again_on": "1 January 2027"}
        assert "at most 90 days" in client.post(address(plan, "rest/"), rest).content.decode()
        assert client.post(address(plan, "rest/"), rest | {"look_again_on": "1 May 2026"}).status_code == 302
        stop = {"seen": "1", "because": "patient", "reason": REASON}
        assert "changed by somebody else" in client.post(address(plan, "stop/"), stop).content.decode()
        assert client.post(address(plan, "stop/"), stop | {"seen": "2"}).status_code == 302
        ask = {"receipt": Payment.objects.get().public_id, "cents": "300.00", "reason": REASON}
        assert client.post(address(plan, "refund/"), ask).status_code == 302
        refund = Refund.objects.get()
        way = f"refund/{refund.public_id}"
        own = client.post(address(plan, f"{way}/allow/"), {"seen": "1"})
        assert "asked for themselves" in own.content.decode()
        manager = client_of(person(Role.MANAGER))
        assert manager.post(address(plan, f"{way}/allow/"), {"seen": "1"}).status_code == 302
        assert client.post(address(plan, f"{way}/pay/"), {"seen": "2"}).status_code == 302
        assert account.account_of(AcceptedPlan.objects.get()).held_cents == 0
        assert "refund 300.00" in client.get(address(plan)).content.decode()

    def test_a_change_is_looked_at_first_and_then_recorded_and_agreed(self, plan: AcceptedPlan, owner: Staff) -> None:
        client = client_of(owner)
        given = {
            "service": "small-addition",
            "teeth": ["upper-left-canine"],
            "cause": "finding",
            "reason": REASON,
        }
        assert "reconstructive" in client.post(address(plan, "change/"), given).content.decode()
        given["tax_class"] = "reconstructive"
        seen = client.post(address(plan, "change/"), given | {"look": "1"}).content.decode()
        assert "1,618.25 → 1,883.25" in seen
        assert not Amendment.objects.exists()
        assert client.post(address(plan, "change/"), given).status_code == 302
        yes = {"by": plan.accepted_by, "capacity": "patient", "how": "signed"}
        assert client.post(address(plan, "change/1/yes/"), yes).status_code == 302
        assert client.get(address(plan, "change/9/yes/")).status_code == 404

    def test_items_wait_are_free_and_done(self, plan: AcceptedPlan, owner: Staff) -> None:
        client = client_of(owner)
        under_way(plan, owner, when("lead"))
        item = Item.objects.filter(service="build-up").order_by("pk")[0]
        way = address(plan, f"item/{item.public_id}")
        wait = {"seen": item.version, "waiting_for": "laboratory", "earliest": "9 March 2026"}
        assert client.post(f"{way}/wait/", wait).status_code == 302
        assert "waiting for: laboratory" in client.get(address(plan)).content.decode()
        assert client.post(f"{way}/free/", {"seen": "2"}).status_code == 302
        assert client.post(f"{way}/done/", {"seen": "3", "done_on": "2 March 2026"}).status_code == 302
        item.refresh_from_db()
        assert (item.state, item.earned.get().cents) == ("done", 42275)
        assert client.get(address(plan, "item/nobody/done/")).status_code == 404

    def test_prices_are_held_on(self, plan: AcceptedPlan, owner: Staff) -> None:
        assert client_of(owner).post(address(plan, "hold/"), {"reason": REASON}).status_code == 302
        assert PriceHold.objects.get().through == NOW.date() + timedelta(days=183)


def test_the_estimate_and_the_person_lead_to_the_plan(plan: AcceptedPlan, owner: Staff) -> None:
    client = client_of(owner)
    estimate = Estimate.objects.get()
    for url in (f"/plans/estimate/{estimate.public_id}/", f"/plans/of/{plan.patient.public_id}/"):
        assert address(plan) in client.get(url).content.decode(), url
