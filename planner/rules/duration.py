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
from planner.rules.units import many


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
    times = tuple(_times(course, parts, combination, book))
    visits = sum(count for _, _, count in times)
    low, high = months_of(parts, combination)
    calendar = calendar_of(course, parts, combination, facts, book, today)
    finish = calendar.finish if calendar else None
    least = least_months(parts, combination)
    whole = (f"Such a course takes {many(least, 'month')} at the least.",) if least else ()
    minutes = MinutesShape(
        mean=sum(time.mean_minutes * count for _, time, count in times),
        eight_in_ten=sum(time.eight_in_ten * count for _, time, count in times),
        nine_in_ten=sum(time.nine_in_ten * count for _, time, count in times),
        booked=sum(time.booked * count for _, time, count in times),
        visits=visits,
        how=tuple(
            f"{name}{f' × {count}' if count > 1 else ''}: {step}" for name, time, count in times for step in time.how
        ),
    )
    dated = (f"{row.words}: {row.earliest.isoformat()} at the earliest." for row in (calendar.rows if calendar else ()))
    how = (*dated, *whole, *_wish(facts, finish))
    longest = max((time.mean_minutes for _, time, _ in times), default=0)
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
    return f"{said}, {f'{low} to {high} months' if low != high else many(high, 'month')}"


def _teeth(course: Course, treatment: str) -> tuple[Tooth, ...]:
    """The teeth, or the places filled, that minutes are counted for."""
    places = tuple(
        work.tooth for work in course.work if work.treatment == treatment and work.fills_place and work.tooth
    )
    return places or tuple(
        work.tooth for work in course.work if work.treatment == treatment and work.tooth and not work.extracted
    )


def _blocks(treatment: str, visit: Visit, teeth: int, book: OfficeBook) -> Blocks:
    start = Blocks(treatment, visit.key, teeth, Span(*visit.set_up), Span(*visit.per_tooth), Span(*visit.finish))
    return office_blocks(book, start)


def _times(
    course: Course, parts: tuple[Treatment, ...], combination: Combination | None, book: OfficeBook
) -> Iterator[tuple[str, VisitTime, int]]:
    """Each working visit in words, how long it takes and how often it comes."""
    brought: dict[str, list[Blocks]] = {}
    for part in parts:
        teeth = _teeth(course, part.key)
        if later := joined_at(part, combination):
            brought.setdefault(later, []).extend(_blocks(part.key, visit, len(teeth), book) for visit in working(part))
            continue
        others = brought.get(part.key, [])
        for visit in working(part):
            yield from _one_visit(part, visit, teeth, others, book)
            others = []


def _one_visit(
    part: Treatment, visit: Visit, teeth: tuple[Tooth, ...], others: list[Blocks], book: OfficeBook
) -> Iterator[tuple[str, VisitTime, int]]:
    def time_of(some: tuple[Tooth, ...]) -> VisitTime:
        blocks = [*others, _blocks(part.key, visit, len(some), book)]
        return visit_time(blocks, book.tooth_correlation, book.slot_minutes)

    whole = time_of(teeth)
    by_tooth = any(visit.per_tooth) and len(teeth) > 1
    if whole.booked <= book.visit_limit_minutes or not by_tooth or (visit.laboratory and part.fills_place):
        yield visit.words, whole, count_of(visit)
        return
    for one in split_visits(in_pairs(teeth), time_of, book.visit_limit_minutes):
        yield f"{visit.words} ({', '.join(tooth.name for tooth in one.teeth)})", one.time, count_of(visit)
