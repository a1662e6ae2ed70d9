"""After the yes: what is frozen, what part may be had, how money is earned and goes back. People and prices invented.

Sums were worked out by hand from the invented fee list; how the parts of a fee are earned is common practice, no
source.
"""

import json
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction

from planner.patients.services import record_history
from planner.plans import account, amending, estimates
from planner.plans.accepted import (
    confirm_prices,
    finish_plan,
    follow_visits,
    hold_lapsed,
    record_balance_call,
    rest_plan,
    resume_plan,
    stop_plan,
    teeth_altered,
)
from planner.plans.accepted_models import AcceptedPlan, Cause, Item, Payment, PlanMove, Refund, Route, Waiting
from planner.plans.accepting import Promise, accept_option, accept_repair
from planner.plans.consent_stops import let_items_go_on, stop_items
from planner.plans.earning import earn_month, earn_stage
from planner.plans.estimate_terms import cancelling_json
from planner.plans.items import book_item, finish_item, free_item, price_of, wait_item
from planner.plans.models import Estimate, State
from planner.plans.parts import handed
from planner.plans.still_holds import blocks_of
from planner.practice import books
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.item_states import ItemState
from planner.rules.mouth import Allergy, CaseFacts
from planner.rules.partial import pieces_of
from planner.rules.plan_states import PlanState
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from planner.trail.services import verify_chain
from tests.pages import priced_office
from tests.plans.sample import accepted, item_of, plan_of, shown_estimate, under_way, when
from tests.rules.books import charge
from tests.support import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def pieces(estimate: Estimate, option: str, *teeth: str) -> list[str]:
    found = handed(estimate, option).option
    return [piece.key for piece in pieces_of(found) if piece.tooth is not None and piece.tooth.iso in teeth]


def take(estimate: Estimate, option: str, chosen: list[str], actor: Staff, **values: Any) -> AcceptedPlan:
    given = {"by": estimate.case.patient.name, "capacity": "patient", "now": NOW - timedelta(days=6)} | values
    return accept_option(estimate=estimate, seen=estimate.version, option=option, chosen=chosen, actor=actor, **given)


def pay(plan: AcceptedPlan, cents: int, actor: Staff, **values: Any) -> Payment:
    given = {"payer": "Grandmother", "route": Route.TRANSFER, "now": NOW} | values
    return account.receive(plan=plan, cents=cents, actor=actor, **given)


def finish(plan: AcceptedPlan, service: str, iso: str, actor: Staff, now: datetime = NOW) -> Item:
    item = item_of(plan, service, iso)
    return finish_item(item=item, seen=item.version, actor=actor, now=now)


class TestAccepting:
    def test_the_whole_option_is_frozen_line_by_line_and_tooth_by_tooth(self, owner: Staff) -> None:
        plan = accepted(owner, "lead", "reshape-bond")
        assert (plan.total_cents, plan.price_list_version, plan.state) == (161825, 7, "accepted")
        assert plan.price_held_through == plan.accepted_on + timedelta(days=183)
        rows = [(item.service, price_of(item).total_cents, item.earns) for item in plan.items.order_by("position")]
        assert rows == [
            ("reshape", 6000, "finished"),
            *[("build-up", 42275, "finished")] * 3,  # 445 − 22.25, a third of 66.75 each
            ("wax-up", 22000, "finished"),
            ("index", 7000, "finished"),
        ]
        assert sum(cents for _service, cents, _earns in rows) == plan.total_cents
        assert plan.estimate is not None
        plan.estimate.refresh_from_db()
        assert (plan.estimate.state, plan.estimate.answer) == (State.ANSWERED, "all of an option")
        assert PlanMove.objects.get(plan=plan).after == PlanState.ACCEPTED
        assert TrailEntry.objects.filter(act="plan.accept").count() == 1
        assert verify_chain().faults == ()

    def test_a_part_costs_what_it_costs_alone_and_says_what_stays_open(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        plan = take(estimate, "reshape-bond", pieces(estimate, "reshape-bond", "13", "22"), owner)
        assert plan.total_cents == 68500
        assert plan.part is not None
        assert plan.estimate is not None
        assert plan.estimate.answer == "part of an option"

    def test_new_amounts_need_a_dentist(self, owner: Staff, person: Any) -> None:
        estimate = shown_estimate(owner, "lead")
        chosen = pieces(estimate, "reshape-bond", "13", "22")
        with pytest.raises(Refused, match="a dentist has to agree"):
            take(estimate, "reshape-bond", chosen, person(Role.DESK_LEAD))
        assert not AcceptedPlan.objects.exists()

    def test_one_of_the_two_middle_teeth_is_refused_and_nothing_is_written(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        with pytest.raises(Refused, match="only as a pair"):
            take(estimate, "reshape-bond", pieces(estimate, "reshape-bond", "11", "22"), owner)
        estimate.refresh_from_db()
        assert estimate.state == State.SHOWN

    def test_nobody_else_says_yes_for_somebody_who_decides_alone(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        with pytest.raises(Refused, match="decides alone"):
            take(estimate, "reshaping", pieces(estimate, "reshaping", "13"), owner, capacity="decision-maker")

    def test_who_has_to_decide_for_a_minor_does(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "cormac")
        option = next(key for key in estimate.options if key != "none")
        chosen = [piece.key for piece in pieces_of(handed(estimate, option).option) if not piece.beside]
        with pytest.raises(Refused, match="decides for"):
            take(estimate, option, chosen, owner, now=when("cormac"))

    def test_two_options_on_one_tooth_are_refused_by_tooth(self, owner: Staff) -> None:
        accepted(owner, "lead", "reshape-bond")
        other = estimates
        first = Estimate.objects.get()
        again = other.draft_estimate(case=first.case, actor=owner, now=when("lead"))
        plan, book = other.compute_plan(first.case, when("lead"))
        again = other.check_estimate(
            estimate=again, seen=1, plan_json=plan.to_json(), book=book, actor=owner, now=when("lead")
        )
        again = other.show_estimate(
            estimate=again, seen=2, to="A", channel="paper by post", actor=owner, now=when("lead")
        )  # type: ignore[arg-type]
        given = handed(again, "direct-face").option
        chosen = [piece.key for piece in pieces_of(given) if not piece.beside]
        with pytest.raises(Refused, match="central incisor"):
            take(again, "direct-face", chosen, owner)
        old = AcceptedPlan.objects.get()
        made = take(again, "direct-face", chosen, owner, replaces=old)
        old.refresh_from_db()
        assert (old.state, made.follows, made.follows_as) == (PlanState.CHANGED, old, "replaces")
        assert set(old.items.values_list("state", flat=True)) == {"dropped"}
        assert old.balance_sheet.refund_cents == 0


class TestThePriceThatWasShown:
    """The list gets dearer on 2 April; the estimate of 24 February holds through 25 May, by the office's clock."""

    def test_at_twenty_to_midnight_on_the_last_day_it_is_still_the_old_price(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        assert estimate.valid_through == date(2026, 5, 25)
        late = datetime(2026, 5, 25, 23, 40, tzinfo=ZoneInfo("America/Toronto"))
        chosen = pieces(estimate, "reshape-bond", "13", "11", "21", "22")
        plan = take(estimate, "reshape-bond", chosen, owner, now=late.astimezone(UTC))
        assert (plan.total_cents, plan.price_list_version, plan.accepted_on) == (161825, 7, date(2026, 5, 25))

    def test_a_minute_after_midnight_a_new_issue_is_wanted(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        late = datetime(2026, 5, 26, 0, 1, tzinfo=ZoneInfo("America/Toronto"))
        with pytest.raises(Refused, match="make a new issue at today's prices first"):
            take(estimate, "reshape-bond", pieces(estimate, "reshape-bond", "22", "13"), owner, now=late)
        anew = estimates.reissue_estimate(estimate=estimate, reason="answered late", actor=owner, now=late)
        plan, _book = estimates.compute_plan(anew.case, late)
        assert plan.price_list_version == 8
        lines = {line.service: line for line in plan.option("reshape-bond").estimate.lines}
        assert lines["build-up"].gross_cents - 133500 == 5400  # 3 × (463 − 445)

    def test_a_later_list_never_changes_what_was_accepted(self, owner: Staff) -> None:
        plan = accepted(owner, "lead", "reshape-bond")
        later = NOW + timedelta(days=60)
        made = amending.amend(
            plan=plan,
            cause=Cause.FINDING,
            reason="another corner",
            added=[charge("build-up", 1, "23")],
            actor=owner,
            now=later,
        )
        # 4 × 445 less 5 % at the list of the day of acceptance, though build-ups cost 463 by now.
        assert made.after_cents == 178000 - 8900 + 22000 + 7000 + 6000
        assert sum(price_of(item).total_cents for item in plan.items.all()) == made.after_cents

    def test_a_later_book_changes_neither_a_checked_estimate_nor_its_terms(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, "lead")
        assert estimate.frozen is not None
        frozen, terms = bytes(estimate.frozen.content), cancelling_json(estimate)
        assert json.loads(terms) == {"cents": 9000, "hours": 48, "minutes": 120}
        version = books.latest_version(owner.office)
        other = {"late_cancel_hours": 72, "deposit_percent": Decimal(30)}
        stricter = books.read_book(version.data).model_copy(update=other)
        change: dict[str, Any] = {"reason": "a new year", "actor": owner, "seen": version.number}
        books.change_book(office=owner.office, book=stricter, effective=TODAY, now=NOW, **change)
        later = Estimate.objects.select_related("frozen", "book", "office").get(pk=estimate.pk)
        assert later.frozen is not None
        assert (bytes(later.frozen.content), cancelling_json(later)) == (frozen, terms)
        assert estimates.read_frozen(later.frozen).option("reshape-bond").estimate.total_cents == 161825
        assert estimates.compute_plan(later.case, NOW + timedelta(days=60))[0].price_list_version == 8

    def test_held_for_six_months_then_confirmed_anew(self, owner: Staff) -> None:
        plan = accepted(owner, "lead", "reshape-bond")
        last = plan.price_held_through
        assert not hold_lapsed(plan, last)
        assert hold_lapsed(plan, last + timedelta(days=1))
        later = datetime.combine(last + timedelta(days=1), NOW.timetz())
        confirm_prices(plan=plan, reason="waited for the wedding", actor=owner, now=later)
        assert not hold_lapsed(AcceptedPlan.objects.get(), last + timedelta(days=183))


class TestAmending:
    def _plan(self, owner: Staff, facts: CaseFacts) -> AcceptedPlan:
        charges = (
            charge("build-up", 3, "12", "22", "14"),
            charge("wax-up", 3, "12", "22", "14"),
            charge("index"),
            charge("reshape", 1, "11"),
        )
        plan = plan_of(owner, facts, *charges)
        assert plan.total_cents == 156325  # 1,335 + 235 + 60 − 66.75
        return plan

    def test_found_and_put_off_by_the_office_keeps_the_package_and_needs_a_signature(
        self, owner: Staff, lead_case: CaseFacts
    ) -> None:
        plan = self._plan(owner, lead_case)
        made = amending.amend(
            plan=plan,
            cause=Cause.OFFICE,
            reason="an old filling leaks; 14 is put off",
            dropped=[item_of(plan, "build-up", "14")],
            added=[charge("small-addition", 1, "21")],
            actor=owner,
            now=NOW,
        )
        assert made.after_cents == 140550  # 890 × 0.95 + 235 + 60 + 265
        assert made.difference_cents == -15775
        assert len(made.kept_packages) == 1
        assert any("new tooth" in words for words in made.new_signature)
        added = item_of(plan, "small-addition", "21")
        begun = under_way(plan, owner, NOW)
        with pytest.raises(Refused, match="not agreed to yet"):
            finish_item(item=added, seen=1, actor=owner, now=NOW)
        amending.agree(amendment=made, by=plan.patient.name, capacity="patient", actor=owner, now=NOW)
        assert finish_item(item=added, seen=1, actor=owner, now=NOW).state == ItemState.DONE
        assert begun.state == PlanState.UNDER_WAY

    def test_dropped_by_the_patient_unwinds_the_package(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = self._plan(owner, lead_case)
        dropped = [item_of(plan, "build-up", "14"), item_of(plan, "wax-up")]
        made = amending.amend(
            plan=plan,
            cause=Cause.PATIENT,
            reason="only two after all",
            dropped=dropped,
            added=[charge("wax-up", 2, "12", "22")],
            actor=owner,
            now=NOW,
        )
        assert made.after_cents == 113000  # 890 + 180 + 60
        assert price_of(item_of(plan, "build-up", "12")).total_cents == 44500
        # 72 % of the price, though two thirds of the teeth.
        assert round(100 * made.after_cents / made.before_cents) == 72

    def test_finished_work_is_not_dropped_and_a_spoken_yes_has_a_witness(
        self, owner: Staff, lead_case: CaseFacts
    ) -> None:
        plan = self._plan(owner, lead_case)
        under_way(plan, owner, NOW)
        finish(plan, "build-up", "12", owner)
        done = item_of(plan, "build-up", "12")
        who: dict[str, Any] = {"plan": plan, "cause": Cause.PATIENT, "reason": "no", "actor": owner, "now": NOW}
        with pytest.raises(Refused, match="item is done"):
            amending.amend(dropped=[done], **who)
        with pytest.raises(Refused, match="stop the plan"):
            amending.amend(dropped=list(plan.items.all()), **who)
        with pytest.raises(Refused, match="Nothing changes"):
            amending.amend(**who)
        made = amending.amend(added=[charge("small-addition", 1, "21")], more_removal=True, **who)
        told: dict[str, Any] = {"amendment": made, "by": plan.patient.name, "capacity": "patient", "actor": owner}
        with pytest.raises(Refused, match="witness"):
            amending.agree(how="spoken", now=NOW, **told)
        with pytest.raises(Refused, match="it is signed"):
            amending.agree(how="spoken", witness="Ana", now=NOW, **told)


class TestEarning:
    def test_four_faces_prepared_and_sent_then_stopped(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("ceramic-face", 4, "12", "11", "21", "22"), deposit=236800)
        assert plan.total_cents == 592000
        pay(plan, 236800, owner)
        for item in plan.items.all():
            for stage in ("records", "preparation", "laboratory work sent"):
                earn_stage(item=item, stage=stage, actor=owner, now=NOW)
        found = account.account_of(plan)
        assert (found.earned_cents, found.owed_cents, found.held_cents) == (414400, 177600, 0)
        sheet = stop_plan(
            plan=plan,
            seen=1,
            because=Cause.PATIENT,
            reason="does not want them any more",
            make_safe="temporary faces until it is decided",
            actor=owner,
            now=NOW,
        )
        assert (sheet.balance_due_cents, sheet.refund_cents) == (177600, 0)
        call = record_balance_call(sheet=sheet, spoke_with="A. B.", words="will think it over", actor=owner, now=NOW)
        assert call.on == TODAY
        with pytest.raises(Refused, match="can go back"):
            account.ask_refund(
                plan=plan, receipt=Payment.objects.get(), cents=1, reason="kindness", actor=owner, now=NOW
            )

    def test_a_stage_is_earned_once_and_only_where_there_are_stages(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("ceramic-face", 1, "11"), charge("reshape", 1, "13"))
        face = item_of(plan, "ceramic-face")
        earn_stage(item=face, stage="records", actor=owner, now=NOW)
        with pytest.raises(Refused, match="earned already"):
            earn_stage(item=face, stage="records", actor=owner, now=NOW)
        with pytest.raises(Refused, match="no stage here"):
            earn_stage(item=face, stage="polish", actor=owner, now=NOW)
        with pytest.raises(Refused, match="has no stages"):
            earn_stage(item=item_of(plan, "reshape"), stage="records", actor=owner, now=NOW)
        under_way(plan, owner, NOW)
        finish(plan, "ceramic-face", "11", owner)
        assert sum(row.cents for row in face.earned.all()) == price_of(face).total_cents

    def test_a_course_earns_by_the_month(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("aligners-both"))
        course = plan.items.get()
        Item.objects.filter(pk=course.pk).update(version=1)
        with pytest.raises(Refused, match="the next is 1"):
            earn_month(item=course, month=2, actor=owner, now=NOW)
        earn_month(item=course, month=1, actor=owner, now=NOW)
        assert account.account_of(plan).earned_cents == plan.total_cents  # planned for a single month


class TestConsentWithdrawnHalfWay:
    """Four teeth for 1,810, paid; one is finished, one gets one side only, then the patient withdraws the rest."""

    def test_nine_hundred_and_ninety_go_back_through_two_people(self, owner: Staff, person: Any) -> None:
        plan = accepted(owner, "wanjiru", "bonding")
        assert plan.total_cents == 181000
        receipt = pay(plan, 181000, owner)
        under_way(plan, owner, NOW - timedelta(days=7))
        finish(plan, "wax-up", "", owner)
        finish(plan, "index", "", owner)
        finish(plan, "small-addition", "11", owner)
        amending.amend(
            plan=plan,
            cause=Cause.FINDING,
            reason="the far side alone would leave a gap that traps food",
            dropped=[item_of(plan, "build-up", "21")],
            added=[charge("small-addition", 1, "21")],
            actor=owner,
            now=NOW,
        )
        agreed = plan.amendments.get()
        if agreed.new_signature:
            amending.agree(amendment=agreed, by=plan.patient.name, capacity="patient", actor=owner, now=NOW)
        finish(plan, "small-addition", "21", owner)
        plan.refresh_from_db()
        sheet = stop_plan(
            plan=plan, seen=plan.version, because=Cause.PATIENT, reason="consent withdrawn", actor=owner, now=NOW
        )
        assert (sheet.paid_cents, sheet.earned_cents) == (181000, 82000)
        assert (sheet.refund_cents, sheet.balance_due_cents) == (99000, 0)
        lead, manager = person(Role.DESK_LEAD), person(Role.MANAGER)
        asked = account.ask_refund(
            plan=plan, receipt=receipt, cents=99000, reason="consent withdrawn", actor=lead, now=NOW
        )
        with pytest.raises(Refused, match="asked back already"):
            account.ask_refund(plan=plan, receipt=receipt, cents=1, reason="again", actor=lead, now=NOW)
        with pytest.raises(NotAllowed):
            account.allow_refund(refund=asked, seen=1, actor=lead, now=NOW)
        allowed = account.allow_refund(refund=asked, seen=1, actor=manager, now=NOW)
        with pytest.raises(NotAllowed):
            account.pay_refund(refund=allowed, seen=2, actor=manager, now=NOW)
        paid = account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW)
        assert paid.payment is not None
        assert (paid.payment.payer, paid.payment.route) == ("Grandmother", Route.TRANSFER)
        assert account.account_of(plan).held_cents == 0
        # Somebody else had the same refund open.
        with pytest.raises(Refused, match="is paid"):
            account.pay_refund(refund=allowed, seen=2, actor=owner, now=NOW)
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            Refund.objects.filter(pk=paid.pk).update(cents=1)


class TestPaying:
    def test_what_cannot_be_a_receipt(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("reshape", 1, "13"))
        for values, words in (
            ({"cents": 0}, "no receipt"),
            ({"payer": " "}, "who paid"),
            ({"on": TODAY + timedelta(days=1)}, "in the future"),
            ({"reference": "4111 1111 1111 1111"}, "card number"),
        ):
            with pytest.raises(Refused, match=words):
                pay(plan, values.pop("cents", 100), owner, **values)  # type: ignore[arg-type]
        assert not Payment.objects.exists()

    def test_a_deposit_is_due_until_it_is_paid_or_waived_by_name(
        self, owner: Staff, person: Any, lead_case: CaseFacts
    ) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"), deposit=21000)
        assert account.account_of(plan).deposit_due_cents == 21000
        pay(plan, 5000, owner)
        assert account.account_of(plan).deposit_due_cents == 16000
        with pytest.raises(NotAllowed):
            account.waive_deposit(plan=plan, reason="known here", actor=person(Role.FRONT_DESK), now=NOW)
        account.waive_deposit(plan=plan, reason="known here", actor=person(Role.MANAGER), now=NOW)
        assert account.account_of(plan).deposit_due_cents == 0
        assert account.account_of(plan).paid_cents == 5000

    def test_a_receipt_written_by_mistake_is_taken_back_once(
        self, owner: Staff, person: Any, lead_case: CaseFacts
    ) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"))
        receipt, manager = pay(plan, 44500, owner), person(Role.MANAGER)
        account.void_receipt(receipt=receipt, reason="other patient", actor=manager, now=NOW)
        assert account.account_of(plan).paid_cents == 0
        with pytest.raises(Refused, match="it was taken back by"):
            account.void_receipt(receipt=receipt, reason="again", actor=manager, now=NOW)


class TestMoving:
    def test_rest_and_go_on_only_when_it_still_holds(self, owner: Staff) -> None:
        plan = accepted(owner, "lead", "reshape-bond")
        now = when("lead")
        day = now.date()
        with pytest.raises(Refused, match="at most 90 days"):
            rest_plan(plan=plan, seen=1, reason="travels", look_again_on=day + timedelta(91), actor=owner, now=now)
        rested = rest_plan(plan=plan, seen=1, reason="travels", look_again_on=day + timedelta(90), actor=owner, now=now)
        assert rested.state == PlanState.RESTING
        with pytest.raises(StaleEdit):
            resume_plan(plan=rested, seen=1, actor=owner, now=now)
        assert resume_plan(plan=rested, seen=2, actor=owner, now=now).state == PlanState.ACCEPTED

    def test_an_allergy_told_later_speaks_against_every_open_plan(self, owner: Staff) -> None:
        plan = accepted(owner, "lead", "reshape-bond")
        now = when("lead")
        rested = rest_plan(
            plan=plan, seen=1, reason="rash", look_again_on=now.date() + timedelta(9), actor=owner, now=now
        )
        facts = handed(plan.estimate, "reshape-bond").facts.history  # type: ignore[arg-type]
        told = facts.model_copy(update={"methacrylate": Allergy.POSITIVE, "signed_on": now.date()})
        record_history(patient=plan.patient, facts=told, actor=owner, now=now)
        with pytest.raises(Refused, match=r"(?i)methacrylate|resin"):
            resume_plan(plan=rested, seen=2, actor=owner, now=now)

    def test_booked_needs_a_visit_and_the_deposit(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"), deposit=21000)
        item = item_of(plan, "build-up")
        book_item(item=item, seen=1, visit_on=TODAY + timedelta(3), actor=owner, now=NOW)
        with pytest.raises(Refused, match="neither paid nor waived"):
            follow_visits(plan=plan, seen=1, actor=owner, now=NOW)
        pay(plan, 21000, owner)
        assert follow_visits(plan=plan, seen=1, actor=owner, now=NOW).state == PlanState.BOOKED

    def test_an_item_waits_until_its_day(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"))
        item = wait_item(
            item=item_of(plan, "build-up"),
            seen=1,
            waiting_for=Waiting.WHITENING,
            earliest=TODAY + timedelta(13),
            actor=owner,
            now=NOW,
        )
        with pytest.raises(Refused, match="cannot be done before"):
            book_item(item=item, seen=2, visit_on=TODAY + timedelta(12), actor=owner, now=NOW)
        booked = book_item(item=item, seen=2, visit_on=TODAY + timedelta(13), actor=owner, now=NOW)
        # The dam comes off before it is begun: back to "to do", and nothing of it is earned.
        freed = free_item(item=booked, seen=3, reason="dam off before it was begun", actor=owner, now=NOW)
        assert (freed.state, account.account_of(plan).earned_cents) == (ItemState.TO_DO, 0)

    def test_a_tooth_that_is_gone_is_neither_booked_nor_done(self, owner: Staff, lead_case: CaseFacts) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"))
        item = item_of(plan, "build-up")
        blocks = blocks_of(item, {item.teeth[0]: TODAY})
        with pytest.raises(Refused, match="gone since 2026-03-02"):
            book_item(item=item, seen=1, visit_on=TODAY, blocks=blocks, actor=owner, now=NOW)

    def test_what_consent_was_withdrawn_for_stands_still_until_there_is_a_new_one(
        self, owner: Staff, lead_case: CaseFacts
    ) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"))
        item = item_of(plan, "build-up")
        assert stop_items(items=[item], words="Not that one.", actor=owner, now=NOW) == (item,)
        assert stop_items(items=[item], words="Not that one.", actor=owner, now=NOW) == ()
        with pytest.raises(Refused, match="withdrawn"):
            book_item(item=item, seen=1, visit_on=TODAY, actor=owner, now=NOW)
        assert let_items_go_on(plan=plan, words="signed anew", actor=owner, now=NOW) == (item,)
        assert book_item(item=item, seen=1, visit_on=TODAY, actor=owner, now=NOW).state == ItemState.BOOKED

    def test_stopping_with_altered_teeth_says_how_they_are_made_safe(self, owner: Staff) -> None:
        plan = accepted(owner, "lead", "reshape-bond")
        under_way(plan, owner, when("lead"))
        assert not teeth_altered(plan)
        finish(plan, "reshape", "13", owner)
        assert teeth_altered(plan)
        plan.refresh_from_db()
        stop: dict[str, Any] = {"plan": plan, "seen": plan.version, "because": Cause.PATIENT, "reason": "moves away"}
        with pytest.raises(Refused, match="made safe"):
            stop_plan(actor=owner, now=NOW, **stop)
        sheet = stop_plan(make_safe="polished, fluoride", actor=owner, now=NOW, **stop)
        assert sheet.balance_due_cents == 6000
        assert set(plan.items.values_list("state", flat=True)) == {"done", "dropped"}

    def test_finished_is_never_opened_again_a_repair_is_a_plan_of_its_own(
        self, owner: Staff, lead_case: CaseFacts
    ) -> None:
        plan = plan_of(owner, lead_case, charge("build-up", 1, "22"))
        repair: dict[str, Any] = {
            "charges": [charge("small-repair", 1, "22")],
            "by": plan.patient.name,
            "capacity": "patient",
            "reason": "a corner chipped in the fifth month",
            "promise": Promise(minutes=30, material_cents=1200),
            "actor": owner,
        }
        with pytest.raises(Refused, match="only finished work"):
            accept_repair(plan=plan, now=NOW, **repair)
        begun = under_way(plan, owner, NOW)
        with pytest.raises(Refused, match="Not everything is done"):
            finish_plan(plan=begun, seen=begun.version, review_done=True, actor=owner, now=NOW)
        finish(plan, "build-up", "22", owner)
        done = finish_plan(plan=begun, seen=begun.version, review_done=True, actor=owner, now=NOW)
        assert done.state == PlanState.FINISHED
        made = accept_repair(plan=done, now=NOW, **repair)
        assert (made.follows, made.total_cents) == (done, 0)
        # 30 min × 325 an hour + 12 of material, kept as what it costs the office.
        assert made.items.get().charge["promise_cost_cents"] == 17450
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            AcceptedPlan.objects.filter(pk=done.pk).update(state="accepted")
