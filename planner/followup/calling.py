"""Whom to call about an estimate, when, and writing down the call. The program calls nobody by itself."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Min, QuerySet
from django.utils.translation import gettext as _

from planner.followup.models import AgreedCall, MadeCall, Outcome
from planner.patients.files import kept_files
from planner.patients.models import Patient
from planner.plans.estimates import is_expired
from planner.plans.models import Estimate, Showing, State
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import current_book, today
from planner.practice.models import Office, Staff
from planner.rules.calendar_days import OpenDays
from planner.rules.calls import Contact, NextCall, latest_in_time, next_call
from planner.trail.errors import Refused
from planner.trail.services import record

_LONGEST_AHEAD = 366
_Row = TypeVar("_Row", MadeCall, AgreedCall)


@dataclass(frozen=True, slots=True)
class Calling:
    """An estimate as whoever calls wants to know it."""

    estimate: Estimate
    person: Patient
    """Who is called, as the file says in which the person goes on."""
    shown_on: date
    """First, over all issues."""
    made: tuple[MadeCall, ...]
    next: NextCall | None
    who: str
    """Who is to make it: of those who still work here the first who showed the estimate; for a day that the patient
    named, who wrote that down. Empty where nobody of them is left. Common practice, no source."""
    why_not: str
    """Why nobody is called, in one sentence; empty where a call may be made."""


def callings(estimates: QuerySet[Estimate], office: Office, day: date) -> tuple[Calling, ...]:
    """How far the calls about each of ``estimates`` are. Six queries, however many there are."""
    found = list(estimates.filter(office=office).select_related("case__patient").order_by("pk"))
    numbers = {one.number for one in found}
    about = {"estimate__office": office, "estimate__number__in": numbers}
    made = _by_number(MadeCall.objects.filter(**about).select_related("estimate", "by").order_by("pk"))
    agreed = _by_number(AgreedCall.objects.filter(**about).select_related("estimate", "by").order_by("pk"))
    shown = dict(
        Estimate.objects.filter(office=office, number__in=numbers, shown_on__isnull=False)
        .values_list("number")
        .annotate(first=Min("shown_on"))
    )
    showings = Showing.objects.filter(**about, shown_by__is_active=True).order_by("-pk")
    showed = dict(showings.values_list("estimate__number", "shown_by__full_name"))
    days = OpenDays.of(current_book(office, day))
    kept = kept_files({one.case.patient_id for one in found})
    return tuple(
        _calling(
            one,
            kept.get(one.case.patient_id, one.case.patient),
            shown[one.number],
            made.get(one.number, []),
            agreed.get(one.number, []),
            showed.get(one.number, ""),
            day,
            days,
        )
        for one in found
        if one.number in shown
    )


def calling_of(estimate: Estimate, day: date) -> Calling:
    """How far the calls about one estimate are. Raises Refused when it was never shown."""
    found = callings(Estimate.objects.filter(pk=estimate.pk), estimate.office, day)
    if not found:
        raise Refused(_("It has not been shown to anybody yet; calls come after that."))
    return found[0]


def agreed_day(*, estimate: Estimate, now: datetime, **_kwargs: Any) -> dict[str, str]:
    """The day on which the patient said they may be called, for papers that say what comes next."""
    found = callings(Estimate.objects.filter(pk=estimate.pk), estimate.office, today(estimate.office, now))
    if not found or found[0].why_not or found[0].next is None or not found[0].next.agreed:
        return {}
    return {"call": found[0].next.due.isoformat()}


def agree_call(*, estimate: Estimate, on: date, words: str = "", actor: Staff, now: datetime) -> AgreedCall:
    """Write down the day on which the patient said they may be called. Raises Refused, NotAllowed."""
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.CALL, subject=estimate)
    with transaction.atomic():
        held = _held(estimate)
        day = today(held.office, now)
        if on < day or (on - day).days > _LONGEST_AHEAD:
            raise Refused(_("%(on)s is not a day from today to a year on.") % {"on": on.isoformat()}, field="on")
        _refuse_if_over(held, day)
        row = AgreedCall.objects.create(office=held.office, estimate=held, on=on, words=words.strip(), by=actor, at=now)
        record(actor=actor, act="call.agree", subject=held, content={"on": on.isoformat()}, at=now)
    return row


def call_done(
    *,
    estimate: Estimate,
    seen: int,
    outcome: Outcome,
    spoke_with: str = "",
    words: str = "",
    again_on: date | None = None,
    actor: Staff,
    now: datetime,
) -> MadeCall:
    """Write down a call that was made just now. ``seen`` is the number of the call as the page had it.

    ``again_on`` is a day the patient named for another. Raises Refused when somebody else wrote this call down already,
    for somebody who is not called, and without a name where somebody was spoken with; NotAllowed.
    """
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.CALL, subject=estimate)
    with transaction.atomic():
        held = _held(estimate)
        day = today(held.office, now)
        known = calling_of(held, day)
        number = len(known.made) + 1
        if seen != number:
            raise Refused(_("Call %(n)d is written down already: look at what was said.") % {"n": seen})
        if known.why_not:
            raise Refused(known.why_not)
        if outcome not in (Outcome.NOBODY, Outcome.MESSAGE) and not spoke_with.strip():
            raise Refused(_("Say with whom you spoke."), field="spoke_with")
        if again_on is not None and outcome == Outcome.STOP:
            raise Refused(_("Nobody is called again who asked not to be."), field="again_on")
        if known.next is None:
            raise Refused(_("Three calls were made: nobody is called about it again unless the patient names a day."))
        days = OpenDays.of(current_book(held.office, day))
        due = known.next.due
        row = MadeCall.objects.create(
            office=held.office,
            estimate=held,
            number=number,
            due=due,
            latest=latest_in_time(due, days),
            on=day,
            spoke_with=spoke_with.strip(),
            outcome=outcome,
            words=words.strip(),
            by=actor,
            at=now,
        )
        content = {"number": number, "outcome": str(outcome), "due": due.isoformat()}
        record(actor=actor, act="call.made", subject=held, content=content, at=now)
        if again_on is not None:
            agree_call(estimate=held, on=again_on, words=words, actor=actor, now=now)
    return row


def stop_calls(*, estimate: Estimate, spoke_with: str, words: str, actor: Staff, now: datetime) -> MadeCall:
    """The patient asked not to be called about this any more. Raises Refused, NotAllowed."""
    seen = len(calling_of(estimate, today(estimate.office, now)).made) + 1
    return call_done(
        estimate=estimate,
        seen=seen,
        outcome=Outcome.STOP,
        spoke_with=spoke_with,
        words=words,
        actor=actor,
        now=now,
    )


def to_call(office: Office, day: date) -> tuple[Calling, ...]:
    """Everybody who may be called about a shown estimate and has a next call, the earliest first."""
    shown = Estimate.objects.filter(state=State.SHOWN, valid_through__gte=day)
    found = [one for one in callings(shown, office, day) if one.next is not None and not one.why_not]
    return tuple(sorted(found, key=lambda one: (one.next.due if one.next else day, one.estimate.pk)))


def _calling(
    estimate: Estimate,
    patient: Patient,
    shown_on: date,
    made: list[MadeCall],
    agreed: list[AgreedCall],
    showed: str,
    day: date,
    days: OpenDays,
) -> Calling:
    last = made[-1].at if made else None
    named = [one for one in agreed if last is None or one.at >= last]
    contact = Contact(
        answered=estimate.state == State.ANSWERED or estimate.state == State.REPLACED,
        expired=is_expired(estimate, day),
        stop_all=patient.stop_all,
        consented=patient.contact_consent,
        asked_to_stop=any(one.outcome == Outcome.STOP for one in made),
    )
    found = next_call(shown_on, [one.on for one in made], named[-1].on if named else None, days)
    if named:
        showed = named[-1].by.full_name if named[-1].by.is_active else ""
    return Calling(estimate, patient, shown_on, tuple(made), found, showed, contact.why_not)


def _by_number(rows: Iterable[_Row]) -> dict[int, list[_Row]]:
    found: dict[int, list[_Row]] = {}
    for row in rows:
        found.setdefault(row.estimate.number, []).append(row)
    return found


def _held(estimate: Estimate) -> Estimate:
    rows = Estimate.objects.select_for_update(of=("self",)).select_related("office", "case__patient")
    return rows.get(pk=estimate.pk)


def _refuse_if_over(estimate: Estimate, day: date) -> None:
    if why_not := calling_of(estimate, day).why_not:
        raise Refused(why_not)
