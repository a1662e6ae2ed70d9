"""The calendar of a case: every option reckoned forward from today and back from the day that is wished for."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_facts
from planner.practice import books
from planner.practice.access import Thing
from planner.practice.requests import actor_of
from planner.rules.mouth import CaseFacts
from planner.rules.results import CalendarShape, CasePlan
from planner.rules.verdicts import Verdict
from planner.trail.errors import Refused


@dataclass(frozen=True, slots=True)
class OptionDays:
    """One option beside its calendar."""

    key: str
    name: str
    verdict: Verdict
    calendar: CalendarShape


def option_days(plan: CasePlan) -> tuple[OptionDays, ...]:
    """The options with work in them, in the order of the plan.

    What is ruled out has no days, unless by the patient's own limits alone: the day wished for is one of them.
    """
    return tuple(
        OptionDays(option.key, option.name, option.verdict, option.calendar)
        for option in plan.options
        if option.calendar is not None and option.may_still_be
    )


def calendar(request: HttpRequest, public_id: str) -> HttpResponse:
    """When each step of each option can be at the earliest and must be at the latest."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, thing=Thing.OPTIONS, now=now)
    facts = case_facts(case, books.today(case.office, now))
    context: dict[str, Any] = {"case": case, "patient": case.patient, "limits": facts.limits}
    try:
        plan, _book = compute_plan(case, now)
    except Refused as refusal:
        context["refused"] = refusal.sentence
    else:
        context |= _days(plan, facts)
    answer = render(request, "plans/calendar.html", context)
    viewed(patient=case.patient, actor=actor, now=now, reason=f"calendar of case {case.name}")
    return answer


def _days(plan: CasePlan, facts: CaseFacts) -> dict[str, Any]:
    options = option_days(plan)
    possible = [each for each in options if each.calendar.possible]
    # A firm day that is too early makes an option "no" by itself, so that what is too late is counted with all of it.
    in_time = [each for each in possible if each.verdict is not Verdict.NO]
    return {
        "options": options,
        "planned_on": plan.planned_on,
        "in_time": in_time,
        "too_late": [each for each in options if each.calendar.possible is False],
        "soonest": min((each.calendar.finish for each in options), default=None),
        "only_limits": len(in_time) < len(possible),
        "wish_by": facts.limits.wish_by,
    }
