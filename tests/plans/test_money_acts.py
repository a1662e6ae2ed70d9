"""What an accepted plan earns bit by bit, bills passed on, repairs, and refunds refused. People and prices invented.

Sums worked out by hand from the invented fee list; how a fee is earned is common practice, no source.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from planner.plans import account, amending
from planner.plans.accepted import stop_plan
from planner.plans.accepted_models import AcceptedPlan, Cause, Item, Payment, Refund, Route
from planner.plans.earning import earn_month, earn_stage, pass_bill
from planner.plans.items import finish_item
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from tests.pages import priced_office
from tests.plans.sample import item_of, plan_of, under_way
from tests.rules.books import charge
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def plan(owner: Staff, lead_case: CaseFacts) -> AcceptedPlan:
    """A bill passed on of 2,350, and a face of 1,480 earned in stages."""
    return plan_of(owner, lead_case, charge("implant-placing"), charge("ceramic-face", 1, "11"))


class TestBills:
    def test_a_bill_counts_as_it_came_and_is_no_income(self, plan: AcceptedPlan, owner: Staff) -> None:
        item = item_of(plan, "implant-placing")
        before = account.account_of(plan)
        assert (before.agreed_cents, before.bills_cents) == (383000, 0)
        row = pass_bill(item=item, cents=241050, actor=owner, now=NOW)
        assert (row.stage, row.cents, row.on) == ("bill", 241050, TODAY)
        found = account.account_of(plan)
        # 2,410.50 as billed and not 2,350 as guessed; the face still to be earned.
        assert (found.agreed_cents, found.bills_cents, found.earned_cents) == (389050, 241050, 0)
        assert (found.to_earn_cents, found.owed_cents) == (148000, 241050)
        assert TrailEntry.objects.filter(act="item.earn").count() == 1

    def test_what_is_no_bill_and_who_may_write_one(
        self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        item = item_of(plan, "implant-placing")
        for cents, words in ((0, "0.00 is no bill"), (-5, "no bill")):
            with pytest.raises(Refused, match=words) as refusal:
                pass_bill(item=item, cents=cents, actor=owner, now=NOW)
            assert refusal.value.field == "cents"
        with pytest.raises(Refused, match="in the future"):
            pass_bill(item=item, cents=1, on=TODAY + timedelta(1), actor=owner, now=NOW)
        with pytest.raises(Refused, match="no bill that is passed on"):
            pass_bill(item=item_of(plan, "ceramic-face"), cents=1, actor=owner, now=NOW)
        with pytest.raises(NotAllowed):
            pass_bill(item=item, cents=1, actor=person(Role.ASSISTANT), now=NOW)
        pass_bill(item=item, cents=1, actor=owner, now=NOW)
        with pytest.raises(Refused, match="come already"):
            pass_bill(item=item, cents=1, actor=owner, now=NOW)

    def test_a_bill_may_come_after_the_plan_was_stopped_and_is_owed(self, plan: AcceptedPlan, owner: Staff) -> None:
        receipt = account.receive(plan=plan, cents=300000, payer="A", route=Route.CASH, actor=owner, now=NOW)
        stop_plan(plan=plan, seen=1, because=Cause.PATIENT, reason="moves away", actor=owner, now=NOW)
        pass_bill(item=Item.objects.get(service="implant-placing"), cents=235000, actor=owner, now=NOW)
        assert account.account_of(plan).held_cents == 65000
        with pytest.raises(Refused, match="can go back"):
            account.ask_refund(plan=plan, receipt=receipt, cents=65001, reason="moves", actor=owner, now=NOW)


class TestMonths:
    @pytest.fixture
    def course(self, owner: Staff, lead_case: CaseFacts) -> Item:
        plan = plan_of(owner, lead_case, charge("aligners-both"), months=7)
        return plan.items.get()

    def test_seven_months_earn_every_cent_once(self, course: Item, owner: Staff) -> None:
        rows = [earn_month(item=course, month=month, actor=owner, now=NOW) for month in range(1, 8)]
        # 6,400.00 over 7: four times 914.29 and three times 914.28; nothing is lost.
        assert sum(row.cents for row in rows) == 640000
        assert {row.cents for row in rows} == {91428, 91429}
        for month, words in ((7, "7 of 7 months"), (8, "7 of 7 months")):
            with pytest.raises(Refused, match=words):
                earn_month(item=course, month=month, actor=owner, now=NOW)

    def test_finished_early_earns_the_rest_and_nothing_after(self, course: Item, owner: Staff) -> None:
        earn_month(item=course, month=1, actor=owner, now=NOW)
        plan = under_way(course.plan, owner, NOW)
        finish_item(item=course, seen=1, actor=owner, now=NOW)
        assert account.account_of(plan).earned_cents == 640000
        with pytest.raises(Refused, match="is done"):
            earn_month(item=course, month=2, actor=owner, now=NOW)


class TestNothingIsEarned:
    def test_of_what_was_dropped_with_the_plan(self, plan: AcceptedPlan, owner: Staff) -> None:
        face = item_of(plan, "ceramic-face")
        stop_plan(plan=plan, seen=1, because=Cause.PATIENT, reason="moves away", actor=owner, now=NOW)
        with pytest.raises(Refused, match="dropped"):
            earn_stage(item=face, stage="records", actor=owner, now=NOW)
        assert account.account_of(plan).earned_cents == 0

    def test_of_what_nobody_agreed_to_yet(self, plan: AcceptedPlan, owner: Staff) -> None:
        added = [charge("ceramic-face", 1, "21")]
        amending.amend(plan=plan, cause=Cause.FINDING, reason="chip", added=added, actor=owner, now=NOW)
        with pytest.raises(Refused, match="not agreed to"):
            earn_stage(item=item_of(plan, "ceramic-face", "21"), stage="records", actor=owner, now=NOW)


class TestRefunds:
    """Two people stand behind money that goes back; nobody allows what they asked for."""

    @pytest.fixture
    def asked(self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]) -> Refund:
        receipt = account.receive(plan=plan, cents=50000, payer="Grandmother", route=Route.CARD, actor=owner, now=NOW)
        who = person(Role.DESK_LEAD, username="lena")
        return account.ask_refund(plan=plan, receipt=receipt, cents=20000, reason="moves", actor=who, now=NOW)

    def test_it_takes_two_and_goes_the_way_it_came(
        self, asked: Refund, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        manager = person(Role.MANAGER)
        with pytest.raises(Refused, match="asked; this needs one that is allowed"):
            account.pay_refund(refund=asked, seen=1, actor=owner, now=NOW)
        allowed = account.allow_refund(refund=asked, seen=1, actor=owner, now=NOW)
        with pytest.raises(Refused, match="Two people"):
            account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW)
        with pytest.raises(NotAllowed):  # the manager allows and does not pay
            account.pay_refund(refund=allowed, seen=2, actor=manager, now=NOW)
        second = person(Role.OWNER, username="otto")
        paid = account.pay_refund(refund=allowed, seen=2, actor=second, now=NOW)
        row = paid.payment
        assert row is not None
        assert (row.cents, row.payer, row.route, row.of) == (20000, "Grandmother", Route.CARD, asked.receipt)
        assert account.account_of(plan).paid_cents == 30000

    def test_nobody_allows_their_own_and_one_role_is_not_two_people(
        self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        receipt = account.receive(plan=plan, cents=100, payer="A", route=Route.CASH, actor=owner, now=NOW)
        mine = account.ask_refund(plan=plan, receipt=receipt, cents=100, reason="slip", actor=owner, now=NOW)
        with pytest.raises(Refused, match="asked for themselves"):
            account.allow_refund(refund=mine, seen=1, actor=owner, now=NOW)
        for role in (Role.FRONT_DESK, Role.DESK_LEAD, Role.ASSISTANT, Role.DENTIST):
            with pytest.raises(NotAllowed):
                account.allow_refund(refund=mine, seen=1, actor=person(role, username=f"x{role.value[:3]}"), now=NOW)

    def test_declined_with_a_reason_once_and_what_was_asked_is_free_again(
        self, asked: Refund, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        with pytest.raises(NotAllowed):
            account.decline_refund(refund=asked, seen=1, reason="no", actor=asked.asked_by, now=NOW)
        with pytest.raises(Refused, match="why it does not go back"):
            account.decline_refund(refund=asked, seen=1, reason=" ", actor=owner, now=NOW)
        with pytest.raises(StaleEdit):
            account.decline_refund(refund=asked, seen=9, reason="stays", actor=owner, now=NOW)
        assert account.returnable(plan)[0].cents == 30000
        done = account.decline_refund(refund=asked, seen=1, reason=" The work goes on. ", actor=owner, now=NOW)
        assert (done.state, done.why_declined, done.closed_by) == ("declined", "The work goes on.", owner)
        assert account.returnable(plan)[0].cents == 50000
        assert TrailEntry.objects.get(act="refund.decline").reason == "The work goes on."
        for again in (account.allow_refund, account.pay_refund):
            with pytest.raises(Refused, match="declined"):
                again(refund=done, seen=2, actor=owner, now=NOW)
        with pytest.raises(Refused, match="declined"):
            account.decline_refund(refund=done, seen=2, reason="again", actor=owner, now=NOW)
        assert not Payment.objects.filter(kind="refund").exists()

    def test_one_that_was_allowed_can_still_be_declined(self, asked: Refund, owner: Staff, person: Any) -> None:
        account.allow_refund(refund=asked, seen=1, actor=person(Role.MANAGER), now=NOW)
        done = account.decline_refund(refund=asked, seen=2, reason="paid twice nearly", actor=owner, now=NOW)
        assert done.state == "declined"
