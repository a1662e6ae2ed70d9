"""Visits as calendar files: one visit, or the diary of whoever treats. Nothing in them says who comes or why."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db import transaction

from planner.plans.models import Estimate
from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Office, Staff
from planner.rules.ical import Event, calendar_file
from planner.rules.visit_states import VisitState
from planner.trail.services import record
from planner.visits.models import Visit
from planner.visits.reading import HELD

BACK_DAYS, AHEAD_DAYS = 14, 180
"""The days that a diary file covers, around the day on which it is made."""


def visit_file(*, visit: Visit, actor: Staff, now: datetime) -> bytes:
    """One visit for the patient's own calendar; one that fell away is told as cancelled. Raises NotAllowed."""
    require_own(actor, visit)
    require(actor, Act.VIEW, Thing.VISIT, subject=visit)
    content = calendar_file(_events([visit], visit.office), now)
    with transaction.atomic():
        record(actor=actor, act="visit.calendar", subject=visit, at=now)
    return content


def diary_file(*, clinician: Staff, actor: Staff, now: datetime) -> bytes:
    """The times at which ``clinician`` has visits, from two weeks back to half a year ahead. Raises NotAllowed."""
    require_own(actor, clinician)
    require(actor, Act.VIEW, Thing.DIARY, subject=clinician)
    office = clinician.office
    day = books.today(office, now)
    begins, ends = (_midnight(day + timedelta(days=each), office) for each in (-BACK_DAYS, AHEAD_DAYS))
    rows = Visit.objects.filter(
        office=office, clinician=clinician, state__in=HELD, starts__gte=begins, starts__lt=ends
    ).order_by("starts", "id")
    content = calendar_file(_events(list(rows), office), now)
    with transaction.atomic():
        record(actor=actor, act="diary.calendar", subject=clinician, at=now)
    return content


def next_visit_of(*, estimate: Estimate, now: datetime, **_kwargs: Any) -> dict[str, str]:
    """When the next visit of what was accepted of ``estimate`` begins, by the office's clock, for its papers."""
    rows = Visit.objects.filter(plan__estimate=estimate, state=VisitState.BOOKED, starts__gte=now)
    found = rows.order_by("starts").values_list("starts", flat=True).first()
    return {} if found is None else {"visit": f"{found.astimezone(estimate.office.zone):%Y-%m-%dT%H:%M}"}


def _midnight(day: date, office: Office) -> datetime:
    return datetime.combine(day, time(0), office.zone)


def _events(visits: Iterable[Visit], office: Office) -> list[Event]:
    """The visits as events; a moved one keeps the name of the first of its line. One query more."""
    listed = list(visits)
    plans = {visit.plan_id for visit in listed}
    rows = Visit.objects.filter(plan_id__in=plans).values_list("pk", "follows_id", "public_id")
    line = {pk: (follows, public_id) for pk, follows, public_id in rows}
    found: list[Event] = []
    for visit in listed:
        root, moved = visit.pk, 0
        while (before := line[root][0]) is not None:
            root, moved = before, moved + 1
        fell_away = visit.state not in HELD
        found.append(
            Event(
                uid=f"{line[root][1]}@leastways",
                starts=visit.starts,
                ends=visit.ends,
                zone=visit.zone,
                office=f"{office.name}, {office.place}",
                sequence=moved + (visit.state == VisitState.CANCELLED),
                cancelled=fell_away,
            )
        )
    return found
