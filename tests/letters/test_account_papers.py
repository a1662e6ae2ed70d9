"""Papers about an account: what they say comes from its rows, adds up, and can be told again from them later.

That a refund is what was paid less what was earned and billed is common practice, no source; sums by hand.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import time_machine

from planner.letters.account_papers import make_account_paper, papers_about, told_by
from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.agree import papers_disagree
from planner.letters.models import Document
from planner.letters.papers import job
from planner.letters.pdf import Job, PaperError, Rendered
from planner.letters.sealed import read_all
from planner.plans import account, amending, estimates, payer_guesses
from planner.plans.accepted_models import AcceptedPlan, Cause, Payment, Refund, Route
from planner.plans.account_told import (
    RECEIPT,
    REFUND,
    SHORTFALL,
    STATEMENT,
    estimate_of,
    lasting,
    receipt_told,
    refund_told,
    shortfall_told,
    statement_told,
    told_again,
    told_json,
)
from planner.plans.casefiles import import_case_file
from planner.plans.charges import waive_charge, write_charge
from planner.plans.earning import pass_bill
from planner.plans.items import finish_item
from planner.plans.payer_models import PayerPaid
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.trail.errors import NotAllowed, Refused
from tests.letters.account_rows import account as told_text
from tests.letters.conftest import ISSUE, rendered, texts
from tests.letters.sample import case_plan
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.payers import desk_of, with_payer
from tests.plans.sample import accepted, item_of, under_way, when
from tests.rules.books import charge
from tests.rules.stories import facts_of
from tests.support import NOW, TODAY, guards_lifted, render_once

# ---------------------------------------------------------------- what stands on them


def said(kind: str) -> str:
    return " ".join(texts(rendered(kind).content))


def test_each_says_what_it_is_for() -> None:
    expected = {
        RECEIPT: ("CAD 450.00", "Marguerite Brightwater", "by bank transfer; slip 18", "For the treatment of Anselm",
                  "Paid so far CAD 1,210.00", "We keep no number of any card"),
        STATEMENT: ("CAD 152.25 is held for you", "You owe nothing now", "lateral incisor (22, Universal 10)",
                    "−147.75", "Brought forward from the plan before this one", "Of it still to be done CAD 975.50"),
        REFUND: ("we gave back CAD 150.00", "the way it came", "Held until then CAD 302.25", "Still held CAD 152.25",
                 "Asked for by Lena Lead, allowed by Oona Castellane, paid by Dr Imke Sorrel"),
        # The sums of a payer that paid less after the work: 448.80 guessed, 301.20 paid, 30 days.
        SHORTFALL: ("CAD 448.80", "CAD 301.20", "CAD 147.60", "2 July 2026", "The second tooth is for looks only.",
                    "You signed the whole price of CAD 1,618.25", "an appeal", "our own guess"),
    }  # fmt: skip
    assert expected.keys() == ACCOUNT_PAPERS
    for kind, parts in expected.items():
        for part in parts:
            assert part in said(kind), (kind, part)


@pytest.mark.parametrize("kind", sorted(ACCOUNT_PAPERS))
def test_there_is_none_without_its_row_or_for_another_plan(kind: str) -> None:
    plan = case_plan().to_json()
    for given_account in ("", told_text(RECEIPT if kind != RECEIPT else STATEMENT)):
        with pytest.raises(PaperError, match="No row of an account"):
            job(plan, kind, replace(ISSUE, account=given_account))
    with pytest.raises(PaperError, match="another plan"):
        job(plan, kind, replace(ISSUE, account=told_text(kind, plan_sha256="0" * 64)))


def test_a_statement_says_when_something_is_owed_and_when_nothing_is() -> None:
    plan = case_plan().to_json()

    def html(**changes: Any) -> str:
        return job(plan, STATEMENT, replace(ISSUE, account=told_text(STATEMENT, **changes))).html

    owed = html(held_cents=0, owed_cents=177600)
    assert "CAD\u00a01,776.00 is earned or charged and not paid yet" in owed
    assert "No bill goes out by itself" in owed
    even = html(held_cents=0, owed_cents=0)
    assert "The account is even" in even
    assert "Nothing has been paid or earned yet" in html(lines=[], held_cents=0)


# ---------------------------------------------------------------- from the rows of an account


@pytest.fixture
def owner(db: None) -> Iterator[Staff]:
    with time_machine.travel(NOW, tick=False):
        yield priced_office()


@pytest.fixture
def plan(owner: Staff) -> AcceptedPlan:
    return accepted(owner, "lead", "reshape-bond")


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> Callable[[Job], Rendered]:
    """The same paper rendered once, in this process."""
    monkeypatch.setitem(make_account_paper.__kwdefaults__, "make", render_once)
    return render_once


def pay(plan: AcceptedPlan, cents: int, owner: Staff, **more: Any) -> Payment:
    given = {"payer": "Grandmother", "route": Route.CARD, "actor": owner, "now": NOW} | more
    return account.receive(plan=plan, cents=cents, **given)


def gone_back(plan: AcceptedPlan, receipt: Payment, cents: int, owner: Staff, person: Any) -> Refund:
    asked = account.ask_refund(
        plan=plan, receipt=receipt, cents=cents, reason="One is left.", actor=person(Role.DESK_LEAD), now=NOW
    )
    allowed = account.allow_refund(refund=asked, seen=1, actor=person(Role.MANAGER), now=NOW)
    return account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW)


def job_of(plan: AcceptedPlan, told: dict[str, Any]) -> str:
    return job(bytes(plan.frozen.content), told["paper"], replace(ISSUE, account=told_json(told))).html


@pytest.mark.django_db
class TestTold:
    def test_a_statement_has_every_row_by_day_and_adds_up(
        self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        receipt = pay(plan, 100000, owner)
        pay(plan, 5000, owner, on=TODAY - timedelta(days=3), payer="A. B.", route=Route.CASH)
        added = [charge("implant-placing")]
        change = amending.amend(plan=plan, cause=Cause.FINDING, reason="x", added=added, actor=owner, now=NOW)
        amending.agree(amendment=change, by=plan.accepted_by, capacity="patient", actor=owner, now=NOW)
        under_way(plan, owner, when("lead"))
        item = item_of(plan, "build-up", "22")
        finish_item(item=item, seen=1, actor=owner, now=NOW)
        pass_bill(item=item_of(plan, "implant-placing"), cents=20000, actor=owner, now=NOW)
        late = {"code": "LATE", "words": "Cancelled late", "price_list_version": 7, "cents": 7500}
        charge_row = write_charge(plan=plan, actor=owner, now=NOW, **late)  # type: ignore[arg-type]
        write_charge(plan=plan, actor=owner, now=NOW, **late | {"cents": 2500})  # type: ignore[arg-type]
        waive_charge(charge=charge_row, reason="snow", actor=person(Role.MANAGER, username="mona"), now=NOW)
        refund = gone_back(plan, receipt, 10000, owner, person)
        letter = refund_told(refund)
        assert (letter["charged_cents"], letter["held_after_cents"]) == (2500, 30225)
        told = statement_told(plan, TODAY)
        taken = ("earned_cents", "bill_cents", "charged_cents")
        rows = [(one["what"], one["paid_cents"] - sum(one[key] for key in taken)) for one in told["lines"]]
        # 5,000 came three days before; the rest in the order in which it was written.
        assert rows == [
            ("receipt", 5000), ("receipt", 100000), ("refund", -10000), ("earned", -42275), ("bill", -20000),
            ("charge", -7500), ("charge", -2500), ("charge waived", 7500),
        ]  # fmt: skip
        assert told["lines"][-1]["balance_cents"] == told["held_cents"] == 30225
        html = job_of(plan, told)
        assert "Charged beside the work: Cancelled late" in html
        assert "Charged no more: Cancelled late" in html
        assert "Less charges beside the work" in html
        now = account.account_of(plan)
        assert (told["earned_cents"], told["bills_cents"]) == (now.earned_cents, now.bills_cents)
        assert told["came_in_cents"] - told["went_out_cents"] == now.paid_cents
        assert (told["held_cents"], told["agreed_cents"]) == (now.held_cents, now.agreed_cents)

    def test_it_can_be_told_again_whatever_was_written_since(
        self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        receipt = pay(plan, 100000, owner)
        statement, paper = statement_told(plan, TODAY), receipt_told(receipt)
        letter = refund_told(gone_back(plan, receipt, 10000, owner, person))
        pay(plan, 777, owner)
        under_way(plan, owner, when("lead"))
        finish_item(item=item_of(plan, "build-up", "22"), seen=1, actor=owner, now=NOW + timedelta(seconds=1))
        for told in (statement, paper, letter):
            assert lasting(told_again(told) or {}) == lasting(told), told["paper"]
        assert told_again(statement | {"plan": "nobody"}) is None
        assert (letter["held_before_cents"], letter["held_after_cents"]) == (100000, 90000)
        assert (paper["before_cents"], paper["so_far_cents"]) == (0, 100000)

    def test_what_has_no_paper(self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]) -> None:
        receipt, manager = pay(plan, 100000, owner), person(Role.MANAGER)
        waived = account.waive_deposit  # nothing is due any more
        with pytest.raises(Refused, match="No deposit"):
            waived(plan=plan, reason="known", actor=manager, now=NOW)
        asked = account.ask_refund(plan=plan, receipt=receipt, cents=5, reason="x", actor=owner, now=NOW)
        with pytest.raises(Refused, match="Nothing has gone back yet"):
            refund_told(asked)
        other = pay(plan, 500, owner)
        told = receipt_told(other)
        void = account.void_receipt(receipt=other, reason="slip", actor=manager, now=NOW)
        with pytest.raises(Refused, match="written by mistake"):
            receipt_told(other)
        with pytest.raises(Refused, match="Only what came in"):
            receipt_told(void)
        assert told_again(told) == told


@pytest.mark.django_db
class TestKept:
    def test_a_reprint_is_the_same_paper_and_a_later_statement_another(
        self, plan: AcceptedPlan, owner: Staff, quick: Any, person: Callable[..., Staff]
    ) -> None:
        receipt = pay(plan, 30000, owner)
        made: dict[str, Any] = {"frozen": plan.frozen, "estimate": estimate_of(plan), "actor": owner, "points": 11}
        first = make_account_paper(told=receipt_told(receipt), now=NOW, **made)
        again = make_account_paper(told=receipt_told(receipt), now=NOW + timedelta(days=9), **made)
        assert first == again
        assert told_by(first)["cents"] == 30000
        one = make_account_paper(told=statement_told(plan, TODAY), now=NOW, **made)
        pay(plan, 100, owner)
        two = make_account_paper(told=statement_told(plan, TODAY), now=NOW, **made)
        assert one != two
        assert papers_about(statement_told(plan, TODAY), plan.frozen) == [two, one]
        assert [read.faults for read in read_all() if read.faults] == []
        # What came in on a day is no price of the plan: no paper of it is said to differ from the estimate.
        assert plan.estimate is not None
        assert papers_disagree(plan.estimate) == ()
        with pytest.raises(NotAllowed):
            make_account_paper(told=receipt_told(receipt), now=NOW, **made | {"actor": person(Role.ASSISTANT)})

    def test_an_account_that_says_otherwise_later_is_found(self, plan: AcceptedPlan, owner: Staff, quick: Any) -> None:
        receipt = pay(plan, 30000, owner)
        made: dict[str, Any] = {"frozen": plan.frozen, "estimate": estimate_of(plan), "actor": owner, "points": 11}
        make_account_paper(told=receipt_told(receipt), now=NOW, **made)
        make_account_paper(told=statement_told(plan, TODAY), now=NOW, **made)
        with guards_lifted():
            Payment.objects.filter(pk=receipt.pk).update(cents=29999)
        found = [fault for read in read_all() for fault in read.faults if "account" in fault]
        assert len(found) == 2, found


# ---------------------------------------------------------------- the pages


def _way(plan: AcceptedPlan, rest: str) -> str:
    return f"/letters/account/{plan.public_id}/{rest}"


@pytest.mark.django_db
class TestPages:
    def test_from_the_account_to_the_stored_paper(
        self, plan: AcceptedPlan, owner: Staff, quick: Any, person: Callable[..., Staff]
    ) -> None:
        receipt = pay(plan, 30000, owner)
        refund = gone_back(plan, receipt, 10000, owner, person)
        client = client_of(owner)
        page = client.get(f"/plans/accepted/{plan.public_id}/").content.decode()
        ways = {
            RECEIPT: _way(plan, f"receipt/{receipt.public_id}/"),
            STATEMENT: _way(plan, "statement/"),
            REFUND: _way(plan, f"refund/{refund.public_id}/"),
        }
        for kind, way in ways.items():
            assert f'href="{way}"' in page, kind
            assert "Made before" not in client.get(way).content.decode()
            wrong = client.post(way, {"points": "12", "paper": "A4"})
            assert wrong.status_code == 200
            made = client.post(way, {"points": "24", "paper": "A4"}, follow=True)
            assert made.status_code == 200
            document = Document.objects.get(kind=kind)
            assert made.redirect_chain[-1][0] == f"/letters/{document.public_id}/"
            assert (document.points, document.estimate) == (24, plan.estimate)
            assert "Made before" in client.get(way).content.decode()
        papers = client.get(f"/letters/of/{plan.estimate.public_id}/").content.decode()  # type: ignore[union-attr]
        assert "Statement of account" in papers
        kinds = client.get(f"/letters/of/{plan.estimate.public_id}/").context["form"]  # type: ignore[union-attr]
        assert not ACCOUNT_PAPERS & {key for key, _words in kinds.fields["kinds"].choices}

    def test_a_receipt_taken_back_is_not_offered_and_says_why(
        self, plan: AcceptedPlan, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        receipt = pay(plan, 30000, owner)
        account.void_receipt(receipt=receipt, reason="slip", actor=person(Role.MANAGER), now=NOW)
        way = _way(plan, f"receipt/{receipt.public_id}/")
        assert way not in client_of(owner).get(f"/plans/accepted/{plan.public_id}/").content.decode()
        assert "written by mistake" in client_of(owner).get(way).content.decode()

    def test_who_may(self, plan: AcceptedPlan, owner: Staff, outsider: Staff, person: Callable[..., Staff]) -> None:
        receipt = pay(plan, 30000, owner)
        refund = gone_back(plan, receipt, 10000, owner, person)
        desk, assistant = person(Role.FRONT_DESK), person(Role.ASSISTANT)
        for rest, for_desk in (
            (f"receipt/{receipt.public_id}/", 200),
            ("statement/", 200),
            (f"refund/{refund.public_id}/", 403),
        ):
            way = _way(plan, rest)
            assert client_of(owner).get(way).status_code == 200
            assert client_of(desk).get(way).status_code == for_desk
            with refusals() as noted:
                assert client_of(assistant).get(way).status_code == 403
                assert client_of(outsider).get(way).status_code == 404
            assert len(noted) == 2
            assert client_of(None).get(way).status_code == 302
        assert client_of(owner).get(_way(plan, "receipt/nobody/")).status_code == 404
        assert client_of(owner).get(_way(plan, f"refund/{receipt.public_id}/")).status_code == 404

    def test_queries_do_not_grow_with_rows(self, plan: AcceptedPlan, owner: Staff) -> None:
        first = pay(plan, 100, owner)
        ways = [_way(plan, "statement/"), _way(plan, f"receipt/{first.public_id}/")]
        few = [queries_of(client_of(owner), way) for way in ways]
        for _ in range(4):
            pay(plan, 100, owner)
        assert [queries_of(client_of(owner), way) for way in ways] == few
        assert max(few) <= 45

    def test_what_a_payer_did_not_pay_is_written_to_the_patient(
        self, owner: Staff, outsider: Staff, person: Callable[..., Staff], quick: Any
    ) -> None:
        desk = desk_of(owner)
        who: dict[str, Any] = {"actor": owner, "now": NOW}
        case = import_case_file(facts=facts_of("lead"), **who).case
        with_payer(case.patient, desk)
        computed, book = estimates.compute_plan(case, NOW)
        drafted = estimates.draft_estimate(case=case, **who)
        estimate = estimates.check_estimate(
            estimate=drafted, seen=1, plan_json=computed.to_json(), book=book, actor=owner, now=NOW
        )
        guess = payer_guesses.latest_guess(estimate)
        assert guess is not None
        row, _short = payer_guesses.record_paid(
            guess=guess,
            option="reshape-bond",
            paid_cents=35160,
            signed_if_nothing=True,
            reason="one surface only",
            on=TODAY,
            actor=desk,
            now=NOW,
        )
        way = f"/letters/account/payer-paid/{row.public_id}/"
        payers_page = f"/plans/estimate/{estimate.public_id}/payers/"
        assert f'href="{way}"' in client_of(desk).get(payers_page).content.decode()
        assert client_of(desk).post(way, {"points": "11", "paper": "A4"}).status_code == 302
        document = Document.objects.get(kind=SHORTFALL)
        told = told_by(document)
        # 703.20 as told and half of it paid; 30 days from the answer.
        assert (told["guessed_cents"], told["paid_cents"], told["to_patient_cents"]) == (70320, 35160, 35160)
        assert told["due"] == (TODAY + timedelta(days=30)).isoformat()
        assert told_again(told) == told
        words = " ".join(texts(bytes(document.content)))
        assert "one surface only" in words
        assert "CAD 351.60 less than the guess" in words
        assert "You signed the whole price of CAD 1,618.25" in words
        with refusals() as noted:
            assert client_of(outsider).get(way).status_code == 404
            assert client_of(person(Role.DENTIST)).get(way).status_code == 403
        assert len(noted) == 2

    def test_nothing_is_written_where_the_office_bears_it(self) -> None:
        with pytest.raises(Refused, match="Nothing moves to the patient"):
            shortfall_told(PayerPaid(to_patient_cents=0))
