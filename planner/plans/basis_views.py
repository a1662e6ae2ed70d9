"""Choosing what a case rests on: a correction of the measurements is taken over here."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _now

from planner.plans.access import load_case
from planner.plans.basis import basis_form
from planner.plans.cases import change_case
from planner.practice.access import Act, Thing, may, require
from planner.practice.both import lay_side_by_side
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused, StaleEdit


def rests_on(request: HttpRequest, public_id: str) -> HttpResponse:
    """Choose the measurements and the readings a case rests on; estimates already checked stay as they were."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    require(actor, Act.VIEW, Thing.MEASUREMENTS, subject=case)
    form = basis_form(case, posted(request))
    context: dict[str, Any] = {"case": case, "patient": case.patient, "form": form}
    if form.is_valid():
        try:
            change_case(case=case, actor=actor, now=now, **form.chosen())
        except StaleEdit as refusal:
            saved = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
            context |= lay_side_by_side(form, basis_form(saved, None), refusal)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _now("The case rests on these from now on; the options follow."))
            return redirect("plans:case", public_id)
    context["may_measure"] = may(actor, Act.CREATE, Thing.MEASUREMENTS)
    return render(request, "plans/rests_on.html", context)
