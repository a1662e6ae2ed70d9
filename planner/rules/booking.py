"""The diary: what stands in the way of a visit, and where the next free time is.

Instants are aware and in UTC; opening hours are hours of the office's own zone. Minutes are real minutes, also in the
night in which clocks change. A visit lies within one stretch of opening hours, so that lunch stays lunch, and nobody
and no chair is ever in two places at once.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from planner.rules.book import OfficeBook, OpenHours
from planner.rules.calendar_days import OpenDays
from planner.rules.units import many

_WEEKDAYS: Final = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")
SEARCH_DAYS: Final = 400
"""So many days ahead free time is looked for; nobody books later."""


class ClockChange(ValueError):
    """An hour of the day that the clock skips, or shows twice, in the night in which clocks change."""


def instant(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The instant at which clocks in ``zone`` show ``at`` on ``day``, in UTC.

    Raises ClockChange with a sentence for an hour that does not come that day, or comes twice (PEP 495).
    """
    shown = datetime.combine(day, at.replace(fold=0), zone)
    early, late = shown.astimezone(UTC), shown.replace(fold=1).astimezone(UTC)
    if early == late:
        return early
    said = f"On {day.isoformat()} clocks change: {_hour(at)}"
    if early.astimezone(zone).replace(tzinfo=None) != shown.replace(tzinfo=None):
        raise ClockChange(f"{said} does not come that day. Take an hour before or after the change.")
    raise ClockChange(f"{said} comes twice that day. Take an hour before or after that, so that it is clear which.")


@dataclass(frozen=True, slots=True, order=True)
class Stretch:
    """Time from one instant up to, and not including, another."""

    starts: datetime
    ends: datetime

    def __post_init__(self) -> None:
        if self.starts.utcoffset() is None or self.ends.utcoffset() is None:
            raise ValueError("a stretch of time begins and ends at aware instants")
        if self.starts >= self.ends:
            raise ValueError(f"a stretch of time from {self.starts} to {self.ends} does not last")

    def overlaps(self, other: "Stretch") -> bool:
        """Whether the two share a moment; one that begins when the other ends does not overlap it."""
        return self.starts < other.ends and other.starts < self.ends


@dataclass(frozen=True, slots=True)
class Taken:
    """Time that is not free: for whom, in which chair, with which patient; what is empty is free."""

    time: Stretch
    clinician: str = ""
    chair: str = ""
    patient: str = ""
    words: str = "another appointment"


@dataclass(frozen=True, slots=True)
class Absent:
    """Whole days on which somebody is not there, first and last included."""

    clinician: str
    first: date
    last: date

    def on(self, day: date) -> bool:
        return self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class Week:
    """The weekdays on which somebody works from a day on, Monday = 0."""

    clinician: str
    effective: date
    weekdays: frozenset[int]


@dataclass(frozen=True)
class Diary:
    """What is known of the office's time. Clinicians go by a key; ``names`` says what they are called."""

    zone: ZoneInfo
    open_days: OpenDays
    hours: tuple[OpenHours, ...]
    chairs: tuple[str, ...]
    slot_minutes: int
    names: Mapping[str, str] = field(default_factory=dict)
    weeks: tuple[Week, ...] = ()
    """Who has none in force works whenever the office is open."""
    absent: tuple[Absent, ...] = ()
    taken: tuple[Taken, ...] = ()

    @classmethod
    def of(
        cls,
        book: OfficeBook,
        *,
        names: Mapping[str, str],
        weeks: Iterable[Week] = (),
        absent: Iterable[Absent] = (),
        taken: Iterable[Taken] = (),
    ) -> "Diary":
        """The diary of an office with this book."""
        return cls(
            zone=ZoneInfo(book.time_zone),
            open_days=OpenDays.of(book),
            hours=book.hours,
            chairs=book.chairs,
            slot_minutes=book.slot_minutes,
            names=names,
            weeks=tuple(weeks),
            absent=tuple(absent),
            taken=tuple(taken),
        )

    def day_of(self, moment: datetime) -> date:
        """The office's day at that instant."""
        return moment.astimezone(self.zone).date()

    def hour_of(self, moment: datetime) -> str:
        """The hour that the office's clock shows at that instant, such as ``8:30``."""
        return _hour(moment.astimezone(self.zone).time())

    def open_stretches(self, day: date) -> tuple[Stretch, ...]:
        """When the office is open on ``day``, in order; lines that touch or overlap are one stretch."""
        if not self.open_days.is_open(day):
            return ()
        lines = sorted((line.opens, line.closes) for line in self.hours if line.weekday == day.weekday())
        found: list[Stretch] = []
        for opens, closes in lines:
            starts, ends = (datetime.combine(day, at, self.zone).astimezone(UTC) for at in (opens, closes))
            if found and starts <= found[-1].ends:
                found[-1] = Stretch(found[-1].starts, max(ends, found[-1].ends))
            elif starts < ends:
                found.append(Stretch(starts, ends))
        return tuple(found)

    def keeps_weekday(self, clinician: str, day: date) -> bool:
        """Whether the weekday of ``day`` is one on which somebody works, absences aside."""
        known = [week for week in self.weeks if week.clinician == clinician and week.effective <= day]
        return not known or day.weekday() in max(known, key=lambda week: week.effective).weekdays

    def works_on(self, clinician: str, day: date) -> bool:
        """Whether somebody works on ``day``: the weekday is theirs and they are not absent."""
        return self.keeps_weekday(clinician, day) and not any(
            each.clinician == clinician and each.on(day) for each in self.absent
        )


@dataclass(frozen=True, slots=True)
class NotBefore:
    """The first day on which something can be done, and why not earlier."""

    day: date
    why: str


@dataclass(frozen=True, slots=True)
class NotAfter:
    """The last day on which something can be, and why not later."""

    day: date
    why: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """A visit somebody would like to book."""

    clinician: str
    chair: str
    patient: str
    starts: datetime
    minutes: int
    waits: tuple[NotBefore, ...] = ()
    holds: tuple[NotAfter, ...] = ()
    unsettled: tuple[str, ...] = ()
    """What comes before it, has no day yet and wants days between, a sentence each."""
    laboratory: str = ""
    """What laboratory work must be there, in words; empty where none is needed."""
    laboratory_due: date | None = None
    """None where it is not known when it comes."""
    laboratory_here: bool = False
    wish_by: date | None = None
    eight_in_ten: int | None = None
    """Minutes within which 8 of 10 such visits are over."""

    @property
    def time(self) -> Stretch:
        return Stretch(self.starts, self.starts + timedelta(minutes=self.minutes))


@dataclass(frozen=True, slots=True)
class Conflict:
    """What stands against a visit. One that stops cannot be booked over; else a reason is wanted."""

    field: str
    """The input at fault."""
    words: str
    stops: bool = True


def conflicts(wanted: Wanted, diary: Diary, now: datetime) -> tuple[Conflict, ...]:
    """Everything that stands against ``wanted``, what stops it first."""
    if wanted.minutes < 1:
        return (Conflict("minutes", f"A visit of {wanted.minutes} minutes does not last."),)
    found = (
        *_when(wanted, diary, now),
        *_who(wanted, diary),
        *_where(wanted, diary),
        *_twice(wanted, diary),
        *_too_early(wanted, diary),
        *_warnings(wanted, diary),
    )
    return tuple(sorted(found, key=lambda conflict: not conflict.stops))


def _when(wanted: Wanted, diary: Diary, now: datetime) -> Iterator[Conflict]:
    day = diary.day_of(wanted.starts)
    said = day.isoformat()
    if wanted.starts < now:
        yield Conflict("day", f"{said}, {diary.hour_of(wanted.starts)} is over: a visit is booked ahead.")
    if day in diary.open_days.closed:
        yield Conflict("day", f"The office is closed on {said}.")
    elif not diary.open_days.is_open(day):
        yield Conflict("day", f"The office is not open on {_WEEKDAYS[day.weekday()]}, and {said} is one.")
    elif not (open_hours := diary.open_stretches(day)):
        yield Conflict("day", f"The office book says no hours for {_WEEKDAYS[day.weekday()]}: type them first.")
    elif not any(each.starts <= wanted.starts and wanted.time.ends <= each.ends for each in open_hours):
        hours = " and ".join(f"{diary.hour_of(each.starts)} to {diary.hour_of(each.ends)}" for each in open_hours)
        ends = diary.hour_of(wanted.time.ends)
        yield Conflict(
            "hour",
            f"{diary.hour_of(wanted.starts)} to {ends} does not lie within opening hours: on {said} the office is open "
            f"{hours}.",
        )


def _who(wanted: Wanted, diary: Diary) -> Iterator[Conflict]:
    day, name = diary.day_of(wanted.starts), diary.names.get(wanted.clinician, wanted.clinician)
    if wanted.clinician not in diary.names:
        yield Conflict("clinician", f"{name or 'Nobody'} treats nobody in this office.")
        return
    if not diary.keeps_weekday(wanted.clinician, day):
        yield Conflict("clinician", f"{name} does not work on {_WEEKDAYS[day.weekday()]}.")
    for each in diary.absent:
        if each.clinician == wanted.clinician and each.on(day):
            yield Conflict(
                "clinician", f"{name} is absent from {each.first.isoformat()} through {each.last.isoformat()}."
            )


def _where(wanted: Wanted, diary: Diary) -> Iterator[Conflict]:
    if wanted.chair in diary.chairs:
        return
    known = ", ".join(diary.chairs)
    yield Conflict("chair", f'The office book has no chair called "{wanted.chair}"; it has: {known or "none yet"}.')


def _twice(wanted: Wanted, diary: Diary) -> Iterator[Conflict]:
    name = diary.names.get(wanted.clinician, wanted.clinician)
    for each in sorted(diary.taken, key=lambda taken: taken.time):
        if not each.time.overlaps(wanted.time):
            continue
        span = f"from {diary.hour_of(each.time.starts)} to {diary.hour_of(each.time.ends)}"
        if each.clinician and each.clinician == wanted.clinician:
            yield Conflict("clinician", f"{name} is taken {span}: {each.words}.")
        if each.chair and each.chair == wanted.chair:
            yield Conflict("chair", f"{wanted.chair} is taken {span}: {each.words}.")
        if each.patient and each.patient == wanted.patient:
            yield Conflict("hour", f"The patient has another visit {span}.")


def _too_early(wanted: Wanted, diary: Diary) -> Iterator[Conflict]:
    day = diary.day_of(wanted.starts)
    for wait in wanted.waits:
        if day < wait.day:
            yield Conflict("day", f"Not before {wait.day.isoformat()}: {wait.why}.")
    for hold in wanted.holds:
        if day > hold.day:
            yield Conflict("day", f"Not after {hold.day.isoformat()}: {hold.why}.")
    if wanted.laboratory and not wanted.laboratory_here and wanted.laboratory_due and day < wanted.laboratory_due:
        due = wanted.laboratory_due.isoformat()
        yield Conflict("day", f"Laboratory work ({wanted.laboratory}) is due on {due}, after the visit.")


def _warnings(wanted: Wanted, diary: Diary) -> Iterator[Conflict]:
    day = diary.day_of(wanted.starts)
    if wanted.laboratory and not wanted.laboratory_here and wanted.laboratory_due is None:
        yield Conflict(
            "day", f"It is not known when laboratory work ({wanted.laboratory}) comes: nothing is ordered yet.", False
        )
    for words in wanted.unsettled:
        yield Conflict("day", words, False)
    if wanted.wish_by is not None and day > wanted.wish_by:
        late = many((day - wanted.wish_by).days, "day")
        yield Conflict("day", f"That is {late} after {wanted.wish_by.isoformat()}, the day wished for.", False)
    if wanted.eight_in_ten is not None and wanted.minutes < wanted.eight_in_ten:
        yield Conflict(
            "minutes",
            f"{many(wanted.minutes, 'minute')} is short: 8 of 10 such visits are over within "
            f"{wanted.eight_in_ten} minutes.",
            False,
        )


# ------------------------------------------------------------------------------------------------------ free time


@dataclass(frozen=True, slots=True, order=True)
class Slot:
    """Free time for a visit."""

    starts: datetime
    chair: str
    minutes: int

    @property
    def ends(self) -> datetime:
        return self.starts + timedelta(minutes=self.minutes)


def free_slots(
    diary: Diary,
    *,
    clinician: str,
    chairs: Sequence[str],
    minutes: int,
    after: datetime,
    patient: str = "",
    count: int = 3,
    days: int = SEARCH_DAYS,
) -> tuple[Slot, ...]:
    """The next ``count`` free times of ``minutes``, none before ``after``, the earliest first.

    One for each stretch of free time, at its first start on the office's slots, in the first of ``chairs`` that has it.
    Raises ValueError for minutes or a count below 1.
    """
    if minutes < 1 or count < 1:
        raise ValueError(f"{count} free times of {minutes} minutes are none: ask for at least one of at least 1 minute")
    found: list[Slot] = []
    first = diary.day_of(after)
    for day in (first + timedelta(days=ahead) for ahead in range(days)):
        if not diary.works_on(clinician, day):
            continue
        found.extend(_free_on(diary, day, clinician, chairs, minutes, after, patient))
        if len(found) >= count:
            break
    return tuple(found[:count])


def _free_on(
    diary: Diary, day: date, clinician: str, chairs: Sequence[str], minutes: int, after: datetime, patient: str
) -> list[Slot]:
    """The free times of one day by their start, each start in one chair only."""
    starts: dict[datetime, Slot] = {}
    for chair in chairs:
        if chair not in diary.chairs:
            continue
        for stretch in diary.open_stretches(day):
            for start in _first_starts(diary, stretch, clinician, chair, minutes, after, patient):
                starts.setdefault(start, Slot(start, chair, minutes))
    return sorted(starts.values())


def _first_starts(
    diary: Diary, stretch: Stretch, clinician: str, chair: str, minutes: int, after: datetime, patient: str
) -> Iterator[datetime]:
    busy = [
        each.time
        for each in diary.taken
        if each.time.overlaps(stretch)
        and (
            (each.clinician and each.clinician == clinician)
            or (each.chair and each.chair == chair)
            or (each.patient and each.patient == patient)
        )
    ]
    step, lasts = timedelta(minutes=diary.slot_minutes), timedelta(minutes=minutes)
    for gap in free_within(stretch, busy):
        earliest = max(gap.starts, after)
        start = stretch.starts + step * -(-(earliest - stretch.starts) // step)
        if start + lasts <= gap.ends:
            yield start


def free_within(whole: Stretch, busy: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """What is left of ``whole`` when everything in ``busy`` is taken out of it, in order."""
    free, at = [], whole.starts
    for each in sorted(busy):
        if each.starts > at:
            free.append(Stretch(at, min(each.starts, whole.ends)))
        at = max(at, each.ends)
        if at >= whole.ends:
            return tuple(free)
    return (*free, Stretch(at, whole.ends))


def _hour(at: time) -> str:
    return f"{at.hour}:{at.minute:02d}"
