"""Pages on which something is written down: an opening in an emergency, a look at it, a problem and what was done."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.facts import form_facts
from planner.patients.history_form import answers as history_answers
from planner.patients.models import AnyChange, HistoryForm, Patient
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.models import Office
from planner.practice.requests import actor_of, posted
from planner.story import services
from planner.story.access import load_for_emergency, load_for_problem, load_opening, load_problem
from planner.story.forms import ElsewhereForm, EmergencyForm, ProblemForm, SeenForm, StepForm
from planner.story.models import EmergencyOpening, ProblemStep
from planner.visits.models import Visit


def emergency(request: HttpRequest, public_id: str) -> HttpResponse:
    """Read the medical side of a file in an emergency: once, with the reason typed, and the manager is told."""
    actor, now = actor_of(request), timezone.now()
    patient = load_for_emergency(actor=actor, public_id=public_id, now=now)
    form = EmergencyForm(posted(request))
    outcome = act_on(form, lambda data: services.open_in_emergency(patient=patient, actor=actor, now=now, **data))
    if outcome.done:
        return render(request, "story/emergency_sheet.html", _sheet(patient))
    return render(request, "story/emergency.html", {"patient": patient, "form": form})


def elsewhere(request: HttpRequest) -> HttpResponse:
    """The same for a file of another office on this installation: who it is must be known exactly."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.RUN, Thing.EMERGENCY)
    form = ElsewhereForm(posted(request))

    def act(data: dict[str, Any]) -> EmergencyOpening:
        found = services.find_elsewhere(name=data["name"], birth_date=data["birth_date"], actor=actor, now=now)
        return services.open_in_emergency(patient=found, reason=data["reason"], actor=actor, now=now)

    outcome = act_on(form, act)
    if outcome.done:
        return render(request, "story/emergency_sheet.html", _sheet(outcome.made.patient, elsewhere=True))
    context = {"form": form, "alone": Office.objects.count() < 2}
    return render(request, "story/emergency.html", context)


def openings(request: HttpRequest) -> HttpResponse:
    """Every opening in an emergency, those nobody looked at first."""
    actor = actor_of(request)
    require(actor, Act.APPROVE, Thing.EMERGENCY)
    rows = EmergencyOpening.objects.filter(office=actor.office).select_related("patient", "by", "seen__by")
    found = list(rows.order_by("-pk")[:200])
    context = {"new": [one for one in found if not hasattr(one, "seen")]}
    context["old"] = [one for one in found if hasattr(one, "seen")]
    return render(request, "story/openings.html", context)


def opening_seen(request: HttpRequest, public_id: str) -> HttpResponse:
    """Say what came of looking into one."""
    actor, now = actor_of(request), timezone.now()
    opening = load_opening(actor=actor, public_id=public_id, now=now)
    form = SeenForm(posted(request))
    outcome = act_on(form, lambda data: services.opening_seen(opening=opening, actor=actor, now=now, **data))
    if outcome.done:
        messages.success(request, _("It is written down that you looked at it."))
        return redirect("story:openings")
    return render(request, "story/opening.html", {"opening": opening, "form": form})


def problem(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down a problem or complaint as it was told."""
    actor, now = actor_of(request), timezone.now()
    patient = load_for_problem(actor=actor, public_id=public_id, now=now)
    form = ProblemForm(posted(request), initial=_now_in(patient, now) | {"told_by": patient.name})

    def act(data: dict[str, Any]) -> Any:
        told_at = datetime.combine(data.pop("on"), data.pop("hour"), patient.office.zone)
        return services.tell_problem(patient=patient, told_at=told_at, actor=actor, now=now, **data)

    outcome = act_on(form, act)
    if outcome.done:
        messages.success(request, _("The problem is written down."))
        return redirect("story:problem_step", outcome.made.public_id)
    return render(request, "story/problem.html", {"patient": patient, "form": form})


def problem_step(request: HttpRequest, public_id: str) -> HttpResponse:
    """One problem with what was done about it, and the form for the next step."""
    actor, now = actor_of(request), timezone.now()
    row = load_problem(actor=actor, public_id=public_id, now=now)
    form = StepForm(posted(request), initial=_now_in(row.patient, now))

    def act(data: dict[str, Any]) -> Any:
        done_at = datetime.combine(data.pop("on"), data.pop("hour"), row.office.zone)
        return services.note_step(problem=row, done_at=done_at, actor=actor, now=now, **data)

    outcome = act_on(form, act)
    if outcome.done:
        messages.success(request, _("It is written down."))
        return redirect("story:problem_step", public_id)
    steps = ProblemStep.objects.filter(problem=row).select_related("by")
    context = {"patient": row.patient, "problem": row, "steps": steps, "form": form}
    context["may_read"] = may(actor, Act.VIEW, Thing.STORY)
    return render(request, "story/problem_step.html", context)


def _now_in(patient: Patient, now: datetime) -> dict[str, Any]:
    local = now.astimezone(patient.office.zone)
    return {"on": books.today(patient.office, now), "hour": local.time().replace(second=0, microsecond=0)}


def _sheet(patient: Patient, *, elsewhere: bool = False) -> dict[str, Any]:
    """What matters now: the history as signed, what was answered since, and who treats the person."""
    form = HistoryForm.objects.filter(patient=patient).order_by("-id").first()
    asked = list(AnyChange.objects.filter(form=form).order_by("-id")) if form else []
    last = Visit.objects.filter(patient=patient).select_related("clinician").order_by("-starts").first()
    parts = list(history_answers(form_facts(form, asked))) if form else []
    return {"patient": patient, "history": form, "asked": asked, "parts": parts, "last": last, "elsewhere": elsewhere}
