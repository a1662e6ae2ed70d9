"""The days of one course: every visit as a step of the calendar with its waits, and the whole reckoned back from a day.

The first step is the signed answer: work that cuts a tooth waits for the office's time to think it over, counted from
the day the letter can be handed out, which is today.
"""

from collections.abc import Iterator
from datetime import date, timedelta

from planner.rules.book import OfficeBook
from planner.rules.calendar_days import BackPlan, DayStep, OpenDays, back_from, earliest_days
from planner.rules.courses import Course
from planner.rules.evidence import evidence
from planner.rules.gate_facts import add_months
from planner.rules.mouth import CaseFacts
from planner.rules.results import CalendarRow, CalendarShape
from planner.rules.treatment_parts import Visit
from planner.rules.treatments import Combination, Treatment
from planner.rules.units import many

ANSWER = "answer"
_ANSWER_WORDS = ("The letter signed", "La carta firmada")
_ORDERED_WORDS = ("Laboratory work ordered for: {visit}", "Trabajo de laboratorio encargado para: {visit}")
_INDEX = "index"


def working(part: Treatment) -> Iterator[Visit]:
    """The visits at which work is done; reviews and what may be left out are not among them."""
    yield from (visit for visit in part.visits if visit.kind == "work" and not visit.optional)


def count_of(visit: Visit) -> int:
    """How often a visit comes."""
    return 1 if visit.times is None else int(visit.times.value.to_integral_value())


def joined_at(part: Treatment, combination: Combination | None) -> str:
    """The treatment at whose visit this one is done as well, if any."""
    pairs = combination.same_visit if combination else ()
    return next((later for earlier, later in pairs if earlier == part.key), "")


def months_of(parts: tuple[Treatment, ...], combination: Combination | None) -> tuple[int, int]:
    """The months a course takes, low and high; (0, 0) where days say it all."""
    if combination is not None and combination.months is not None:
        low, _, high = combination.months.range
        return low, high
    ranges = [part.months.range for part in parts if part.months is not None]
    return sum(low for low, _, _ in ranges), sum(high for _, _, high in ranges)


def least_months(parts: tuple[Treatment, ...], combination: Combination | None) -> int:
    """The months a course takes at the least, where teeth must move or bone must heal; else 0."""
    slow = any(not {"braces", "surgery"}.isdisjoint(part.flags) for part in parts)
    return months_of(parts, combination)[0] if slow else 0


def calendar_of(
    course: Course,
    parts: tuple[Treatment, ...],
    combination: Combination | None,
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
) -> CalendarShape | None:
    """When each step of ``course`` can be at the earliest and, where a day is wished for, must be at the latest.

    None where nothing is done. Closed days, laboratory days and every wait are counted; absences of single people are
    not known here.
    """
    steps = course_steps(course, parts, combination, facts, book, today)
    if not steps:
        return None
    open_days = OpenDays.of(book)
    earliest = earliest_days(steps, today, open_days)
    wish_by = facts.limits.wish_by
    back = None if wish_by is None else back_from(steps, today, wish_by, open_days)
    latest = {row.key: row for row in back.rows} if back else {}
    spanish = _spanish(parts)
    rows = tuple(
        CalendarRow(
            key=step.key,
            words=step.words,
            words_es=spanish[step.key],
            earliest=earliest[step.key],
            latest=latest[step.key].latest if back else None,
            slack_days=latest[step.key].slack_days if back else None,
        )
        for step in steps
    )
    return CalendarShape(
        rows=rows,
        finish=max(earliest.values()),
        wish_by=wish_by,
        possible=back.possible if back else None,
        sentence=back.sentence if back else "",
        notes=tuple(_notes(parts, steps, back, today)),
    )


def course_steps(
    course: Course,
    parts: tuple[Treatment, ...],
    combination: Combination | None,
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
) -> tuple[DayStep, ...]:
    """The signed answer and every visit as steps of the calendar, with the shortest waits that are allowed.

    A visit's key is its treatment's and its own with a point between. Nothing where nothing is done.
    """
    visits = tuple(_visit_days(parts, combination, facts, book))
    if not visits:
        return ()
    thinking = -(-book.reflection_hours_subtractive // 24) if course.reduced() else 0
    answer = DayStep(ANSWER, _ANSWER_WORDS[0], in_office=False, not_before=today + timedelta(days=thinking))
    *others, last = visits
    if least := least_months(parts, combination):
        # What is known of how long teeth move and bone heals outweighs a calendar of shortest waits.
        days = (add_months(today, least) - today).days
        last = DayStep(last.key, last.words, (*last.after, (ANSWER, days)), last.in_office, last.not_before)
    return (answer, *others, last)


def _visit_days(
    parts: tuple[Treatment, ...], combination: Combination | None, facts: CaseFacts, book: OfficeBook
) -> Iterator[DayStep]:
    """Every visit as a step of the calendar, with the shortest waits that are allowed."""
    before = ANSWER
    ended: dict[str, str] = {}
    night = facts.examination.colour.last_whitening_night
    settled = None if night is None else night + timedelta(days=int(evidence("whitening-bond-wait").value))
    for part in parts:
        if joined_at(part, combination):
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
            if earlier == ANSWER and visit.laboratory:
                # Nobody orders before the answer; with an earlier visit the order goes out at that one.
                earlier = f"{key}.ordered"
                yield DayStep(earlier, _ORDERED_WORDS[0].format(visit=visit.words), ((ANSWER, 0),), in_office=False)
            # Repeated visits stand as one step, so many least waits further on.
            again = visit.min_days * (count_of(visit) - 1)
            after = tuple((name, days + again) for name, days in ((earlier, least), *waits))
            yield DayStep(key, visit.words, after, not_before=settled if waits_for_shade else None)
            waits = []
            before = key
            if visit.kind == "work" or visit.ends:
                ended[part.key] = key


def _spanish(parts: tuple[Treatment, ...]) -> dict[str, str]:
    found = {ANSWER: _ANSWER_WORDS[1]}
    for part in parts:
        for visit in part.visits:
            key = f"{part.key}.{visit.key}"
            found[key] = visit.words_es
            found[f"{key}.ordered"] = _ORDERED_WORDS[1].format(visit=visit.words_es)
    return found


def _notes(
    parts: tuple[Treatment, ...], steps: tuple[DayStep, ...], back: BackPlan | None, today: date
) -> Iterator[str]:
    """What the calendar must say beside its days: the months a course takes, and how old an index may grow."""
    known = {step.key for step in steps}
    for part in parts:
        if not any(rule.service == _INDEX for rule in part.charges):
            continue
        months = int(evidence("index-shelf-life").value)
        for visit in part.visits:
            key = f"{part.key}.{visit.key}"
            if visit.laboratory and key in known:
                said = f"The silicone index is used within {many(months, 'month')} of being made."
                latest = {row.key: row for row in back.rows}[key].latest if back else None
                if latest is not None and (made := add_months(latest, -months)) > today:
                    said += f" For {visit.words.lower()} as late as {latest.isoformat()} it is not made before "
                    said += f"{made.isoformat()}."
                yield said
