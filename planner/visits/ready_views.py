"""Pages about whether visits are ready: those of the coming days, and one with every row."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.patients.services import viewed
from planner.practice.access import Act, Thing, require
from planner.practice.requests import actor_of
from planner.rules.readiness import days_before
from planner.visits import ready
from planner.visits.access import load_visit
from planner.visits.leads import url_of
from planner.visits.views import visit_frame


def ready_list(request: HttpRequest) -> HttpResponse:
    """The visits of the coming days; what each lacks comes after the page, visit by visit."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.VISIT)
    context = {"visits": ready.coming(actor.office, now), "zone": actor.office.time_zone, "days": days_before()}
    return render(request, "visits/ready_list.html", context)


def ready_visit(request: HttpRequest, public_id: str) -> HttpResponse:
    """Whether one visit is ready; each row that is not leads to the act that settles it."""
    actor, now = actor_of(request), timezone.now()
    visit = load_visit(actor=actor, public_id=public_id, now=now)
    found = ready.ready_of(visit, now)
    rows = [(row, url_of(row.where, visit) if row.lack else "") for row in found.rows]
    part = bool(request.headers.get("HX-Request"))
    context = visit_frame(visit) | {"rows": rows, "lacks": found.lacks, "part": part}
    answer = render(request, "visits/ready_part.html" if part else "visits/ready.html", context)
    viewed(patient=visit.patient, actor=actor, now=now, reason=f"whether {visit.words} is ready")
    return answer
