"""What the pages that act on an accepted plan share: the frame, rows by their public id, and one form for one act."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.acting import act_on
from planner.practice.fields import PlainForm
from planner.trail.fields import Versioned


def frame(plan: AcceptedPlan) -> dict[str, Any]:
    """What every page below an accepted plan shows of it."""
    return {"accepted": plan, "case": plan.case, "patient": plan.case.patient}


def row_of(rows: Any, public_id: str) -> Any:
    """The row with this public id. Raises Http404."""
    found = next((row for row in rows if row.public_id == public_id), None)
    if found is None:
        raise Http404
    return found


def act_page(
    request: HttpRequest,
    plan: AcceptedPlan,
    form: PlainForm,
    save: Callable[[dict[str, Any]], object],
    heading: str,
    said: str,
    *,
    more: dict[str, Any] | None = None,
    row: Versioned | None = None,
) -> HttpResponse:
    """Do what a valid form asks and go to the plan it made or back to this one, or show the form with what is wrong.

    ``row`` is what the act is on, where that is not the plan itself.
    """
    context = frame(plan) | {"form": form, "heading": heading} | (more or {})
    outcome = act_on(form, save, row=row or plan)
    if outcome.done:
        messages.success(request, said)
        after = outcome.made if isinstance(outcome.made, AcceptedPlan) else plan
        return redirect("plans:accepted", after.public_id)
    return render(request, "plans/accepted_act.html", context | {"outcome": outcome})
