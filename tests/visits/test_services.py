"""Booking, moving and ending visits, and what follows for items and plans."""

from collections.abc import Callable
from datetime import date, time, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from planner.patients.services import set_stop_all
from planner.plans.accepted_models import AcceptedPlan, Item, Payment, PlanMove
from planner.plans.account import charged_cents
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.booking import NotBefore
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.visit_states import VisitState
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from planner.visits import diary, services
from planner.visits.models import LateFee, Visit
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan, at

pytestmark = pytest.mark.django_db
Make = Callable[..., services.Booking]
THURSDAY = TODAY + timedelta(days=3)


def book(plan: AcceptedPlan, booking: services.Booking, actor: Staff) -> services.Booked:
    return services.book_visit(plan=plan, booking=booking, actor=actor, now=NOW)


def items(plan: AcceptedPlan) -> tuple[Item, ...]:
    return tuple(plan.items.order_by("position"))


def states(plan: AcceptedPlan) -> list[str]:
    return [item.state for item in items(plan)]


class TestBooking:
    def test_a_visit_with_its_items(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        chosen = items(plan)[:4]
        booked = book(plan, booking(items=chosen, eight_in_ten=207), owner)
        visit = booked.visit
        assert booked.plan_stays == ""
        assert (visit.starts, visit.ends) == (at(THURSDAY, 8, 30), at(THURSDAY, 12))
        assert (visit.zone, visit.state, visit.sequence) == ("America/Toronto", "booked", 1)
        assert [(move.before, move.after) for move in visit.moves.all()] == [("", "booked")]
        assert states(plan) == ["booked"] * 4 + ["to do"]
        assert {item.booked_for for item in items(plan)[:4]} == {THURSDAY}
        assert AcceptedPlan.objects.get(pk=plan.pk).state == PlanState.BOOKED
        assert [(move.before, move.after) for move in PlanMove.objects.filter(plan=plan)] == [("accepted", "booked")]
        entry = TrailEntry.objects.filter(act="visit.book").get()
        assert entry.actor_name == owner.full_name

    def test_without_the_deposit_the_plan_stays_accepted(self, owner: Staff, booking: Make) -> None:
        plan = accepted_plan(owner, deposit=30000)
        booked = book(plan, booking(items=items(plan)[:1]), owner)
        assert booked.plan_stays == "The deposit is neither paid nor waived."
        assert AcceptedPlan.objects.get(pk=plan.pk).state == PlanState.ACCEPTED
        assert states(plan)[0] == ItemState.BOOKED

    @pytest.mark.parametrize("row", [{"kind": "waiver", "reason": "known"}, {"kind": "receipt", "route": "cash"}])
    def test_a_deposit_paid_or_waived_lets_it_move_on(self, owner: Staff, booking: Make, row: dict[str, Any]) -> None:
        plan = accepted_plan(owner, deposit=30000)
        Payment.objects.create(
            office=plan.office, plan=plan, cents=30000, payer="A. B.", on=TODAY, by=owner, at=NOW, **row
        )
        assert book(plan, booking(items=items(plan)[:1]), owner).plan_stays == ""
        assert AcceptedPlan.objects.get(pk=plan.pk).state == PlanState.BOOKED

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"chair": "Chair 9"}, "chair", "no chair called"),
            ({"day": TODAY + timedelta(days=4)}, "day", "not open on Fridays"),
            ({"hour": time(11)}, "hour", "does not lie within opening hours"),
            ({"minutes": 0}, "minutes", "cannot be"),
            ({"minutes": 481}, "minutes", "cannot be"),
            ({"words": " "}, "words", "what the visit is for"),
            (
                {"waits": (NotBefore(date(2026, 4, 1), "whitening gap"),)},
                "day",
                "Not before 2026-04-01: whitening gap.",
            ),
            ({"laboratory": "wax-up", "laboratory_due": date(2026, 4, 1)}, "day", "due on 2026-04-01"),
            ({"day": date(2027, 3, 14), "hour": time(2, 30)}, "hour", "does not come that day"),
            ({"eight_in_ten": 240}, "despite", "210 minutes is short"),
            ({"wish_by": TODAY}, "despite", "the day wished for"),
        ],
    )
    def test_what_is_refused(
        self, plan: AcceptedPlan, owner: Staff, booking: Make, changes: dict[str, Any], field: str, words: str
    ) -> None:
        with pytest.raises(Refused) as refused:
            book(plan, booking(**changes), owner)
        assert words in refused.value.sentence
        assert refused.value.field == field
        assert not Visit.objects.exists()

    def test_what_a_reason_sets_aside_is_kept_with_it(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        visit = book(plan, booking(eight_in_ten=240, despite="Two dentists work together."), owner).visit
        assert visit.despite == (
            "210 minutes is short: 8 of 10 such visits are over within 240 minutes. Two dentists work together."
        )

    def test_nobody_and_no_chair_twice(self, plan: AcceptedPlan, owner: Staff, booking: Make, person: Any) -> None:
        book(plan, booking(), owner)
        other, second = accepted_plan(owner, name="Ben Other"), person(Role.DENTIST, username="ben")
        for changes, words in (
            ({"chair": "Chair 2"}, "Olive Owner is taken from 8:30 to 12:00"),
            ({"clinician": second}, "Chair 1 is taken from 8:30 to 12:00"),
        ):
            with pytest.raises(Refused, match=words):
                book(other, booking(hour=time(9), minutes=30, **changes), owner)
        with pytest.raises(Refused, match="The patient has another visit"):
            book(plan, booking(hour=time(9), minutes=30, clinician=second, chair="Chair 2"), owner)
        assert book(other, booking(hour=time(12), minutes=30), owner).visit.sequence == 1

    def test_the_database_itself_refuses_a_chair_twice(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        visit = book(plan, booking(), owner).visit
        twice = Visit.objects.get(pk=visit.pk)
        twice.pk, twice.public_id, twice.sequence = None, "another", 2
        with pytest.raises(IntegrityError), transaction.atomic():
            twice.save(force_insert=True)

    def test_blocked_time_and_absences_count(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        who: dict[str, Any] = {"actor": owner, "now": NOW}
        block = diary.block_time(
            office=owner.office, day=THURSDAY, opens=time(9), closes=time(10), words="Meeting", clinician=owner, **who
        )
        with pytest.raises(Refused, match="taken from 9:00 to 10:00: Meeting"):
            book(plan, booking(), owner)
        diary.take_back(row=block, seen=1, **who)
        absence, _visits = diary.add_absence(clinician=owner, first=THURSDAY, last=THURSDAY, **who)
        with pytest.raises(Refused, match="is absent from 2026-03-05 through 2026-03-05"):
            book(plan, booking(), owner)
        diary.take_back(row=absence, seen=1, **who)
        diary.set_work_week(clinician=owner, weekdays=[0, 1], effective=TODAY, **who)
        with pytest.raises(Refused, match="does not work on Thursdays"):
            book(plan, booking(), owner)

    def test_who_may(
        self, plan: AcceptedPlan, colleague: Staff, outsider: Staff, booking: Make, person: Callable[..., Staff]
    ) -> None:
        assert book(plan, booking(items=items(plan)[:1]), colleague).visit.by == colleague
        for actor in (person(Role.ASSISTANT), outsider):
            with pytest.raises(NotAllowed):
                book(plan, booking(hour=time(13, 30), minutes=30), actor)


class TestMoving:
    def test_the_old_visit_stays_readable(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        chosen = items(plan)
        old = book(plan, booking(items=chosen[:2]), owner).visit
        later = booking(hour=time(9), items=chosen[1:3])
        made = services.reschedule_visit(
            visit=old, seen=1, booking=later, reason="asked by phone", actor=owner, now=NOW
        ).visit
        old.refresh_from_db()
        assert (old.state, old.starts) == (VisitState.RESCHEDULED, at(THURSDAY, 8, 30))
        assert old.moves.last().reason == "asked by phone"
        assert (made.follows, made.sequence, made.starts) == (old, 2, at(THURSDAY, 9))
        assert states(plan) == ["to do", "booked", "booked", "to do", "to do"]

    def test_a_refused_move_leaves_everything(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        old = book(plan, booking(items=items(plan)[:2]), owner).visit
        moved: dict[str, Any] = {"visit": old, "actor": owner, "now": NOW}
        friday = booking(day=TODAY + timedelta(days=4))
        with pytest.raises(Refused, match="not open on Fridays"):
            services.reschedule_visit(seen=1, booking=friday, reason="r", **moved)
        with pytest.raises(Refused, match="Give the reason"):
            services.reschedule_visit(seen=1, booking=booking(hour=time(9)), reason=" ", **moved)
        with pytest.raises(StaleEdit):
            services.reschedule_visit(seen=9, booking=booking(hour=time(9)), reason="r", **moved)
        old.refresh_from_db()
        assert old.state == VisitState.BOOKED
        assert states(plan)[:2] == ["booked", "booked"]
        assert Visit.objects.count() == 1


class TestEnding:
    def test_cancelled_in_time(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        visit = book(plan, booking(items=items(plan)[:2]), owner).visit
        saved = services.cancel_visit(visit=visit, seen=1, reason="ill", actor=owner, now=NOW)
        assert saved.state == VisitState.CANCELLED
        assert states(plan)[:2] == ["to do", "to do"]
        assert AcceptedPlan.objects.get(pk=plan.pk).state == PlanState.ACCEPTED
        assert not LateFee.objects.exists()

    def test_a_late_fee_is_offered_and_never_taken_by_itself(
        self, plan: AcceptedPlan, owner: Staff, booking: Make
    ) -> None:
        visit = book(plan, booking(), owner).visit
        who: dict[str, Any] = {"visit": visit, "seen": 1, "actor": owner, "now": visit.starts - timedelta(hours=47)}
        offer = services.late_offer(visit, who["now"])
        assert offer is not None
        assert (offer.code, offer.cents) == ("LTE", 9000)
        assert services.late_offer(visit, visit.starts - timedelta(hours=48)) is None
        with pytest.raises(Refused, match="say whether the fee"):
            services.cancel_visit(reason="ill", **who)
        with pytest.raises(Refused, match="Say why the fee is not asked for"):
            services.cancel_visit(reason="ill", ask_fee=False, **who)
        services.cancel_visit(reason="ill", ask_fee=False, fee_reason="first time", **who)
        fee = LateFee.objects.get()
        assert (fee.asked, fee.reason, fee.cents, fee.price_list_version) == (False, "first time", 9000, 7)
        assert fee.charge is None
        assert not plan.charges.exists()

    def test_a_fee_that_is_asked_for_is_owed_on_the_account_of_the_plan(
        self, plan: AcceptedPlan, owner: Staff, booking: Make
    ) -> None:
        visit = book(plan, booking(), owner).visit
        late = visit.starts - timedelta(hours=47)
        services.cancel_visit(visit=visit, seen=1, reason="ill", ask_fee=True, actor=owner, now=late)
        fee = LateFee.objects.get()
        assert fee.charge is not None
        assert (fee.charge.plan, fee.charge.code, fee.charge.cents) == (plan, "LTE", 9000)
        assert charged_cents(plan.charges.all()) == 9000

    def test_the_office_asks_nothing_for_what_it_brought_about(
        self, plan: AcceptedPlan, owner: Staff, booking: Make
    ) -> None:
        visit = book(plan, booking(), owner).visit
        late = visit.starts - timedelta(hours=1)
        services.cancel_visit(visit=visit, seen=1, reason="flood", caused_by="office", actor=owner, now=late)
        assert not LateFee.objects.exists()

    def test_a_short_visit_is_never_cancelled_late(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        visit = book(plan, booking(minutes=115), owner).visit
        assert services.late_offer(visit, visit.starts - timedelta(hours=1)) is None

    def test_kept_and_no_show_only_once_its_hour_has_come(
        self, plan: AcceptedPlan, owner: Staff, booking: Make
    ) -> None:
        visit = book(plan, booking(items=items(plan)[:1]), owner).visit
        for act in (services.mark_kept, services.mark_no_show):
            with pytest.raises(Refused, match="has not begun yet"):
                act(visit=visit, seen=1, actor=owner, now=NOW)
        services.mark_no_show(visit=visit, seen=1, actor=owner, now=visit.starts)
        assert states(plan)[0] == ItemState.TO_DO
        with pytest.raises(Refused, match="is no-show"):
            services.mark_kept(visit=Visit.objects.get(), seen=2, actor=owner, now=visit.starts)

    def test_a_kept_visit_holds_its_items(self, plan: AcceptedPlan, owner: Staff, booking: Make) -> None:
        visit = book(plan, booking(items=items(plan)[:1]), owner).visit
        assert services.mark_kept(visit=visit, seen=1, actor=owner, now=visit.starts).state == VisitState.KEPT
        assert states(plan)[0] == ItemState.BOOKED

    def test_stopping_all_contact_cancels_what_is_to_come(
        self, plan: AcceptedPlan, owner: Staff, booking: Make
    ) -> None:
        visit = book(plan, booking(items=items(plan)[:1]), owner).visit
        other = book(accepted_plan(owner, name="Ben Other"), booking(hour=time(13, 30), minutes=60), owner).visit
        patient = plan.patient
        stopped = set_stop_all(
            patient=patient, seen=patient.version, stop=True, reason="The patient has died.", actor=owner, now=NOW
        )
        visit.refresh_from_db()
        other.refresh_from_db()
        assert (visit.state, visit.moves.last().caused_by) == (VisitState.CANCELLED, "stop")
        assert other.state == VisitState.BOOKED
        assert states(plan)[0] == ItemState.TO_DO
        plan.patient = stopped
        with pytest.raises(Refused, match="All contact with this person was stopped"):
            book(plan, booking(), owner)
