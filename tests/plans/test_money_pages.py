"""Pages for months, bills, finishing, repairs and refunds refused: who may, what they store, what they cost."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine

from planner.plans import account, amending
from planner.plans.accepted import change_plan, finish_plan, stop_plan
from planner.plans.accepted_models import AcceptedPlan, Cause, Item, Payment, Refund, Route
from planner.plans.items import finish_item
from planner.practice.models import Staff
from planner.practice.roles import Role
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.plans.sample import accepted, plan_like, under_way, when
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


def add(plan: AcceptedPlan, owner: Staff, *services: str) -> list[Item]:
    """Lines that a change adds, agreed to at once."""
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    lines = [charge(service) for service in services]
    made = amending.amend(plan=plan, cause=Cause.FINDING, reason="found", added=lines, **who)
    amending.agree(amendment=made, by=plan.accepted_by, capacity="patient", **who)
    return list(plan.items.filter(service__in=services).order_by("pk"))


def finished(plan: AcceptedPlan, owner: Staff) -> AcceptedPlan:
    begun = under_way(plan, owner, when("lead"))
    for item in plan.items.exclude(state="done"):
        finish_item(item=item, seen=item.version, actor=owner, now=NOW)
    return finish_plan(plan=begun, seen=begun.version, review_done=True, actor=owner, now=NOW)


def test_a_bill_and_a_month_are_written_from_the_item(plan: AcceptedPlan, owner: Staff) -> None:
    client = client_of(owner)
    bill, course = add(plan, owner, "implant-placing", "aligners-both")
    page = client.get(address(plan)).content.decode()
    ways = {each: address(plan, f"item/{item.public_id}/{each}/") for each, item in (("bill", bill), ("month", course))}
    assert all(f'href="{way}"' in page for way in ways.values())
    wrong = client.post(ways["bill"], {"cents": "0", "on": "2 March 2026"}).content.decode()
    assert "0.00 is no bill" in wrong
    assert client.post(ways["bill"], {"cents": "2,410.50", "on": "2 March 2026"}).status_code == 200  # grouped
    assert client.post(ways["bill"], {"cents": "2410.50", "on": "2 March 2026"}).status_code == 302
    assert "Month 1 of 1 has passed" in client.get(ways["month"]).content.decode()
    given = {"month": "1", "on": "2 March 2026"}
    assert client.post(ways["month"], given).status_code == 302
    again = client.post(ways["month"], given).content.decode()  # pressed twice: once is enough
    assert "1 of 1 months are earned" in again
    assert account.account_of(AcceptedPlan.objects.get()).bills_cents == 241050
    assert course.earned.get().cents == 640000
    page = client.get(address(plan)).content.decode()
    assert "Bills passed on" in page
    assert not any(f'href="{way}"' in page for way in ways.values())


def test_finishing_and_a_repair_that_the_office_promised(plan: AcceptedPlan, owner: Staff) -> None:
    client = client_of(owner)
    assert "Repair finished work" not in client.get(address(plan)).content.decode()
    begun = under_way(plan, owner, when("lead"))
    early = {"seen": begun.version, "review_done": "on"}
    assert "Not everything is done" in client.post(address(plan, "finish/"), early).content.decode()
    for item in plan.items.all():
        finish_item(item=item, seen=item.version, actor=owner, now=NOW)
    assert "review after the work" in client.post(address(plan, "finish/"), {"seen": begun.version}).content.decode()
    assert client.post(address(plan, "finish/"), early).status_code == 302
    assert f'href="{address(plan, "repair/")}"' in client.get(address(plan)).content.decode()
    given = {
        "service": "small-repair",
        "teeth": ["upper-left-lateral-incisor"],
        "tax_class": "looks only",
        "promise": "on",
        "by": plan.accepted_by,
        "capacity": "patient",
        "reason": "A corner chipped in the fifth month.",
    }
    assert "how many minutes" in client.post(address(plan, "repair/"), given).content.decode()
    kept = client.post(address(plan, "repair/"), given | {"minutes": "30", "capacity": "decision-maker"})
    assert "decides alone" in kept.content.decode()
    assert "A corner chipped" in kept.content.decode()  # nothing typed is lost
    done = client.post(address(plan, "repair/"), given | {"minutes": "30", "material": "12"}, follow=True)
    made = AcceptedPlan.objects.get(follows=plan)
    assert done.redirect_chain[-1][0] == address(made)
    # 30 minutes at 325 an hour and 12 of material; the patient pays nothing.
    assert (made.total_cents, made.items.get().charge["promise_cost_cents"]) == (0, 17450)
    assert address(made) in client.get(address(plan)).content.decode()


def test_a_repair_at_todays_price(plan: AcceptedPlan, owner: Staff) -> None:
    finished(plan, owner)
    given = {
        "service": "small-repair",
        "teeth": ["upper-left-lateral-incisor"],
        "tax_class": "looks only",
        "by": plan.accepted_by,
        "capacity": "patient",
        "reason": "Chipped in an accident.",
    }
    assert client_of(owner).post(address(plan, "repair/"), given).status_code == 302
    # 150 and 13 % tax, because it is for looks only.
    assert AcceptedPlan.objects.get(follows=plan).total_cents == 16950


def test_a_refund_is_declined_with_a_reason_that_stays(
    plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
) -> None:
    receipt = account.receive(plan=plan, cents=5000, payer="A", route=Route.CASH, actor=owner, now=NOW)
    asker = person(Role.DESK_LEAD, username="lena")
    row = account.ask_refund(plan=plan, receipt=receipt, cents=5000, reason="moves", actor=asker, now=NOW)
    way = address(plan, f"refund/{row.public_id}/decline/")
    client = client_of(owner)
    assert f'href="{way}"' in client.get(address(plan)).content.decode()
    empty = client.post(way, {"seen": "1", "reason": ""}).content.decode()
    assert 'aria-invalid="true"' in empty
    stale = client.post(way, {"seen": "9", "reason": "The work goes on."}).content.decode()
    assert "changed by somebody else" in stale
    assert "The work goes on." in stale
    assert client.post(way, {"seen": "1", "reason": "The work goes on."}).status_code == 302
    page = client.get(address(plan)).content.decode()
    assert "Declined by Olive Owner: The work goes on." in page
    assert way not in page
    assert Refund.objects.get().state == "declined"
    assert Payment.objects.count() == 1


def test_who_may_open_them(
    plan: AcceptedPlan, owner: Staff, colleague: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    (bill,) = add(plan, owner, "implant-placing")
    receipt = account.receive(plan=plan, cents=5000, payer="A", route=Route.CASH, actor=owner, now=NOW)
    row = account.ask_refund(plan=plan, receipt=receipt, cents=5000, reason="moves", actor=owner, now=NOW)
    may_desk = {f"item/{bill.public_id}/bill/": 200, f"item/{bill.public_id}/month/": 200}
    may_not_desk = ("finish/", "repair/", f"refund/{row.public_id}/decline/")
    desk, theirs = client_of(colleague), client_of(outsider)
    for way, status in may_desk.items():
        assert desk.get(address(plan, way)).status_code == status, way
    for way in (*may_desk, *may_not_desk):
        assert client_of(owner).get(address(plan, way)).status_code == 200, way
        with refusals() as noted:
            assert theirs.get(address(plan, way)).status_code == 404, way
        assert len(noted) == 1, way
        assert client_of(None).get(address(plan, way)).status_code == 302
    for way in may_not_desk:
        with refusals() as noted:
            assert desk.get(address(plan, way)).status_code == 403, way
        assert len(noted) == 1, way
    assistant = client_of(person(Role.ASSISTANT))
    assert assistant.get(address(plan, f"item/{bill.public_id}/bill/")).status_code == 403
    assert assistant.get(address(plan, "repair/")).status_code == 403


def test_queries_grow_neither_with_bills_nor_with_refunds(
    plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
) -> None:
    client, asker = client_of(owner), person(Role.DESK_LEAD, username="lena")
    who: dict[str, Any] = {"actor": owner, "now": NOW}

    def more(service: str) -> None:
        add(plan, owner, service)
        receipt = account.receive(plan=plan, cents=100, payer="A", route=Route.CASH, **who)
        row = account.ask_refund(plan=plan, receipt=receipt, cents=100, reason="slip", actor=asker, now=NOW)
        account.decline_refund(refund=row, seen=1, reason="no slip", **who)

    more("implant-placing")
    few = queries_of(client, address(plan))
    for service in ("ridge-build-up", "small-3d", "aligners-one"):
        more(service)
    assert queries_of(client, address(plan)) == few
    assert few <= 45


def test_a_bill_is_written_after_the_plan_is_over(plan: AcceptedPlan, owner: Staff) -> None:
    (bill,) = add(plan, owner, "implant-placing")
    finished(plan, owner)
    client = client_of(owner)
    way = address(plan, f"item/{bill.public_id}/bill/")
    assert f'href="{way}"' in client.get(address(plan)).content.decode()
    day = (NOW.date() - timedelta(days=1)).isoformat()
    assert client.post(way, {"cents": "2350", "on": day}).status_code == 302
    assert account.account_of(plan).bills_cents == 235000


def test_what_is_held_on_a_replaced_plan_is_carried_forward_from_its_page(
    plan: AcceptedPlan, owner: Staff, colleague: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    account.receive(plan=plan, cents=30000, payer="Grandmother", route=Route.CARD, actor=owner, now=NOW)
    way, desk = address(plan, "carry-forward/"), client_of(colleague)
    assert way not in desk.get(address(plan)).content.decode()
    new = plan_like(plan, owner)
    change_plan(plan=plan, replaced_by=new, actor=owner, now=NOW)
    page = desk.get(address(plan)).content.decode()
    assert f'href="{way}"' in page
    assert "Another way" in page
    form = desk.get(way).content.decode()
    assert 'value="300.00"' in form
    assert "No money moves" in form
    more = desk.post(way, {"cents": "300.01", "reason": "Grandmother agreed."}).content.decode()
    assert "300.00 can be carried forward, not 300.01" in more
    assert "Grandmother agreed." in more
    assert desk.post(way, {"cents": "300.00", "reason": "Grandmother agreed."}).status_code == 302
    assert way not in desk.get(address(plan)).content.decode()
    assert "carried forward 300.00, Grandmother" in desk.get(address(plan)).content.decode()
    assert "brought forward 300.00, Grandmother" in desk.get(address(new)).content.decode()
    with refusals() as noted:
        assert client_of(outsider).get(way).status_code == 404
        assert client_of(person(Role.ASSISTANT)).get(way).status_code == 403
    assert len(noted) == 2
    assert client_of(None).get(way).status_code == 302


def test_queries_of_a_replaced_plan_do_not_grow_with_receipts(plan: AcceptedPlan, owner: Staff) -> None:
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    client = client_of(owner)

    def pay(plan: AcceptedPlan) -> None:
        account.receive(plan=plan, cents=100, payer="A", route=Route.CASH, **who)

    pay(plan)
    second = plan_like(plan, owner)
    change_plan(plan=plan, replaced_by=second, **who)
    few = queries_of(client, address(plan))
    for _ in range(4):
        pay(second)
    change_plan(plan=second, replaced_by=plan_like(second, owner), **who)
    assert queries_of(client, address(second)) <= few
    assert few <= 50


def test_a_plan_that_is_over_takes_what_is_owed_and_no_deposit(
    plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
) -> None:
    client, given = client_of(owner), {"cents": "300.00", "payer": "A", "route": "cash", "on": "2 March 2026"}
    begun = under_way(plan, owner, when("lead"))
    finish_item(item=plan.items.get(service="wax-up"), seen=1, actor=owner, now=NOW)
    stop_plan(plan=begun, seen=begun.version, because=Cause.PATIENT, reason="moves", actor=owner, now=NOW)
    page = client.get(address(plan)).content.decode()
    assert "Write a receipt" in page  # 220.00 are owed for the wax-up
    assert "Waive the deposit" not in client_of(person(Role.MANAGER)).get(address(plan)).content.decode()
    refused = client.post(address(plan, "receipt/"), given).content.decode()
    assert "220.00 is owed in it: 300.00 would be held" in refused
    assert not Payment.objects.exists()
    assert client.post(address(plan, "receipt/"), given | {"cents": "220.00"}).status_code == 302
    assert "Write a receipt" not in client.get(address(plan)).content.decode()
