"""Pages to look at: a day, a week, what wants a visit, and one visit."""

from datetime import date, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.patients.services import viewed
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.fields import read_day
from planner.practice.requests import actor_of
from planner.rules.visit_states import VisitState
from planner.visits.access import load_visit
from planner.visits.asking import ending_of
from planner.visits.models import Visit
from planner.visits.queries import days_of, to_book
from planner.visits.reading import diary_of, plan_visits
from planner.visits.services import late_offer


def day(request: HttpRequest) -> HttpResponse:
    """One day of the office, its chairs side by side."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.VISIT)
    office, today = actor.office, books.today(actor.office, now)
    on, fault = _asked_day(request, today)
    diary = diary_of(office, books.current_book(office, today), on, on)
    context = {
        "shown": days_of(office, diary, on, on)[0],
        "today": today,
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1),
        "fault": fault,
        "zone": office.time_zone,
        "may_book": may(actor, Act.CREATE, Thing.VISIT),
    }
    return render(request, "visits/day.html", context)


def week(request: HttpRequest) -> HttpResponse:
    """One week of the office, chair by chair."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.VISIT)
    office, today = actor.office, books.today(actor.office, now)
    on, fault = _asked_day(request, today)
    monday = on - timedelta(days=on.weekday())
    sunday = monday + timedelta(days=6)
    diary = diary_of(office, books.current_book(office, today), monday, sunday)
    days = [each for each in days_of(office, diary, monday, sunday) if each.is_open or each.visits or each.blocks]
    context = {
        "days": days,
        "chairs": dict.fromkeys(chair for each in days for chair in each.chairs),
        "monday": monday,
        "sunday": sunday,
        "before": monday - timedelta(days=7),
        "after": monday + timedelta(days=7),
        "fault": fault,
        "zone": office.time_zone,
    }
    return render(request, "visits/week.html", context)


def plans_to_book(request: HttpRequest) -> HttpResponse:
    """Accepted plans with something that could be given a visit now."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.VISIT)
    today = books.today(actor.office, now)
    plans = [(plan, (today - plan.accepted_on).days) for plan in to_book(actor.office, today)]
    return render(request, "visits/to_book.html", {"plans": plans})


def visit(request: HttpRequest, public_id: str) -> HttpResponse:
    """One visit: what is done at it, what became of it, when it may be over, and where it may stop."""
    actor, now = actor_of(request), timezone.now()
    shown = load_visit(actor=actor, public_id=public_id, now=now)
    known = plan_visits(shown.plan, None, now)
    context = visit_frame(shown) | {
        "items": [line.item for line in shown.visit_items.select_related("item")],
        "moves": list(shown.moves.select_related("by").order_by("sequence")),
        "laboratory": known.case_for(shown.key),
        "step": known.step(shown.key),
        "ending": ending_of(shown, known) if shown.state == VisitState.BOOKED else None,
        "fee": getattr(shown, "late_fee", None),
        "offer": late_offer(shown, now) if shown.state == VisitState.BOOKED else None,
        "ahead": now < shown.starts,
        "may_edit": shown.state == VisitState.BOOKED and may(actor, Act.EDIT, Thing.VISIT),
        "may_order": may(actor, Act.CREATE, Thing.LABORATORY),
    }
    answer = render(request, "visits/visit.html", context)
    viewed(patient=shown.patient, actor=actor, now=now, reason=f"visit {shown.words}")
    return answer


def visit_frame(shown: Visit) -> dict[str, Any]:
    """What every page about one visit shows."""
    return {"visit": shown, "patient": shown.patient, "plan": shown.plan, "zone": shown.zone}


def _asked_day(request: HttpRequest, today: date) -> tuple[date, str]:
    """The day the address asks for, else today; and the sentence for one that cannot be read."""
    written = request.GET.get("on", "").strip()
    if not written:
        return today, ""
    try:
        on = read_day(written[:40])
    except ValueError as fault:
        return today, str(fault)
    if abs((on - today).days) > 3660:
        return today, f"{on.isoformat()} is more than ten years away: choose a day nearer to today."
    return on, ""
