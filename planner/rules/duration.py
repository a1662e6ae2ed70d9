"""How long a course takes: visits, minutes of each, months, and the first day on which everything can be done."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from planner.rules.book import OfficeBook
from planner.rules.calendar_days import DayStep, OpenDays, earliest_days
from planner.rules.clock import Blocks, Span, VisitTime, in_pairs, office_blocks, split_visits, visit_time
from planner.rules.courses import Course
from planner.rules.evidence import evidence
from planner.rules.gate_facts import add_months
from planner.rules.mouth import CaseFacts
from planner.rules.results import MinutesShape
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
    earliest_finish: date | None
    """The last review included, when everything goes on the shortest waits; None where there is nothing to do."""
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
    low, high = _months(parts, combination)
    steps = tuple(_days(course, parts, combination, book, facts))
    days = earliest_days(steps, today, OpenDays.of(book)) if steps else {}
    finish = max(days.values(), default=None)
    whole: tuple[str, ...] = ()
    slow = any(not {"braces", "surgery"}.isdisjoint(part.flags) for part in parts)
    if finish is not None and slow:
        # What is known of how long teeth move and bone heals outweighs a calendar of shortest waits.
        least = OpenDays.of(book).next_open_day(add_months(today, low))
        if least > finish:
            finish = least
            whole = (f"Such a course takes {many(low, 'month')} at the least: not before {least.isoformat()}.",)
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
    dated = (f"{step.words}: {days[step.key].isoformat()} at the earliest." for step in steps)
    how = (*dated, *whole, *_wish(facts, finish))
    return Duration(visits, low, high, _words(visits, low, high), minutes, finish, how)


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


def _months(parts: tuple[Treatment, ...], combination: Combination | None) -> tuple[int, int]:
    if combination is not None and combination.months is not None:
        low, _, high = combination.months.range
        return low, high
    ranges = [part.months.range for part in parts if part.months is not None]
    return sum(low for low, _, _ in ranges), sum(high for _, _, high in ranges)


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


def _working(part: Treatment) -> Iterator[Visit]:
    yield from (visit for visit in part.visits if visit.kind == "work" and not visit.optional)


def _count(visit: Visit) -> int:
    return 1 if visit.times is None else int(visit.times.value.to_integral_value())


def _joined(part: Treatment, combination: Combination | None) -> str:
    """The treatment at whose visit this one is done as well, if any."""
    pairs = combination.same_visit if combination else ()
    return next((later for earlier, later in pairs if earlier == part.key), "")


def _times(
    course: Course, parts: tuple[Treatment, ...], combination: Combination | None, book: OfficeBook
) -> Iterator[tuple[str, VisitTime, int]]:
    """Each working visit in words, how long it takes and how often it comes."""
    brought: dict[str, list[Blocks]] = {}
    for part in parts:
        teeth = _teeth(course, part.key)
        if later := _joined(part, combination):
            brought.setdefault(later, []).extend(_blocks(part.key, visit, len(teeth), book) for visit in _working(part))
            continue
        others = brought.get(part.key, [])
        for visit in _working(part):
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
        yield visit.words, whole, _count(visit)
        return
    for one in split_visits(in_pairs(teeth), time_of, book.visit_limit_minutes):
        yield f"{visit.words} ({', '.join(tooth.name for tooth in one.teeth)})", one.time, _count(visit)


def _days(
    course: Course,
    parts: tuple[Treatment, ...],
    combination: Combination | None,
    book: OfficeBook,
    facts: CaseFacts,
) -> Iterator[DayStep]:
    """Every visit as a step of the calendar, with the shortest waits that are allowed."""
    before = ""
    ended: dict[str, str] = {}
    night = facts.examination.colour.last_whitening_night
    settled = None if night is None else night + timedelta(days=int(evidence("whitening-bond-wait").value))
    for part in parts:
        if _joined(part, combination):
            continue
        waits_for_shade = not {"resin", "ceramic"}.isdisjoint(part.flags) and "braces" not in part.flags
        waits = [
            (ended[wait.after], int(wait.days.value.to_integral_value()))
            for wait in (combination.waits if combination else ())
            if wait.before == part.key and wait.after in ended
        ]
        for visit in part.visits:
            if visit.optional:
                continue
            key = f"{part.key}.{visit.key}"
            least = max(visit.min_days, book.laboratory_days if visit.laboratory else 0)
            earlier = f"{part.key}.{visit.counted_from}" if visit.counted_from else before
            after = (*(((earlier, least),) if earlier else ()), *waits)
            if not earlier and least:
                # Nothing comes before: the laboratory's days count from today.
                yield DayStep(f"{key}.ordered", f"{visit.words}, ordered", in_office=False)
                after = ((f"{key}.ordered", least),)
            # Repeated visits stand as one step, so many least waits further on.
            after = tuple((name, days + visit.min_days * (_count(visit) - 1)) for name, days in after)
            yield DayStep(key, visit.words, after, not_before=settled if waits_for_shade else None)
            waits = []
            before = key
            if visit.kind == "work" or visit.ends:
                ended[part.key] = key
