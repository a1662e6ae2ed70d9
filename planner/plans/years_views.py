"""The page of a case over the years: what lasts, what it costs, what it takes, option beside option."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_facts
from planner.plans.years_forms import COUNTED_WORDS, YearsForm
from planner.plans.years_shown import HORIZON, TABLE_YEARS, notes, shown_years
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.catalogue import in_force
from planner.practice.models import BookVersion
from planner.practice.requests import actor_of
from planner.rules.mouth import CaseFacts
from planner.rules.over_years import is_charged, over_years
from planner.rules.results import CasePlan
from planner.trail.errors import Refused


def over_the_years(request: HttpRequest, public_id: str) -> HttpResponse:
    """The options of a case side by side over thirty years; what is chosen here is tried and stored nowhere."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, thing=Thing.OPTIONS, now=now)
    context: dict[str, Any] = {
        "case": case,
        "patient": case.patient,
        "may_decide": may(actor, Act.APPROVE, Thing.OPTIONS),
    }
    try:
        plan, version = compute_plan(case, now)
    except Refused as refusal:
        context["refused"] = refusal.sentence
    else:
        facts = case_facts(case, books.today(case.office, now))
        context |= _laid_out(request, plan, facts, version)
    if request.headers.get("HX-Request"):
        return render(request, "plans/over_years_result.html", context)
    answer = render(request, "plans/over_years.html", context)
    viewed(patient=case.patient, actor=actor, now=now, reason=f"case {case.name} over the years")
    return answer


def _laid_out(request: HttpRequest, plan: CasePlan, facts: CaseFacts, version: BookVersion) -> dict[str, Any]:
    book = books.read_book(version.data)
    options = [each for each in plan.options if is_charged(each)]
    first = [each.key for each in options[: settings.OPTIONS_SHOWN]]
    choice = facts.choices.figures
    usual = (choice.counted_in if choice else None) or book.figures_counted_in
    worn = choice.worn if choice else None
    form = YearsForm(request.GET or None, options=options, first=first, usual=usual, worn=worn)
    context: dict[str, Any] = {"form": form, "plan": plan, "table_years": TABLE_YEARS, "horizon": HORIZON}
    if (asked := form.asked(facts)) is not None:
        keys, figures = asked
        found = over_years(plan, facts, book, keys, figures, treatments=in_force().catalogue.treatments)
        context |= {"shown": shown_years(found, plan.currency, facts.numbering), "notes": notes()}
        context |= {"counted_in": COUNTED_WORDS[figures.counted_in], "worn": figures.worn_events}
    return context
