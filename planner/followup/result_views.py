"""Pages of promise against result: one accepted plan, writing a review down, and the paper for the patient."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.followup.result_papers import make_result_paper, papers_of, result_told
from planner.followup.result_shown import shown_result
from planner.followup.results import promised_of, result_of, wishes_of
from planner.followup.review_forms import ReviewForm
from planner.followup.review_models import Review
from planner.followup.reviewing import note_review
from planner.letters.forms import PrintForm
from planner.patients.services import viewed
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.access import load_accepted
from planner.plans.estimates import read_frozen
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on
from planner.practice.books import today
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.promise import Moment
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused


def result(request: HttpRequest, public_id: str) -> HttpResponse:
    """What was planned for each tooth, what was reached, what is there now; wishes, minutes and money."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, thing=Thing.REVIEW, now=now)
    found = result_of(plan)
    context = _frame(plan) | shown_result(found, today(plan.office, now))
    context |= {
        "may_note": may(actor, Act.CREATE, Thing.REVIEW),
        "replaced": plan.reviews.exclude(corrected_by=None).select_related("by", "corrected_by").order_by("id"),
    }
    answer = render(request, "followup/result.html", context)
    viewed(patient=plan.patient, actor=actor, now=now, reason=f"promise against result of {plan.name}")
    return answer


def review(request: HttpRequest, public_id: str, corrects: str = "") -> HttpResponse:
    """Write a review down, or one that takes the place of another."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.REVIEW, now=now)
    old = plan.reviews.prefetch_related("teeth", "scores").filter(public_id=corrects).first() if corrects else None
    if corrects and old is None:
        raise Http404
    promised = promised_of(plan)
    form = ReviewForm(
        posted(request),
        promised=promised,
        wishes=wishes_of(plan),
        numbering=Numbering(plan.case.numbering),
        initial=_first(plan, actor, old, [one.tooth.key for one in promised], today(plan.office, now)),
    )
    outcome = act_on(form, lambda _data: note_review(plan=plan, seen=form.said(), corrects=old, actor=actor, now=now))
    if outcome.done:
        messages.success(request, _("The review is kept."))
        return redirect("followup:result", plan.public_id)
    return render(request, "followup/review.html", _frame(plan) | {"form": form, "corrects": old})


def paper(request: HttpRequest, public_id: str) -> HttpResponse:
    """Print what was planned and what came of it, for the patient."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.REVIEW, now=now)
    found = result_of(plan)
    context = _frame(plan) | {
        "heading": _("Print what was planned and what came of it"),
        "back": reverse("followup:result", args=[plan.public_id]),
    }
    try:
        result_told(found)
    except Refused as refusal:
        return render(request, "letters/account_paper.html", context | {"refused": refusal.sentence})
    form = PrintForm(posted(request), initial={"points": read_frozen(plan.frozen).print_points, "paper": "A4"})
    outcome = act_on(form, lambda data: make_result_paper(found=found, actor=actor, now=timezone.now(), **data))
    if outcome.done:
        messages.success(request, _("The paper is made and kept."))
        return redirect("letters:document", outcome.made.public_id)
    return render(request, "letters/account_paper.html", context | {"form": form, "documents": papers_of(found)})


def _frame(plan: AcceptedPlan) -> dict[str, Any]:
    return {"plan": plan, "case": plan.case, "patient": plan.case.patient}


def _first(plan: AcceptedPlan, actor: Staff, old: Review | None, teeth: list[str], day: date) -> dict[str, Any]:
    """What the form begins with: the next review that is due, or what is to be corrected."""
    if old is None:
        found = result_of(plan)
        coming = found.next[0] if found.next is not None else Moment.OTHER
        first = Moment.DONE if found.done_on is not None and not found.rows else coming
        return {"moment": str(first), "on": day, "measured_by": actor.full_name, "instrument": "caliper"}
    first_values: dict[str, Any] = {
        "moment": old.moment,
        "on": old.on,
        "measured_by": old.measured_by,
        "instrument": old.instrument,
        "words": old.words,
    }
    for one in old.teeth.all():
        if one.tooth in teeth:
            place = teeth.index(one.tooth)
            first_values |= {
                f"condition_{place}": one.condition,
                f"width_{place}": one.width,
                f"length_{place}": one.length,
            }
    return first_values | {f"wish_{one.rank}": one.score for one in old.scores.all()}
