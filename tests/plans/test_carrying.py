"""Money held on a plan that another took the place of: carried forward with a row in each account, never lost or made.

That a sum is carried forward on one side and brought forward on the other is plain bookkeeping, no source.
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.followup.reading_truth import refunds_owed
from planner.plans import account
from planner.plans.accepted import change_plan, stop_plan
from planner.plans.accepted_models import AcceptedPlan, Cause, Payment, PaymentKind, Refund, Route
from planner.plans.carrying import can_carry_cents, carry_forward, successor
from planner.plans.earning import earn_stage
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailEntry
from tests.at_once import at_once
from tests.pages import priced_office
from tests.plans.sample import item_of, plan_like, plan_of
from tests.rules.books import charge
from tests.support import NOW

REASON = "Grandmother agreed on the telephone."


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def old(owner: Staff, lead_case: CaseFacts) -> AcceptedPlan:
    """Four faces for 5,920, made outside the mouth; nothing paid yet."""
    return plan_of(owner, lead_case, charge("ceramic-face", 4, "12", "11", "21", "22"))


def pay(plan: AcceptedPlan, cents: int, owner: Staff, payer: str = "Grandmother", route: Route = Route.CARD) -> Payment:
    return account.receive(plan=plan, cents=cents, payer=payer, route=route, actor=owner, now=NOW)


def replace(old: AcceptedPlan, owner: Staff) -> AcceptedPlan:
    new = plan_like(old, owner)
    change_plan(plan=old, replaced_by=new, actor=owner, now=NOW)
    old.refresh_from_db()
    return new


def standing(*plans: AcceptedPlan) -> int:
    """Received less gone back less earned, over all accounts, counted from the rows themselves."""
    rows = Payment.objects.filter(plan__in=plans)
    came = sum(row.cents for row in rows if row.kind == PaymentKind.RECEIPT)
    went = sum(row.cents for row in rows if row.kind in (PaymentKind.REFUND, PaymentKind.VOID))
    return came - went - sum(account.account_of(plan).earned_cents for plan in plans)


@pytest.mark.django_db
class TestCarrying:
    def test_both_accounts_get_a_row_and_the_payer_stays_the_payer(self, owner: Staff, old: AcceptedPlan) -> None:
        pay(old, 30000, owner)
        pay(old, 20000, owner, "A. B.", Route.CASH)
        earn_stage(item=item_of(old, "ceramic-face", "11"), stage="records", actor=owner, now=NOW)
        new = replace(old, owner)
        assert can_carry_cents(old) == 42600  # 500.00 less 5 % of 1,480.00
        assert [one.cents for one in refunds_owed(old.office)] == [42600]
        pairs = carry_forward(plan=old, cents=42600, reason=REASON, actor=owner, now=NOW)
        assert refunds_owed(old.office) == ()
        # The oldest receipt goes first and as a whole.
        assert [(taken.cents, taken.payer, taken.route) for taken, _ in pairs] == [
            (30000, "Grandmother", "card"),
            (12600, "A. B.", "cash"),
        ]
        for taken, brought in pairs:
            assert (taken.plan, brought.plan, brought.of) == (old, new, taken)
            assert (brought.payer, brought.route, brought.cents) == (taken.payer, taken.route, taken.cents)
        assert account.account_of(old).held_cents == 0
        assert account.account_of(old).owed_cents == 0
        assert account.account_of(new).held_cents == 42600
        entry = TrailEntry.objects.get(act="plan.carry_forward")
        assert entry.reason == REASON
        assert TrailEntry.objects.filter(act__startswith="payment.").count() == 2 + 4

    def test_it_pays_the_deposit_there_and_goes_back_to_whoever_paid(
        self, owner: Staff, old: AcceptedPlan, person: Callable[..., Staff]
    ) -> None:
        pay(old, 30000, owner)
        new = replace(old, owner)
        ((_, brought),) = carry_forward(plan=old, cents=30000, reason=REASON, actor=owner, now=NOW)
        assert account.deposit_settled(new)
        assert [(one.receipt, one.cents) for one in account.returnable(new)] == [(brought, 30000)]
        asked = account.ask_refund(
            plan=new, receipt=brought, cents=30000, reason="stops", actor=person(Role.DESK_LEAD), now=NOW
        )
        allowed = account.allow_refund(refund=asked, seen=1, actor=person(Role.MANAGER), now=NOW)
        paid = account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW).payment
        assert paid is not None
        assert (paid.payer, paid.route) == ("Grandmother", "card")
        assert account.returnable(old) == ()

    def test_what_is_refused(self, owner: Staff, old: AcceptedPlan, person: Callable[..., Staff]) -> None:
        receipt = pay(old, 30000, owner)
        carry: dict[str, Any] = {"plan": old, "cents": 100, "reason": REASON, "actor": owner, "now": NOW}
        with pytest.raises(Refused, match="No plan took the place"):
            carry_forward(**carry)
        new = replace(old, owner)
        for changes, words, field in (
            ({"reason": " "}, "who agreed", "reason"),
            ({"cents": 0}, "nothing to carry", "cents"),
            ({"cents": 30001}, "300.00 can be carried forward, not 300.01", "cents"),
        ):
            with pytest.raises(Refused, match=words) as refusal:
                carry_forward(**carry | changes)
            assert refusal.value.field == field
        with pytest.raises(NotAllowed):
            carry_forward(**carry | {"actor": person(Role.ASSISTANT)})
        asked = account.ask_refund(plan=old, receipt=receipt, cents=20000, reason="some", actor=owner, now=NOW)
        with pytest.raises(Refused, match=r"200.00 is asked back, so 100.00"):
            carry_forward(**carry | {"cents": 10001})
        carry_forward(**carry | {"cents": 10000})
        with pytest.raises(Refused, match="can be taken back"):
            account.void_receipt(receipt=receipt, reason="slip", actor=person(Role.MANAGER), now=NOW)
        assert Refund.objects.get() == asked
        stop_plan(plan=new, seen=1, because=Cause.PATIENT, reason="moves", actor=owner, now=NOW)
        account.decline_refund(refund=asked, seen=1, reason="carried", actor=owner, now=NOW)
        with pytest.raises(Refused, match="goes back as a refund"):
            carry_forward(**carry)

    def test_a_plan_replaced_twice_leads_to_the_last(self, owner: Staff, old: AcceptedPlan) -> None:
        pay(old, 30000, owner)
        between = replace(old, owner)
        last = replace(between, owner)
        assert successor(old) == last
        carry_forward(plan=old, cents=30000, reason=REASON, actor=owner, now=NOW)
        assert account.account_of(between).paid_cents == 0
        assert account.account_of(last).paid_cents == 30000

    def test_the_database_keeps_the_rows_and_brings_nothing_twice(self, owner: Staff, old: AcceptedPlan) -> None:
        pay(old, 30000, owner)
        new = replace(old, owner)
        ((taken, brought),) = carry_forward(plan=old, cents=30000, reason=REASON, actor=owner, now=NOW)
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            Payment.objects.filter(pk=brought.pk).update(cents=1)
        again = {"kind": "brought", "cents": 5, "payer": "A", "route": "cash", "reason": "x", "of": taken}
        with pytest.raises(IntegrityError), transaction.atomic():
            Payment.objects.create(office=new.office, plan=new, on=NOW.date(), by=owner, at=NOW, **again)


@pytest.mark.django_db
class TestNothingIsLostOrMade:
    @given(data=st.data())
    @settings(
        max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True
    )
    def test_carrying_leaves_the_sum_over_all_accounts_as_it_was(
        self, owner: Staff, old: AcceptedPlan, manager: Staff, data: st.DataObject
    ) -> None:
        held = transaction.atomic()
        held.__enter__()
        try:
            for cents in data.draw(st.lists(st.integers(1, 300000), max_size=4), label="receipts"):
                pay(old, cents, owner)
            for stage in data.draw(st.sets(st.sampled_from(["records", "preparation", "fit"])), label="earned"):
                earn_stage(item=item_of(old, "ceramic-face", "11"), stage=stage, actor=owner, now=NOW)
            new = replace(old, owner)
            if can_carry_cents(old) and data.draw(st.booleans(), label="some is asked back"):
                first = account.returnable(old)[0]
                most = min(first.cents, can_carry_cents(old))
                cents = data.draw(st.integers(1, most), label="asked back")
                asked = account.ask_refund(
                    plan=old, receipt=first.receipt, cents=cents, reason="some", actor=owner, now=NOW
                )
                if data.draw(st.booleans(), label="and allowed"):
                    account.allow_refund(refund=asked, seen=1, actor=manager, now=NOW)
            before = standing(old, new)
            net = account.account_of(old).settlement
            while free := can_carry_cents(old):
                carry_forward(plan=old, cents=data.draw(st.integers(1, free)), reason=REASON, actor=owner, now=NOW)
                assert standing(old, new) == before
                both = [account.account_of(plan).settlement for plan in (old, new)]
                assert sum(one.refund_cents - one.balance_due_cents for one in both) == (
                    net.refund_cents - net.balance_due_cents
                )
                if data.draw(st.booleans(), label="enough"):
                    break
            carried = Payment.objects.filter(kind=PaymentKind.CARRIED)
            assert sorted(row.cents for row in carried) == sorted(
                row.cents for row in Payment.objects.filter(kind=PaymentKind.BROUGHT)
            )
            left = sum(one.cents for plan in (old, new) for one in account.returnable(plan))
            came = sum(row.cents for row in Payment.objects.filter(kind=PaymentKind.RECEIPT))
            assert left + account.pending_cents(AcceptedPlan.objects.get(pk=old.pk)) == came
        finally:
            transaction.set_rollback(True)
            held.__exit__(None, None, None)

    @pytest.fixture
    def manager(self, person: Callable[..., Staff]) -> Staff:
        return person(Role.MANAGER)


@pytest.mark.django_db(transaction=True)
def test_two_who_carry_the_same_money_at_once_carry_it_once(owner: Staff, old: AcceptedPlan) -> None:
    pay(old, 30000, owner)
    new = replace(old, owner)
    carry: dict[str, Any] = {"plan": old, "cents": 30000, "reason": REASON, "actor": owner, "now": NOW}
    outcomes = at_once(lambda: carry_forward(**carry), lambda: carry_forward(**carry))
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    assert any("0.00 can be carried forward, not 300.00" in said for said in outcomes)
    assert account.account_of(new).paid_cents == 30000
