"""Calendar files to take along: one visit, or the diary of one person."""

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from planner.practice.access import Act, Thing, require
from planner.practice.requests import actor_of
from planner.visits import appointments
from planner.visits.access import load_visit
from planner.visits.reading import clinicians


def visit_file(request: HttpRequest, public_id: str) -> HttpResponse:
    """One visit as a calendar file."""
    actor, now = actor_of(request), timezone.now()
    visit = load_visit(actor=actor, public_id=public_id, now=now)
    return _file(appointments.visit_file(visit=visit, actor=actor, now=now), "appointment.ics")


def diary_file(request: HttpRequest, public_id: str) -> HttpResponse:
    """The diary of one person as a calendar file."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.DIARY)
    clinician = next((each for each in clinicians(actor.office) if each.public_id == public_id), None)
    if clinician is None:
        raise Http404
    return _file(appointments.diary_file(clinician=clinician, actor=actor, now=now), "diary.ics")


def _file(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
