"""The page on which it is agreed what is done if something is found."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.plans.access import load_case
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_facts
from planner.plans.if_then import set_if_then
from planner.plans.if_then_forms import IfThenForm
from planner.plans.stale import choices_side_by_side
from planner.practice.access import Act, Thing
from planner.practice.books import read_book, today
from planner.practice.requests import actor_of, posted
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused, StaleEdit


def if_then(request: HttpRequest, public_id: str) -> HttpResponse:
    """Sentences that stand in the letter, some with work and its price: the range of every option follows."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.FINDINGS, now=now)
    day = today(case.office, now)
    try:
        plan, version = compute_plan(case, now)
        prices = read_book(version.data).price_list_on(day)
        options = [option for option in plan.options if option.estimate.lines]
    except Refused:
        prices, options = None, []
    form = IfThenForm(posted(request), facts=case_facts(case, day), prices=prices, options=options, seen=case.version)
    context: dict[str, Any] = {"case": case, "patient": case.patient, "form": form}
    if form.is_valid():
        try:
            set_if_then(case=case, seen=form.cleaned_data["seen"], entries=form.entries, actor=actor, now=now)
        except StaleEdit as refusal:
            context |= choices_side_by_side(form, refusal, Numbering(case.numbering))
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("Saved; the sentences stand in the letter, the range follows."))
            return redirect("plans:case", case.public_id)
    return render(request, "plans/if_then.html", context)
