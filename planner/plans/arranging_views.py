"""Pages about paying in parts, worked out while it is typed, and about when a price was asked for."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.plans import arranging
from planner.plans.access import load_estimate
from planner.plans.arranging_forms import ArrangementForm, PriceRequestForm
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate
from planner.plans.price_requests import note_request
from planner.practice import books
from planner.practice.access import Act, Thing
from planner.practice.requests import actor_of, posted
from planner.rules.arrangement import ArrangementError
from planner.trail.errors import Refused


def instalments(request: HttpRequest, public_id: str) -> HttpResponse:
    """Pay an estimate in parts: tried out while it is typed, agreed on by a press."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.ACCEPTED, now=now)
    context: dict[str, Any] = {"estimate": shown, "case": shown.case, "patient": shown.case.patient}
    try:
        basis = arranging.basis_of(
            shown, request.POST.get("option") or request.GET.get("option", "") or _first(shown), now
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("plans:estimate", public_id)
    agreed = arranging.latest_arrangement(shown)
    typed = posted(request) or (request.GET if "count" in request.GET else None)
    options = _options(shown) if basis.accepted_on is None and not shown.answered_option else []
    form = ArrangementForm(typed, options=options, replaces=agreed is not None, initial=_initial(shown, basis))
    context |= {"basis": basis, "form": form, "agreed": agreed}
    if form.is_valid():
        try:
            context["made"] = arranging.try_out(basis, form.typed)
            if request.method == "POST" and "try" not in request.POST:
                reason = form.cleaned_data.get("reason", "")
                arranging.agree(
                    estimate=shown, typed=form.typed, payer=form.who_pays, reason=reason, actor=actor, now=now
                )
                messages.success(request, _("It is agreed and kept; the agreement can be printed among the papers."))
                return redirect("plans:estimate", public_id)
        except ArrangementError as error:
            context["faults_of"] = [sentence for _field, sentence in error.faults]
            for field, sentence in error.faults:
                form.refuse(_FIELDS.get(field, ""), sentence)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
    elif form.is_bound:
        context["faults_of"] = [str(fault) for faults in form.errors.values() for fault in faults]
    part = request.headers.get("HX-Request") and request.method == "GET"
    return render(request, "plans/arrangement_made.html" if part else "plans/arrangement.html", context)


def asked_on(request: HttpRequest, public_id: str) -> HttpResponse:
    """Note when the price was asked for or the visit booked; the local duty of estimate counts from it."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    day = books.today(shown.office, now)
    form = PriceRequestForm(posted(request), today=day, initial={"on": day})
    if form.is_valid():
        note_request(estimate=shown, actor=actor, now=now, **form.cleaned_data)
        messages.success(request, _("It is noted."))
        return redirect("plans:estimate", public_id)
    context = {
        "estimate": shown,
        "case": shown.case,
        "patient": shown.case.patient,
        "form": form,
        "heading": _("When the price was asked for"),
        "button": _("Note it"),
    }
    return render(request, "plans/estimate_act.html", context)


_FIELDS = {"deposit": "deposit_cents", "count": "count", "first_due": "first_due", "rate": "yearly_percent"}
"""Field of the form for each field of a fault."""


def _options(estimate: Estimate) -> list[tuple[str, str]]:
    assert estimate.frozen is not None
    plan = read_frozen(estimate.frozen)
    return [
        (option.key, option.name) for option in plan.options if option.key in estimate.options and option.estimate.lines
    ]


def _first(estimate: Estimate) -> str:
    """The option a trial begins with: the recommended one where it is on the estimate."""
    if estimate.frozen is None:
        return ""
    plan, keys = read_frozen(estimate.frozen), [key for key, _name in _options(estimate)]
    return plan.recommended if plan.recommended in keys else next(iter(keys), "")


def _initial(estimate: Estimate, basis: arranging.Basis) -> dict[str, Any]:
    usual = arranging.usual(basis)
    return {
        "option": basis.option,
        "deposit_cents": usual.deposit_cents,
        "count": usual.count,
        "first_due": usual.first_due,
        "yearly_percent": usual.yearly_percent,
        "payer": estimate.case.patient.name,
        "capacity": _("the patient"),
    }
