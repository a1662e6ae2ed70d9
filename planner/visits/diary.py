"""Who works when, who is absent, and time that something else takes."""

from collections.abc import Iterable
from datetime import date, datetime, time

from django.db import transaction

from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Office, Staff
from planner.rules.booking import ClockChange, Stretch, instant
from planner.rules.visit_states import VisitState
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record
from planner.visits.models import Absence, BlockedTime, Chair, Visit, WorkWeek
from planner.visits.reading import HELD, clinicians

LONGEST_ABSENCE = 732
"""Days; a longer absence is a person who has left."""


def set_work_week(
    *, clinician: Staff, weekdays: Iterable[int], effective: date, actor: Staff, now: datetime
) -> WorkWeek:
    """Say on which weekdays somebody works from a day on. Raises Refused for a day that is over, or none."""
    require_own(actor, clinician)
    require(actor, Act.CREATE, Thing.DIARY, subject=clinician)
    days = sorted(set(weekdays))
    if not days or not set(days) <= set(range(7)):
        raise Refused("Choose at least one weekday; for none at all, enter an absence.", field="weekdays")
    day = books.today(actor.office, now)
    if effective < day:
        raise Refused(f"{effective.isoformat()} is over: today is {day.isoformat()}.", field="effective")
    with transaction.atomic():
        made = WorkWeek.objects.create(
            office=clinician.office, clinician=clinician, effective=effective, weekdays=days, by=actor, at=now
        )
        content = {"clinician": clinician.full_name, "weekdays": days, "effective": effective.isoformat()}
        record(actor=actor, act="diary.week", subject=made, content=content, at=now)
    return made


def add_absence(
    *, clinician: Staff, first: date, last: date, actor: Staff, now: datetime
) -> tuple[Absence, tuple[Visit, ...]]:
    """Say on which whole days somebody is not there. It may be so in spite of visits: those are answered with it.

    Raises Refused for days in the wrong order, too many, or over.
    """
    require_own(actor, clinician)
    require(actor, Act.CREATE, Thing.DIARY, subject=clinician)
    day = books.today(actor.office, now)
    if last < first:
        raise Refused(f"The last day, {last.isoformat()}, is before the first, {first.isoformat()}.", field="last")
    if last < day:
        raise Refused(f"{last.isoformat()} is over: today is {day.isoformat()}.", field="last")
    if (last - first).days >= LONGEST_ABSENCE:
        raise Refused("An absence of more than two years is none: end the person's access instead.", field="last")
    with transaction.atomic():
        # Bookings with this person wait here, so that none slips in between.
        Staff.objects.select_for_update().get(pk=clinician.pk)
        made = Absence.objects.create(
            office=clinician.office, clinician=clinician, first=first, last=last, by=actor, at=now
        )
        content = {"clinician": clinician.full_name, "first": first.isoformat(), "last": last.isoformat()}
        record(actor=actor, act="diary.absence", subject=made, content=content, at=now)
    return made, visits_during(made)


def visits_during(absence: Absence) -> tuple[Visit, ...]:
    """Visits that are booked with somebody on days on which they are not there."""
    zone = absence.office.zone
    found = Visit.objects.filter(clinician_id=absence.clinician_id, state=VisitState.BOOKED.value)
    found = found.select_related("patient", "chair").order_by("starts", "id")
    return tuple(each for each in found if absence.first <= each.starts.astimezone(zone).date() <= absence.last)


def block_time(
    *,
    office: Office,
    day: date,
    opens: time,
    closes: time,
    words: str,
    clinician: Staff | None = None,
    chair: str = "",
    actor: Staff,
    now: datetime,
) -> BlockedTime:
    """Take time for something else than a visit: another appointment, a meeting, a repair. It names no patient.

    Raises Refused when neither clinician nor chair is said, when it is over, or when a visit is booked there.
    """
    require(actor, Act.CREATE, Thing.VISIT, subject=office)
    if clinician is None and not chair:
        raise Refused("Say whose time it takes, which chair, or both.", field="clinician")
    if clinician is not None:
        require_own(actor, clinician)
    if not words.strip():
        raise Refused("Say what it is, without a patient's name.", field="words")
    if closes <= opens:
        raise Refused(f"It ends at {_hour(closes)} and begins at {_hour(opens)}: the end comes later.", field="closes")
    try:
        when = Stretch(instant(day, opens, office.zone), instant(day, closes, office.zone))
    except ClockChange as fault:
        raise Refused(str(fault), field="opens") from None
    if when.ends <= now:
        raise Refused(f"{day.isoformat()} until {_hour(closes)} is over.", field="day")
    with transaction.atomic():
        row = _chair(office, chair, day) if chair else None
        if clinician is not None:
            Staff.objects.select_for_update().get(pk=clinician.pk)
        _refuse_booked(office, when, row, clinician)
        made = BlockedTime.objects.create(
            office=office,
            clinician=clinician,
            chair=row,
            starts=when.starts,
            ends=when.ends,
            zone=office.time_zone,
            words=words.strip(),
            by=actor,
            at=now,
        )
        content = {"starts": when.starts.isoformat(), "ends": when.ends.isoformat(), "words": made.words}
        record(actor=actor, act="diary.block", subject=made, content=content, at=now)
    return made


def take_back(*, row: Absence | BlockedTime, seen: int, actor: Staff, now: datetime) -> None:
    """An absence, or time that was taken, is not so after all; the row stays readable. Raises Refused, StaleEdit."""
    thing = Thing.DIARY if isinstance(row, Absence) else Thing.VISIT
    require_own(actor, row)
    require(actor, Act.EDIT, thing, subject=row)
    if row.taken_back_at is not None:
        raise Refused("It was taken back already.")
    with transaction.atomic():
        values = {"taken_back_by": actor, "taken_back_at": now}
        saved = save_seen(row, seen=seen, what="The entry", values=values)
        record(actor=actor, act="diary.take_back", subject=saved, at=now)


def _chair(office: Office, name: str, day: date) -> Chair:
    if name not in books.current_book(office, day).chairs:
        raise Refused(f'The office book has no chair called "{name}".', field="chair")
    Chair.objects.get_or_create(office=office, name=name)
    return Chair.objects.select_for_update().get(office=office, name=name)


def _refuse_booked(office: Office, when: Stretch, chair: Chair | None, clinician: Staff | None) -> None:
    visits = Visit.objects.filter(office=office, state__in=HELD, starts__lt=when.ends, ends__gt=when.starts)
    for visit in visits.select_related("chair", "clinician").order_by("starts", "id"):
        span = f"{_clock(visit.starts, office)} to {_clock(visit.ends, office)}"
        if chair is not None and visit.chair_id == chair.pk:
            raise Refused(f"A visit is booked in {chair} from {span}: move it first.", field="chair")
        if clinician is not None and visit.clinician_id == clinician.pk:
            raise Refused(f"{clinician} has a visit from {span}: move it first.", field="clinician")
    others = BlockedTime.objects.filter(office=office, taken_back_at=None, starts__lt=when.ends, ends__gt=when.starts)
    if chair is not None and (other := others.filter(chair=chair).first()) is not None:
        raise Refused(f"{chair} is taken from {_clock(other.starts, office)}: {other.words}.", field="chair")


def clinician_of(office: Office, public_id: str) -> Staff | None:
    """Who treats in this office, by public id."""
    return next((staff for staff in clinicians(office) if staff.public_id == public_id), None)


def _clock(moment: datetime, office: Office) -> str:
    return _hour(moment.astimezone(office.zone).time())


def _hour(at: time) -> str:
    return f"{at.hour}:{at.minute:02d}"
