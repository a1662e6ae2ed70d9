"""The page on which a dentist takes a case over."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.letters.consent_models import Signature
from planner.letters.consent_signing import licence_of
from planner.letters.taking_over import take_over
from planner.plans.access import load_case
from planner.plans.models import Estimate
from planner.plans.takeover_models import TakeOver
from planner.plans.treating import dentist_of
from planner.practice import books
from planner.practice.access import Act, Thing
from planner.practice.acting import act_on
from planner.practice.both import go_on
from planner.practice.fields import DayField, PlainForm
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused


class TakeOverForm(PlainForm):
    """Why, what was reviewed, and how the patient was told."""

    from_whom = forms.CharField(widget=forms.HiddenInput, required=False)
    """Who treated the case when the form was opened."""
    reason = forms.CharField(label=_("Why the case changes hands"), max_length=500)
    reviewed = forms.CharField(
        label=_("What you reviewed, and what came of it"),
        help_text=_("Measurements, history, the plan, what was signed, what is done and what is to do."),
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    licence = forms.CharField(label=_("Your licence number"), max_length=60)
    told_on = DayField(label=_("Day on which the patient was told"))
    told_how = forms.CharField(label=_("How the patient was told, and what they said"), max_length=200)


def take_case_over(request: HttpRequest, public_id: str) -> HttpResponse:
    """What there is to review, and the form with which a second dentist takes the case over."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.APPROVE, thing=Thing.OPTIONS, now=now)
    treating = dentist_of(case)
    whose = treating.public_id if treating is not None else ""
    first = {"told_on": books.today(case.office, now), "licence": licence_of(actor), "from_whom": whose}
    form = TakeOverForm(posted(request), initial=first)

    def save(data: dict[str, Any]) -> TakeOver:
        try:
            return take_over(case=case, actor=actor, now=now, **data)
        except Refused:  # a second press takes it over from whoever treats the case now, knowingly
            go_on(form, whose, "from_whom")
            raise

    outcome = act_on(form, save)
    if outcome.done:
        messages.success(request, _now("You treat this case from now on. What was decided before stays as it was."))
        return redirect("plans:case", public_id)
    context = {
        "case": case,
        "patient": case.patient,
        "form": form,
        "treating": treating,
        "own": treating is not None and treating.pk == actor.pk,
        "signatures": Signature.objects.filter(consent__case=case).select_related("copy", "clinician").order_by("pk"),
        "estimates": Estimate.objects.filter(case=case, frozen__isnull=False).order_by("pk"),
        "taken": TakeOver.objects.filter(case=case).select_related("by", "before").order_by("pk"),
    }
    return render(request, "letters/take_over.html", context)
