"""Booking, moving and ending visits. Whoever books waits at the rows of chair, clinician and patient, in this order."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db import transaction

from planner.letters.consent_standing import stands_against
from planner.patients.files import kept_file
from planner.patients.models import Patient
from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.charges import write_charge
from planner.plans.items import book_item, free_item
from planner.plans.others_agree import refuse_disputed
from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Office, Staff
from planner.rules.booking import ClockChange, Conflict, NotAfter, NotBefore, Wanted, conflicts, instant
from planner.rules.item_states import ItemState
from planner.rules.moves import may_move
from planner.rules.visit_states import VISIT, VisitFacts, VisitState, late_cancelling, late_terms
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record
from planner.visits.models import LONGEST_VISIT, Chair, LateFee, Visit, VisitItem, VisitMove
from planner.visits.progress import follow_items
from planner.visits.reading import diary_of

_WHAT = "The visit"


@dataclass(frozen=True, slots=True)
class Booking:
    """When, where, with whom and what for."""

    clinician: Staff
    chair: str
    day: date
    hour: time
    minutes: int
    words: str
    kind: str = "work"
    key: str = ""
    """Which visit of the course it is; empty for one beside the course."""
    items: tuple[Item, ...] = ()
    waits: tuple[NotBefore, ...] = ()
    holds: tuple[NotAfter, ...] = ()
    unsettled: tuple[str, ...] = ()
    laboratory: str = ""
    laboratory_due: date | None = None
    laboratory_here: bool = False
    wish_by: date | None = None
    eight_in_ten: int | None = None
    despite: str = ""
    """Why it is booked although something speaks against it."""


@dataclass(frozen=True, slots=True)
class Booked:
    """A visit that is booked, and why the plan did not move on, if it did not."""

    visit: Visit
    plan_stays: str = ""
    consent_wanting: tuple[str, ...] = ()
    """Why no consent holds on the day of the visit: nothing keeps it from being booked, all of it from being begun."""


def book_visit(*, plan: AcceptedPlan, booking: Booking, actor: Staff, now: datetime) -> Booked:
    """Book a visit of an accepted plan; its items are booked with it.

    The plan moves on to booked when the deposit is paid or waived; else it stays accepted and the answer says why.
    Raises Refused with everything that stands against it: a conflict, an hour that clocks skip, or something that only
    a reason sets aside. StaleEdit, NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.VISIT, subject=plan)
    with transaction.atomic():
        visit = _place(plan, booking, None, actor, now)
        stays = follow_items(plan=plan, actor=actor, now=now)
        record(actor=actor, act="visit.book", subject=visit, content=_content(visit, booking), at=now)
    return Booked(visit, stays, stands_against(plan, now, on=booking.day))


def reschedule_visit(
    *, visit: Visit, seen: int, booking: Booking, reason: str, caused_by: str = "patient", actor: Staff, now: datetime
) -> Booked:
    """Book another visit in the place of ``visit``, which stays readable as it was.

    Raises Refused as :func:`book_visit` does, and without a reason or for a visit that is over; StaleEdit, NotAllowed.
    """
    require_own(actor, visit)
    require(actor, Act.EDIT, Thing.VISIT, subject=visit)
    with transaction.atomic():
        _lock(visit.office, booking, visit.patient)
        facts = VisitFacts(now=now, starts=visit.starts, reason=reason, next_visit=True)
        old = _move(visit, seen, VisitState.RESCHEDULED, facts, caused_by, actor, now)
        kept = {item.pk for item in booking.items}
        _free(old, (line.item for line in _lines(old) if line.item_id not in kept), actor, now)
        made = _place(visit.plan, booking, old, actor, now)
        stays = follow_items(plan=visit.plan, actor=actor, now=now)
        content = _content(made, booking) | {"instead_of": old.public_id}
        record(actor=actor, act="visit.reschedule", subject=made, content=content, reason=reason, at=now)
    return Booked(made, stays, stands_against(visit.plan, now, on=booking.day))


@dataclass(frozen=True, slots=True)
class LateOffer:
    """The office's fee for cancelling so late: offered, and asked for only by a person who decides so."""

    code: str
    words: str
    cents: int
    price_list_version: int


def late_offer(visit: Visit, now: datetime) -> LateOffer | None:
    """The fee the office may ask for when ``visit`` is cancelled now; None when it is early, short or unpriced."""
    day = books.today(visit.office, now)
    terms = late_terms(books.current_book(visit.office, day), day)
    if terms is None or not late_cancelling(
        visit.starts, visit.minutes, now, within_hours=terms.within_hours, from_minutes=terms.from_minutes
    ):
        return None
    return LateOffer(terms.service.code, terms.service.words, terms.service.price, terms.prices.version)


def cancel_visit(
    *,
    visit: Visit,
    seen: int,
    reason: str,
    caused_by: str = "patient",
    ask_fee: bool | None = None,
    fee_reason: str = "",
    actor: Staff,
    now: datetime,
) -> Visit:
    """Cancel a visit that has not begun; its items go back to "to do", and the plan with them where none is left.

    ``ask_fee`` answers the office's offer of a fee for late cancelling, where there is one; not asking needs a reason.
    Nothing is ever asked for what the office itself brought about. Raises Refused, StaleEdit, NotAllowed.
    """
    require_own(actor, visit)
    require(actor, Act.EDIT, Thing.VISIT, subject=visit)
    offer = late_offer(visit, now) if caused_by == "patient" else None
    if offer is not None and ask_fee is None:
        raise Refused("It is late by the office's rule: say whether the fee is asked for.", field="ask_fee")
    if offer is not None and ask_fee is False and not fee_reason.strip():
        raise Refused("Say why the fee is not asked for.", field="fee_reason")
    with transaction.atomic():
        facts = VisitFacts(now=now, starts=visit.starts, reason=reason)
        saved = _move(visit, seen, VisitState.CANCELLED, facts, caused_by, actor, now)
        if offer is not None:
            _write_fee(saved, offer, bool(ask_fee), fee_reason, actor, now)
        _let_go(saved, actor, now)
        record(actor=actor, act="visit.cancel", subject=saved, content={"by": caused_by}, reason=reason, at=now)
    return saved


def mark_no_show(*, visit: Visit, seen: int, reason: str = "", actor: Staff, now: datetime) -> Visit:
    """Nobody came; its items go back to "to do". Raises Refused before its hour, StaleEdit, NotAllowed."""
    require_own(actor, visit)
    require(actor, Act.EDIT, Thing.VISIT, subject=visit)
    with transaction.atomic():
        facts = VisitFacts(now=now, starts=visit.starts, reason=reason)
        saved = _move(visit, seen, VisitState.NO_SHOW, facts, "patient", actor, now)
        _let_go(saved, actor, now)
        record(actor=actor, act="visit.no_show", subject=saved, reason=reason, at=now)
    return saved


def mark_kept(*, visit: Visit, seen: int, actor: Staff, now: datetime) -> Visit:
    """The patient came. What was done is said item by item. Raises Refused before its hour, StaleEdit, NotAllowed."""
    require_own(actor, visit)
    require(actor, Act.EDIT, Thing.VISIT, subject=visit)
    with transaction.atomic():
        facts = VisitFacts(now=now, starts=visit.starts)
        saved = _move(visit, seen, VisitState.KEPT, facts, "", actor, now)
        record(actor=actor, act="visit.keep", subject=saved, at=now)
    return saved


def cancel_coming_visits(*, patient: Patient, reason: str, actor: Staff, now: datetime) -> int:
    """Cancel every coming visit of somebody whom nobody may contact any more. Returns how many there were."""
    require_own(actor, patient)
    with transaction.atomic():
        coming = Visit.objects.filter(patient=patient, state=VisitState.BOOKED.value, starts__gt=now)
        found = list(coming.select_related("office", "patient", "plan").order_by("starts", "id"))
        for visit in found:
            facts = VisitFacts(now=now, starts=visit.starts, reason=reason)
            saved = _move(visit, visit.version, VisitState.CANCELLED, facts, "stop", actor, now)
            _let_go(saved, actor, now)
            record(actor=actor, act="visit.cancel", subject=saved, content={"by": "stop"}, reason=reason, at=now)
    return len(found)


# ---------------------------------------------------------------------------------------------------------- parts


def _place(plan: AcceptedPlan, booking: Booking, follows: Visit | None, actor: Staff, now: datetime) -> Visit:
    """Write a visit once nothing stands against it. The caller's transaction holds the locks until it ends."""
    if not booking.words.strip():
        raise Refused("Say what the visit is for.", field="words")
    if not 1 <= booking.minutes <= LONGEST_VISIT:
        raise Refused(
            f"A visit of {booking.minutes} minutes cannot be: between 1 and {LONGEST_VISIT}.", field="minutes"
        )
    chair, clinician = _lock(plan.office, booking, plan.patient)
    starts = _instant(booking, plan.office)
    spoken = _hold_against(plan, booking, starts, now)
    visit = Visit.objects.create(
        office=plan.office,
        patient=plan.patient,
        plan=plan,
        clinician=clinician,
        chair=chair,
        starts=starts,
        ends=starts + timedelta(minutes=booking.minutes),
        zone=plan.office.time_zone,
        minutes=booking.minutes,
        kind=booking.kind,
        key=booking.key,
        words=booking.words.strip(),
        eight_in_ten=booking.eight_in_ten,
        despite=f"{' '.join(spoken)} {booking.despite.strip()}" if spoken else "",
        state=VisitState.BOOKED.value,
        sequence=1 + Visit.objects.filter(plan=plan).count(),
        follows=follows,
        by=actor,
        at=now,
    )
    VisitMove.objects.create(
        office=visit.office, visit=visit, sequence=1, before="", after=visit.state, by=actor, at=now
    )
    for item in booking.items:
        VisitItem.objects.create(office=visit.office, visit=visit, item=item)
        fresh = Item.objects.select_related("office").get(pk=item.pk)
        book_item(item=fresh, seen=fresh.version, visit_on=booking.day, actor=actor, now=now)
    return visit


def _lock(office: Office, booking: Booking, patient: Patient) -> tuple[Chair, Staff]:
    """Hold patient, chair and clinician until the transaction ends, always in this order: two bookings of one patient
    wait at the first of them and hold nothing that the other needs.

    SQLite needs no locks: its transactions are immediate, so that whoever writes is alone from BEGIN on.
    """
    book = books.current_book(office, booking.day)
    if booking.chair not in book.chairs:
        known = ", ".join(book.chairs) or "none yet"
        raise Refused(f'The office book has no chair called "{booking.chair}"; it has: {known}.', field="chair")
    Patient.objects.select_for_update().get(pk=kept_file(patient).pk)
    Chair.objects.get_or_create(office=office, name=booking.chair)
    chair = Chair.objects.select_for_update().get(office=office, name=booking.chair)
    clinician = Staff.objects.select_for_update().filter(pk=booking.clinician.pk, office=office).first()
    if clinician is None:
        raise Refused("Whoever treats belongs to this office.", field="clinician")
    return chair, clinician


def _instant(booking: Booking, office: Office) -> datetime:
    try:
        return instant(booking.day, booking.hour, office.zone)
    except ClockChange as fault:
        raise Refused(str(fault), field="hour") from None


def _hold_against(plan: AcceptedPlan, booking: Booking, starts: datetime, now: datetime) -> tuple[str, ...]:
    """What only a reason sets aside, once one is given. Raises Refused for what stops, and where none is given."""
    person = kept_file(plan.patient)
    if person.stop_all:
        raise Refused("All contact with this person was stopped: no visit is booked.")
    refuse_disputed(plan.case_id)
    book = books.current_book(plan.office, booking.day)
    diary = diary_of(plan.office, book, booking.day, booking.day)
    wanted = Wanted(
        clinician=booking.clinician.public_id,
        chair=booking.chair,
        patient=person.public_id,
        starts=starts,
        minutes=booking.minutes,
        waits=booking.waits,
        holds=booking.holds,
        unsettled=booking.unsettled,
        laboratory=booking.laboratory,
        laboratory_due=booking.laboratory_due,
        laboratory_here=booking.laboratory_here,
        wish_by=booking.wish_by,
        eight_in_ten=booking.eight_in_ten,
    )
    found = conflicts(wanted, diary, now)
    stops = [each for each in found if each.stops]
    if stops:
        raise _refusal(stops, stops[0].field)
    if found and not booking.despite.strip():
        raise _refusal([*found, Conflict("despite", "To book it all the same, say why.")], "despite")
    return tuple(each.words for each in found)


def _refusal(found: Iterable[Conflict], at: str) -> Refused:
    listed = list(found)
    return Refused(
        " ".join(each.words for each in listed), field=at, faults=[(each.field, each.words) for each in listed]
    )


def _move(
    visit: Visit, seen: int, to: VisitState, facts: VisitFacts, caused_by: str, actor: Staff, now: datetime
) -> Visit:
    current = Visit.objects.select_for_update().get(pk=visit.pk)
    if refused := may_move(VISIT, current.state, to, facts):
        field = "reason" if not facts.reason.strip() and "reason" in refused[0] else ""
        raise Refused(" ".join(refused), field=field)
    saved = save_seen(visit, seen=seen, what=_WHAT, values={"state": str(to)})
    VisitMove.objects.create(
        office_id=saved.office_id,
        visit=saved,
        sequence=1 + VisitMove.objects.filter(visit=saved).count(),
        before=current.state,
        after=str(to),
        reason=facts.reason.strip(),
        caused_by=caused_by,
        by=actor,
        at=now,
    )
    return saved


def _let_go(visit: Visit, actor: Staff, now: datetime) -> None:
    """The items of a visit that fell away go back to "to do", and their plan with them."""
    _free(visit, (line.item for line in _lines(visit)), actor, now)
    follow_items(plan=visit.plan, actor=actor, now=now)


def _free(visit: Visit, items: Iterable[Item], actor: Staff, now: datetime) -> None:
    for item in items:
        if item.state == ItemState.BOOKED:
            free_item(item=item, seen=item.version, reason=visit.state, actor=actor, now=now)


def _lines(visit: Visit) -> tuple[VisitItem, ...]:
    return tuple(visit.visit_items.select_related("item__office"))


def _write_fee(visit: Visit, offer: LateOffer, asked: bool, reason: str, actor: Staff, now: datetime) -> None:
    charge = None
    if asked:
        charge = write_charge(
            plan=visit.plan,
            code=offer.code,
            words=offer.words,
            price_list_version=offer.price_list_version,
            cents=offer.cents,
            reason=reason,
            actor=actor,
            now=now,
        )
    LateFee.objects.create(
        charge=charge,
        office_id=visit.office_id,
        visit=visit,
        code=offer.code,
        words=offer.words,
        price_list_version=offer.price_list_version,
        cents=offer.cents,
        asked=asked,
        reason=reason.strip(),
        by=actor,
        at=now,
    )


def _content(visit: Visit, booking: Booking) -> dict[str, Any]:
    return {
        "starts": visit.starts.isoformat(),
        "minutes": visit.minutes,
        "chair": booking.chair,
        "clinician": booking.clinician.full_name,
        "items": [item.public_id for item in booking.items],
        "despite": visit.despite,
    }
