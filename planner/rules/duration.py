"""How long a course takes: visits, minutes of each, months, and the first day on which everything can be done."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from planner.rules.book import OfficeBook
from planner.rules.clock import Blocks, Span, VisitTime, in_pairs, office_blocks, split_visits, visit_time
from planner.rules.course_days import calendar_of, count_of, joined_at, least_months, months_of, working
from planner.rules.courses import Course
from planner.rules.mouth import CaseFacts
from planner.rules.results import CalendarShape, MinutesShape
from planner.rules.teeth import Tooth
from planner.rules.treatment_parts import Visit
from planner.rules.treatments import Combination, Treatment
from planner.rules.words import many, told


@dataclass(frozen=True, slots=True)
class Duration:
    """What a course asks of the calendar."""

    visits: int
    """Visits at which work is done; reviews are not counted."""
    months_low: int
    months_high: int
    words: str
    minutes: MinutesShape
    longest_visit: int
    """Mean minutes of the longest single visit; 0 where there is none."""
    earliest_finish: date | None
    """The last review included, when everything goes on the shortest waits; None where there is nothing to do."""
    calendar: CalendarShape | None
    how: tuple[str, ...]


def duration_of(
    course: Course,
    parts: tuple[Treatment, ...],
    combination: Combination | None,
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
) -> Duration:
    """Visits, minutes, months and the earliest finish of ``course``, made of the treatments ``parts``."""
    times = working_visits(course, parts, combination, book)
    visits = sum(each.count for each in times)
    low, high = months_of(parts, combination)
    calendar = calendar_of(course, parts, combination, facts, book, today)
    finish = calendar.finish if calendar else None
    least = least_months(parts, combination)
    whole = (f"Such a course takes {many(least, 'month')} at the least.",) if least else ()
    minutes = MinutesShape(
        mean=sum(each.time.mean_minutes * each.count for each in times),
        eight_in_ten=sum(each.time.eight_in_ten * each.count for each in times),
        nine_in_ten=sum(each.time.nine_in_ten * each.count for each in times),
        booked=sum(each.time.booked * each.count for each in times),
        visits=visits,
        how=tuple(
            f"{each.words}{f' × {each.count}' if each.count > 1 else ''}: {step}"
            for each in times
            for step in each.time.how
        ),
    )
    dated = (f"{row.words}: {row.earliest.isoformat()} at the earliest." for row in (calendar.rows if calendar else ()))
    how = (*dated, *whole, *_wish(facts, finish))
    longest = max((each.time.mean_minutes for each in times), default=0)
    return Duration(visits, low, high, _words(visits, low, high), minutes, longest, finish, calendar, how)


def _wish(facts: CaseFacts, finish: date | None) -> Iterator[str]:
    """The arithmetic of the day that is wished for, firm or only hoped for."""
    wish = facts.limits.wish_by
    if wish is None or finish is None:
        return
    what = f" ({facts.limits.wish_by_words})" if facts.limits.wish_by_words else ""
    apart = "on the day itself, " if finish == wish else f"{many(abs((wish - finish).days), 'day')} "
    side = "" if finish == wish else "before " if finish < wish else "after "
    yield f"Done on {finish.isoformat()} at the earliest, {apart}{side}{wish.isoformat()}{what}."


def _words(visits: int, low: int, high: int) -> str:
    said = many(visits, "visit")
    if not high:
        return said
    months = told("{low} to {high} months", low=low, high=high) if low != high else many(high, "month")
    return f"{said}, {months}"


def _teeth(course: Course, treatment: str) -> tuple[Tooth, ...]:
    """The teeth, or the places filled, that minutes are counted for."""
    places = tuple(
        work.tooth for work in course.work if work.treatment == treatment and work.fills_place and work.tooth
    )
    return places or tuple(
        work.tooth for work in course.work if work.treatment == treatment and work.tooth and not work.extracted
    )


def block_minutes(treatment: str, visit: Visit, teeth: int, book: OfficeBook) -> Blocks:
    """The minutes of ``visit`` by block, the office's own where its book has any, else the starting ones."""
    start = Blocks(treatment, visit.key, teeth, Span(*visit.set_up), Span(*visit.per_tooth), Span(*visit.finish))
    return office_blocks(book, start)


@dataclass(frozen=True, slots=True)
class WorkingVisit:
    """One visit at which work is done, as often as it comes."""

    treatment: str
    visit: str
    """Key of the visit, as the treatment's own file calls it."""
    words: str
    teeth: tuple[Tooth, ...]
    """The teeth, or places filled, of its treatment that it is for; those brought by another stand beside them."""
    time: VisitTime
    count: int
    blocks: tuple[Blocks, ...]
    """What the time is made of, its own treatment's last."""


def working_visits(
    course: Course, parts: tuple[Treatment, ...], combination: Combination | None, book: OfficeBook
) -> tuple[WorkingVisit, ...]:
    """The visits of ``course`` at which work is done, in order; those too long for the office are split by teeth."""
    return tuple(_working_visits(course, parts, combination, book))


def review_time(visit: Visit, treatment: str, book: OfficeBook) -> VisitTime:
    """How long a review takes."""
    return visit_time([block_minutes(treatment, visit, 0, book)], book.tooth_correlation, book.slot_minutes)


def _working_visits(
    course: Course, parts: tuple[Treatment, ...], combination: Combination | None, book: OfficeBook
) -> Iterator[WorkingVisit]:
    brought: dict[str, list[Blocks]] = {}
    for part in parts:
        teeth = _teeth(course, part.key)
        if later := joined_at(part, combination):
            brought.setdefault(later, []).extend(
                block_minutes(part.key, visit, len(teeth), book) for visit in working(part)
            )
            continue
        others = brought.get(part.key, [])
        for visit in working(part):
            yield from _one_visit(part, visit, teeth, others, book)
            others = []


def _one_visit(
    part: Treatment, visit: Visit, teeth: tuple[Tooth, ...], others: list[Blocks], book: OfficeBook
) -> Iterator[WorkingVisit]:
    def blocks_of(some: tuple[Tooth, ...]) -> tuple[Blocks, ...]:
        return (*others, block_minutes(part.key, visit, len(some), book))

    def time_of(some: tuple[Tooth, ...]) -> VisitTime:
        return visit_time(blocks_of(some), book.tooth_correlation, book.slot_minutes)

    whole = time_of(teeth)
    by_tooth = any(visit.per_tooth) and len(teeth) > 1
    if whole.booked <= book.visit_limit_minutes or not by_tooth or (visit.laboratory and part.fills_place):
        yield WorkingVisit(part.key, visit.key, visit.words, teeth, whole, count_of(visit), blocks_of(teeth))
        return
    for one in split_visits(in_pairs(teeth), time_of, book.visit_limit_minutes):
        words = f"{visit.words} ({', '.join(tooth.name for tooth in one.teeth)})"
        yield WorkingVisit(part.key, visit.key, words, one.teeth, one.time, count_of(visit), blocks_of(one.teeth))
