"""From a form to a booking: what the visit waits for, which laboratory work it needs, and how it may end early."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from planner.plans.accepted_models import AcceptedPlan
from planner.plans.estimates import read_frozen
from planner.practice import books
from planner.rules.series import SeriesStep, Settled, unsettled, waits_of
from planner.rules.space_limits import default_limits, with_limits
from planner.rules.stopping import StopPoint, best_order, finish_chance, stopping_points
from planner.rules.visit_states import OPEN_LABORATORY, LaboratoryState
from planner.trail.errors import Refused
from planner.visits.models import Visit
from planner.visits.reading import HELD, PlanVisits, clinicians
from planner.visits.services import Booking


def booking_of(
    data: Mapping[str, Any], plan: AcceptedPlan, known: PlanVisits, *, besides: Visit | None = None
) -> Booking:
    """The booking that a filled-in form asks for. Raises Refused for a clinician who treats nobody here."""
    clinician = next((each for each in clinicians(plan.office) if each.public_id == data["clinician"]), None)
    if clinician is None:
        raise Refused("Choose who treats.", field="clinician")
    step = known.step(data["visit"])
    chosen = set(data["items"])
    return Booking(
        clinician=clinician,
        chair=data["chair"],
        day=data["day"],
        hour=data["hour"],
        minutes=data["minutes"],
        words=data["words"],
        kind=data["kind"],
        key=step.key if step else "",
        items=tuple(item for item in known.items if item.public_id in chosen),
        wish_by=known.wish_by,
        eight_in_ten=step.time.eight_in_ten if step and step.time else None,
        despite=data["despite"],
        **(_of_step(step, plan, known, besides) if step else {}),
    )


def _of_step(step: SeriesStep, plan: AcceptedPlan, known: PlanVisits, besides: Visit | None) -> dict[str, Any]:
    settled = {
        visit.key: Settled(visit.starts, visit.ends)
        for visit in known.visits
        if visit.state in HELD and visit.key and (besides is None or visit.pk != besides.pk)
    }
    waits, holds = waits_of(step, known.steps, known.diary, accepted_on=plan.accepted_on, settled=settled)
    found: dict[str, Any] = {"waits": waits, "holds": holds, "unsettled": unsettled(step, known.steps, settled)}
    if step.laboratory:
        case = known.case_for(step.key)
        is_out = case is not None and case.state in OPEN_LABORATORY
        found |= {
            "laboratory": case.words if case else step.words,
            "laboratory_due": case.due if case and is_out and case.state != LaboratoryState.ORDERED else None,
            "laboratory_here": case is not None and not is_out,
        }
    return found


@dataclass(frozen=True, slots=True)
class Ending:
    """When a visit is over, how likely, and where it may stop."""

    by: datetime
    of_100: int
    """Of 100 such visits, how many are over by the end of the time booked."""
    stretch_ends: datetime | None
    """The end of the opening hours it lies in."""
    stretch_of_100: int
    points: tuple[StopPoint, ...]


def ending_of(visit: Visit, known: PlanVisits) -> Ending | None:
    """The chance of being over in time and the places to stop; None for a visit whose minutes are not reckoned."""
    step = known.step(visit.key)
    if step is None or step.time is None:
        return None
    day = known.diary.day_of(visit.starts)
    stretch = next(
        (each for each in known.diary.open_stretches(day) if each.starts <= visit.starts and visit.ends <= each.ends),
        None,
    )
    by = stretch.ends if stretch else visit.ends
    return Ending(
        by=visit.ends,
        of_100=finish_chance(step.time, visit.starts, visit.ends),
        stretch_ends=stretch.ends if stretch else None,
        stretch_of_100=finish_chance(step.time, visit.starts, by),
        points=_points(visit, step),
    )


def _points(visit: Visit, step: SeriesStep) -> tuple[StopPoint, ...]:
    """Places to stop where additions share the space; other work is done whole or not begun."""
    plan = read_frozen(visit.plan.frozen)
    option = plan.option(visit.plan.option_key)
    shared = next((each for each in plan.spaces.plans if each.key == option.space_plan), None)
    if shared is None or len(step.teeth) < 2 or not step.blocks:
        return ()
    book = books.current_book(visit.office, books.today(visit.office, visit.at))
    least = with_limits(default_limits(), book.office_limits).gap_left_min
    order = best_order(step.teeth, shared.gaps, least)
    return stopping_points(order, shared.gaps, lambda done: step.time_of(len(done), book), least)
