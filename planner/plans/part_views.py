"""What if only these? The pieces of one option of an estimate, tried on the page, and the yes to them."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.services import viewed
from planner.plans.accepted_forms import AcceptForm, PartForm
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepting import accept_option, open_plans
from planner.plans.access import load_estimate
from planner.plans.estimates import is_expired
from planner.plans.models import Estimate, State
from planner.plans.parts import Handed, handed
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.acceptance import PATIENT
from planner.rules.partial import pieces_of, whole_of
from planner.rules.teeth import Numbering, Tooth
from planner.trail.errors import Refused


def parts(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Tick pieces of an option and see what only those come to; nothing is stored."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, now=now)
    try:
        given = handed(estimate, key)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("plans:estimate", public_id)
    context = _frame(estimate, given, actor, now) | _tried(request, given, estimate)
    if request.headers.get("HX-Request"):
        return render(request, "plans/parts_result.html", context)
    answer = render(request, "plans/parts.html", context)
    viewed(patient=estimate.case.patient, actor=actor, now=now, reason=f"parts of estimate {estimate}")
    return answer


def accept(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Record the yes to the pieces that were ticked."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.ACCEPTED, now=now)
    if request.method != "POST":
        return redirect("plans:parts", public_id, key)
    try:
        given = handed(estimate, key)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("plans:estimate", public_id)
    form = AcceptForm(posted(request), pieces=pieces_of(given.option), plans=open_plans(estimate))
    context = _frame(estimate, given, actor, now)

    def save(_data: dict[str, Any]) -> AcceptedPlan:
        return accept_option(estimate=estimate, option=key, actor=actor, now=now, **form.chosen())

    outcome = act_on(form, save, row=estimate)
    if outcome.done:
        messages.success(request, _("The yes is recorded, with the prices of the estimate."))
        return redirect("plans:accepted", outcome.made.public_id)
    chosen = tuple(request.POST.getlist("pieces"))
    return render(
        request,
        "plans/parts.html",
        context | _shown(given, chosen, estimate) | {"accept_form": form, "outcome": outcome},
    )


def _tried(request: HttpRequest, given: Handed, estimate: Estimate) -> dict[str, Any]:
    """What the page shows for what is ticked, or for the best part under a budget."""
    pieces = pieces_of(given.option)
    form = PartForm(request.GET or None, pieces=pieces, initial={"pieces": whole_of(given.option)})
    if not form.is_bound:
        return {"form": form} | _shown(given, whole_of(given.option), estimate)
    if not form.is_valid():
        return {"form": form}
    context: dict[str, Any] = {"form": form}
    chosen, budget = tuple(form.cleaned_data["pieces"]), form.cleaned_data["budget"]
    try:
        if budget is not None and "best" in request.GET:
            best = given.best(budget)
            chosen = best.part.chosen if best.part else chosen
            ticked = PartForm(pieces=pieces, initial={"pieces": chosen, "budget": budget})
            context |= {"best": best, "form": ticked}
            if request.headers.get("HX-Request"):
                context["ticked"] = ticked["pieces"]
        return context | _shown(given, chosen, estimate)
    except Refused as refusal:
        form.refuse(refusal.field, refusal.sentence)
    return context


def _shown(given: Handed, chosen: tuple[str, ...], estimate: Estimate) -> dict[str, Any]:
    numbering = Numbering(given.plan.numbering)
    part = given.part(chosen)

    def pair(*teeth: Tooth) -> str:
        return " · ".join(tooth.written(numbering) for tooth in teeth)

    first = {
        "pieces": list(part.chosen),
        "by": estimate.case.patient.name,
        "capacity": PATIENT,
        "seen": estimate.version,
    }
    return {
        "part": part,
        "gaps": [(pair(gap.right_tooth, gap.left_tooth), gap) for gap in part.gaps],
        "proportions": [(pair(one.tooth), one) for one in part.proportions],
        "lines": part.option.estimate.lines if part.option else (),
        "accept_form": AcceptForm(initial=first, pieces=pieces_of(given.option), plans=open_plans(estimate)),
    }


def _frame(estimate: Estimate, given: Handed, actor: Staff, now: Any) -> dict[str, Any]:
    late = is_expired(estimate, books.today(estimate.office, now))
    return {
        "estimate": estimate,
        "case": estimate.case,
        "patient": estimate.case.patient,
        "plan": given.plan,
        "option": given.option,
        "late": late,
        "may_accept": estimate.state == State.SHOWN and not late and may(actor, Act.CREATE, Thing.ACCEPTED),
        "may_reissue": late and may(actor, Act.CREATE, Thing.ESTIMATE),
    }
