"""The Monday page put together: ten blocks, as much of them as somebody may see, and the months of the cohort."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import Enum

from planner.followup import reading_truth as truth
from planner.followup.calling import to_call
from planner.followup.reading_cohort import read_cohort
from planner.followup.reading_plans import endings, item_rows, open_work, plan_rows, visits_ahead
from planner.followup.reading_reviews import reviews_due
from planner.practice.access import Act, Thing, require
from planner.practice.books import current_book, today
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules import figure_words as words
from planner.rules import figures, monday
from planner.rules.figure_rows import CallRow, PlanRow, Timed
from planner.rules.figures import Cohort, Figure
from planner.rules.monday import Block
from planner.rules.units import many

MONTHS = 6
"""So many months make a cohort unless another is chosen."""


class Scope(Enum):
    """How much of the page somebody sees."""

    CALLS = "calls"
    """The front desk: whom to call."""
    OWN = "own"
    """A dentist: what they checked, showed or treat."""
    ALL = "all"


@dataclass(frozen=True, slots=True)
class Page:
    """What the page shows on a day."""

    day: date
    scope: Scope
    blocks: tuple[Block, ...]
    cohort: Cohort
    plans: tuple[PlanRow, ...]
    names: dict[str, str]
    """Of options, by key."""
    timed: tuple[Timed, ...]


def scope_of(actor: Staff) -> Scope:
    """How much ``actor`` sees. Nobody sees money by person: there is no such figure."""
    if actor.roles & {Role.OWNER, Role.MANAGER, Role.DESK_LEAD, Role.CHECKER}:
        return Scope.ALL
    return Scope.OWN if Role.DENTIST in actor.roles else Scope.CALLS


def months_back(day: date, count: int = 12) -> tuple[date, ...]:
    """The first days of the last ``count`` months, this one first."""
    found = [day.replace(day=1)]
    while len(found) < count:
        found.append((found[-1] - timedelta(days=1)).replace(day=1))
    return tuple(found)


def mature_month(day: date) -> date:
    """The first day of the newest month whose patients have all had 90 days to answer."""
    return next(
        first for first in months_back(day, 8) if _end(first) + timedelta(days=words.ANSWER_DAYS) <= day
    )  # fmt: skip


def _end(first: date) -> date:
    return (first.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)


def cohort_span(last_month: date, months: int = MONTHS) -> tuple[date, date]:
    """First and last day of the ``months`` that end with ``last_month``."""
    return months_back(last_month, months)[-1], _end(last_month)


def monday_page(*, actor: Staff, now: datetime, last_month: date | None = None, months: int = MONTHS) -> Page:
    """The page as of now; the cohort are the ``months`` up to ``last_month``, the newest mature one if left out.

    The number of queries is the same however much there is. Raises NotAllowed.
    """
    require(actor, Act.VIEW, Thing.MONDAY, subject=actor.office)
    office, scope = actor.office, scope_of(actor)
    day = today(office, now)
    first, last = cohort_span(last_month or mature_month(day), months)
    called = _calls(actor, day, scope)
    if scope is Scope.CALLS:
        calls = monday.calls(called, day)
        return Page(day, scope, (calls,), Cohort(first, last, day, ()), (), {}, ())
    only = actor if scope is Scope.OWN else None
    calls = monday.calls(called, day, reviews_due(office, day, only))
    work = open_work(office, current_book(office, day), now, day, only)
    plans, found = plan_rows(work), read_cohort(office, first, last, day, only)
    cohort, names = found
    running = {one.definition.key: one for one in figures.running_figures(plans, day)}
    timed = truth.minutes_timed(office, day) if only is None else ()
    blocks = (
        monday.breaking(visits_ahead(work), day),
        monday.without_date(plans, item_rows(work), day),
        _with(monday.resting(plans, day), running[words.STUCK.key]),
        _with(calls, figures.calls_figure(truth.calls_made(office, day))),
        replace(monday.ending(endings(work, plans), day), notes=tuple(truth.supplies(office, day))),
        _with(
            monday.deposits(plans, truth.refunds_owed(office) if only is None else (), day), running[words.COVER.key]
        ),
        monday.acceptance(
            (*figures.cohort_figures(cohort), *_named(figures.by_option(cohort), names), *figures.by_person(cohort)),
            mature=cohort.mature,
            said=f"First shown {first.isoformat()} through {last.isoformat()}: {many(len(cohort.people), 'patient')}.",
        ),
        monday.value(plans, (running[words.EARNED.key], running[words.TO_EARN.key])),
        monday.truth(_truth(actor, now, day, timed) if only is None else ()),
        monday.repairs(
            truth.repairs(office, day) if only is None else (),
            [figures.repair_figure(truth.teeth_followed(office, day))] if only is None else (),
        ),
    )
    return Page(day, scope, blocks, cohort, plans, names, timed)


def _with(block: Block, *more: Figure) -> Block:
    return replace(block, figures=(*block.figures, *more))


def _named(found: tuple[Figure, ...], names: dict[str, str]) -> tuple[Figure, ...]:
    return tuple(replace(one, part=names.get(one.part, one.part)) for one in found)


def _calls(actor: Staff, day: date, scope: Scope) -> list[CallRow]:
    mine: Callable[[object], bool] = lambda one: True  # noqa: E731
    if scope is Scope.OWN:
        mine = lambda one: one.estimate.checked_by_id == actor.pk  # type: ignore[attr-defined]  # noqa: E731
    return [
        CallRow(
            one.estimate.public_id,
            one.estimate.case.patient.name,
            one.next.due,
            one.next.number,
            one.next.agreed,
            one.who,
        )
        for one in to_call(actor.office, day)
        if one.next is not None and mine(one)
    ]


def _truth(actor: Staff, now: datetime, day: date, timed: tuple[Timed, ...]) -> tuple[Figure, ...]:
    office = actor.office
    return (
        *figures.minutes_figures(timed),
        figures.visit_figure(truth.visits_kept(office, now, day)),
        figures.laboratory_figure(truth.laboratory_times(office, day)),
        *figures.payer_figures(truth.payers_guessed(office, day)),
    )


def by_months(actor: Staff, day: date) -> tuple[Cohort, ...]:
    """The twelve newest months whose patients have all had 90 days to answer, the oldest first, each by itself."""
    only = actor if scope_of(actor) is Scope.OWN else None
    first, last = cohort_span(mature_month(day), 12)
    whole, _names = read_cohort(actor.office, first, last, day, only)
    return tuple(
        replace(
            whole,
            first=begins,
            last=_end(begins),
            people=tuple(p for p in whole.people if begins <= p.first.on <= _end(begins)),
        )
        for begins in reversed(months_back(last, 12))
    )
