"""Pages about the office's own work over all patients: how long it lasts, and promise against result."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.followup import work_shown
from planner.followup.page import Scope, scope_of
from planner.followup.reading_work import own_teeth
from planner.followup.results import pooled_results
from planner.letters.result_said import moments
from planner.practice.access import Act, Thing, require
from planner.practice.books import today
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.rules.pooled import pool


def lasts(request: HttpRequest) -> HttpResponse:
    """Repairs by tooth-year, and how many of 100 still stand, beside the published curves."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.RESULTS)
    teeth = own_teeth(actor.office, today(actor.office, now), _only(actor))
    return render(
        request,
        "followup/lasts.html",
        work_shown.context(teeth) | {"own": _only(actor) is not None, "sees_results": True},
    )


def results(request: HttpRequest) -> HttpResponse:
    """Promise against result of everybody whose finished work was reviewed."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.RESULTS)
    only = _only(actor)
    teeth = own_teeth(actor.office, today(actor.office, now), only, with_edges=True)
    found = pool(pooled_results(actor.office, only), teeth)
    words = moments()
    context = {
        "pooled": found,
        "sizes": (found.near, found.held),
        "wishes": [(words[one.part], one) for one in found.wishes],
        "own": only is not None,
        "sees_results": True,
    }
    return render(request, "followup/results.html", context)


def _only(actor: Staff) -> Staff | None:
    """A dentist sees the own work; who leads or owns the office, that of all together."""
    return actor if scope_of(actor) is Scope.OWN else None
