"""The page of an option's minutes and materials: visit by visit, step by step, and where every figure comes from."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_facts
from planner.practice import books
from planner.practice.access import Thing
from planner.practice.catalogue import in_force
from planner.practice.requests import actor_of
from planner.rules.option_takes import option_takes
from planner.rules.options import Desk
from planner.trail.errors import Refused


def minutes(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """The minutes and materials of one option of a case. Stores nothing."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, thing=Thing.OPTIONS, now=now)
    day = books.today(case.office, now)
    context: dict[str, Any] = {"case": case, "patient": case.patient}
    try:
        plan, version = compute_plan(case, now)
        option = plan.option(key)
    except Refused as refusal:
        context["refused"] = refusal.sentence
    except KeyError:
        raise Http404 from None
    else:
        book = books.read_book(version.data)
        known = in_force().catalogue
        desk = Desk(case_facts(case, day), book, day, book.price_list_on(day), known.treatments, known.combinations)
        context |= {"option": option, "takes": option_takes(option, plan, desk), "book": book, "plan": plan}
    answer = render(request, "plans/minutes.html", context)
    viewed(patient=case.patient, actor=actor, now=now, reason=f"minutes of an option of case {case.name}")
    return answer
