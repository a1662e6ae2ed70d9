"""The visits of an accepted course, one after the other: how long each is, what it waits for, and a proposal of days.

The waits are those of :mod:`planner.rules.course_days`, the minutes those of :mod:`planner.rules.duration`; here they
meet the diary. What is booked or done already stays where it is, and everything after it is reckoned from there.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from planner.rules.book import OfficeBook
from planner.rules.booking import SEARCH_DAYS, Diary, NotAfter, NotBefore, Slot, free_slots
from planner.rules.calendar_days import DayStep
from planner.rules.clock import Blocks, VisitTime, visit_time
from planner.rules.course_days import ANSWER, course_steps
from planner.rules.courses import Course, Work
from planner.rules.duration import WorkingVisit, review_time, working_visits
from planner.rules.mouth import CaseFacts
from planner.rules.results import OptionShape
from planner.rules.teeth import Tooth
from planner.rules.treatment_parts import Visit
from planner.rules.treatments import Combination, Treatment
from planner.rules.units import many

PROPOSED_AT_ONCE: Final = 6
"""So many visits get free times at once; of later ones only the earliest day is said."""


@dataclass(frozen=True, slots=True)
class SeriesStep:
    """One visit of a course, or something on its way that needs no visit (laboratory work sent out)."""

    key: str
    words: str
    after: tuple[tuple[str, int], ...]
    """Earlier steps, each with the least number of calendar days between."""
    kind: str
    """``work``, ``review``, or ``order`` for what needs no visit."""
    time: VisitTime | None = None
    """How long it takes; None where it needs no visit."""
    treatments: tuple[str, ...] = ()
    """Its own treatment first, then those done at the same visit."""
    teeth: tuple[Tooth, ...] = ()
    laboratory: bool = False
    """Laboratory work must be there."""
    min_days: int = 0
    """Days that must pass since the step before even when laboratory work is there early."""
    waits: tuple[NotBefore, ...] = ()
    blocks: tuple[Blocks, ...] = ()
    """What the time of work is made of, that of ``teeth`` last."""

    def time_of(self, teeth: int, book: OfficeBook) -> VisitTime:
        """How long it takes with only so many of its teeth. Raises ValueError where no teeth are worked on."""
        if not self.blocks:
            raise ValueError(f"“{self.words}” is not made of teeth")
        *others, own = self.blocks
        return visit_time([*others, replace(own, teeth=teeth)], book.tooth_correlation, book.slot_minutes)


def course_of(option: OptionShape) -> Course:
    """The plain work of an option as it was frozen, enough to reckon minutes, days and materials from."""
    work = tuple(
        Work(
            line.treatment,
            line.tooth,
            line.surfaces,
            mesial=line.mesial_tenths,
            distal=line.distal_tenths,
            lengthening=line.lengthening_tenths,
            removal=line.removal_tenths,
            narrower=line.narrower,
            crown_percent=(line.crown_percent_low, line.crown_percent_high),
            fills_place=line.fills_place,
            irreversible=line.irreversible,
            extracted=line.extracted,
        )
        for line in option.work
    )
    return Course(option.key, option.treatments, work)


def series_of(
    course: Course,
    parts: tuple[Treatment, ...],
    combination: Combination | None,
    facts: CaseFacts,
    book: OfficeBook,
    accepted_on: date,
) -> tuple[SeriesStep, ...]:
    """Every visit of ``course`` in working order; one too long for the office is several, a repeated one as often.

    Repetitions and parts are numbered behind the key: ``bonding.bonding#2``.
    """
    visits = {f"{part.key}.{visit.key}": (part, visit) for part in parts for visit in part.visits}
    work: dict[str, list[WorkingVisit]] = {}
    for each in working_visits(course, parts, combination, book):
        work.setdefault(f"{each.treatment}.{each.visit}", []).append(each)
    last: dict[str, str] = {}
    found: list[SeriesStep] = []
    for step in course_steps(course, parts, combination, facts, book, accepted_on):
        if step.key == ANSWER:
            continue
        after = tuple((last.get(key, key), days) for key, days in step.after)
        if step.key not in visits:
            found.append(SeriesStep(step.key, step.words, after, "order"))
            continue
        part, visit = visits[step.key]
        found.extend(_of_one(step, after, part, visit, work.get(step.key, ()), book))
        last[step.key] = found[-1].key
    return tuple(found)


def _of_one(
    step: DayStep,
    after: tuple[tuple[str, int], ...],
    part: Treatment,
    visit: Visit,
    work: Sequence[WorkingVisit],
    book: OfficeBook,
) -> Iterator[SeriesStep]:
    waits: tuple[NotBefore, ...] = ()
    if step.not_before is not None:
        waits = (NotBefore(step.not_before, "the wait after the last whitening night ends that day"),)
    if not work:
        time_needed = review_time(visit, part.key, book)
        yield SeriesStep(step.key, step.words, after, visit.kind, time_needed, (part.key,), waits=waits)
        return
    times = max(each.count for each in work)
    again = visit.min_days * (times - 1)
    chunks = [each for each in work for _ in range(each.count)]
    before = ""
    for number, each in enumerate(chunks, start=1):
        key = step.key if len(chunks) == 1 else f"{step.key}#{number}"
        # The step stands for all repetitions; each by itself waits only for the one before it.
        own = ((before, visit.min_days if times > 1 else 1),) if before else tuple((k, d - again) for k, d in after)
        yield SeriesStep(
            key,
            each.words,
            own,
            visit.kind,
            each.time,
            tuple(dict.fromkeys(block.treatment for block in reversed(each.blocks))),
            each.teeth,
            visit.laboratory and number == 1,
            visit.min_days,
            waits,
            each.blocks,
        )
        before = key


def without(steps: Sequence[SeriesStep], gone: Sequence[str]) -> tuple[SeriesStep, ...]:
    """The steps without those whose key is in ``gone``; who waited for one of them waits for what that waited for."""
    kept: list[SeriesStep] = []
    instead: dict[str, tuple[tuple[str, int], ...]] = {}
    for step in steps:
        after = tuple(pair for key, days in step.after for pair in instead.get(key, ((key, days),)))
        if step.key in gone:
            instead[step.key] = after
        else:
            kept.append(replace(step, after=after))
    return tuple(kept)


# ------------------------------------------------------------------------------------------------------- proposal


@dataclass(frozen=True, slots=True)
class ProposedVisit:
    """Where one visit could be, and why not earlier."""

    step: SeriesStep
    earliest: date
    """The first day on which it may be, whether or not anybody has time."""
    slots: tuple[Slot, ...] = ()
    reasons: tuple[str, ...] = ()
    """What the earliest day follows from, one sentence each."""
    sentence: str = ""
    """Why no free time is proposed; empty where there is one."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A step that has its day already: booked, done, or the answer itself."""

    starts: datetime
    ends: datetime


def propose_series(
    steps: Sequence[SeriesStep],
    diary: Diary,
    *,
    clinician: str,
    patient: str,
    accepted_on: date,
    now: datetime,
    settled: Mapping[str, Settled] | None = None,
    laboratory_due: Mapping[str, date] | None = None,
    each: int = 3,
) -> tuple[ProposedVisit, ...]:
    """A proposal for every step that is not settled, in order, each after all it waits for.

    ``settled`` are the steps that have their day; ``laboratory_due`` says for which steps laboratory work is ordered
    and when it comes, which counts instead of the office's usual laboratory days. A later step is reckoned from the
    first free time of an earlier one.
    """
    known = {ANSWER: _answered(accepted_on, diary)} | dict(settled or {})
    due = laboratory_due or {}
    words = _words(steps)
    found: list[ProposedVisit] = []
    visits = 0
    for step in steps:
        if step.key in known:
            continue
        after, reasons = _floor(step, known, words, diary, now, due.get(step.key))
        day = diary.day_of(after)
        if step.time is None:
            known[step.key] = Settled(after, after)
            continue
        visits += 1
        slots: tuple[Slot, ...] = ()
        if visits <= PROPOSED_AT_ONCE:
            slots = free_slots(
                diary,
                clinician=clinician,
                chairs=diary.chairs,
                minutes=step.time.booked,
                after=after,
                patient=patient,
                count=each,
            )
        ends = slots[0].ends if slots else after + timedelta(minutes=step.time.booked)
        known[step.key] = Settled(slots[0].starts if slots else after, ends)
        sentence = "" if slots or visits > PROPOSED_AT_ONCE else _no_time(step.time.booked, day, clinician, diary)
        found.append(ProposedVisit(step, day, slots, reasons, sentence))
    return tuple(found)


def waits_of(
    step: SeriesStep,
    steps: Sequence[SeriesStep],
    diary: Diary,
    *,
    accepted_on: date,
    settled: Mapping[str, Settled],
) -> tuple[tuple[NotBefore, ...], tuple[NotAfter, ...]]:
    """What keeps ``step`` from being earlier, and what keeps it from being later, by what is booked or done already.

    When laboratory work comes is not among it: whoever books knows that better.
    """
    known = {ANSWER: _answered(accepted_on, diary)} | dict(settled)
    known.pop(step.key, None)
    floors = _floors(step, known, _words(steps), diary, date.min)
    waits = tuple(NotBefore(diary.day_of(floor), why.removesuffix(".")) for floor, why in floors)
    holds = []
    for later in steps:
        if later.key not in known:
            continue
        days = _least(later, laboratory_known=True).get(step.key)
        if days is None:
            continue
        booked = diary.day_of(known[later.key].starts)
        why = f"{many(days, 'day')} must lie between it and “{later.words}” on {booked.isoformat()}"
        if not days:
            why = f"“{later.words}” comes after it, on {booked.isoformat()}"
        holds.append(NotAfter(booked - timedelta(days=days), why))
    return waits, tuple(holds)


def unsettled(step: SeriesStep, steps: Sequence[SeriesStep], settled: Mapping[str, Settled]) -> tuple[str, ...]:
    """The visits that come before ``step`` with days between and are neither booked nor done, a sentence each."""
    visits = {each.key: each for each in steps if each.time is not None}
    return tuple(
        f"“{visits[key].words}” comes before it and has no day yet: {many(days, 'day')} must lie between them."
        for key, days in _least(step, laboratory_known=True).items()
        if days and key in visits and key not in settled
    )


def _words(steps: Sequence[SeriesStep]) -> dict[str, str]:
    return {ANSWER: "the answer"} | {step.key: f"“{step.words}”" for step in steps}


def _answered(accepted_on: date, diary: Diary) -> Settled:
    midnight = _begin(accepted_on, diary)
    return Settled(midnight, midnight)


def _floor(
    step: SeriesStep,
    known: Mapping[str, Settled],
    words: Mapping[str, str],
    diary: Diary,
    now: datetime,
    due: date | None,
) -> tuple[datetime, tuple[str, ...]]:
    """The earliest instant of a step, and the sentences for every wait that keeps it from being today."""
    floors = _floors(step, known, words, diary, due)
    after = max([now, *(floor for floor, _ in floors)])
    return after, tuple(dict.fromkeys(why for floor, why in floors if why and floor > now))


def _floors(
    step: SeriesStep, known: Mapping[str, Settled], words: Mapping[str, str], diary: Diary, due: date | None
) -> list[tuple[datetime, str]]:
    floors: list[tuple[datetime, str]] = []
    for key, days in _least(step, laboratory_known=due is not None).items():
        if key not in known or (due is not None and key == f"{step.key.partition('#')[0]}.ordered"):
            continue
        if not days:
            floors.append((known[key].ends, _sentence(f"{words[key]} comes first.")))
            continue
        day = diary.day_of(known[key].starts) + timedelta(days=days)
        why = f"{many(days, 'day')} after {words[key]}: from {day.isoformat()}."
        if key.endswith(".ordered"):
            ordered = diary.day_of(known[key].starts).isoformat()
            why = f"Laboratory work takes {many(days, 'day')}; ordered on {ordered}, it is here on {day.isoformat()}."
        floors.append((_begin(day, diary), _sentence(why)))
    floors.extend((_begin(wait.day, diary), _sentence(f"{wait.why}: {wait.day.isoformat()}.")) for wait in step.waits)
    if due is not None and due > date.min:
        floors.append((_begin(due, diary), f"Laboratory work is due on {due.isoformat()}."))
    return floors


def _least(step: SeriesStep, *, laboratory_known: bool) -> dict[str, int]:
    """The days that must lie between each earlier step and this one.

    Only the way from the visit before holds the office's laboratory days; every other wait stands, whatever is here
    early.
    """
    found: dict[str, int] = {}
    for place, (key, least) in enumerate(step.after):
        early = laboratory_known and step.laboratory and place == 0
        found[key] = max(found.get(key, 0), min(least, step.min_days) if early else least)
    return found


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _begin(day: date, diary: Diary) -> datetime:
    return datetime.combine(day, time(0), diary.zone).astimezone(UTC)


def _no_time(minutes: int, day: date, clinician: str, diary: Diary) -> str:
    name = diary.names.get(clinician, clinician)
    if not diary.chairs:
        return "The office book names no chair: type them with the opening hours."
    if not diary.hours:
        return "The office book says no opening hours: type them first."
    longest = max(
        (
            (stretch.ends - stretch.starts) // timedelta(minutes=1)
            for ahead in range(14)
            for stretch in diary.open_stretches(day + timedelta(days=ahead))
        ),
        default=0,
    )
    if longest and longest < minutes:
        return f"{minutes} minutes fit into no opening hours: the longest stretch without a break is {longest} minutes."
    return f"{name} has no {minutes} minutes free within {SEARCH_DAYS} days of {day.isoformat()}."
