"""What is charged on a plan beside its work: owed at once, in the account, waived by name. People and prices invented.

That a fee is no work and earns nothing, and that waiving it takes whoever may void a receipt, is common practice, no
source.
"""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from planner.plans import account
from planner.plans.accepted import stop_plan
from planner.plans.accepted_models import AcceptedPlan, BalanceSheet, Cause, Payment, Route
from planner.plans.charge_models import PlanCharge
from planner.plans.charges import waive_charge, write_charge
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.settling import Account
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.plans.sample import accepted
from tests.support import NOW

_CENTS = st.integers(0, 10**7)


@given(paid=_CENTS, earned=_CENTS, bills=_CENTS, left=_CENTS, charged=_CENTS)
def test_what_is_held_and_owed_is_paid_less_earned_billed_and_charged(
    paid: int, earned: int, bills: int, left: int, charged: int
) -> None:
    found = Account(earned + bills + left, paid, earned, bills, 0, False, charged)
    assert found.held_cents - found.owed_cents == paid - earned - bills - charged
    assert 0 in (found.held_cents, found.owed_cents)
    assert found.to_earn_cents == left
    assert ("charged beside" in found.settlement.how) == bool(charged)


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


@pytest.fixture
def manager(owner: Staff, person: Any) -> Staff:
    found: Staff = person(Role.MANAGER)
    return found


def late(plan: AcceptedPlan, owner: Staff, cents: int = 9000, **more: Any) -> PlanCharge:
    return write_charge(
        plan=plan, code="LTE", words="Cancelled late", price_list_version=7, cents=cents, actor=owner, now=NOW, **more
    )


def stands(plan: AcceptedPlan) -> tuple[int, int, int]:
    found = account.account_of(AcceptedPlan.objects.get(pk=plan.pk))
    return found.charged_cents, found.held_cents, found.owed_cents


def waive_url(charge: PlanCharge) -> str:
    return f"/plans/accepted/{charge.plan.public_id}/charge/{charge.public_id}/waive/"


def test_it_is_owed_at_once_and_a_deposit_covers_it(plan: AcceptedPlan, owner: Staff) -> None:
    late(plan, owner)
    assert stands(plan) == (9000, 0, 9000)
    account.receive(plan=plan, cents=56000, payer="A. B.", route=Route.CARD, actor=owner, now=NOW)
    assert stands(plan) == (9000, 47000, 0)
    # What is held is what can go back: the charge is kept.
    receipt = Payment.objects.get()
    with pytest.raises(Refused, match="charged beside 90"):
        account.ask_refund(plan=plan, receipt=receipt, cents=47001, reason="moves away", actor=owner, now=NOW)
    sheet = stop_plan(plan=plan, seen=1, because=Cause.PATIENT, reason="moves away", actor=owner, now=NOW)
    assert (sheet.charged_cents, sheet.refund_cents) == (9000, 47000)
    assert "charged beside 90.00" in BalanceSheet.objects.get().how


def test_a_manager_waives_it_with_a_reason_and_both_rows_stay(
    plan: AcceptedPlan, owner: Staff, manager: Staff, person: Any
) -> None:
    charge = late(plan, owner)
    for role in (Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.DENTIST):
        with pytest.raises(NotAllowed):
            waive_charge(charge=charge, reason="kindness", actor=person(role), now=NOW)
    with pytest.raises(Refused, match="Say why"):
        waive_charge(charge=charge, reason=" ", actor=manager, now=NOW)
    gone = waive_charge(charge=charge, reason="ill in hospital", actor=manager, now=NOW)
    assert stands(plan) == (0, 0, 0)
    for row in (charge, gone):
        with pytest.raises(Refused, match="waived already"):
            waive_charge(charge=row, reason="again", actor=manager, now=NOW)
    assert [row.kind for row in PlanCharge.objects.all()] == ["charge", "waived"]
    acts = TrailEntry.objects.filter(act__startswith="plan.charge").order_by("pk")
    assert [entry.act for entry in acts] == ["plan.charge", "plan.charge_waive"]


def test_the_database_waives_nothing_twice_and_charges_nothing_of_nothing(
    plan: AcceptedPlan, owner: Staff, manager: Staff
) -> None:
    charge = late(plan, owner)
    waive_charge(charge=charge, reason="first time", actor=manager, now=NOW)
    with pytest.raises(Refused, match="above nothing"):
        late(plan, owner, 0)
    row = {"office": plan.office, "plan": plan, "words": "x", "price_list_version": 7, "on": NOW.date(), "by": owner}
    for wrong in (
        {"kind": "waived", "cents": 5, "of": charge, "reason": "again"},
        {"kind": "waived", "cents": 5, "reason": "of none"},
        {"kind": "charge", "cents": 0},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            PlanCharge.objects.create(at=NOW, **row, **wrong)


def test_the_page_shows_it_in_the_sums_and_lets_a_manager_waive_it(
    plan: AcceptedPlan, owner: Staff, manager: Staff, person: Any
) -> None:
    charge, client = late(plan, owner), client_of(manager)
    page = f"/plans/accepted/{plan.public_id}/"
    text = client.get(page).content.decode()
    assert "Charged beside the work" in text
    assert "Earned or charged, not paid yet" in text
    assert waive_url(charge) in text
    desk = client_of(person(Role.FRONT_DESK))
    assert "Charged beside the work" in desk.get(page).content.decode()
    assert waive_url(charge) not in desk.get(page).content.decode()
    assert client.post(waive_url(charge), {"reason": ""}).context["form"].errors["reason"]
    assert client.post(waive_url(charge), {"reason": "ill in hospital"}).status_code == 302
    assert "ill in hospital" in desk.get(page).content.decode()
    assert stands(plan) == (0, 0, 0)
    again = client.post(waive_url(charge), {"reason": "twice"})
    assert "waived already" in again.content.decode()
    assert client.get(waive_url(charge).replace(charge.public_id, "none")).status_code == 404


def test_who_may_not_is_refused_and_an_outsider_finds_nothing(
    plan: AcceptedPlan, owner: Staff, person: Any, outsider: Staff
) -> None:
    charge = late(plan, owner)
    desk = client_of(person(Role.FRONT_DESK))
    with refusals() as noted:
        assert desk.get(waive_url(charge)).status_code == 403
        assert client_of(outsider).get(waive_url(charge)).status_code == 404
    assert len(noted) == 2


def test_charges_cost_no_further_queries(plan: AcceptedPlan, owner: Staff, manager: Staff) -> None:
    page = f"/plans/accepted/{plan.public_id}/"
    late(plan, owner)
    before = queries_of(client_of(owner), page)
    for _ in range(4):
        waive_charge(charge=late(plan, owner), reason="kindness", actor=manager, now=NOW)
    assert queries_of(client_of(owner), page) == before
