"""Two people at the same money at once: one wins, the other gets a sentence, and nothing goes out twice."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db.models import Sum

from planner.plans import account, estimates
from planner.plans.accepted_models import AcceptedPlan, Agreement, Payment, PaymentKind, Refund, Route
from planner.plans.amending import agree, amend
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.models import Answer, Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from planner.trail.models import TrailEntry
from tests.at_once import at_once
from tests.pages import priced_office
from tests.plans.sample import accepted, plan_of, shown_estimate
from tests.rules.books import charge
from tests.support import NOW

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def receipt(owner: Staff, lead_case: CaseFacts) -> Payment:
    """300 paid for a tooth that nobody has begun."""
    plan = plan_of(owner, lead_case, charge("build-up", 1, "22"))
    return account.receive(plan=plan, cents=30000, payer="Grandmother", route=Route.CARD, actor=owner, now=NOW)


def gone_back(plan: AcceptedPlan) -> int:
    rows = Payment.objects.filter(plan=plan, kind=PaymentKind.REFUND)
    return rows.aggregate(cents=Sum("cents"))["cents"] or 0


def test_two_who_ask_for_the_same_money_do_not_both_get_it(
    owner: Staff, receipt: Payment, person: Callable[..., Staff]
) -> None:
    lena = person(Role.DESK_LEAD, username="lena")
    ask = {"plan": receipt.plan, "receipt": receipt, "cents": 20000, "reason": "moves away", "now": NOW}
    outcomes = at_once(
        lambda: account.ask_refund(actor=owner, **ask),  # type: ignore[arg-type]
        lambda: account.ask_refund(actor=lena, **ask),  # type: ignore[arg-type]
    )
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    assert any("Of this receipt 100.00 can go back, not 200.00" in said for said in outcomes)
    assert Refund.objects.count() == 1


def test_two_who_check_the_same_plan_at_once_make_one_estimate(
    owner: Staff, lead_case: CaseFacts, person: Callable[..., Staff]
) -> None:
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    seen, other = sha256(estimates.compute_plan(case, NOW)[0].to_json()), person(Role.OWNER, username="otto")
    outcomes = at_once(
        lambda: check_case(case=case, seen_plan=seen, actor=owner, now=NOW),
        lambda: check_case(case=case, seen_plan=seen, actor=other, now=NOW),
    )
    assert outcomes == ["done", "done"]
    assert Estimate.objects.filter(case=case).count() == 1


def test_a_change_that_two_write_the_yes_to_at_once_has_one(owner: Staff, person: Callable[..., Staff]) -> None:
    plan, lena = accepted(owner, "lead", "reshape-bond"), person(Role.DESK_LEAD, username="lena")
    given: dict[str, Any] = {"cause": "finding", "reason": "found", "added": [charge("small-repair", 1, "22")]}
    made = amend(plan=plan, actor=owner, now=NOW, **given)
    yes: dict[str, Any] = {"amendment": made, "by": plan.accepted_by, "capacity": "patient", "now": NOW}
    outcomes = at_once(lambda: agree(actor=owner, **yes), lambda: agree(actor=lena, **yes))
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    assert any("agreed to already" in said for said in outcomes)
    assert Agreement.objects.count() == 1


def test_a_refund_that_two_pay_at_once_is_paid_once(
    owner: Staff, receipt: Payment, person: Callable[..., Staff]
) -> None:
    lena, max_ = person(Role.DESK_LEAD, username="lena"), person(Role.MANAGER, username="max")
    second = person(Role.OWNER, username="otto")
    asked = account.ask_refund(
        plan=receipt.plan, receipt=receipt, cents=20000, reason="moves away", actor=lena, now=NOW
    )
    allowed = account.allow_refund(refund=asked, seen=1, actor=max_, now=NOW)
    outcomes = at_once(
        lambda: account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW),
        lambda: account.pay_refund(refund=allowed, seen=2, actor=second, now=NOW + timedelta(seconds=1)),
    )
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    assert any("This refund is paid; this needs one that is allowed." in said for said in outcomes)
    assert gone_back(receipt.plan) == 20000
    assert account.account_of(receipt.plan).paid_cents == 10000


def test_a_receipt_is_not_taken_back_while_it_is_asked_back(receipt: Payment, person: Callable[..., Staff]) -> None:
    lena, max_ = person(Role.DESK_LEAD, username="lena"), person(Role.MANAGER, username="max")
    outcomes = at_once(
        lambda: account.void_receipt(receipt=receipt, reason="other patient", actor=max_, now=NOW),
        lambda: account.ask_refund(
            plan=receipt.plan, receipt=receipt, cents=30000, reason="moves", actor=lena, now=NOW
        ),
    )
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    plan = AcceptedPlan.objects.get()
    assert account.account_of(plan).paid_cents == (0 if not Refund.objects.exists() else 30000)


def test_allowed_by_one_and_declined_by_another_at_once(
    owner: Staff, receipt: Payment, person: Callable[..., Staff]
) -> None:
    lena, max_ = person(Role.DESK_LEAD, username="lena"), person(Role.MANAGER, username="max")
    asked = account.ask_refund(
        plan=receipt.plan, receipt=receipt, cents=20000, reason="moves away", actor=lena, now=NOW
    )
    outcomes = at_once(
        lambda: account.allow_refund(refund=asked, seen=1, actor=max_, now=NOW),
        lambda: account.decline_refund(refund=asked, seen=1, reason="the work goes on", actor=owner, now=NOW),
    )
    assert sorted(said == "done" for said in outcomes) == [False, True], outcomes
    assert any("refund" in said.lower() for said in outcomes if said != "done")
    assert Refund.objects.get().version == 2


def test_an_answer_that_two_record_at_once_is_recorded_once(owner: Staff, person: Callable[..., Staff]) -> None:
    lena = person(Role.DESK_LEAD, username="lena")
    shown = shown_estimate(owner, "lead")
    said = {"estimate": shown, "seen": shown.version, "by": "Anselm", "now": NOW}
    outcomes = at_once(
        lambda: estimates.answer_estimate(answer=Answer.NONE, actor=owner, **said),  # type: ignore[arg-type]
        lambda: estimates.answer_estimate(answer=Answer.ELSEWHERE, actor=lena, **said),  # type: ignore[arg-type]
    )
    assert sorted(words == "done" for words in outcomes) == [False, True], outcomes
    shown.refresh_from_db()
    assert shown.answer in (Answer.NONE, Answer.ELSEWHERE)
    assert TrailEntry.objects.filter(act="estimate.answer").count() == 1
