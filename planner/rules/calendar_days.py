"""Days: which are open, how soon a chain of visits can be done, and how late each may be before a wished-for day.

Closed days come from the office's book; nothing here knows a holiday. Waits are calendar days.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planner.rules.book import OfficeBook
from planner.rules.clock import order_steps
from planner.rules.units import many

_LONGEST_SEARCH = 3660


@dataclass(frozen=True, slots=True)
class OpenDays:
    """The days on which the office works."""

    weekdays: frozenset[int]
    """Monday = 0."""
    closed: frozenset[date] = frozenset()

    @classmethod
    def of(cls, book: OfficeBook) -> "OpenDays":
        """The open days of an office."""
        return cls(frozenset(book.open_weekdays), frozenset(book.closed_days))

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.weekdays and day not in self.closed

    def next_open_day(self, day: date) -> date:
        """``day`` when it is open, else the first open day after it. Raises ValueError when ten years hold none."""
        return self._search(day, 1)

    def last_open_day(self, day: date) -> date:
        """``day`` when it is open, else the last open day before it. Raises ValueError when ten years hold none."""
        return self._search(day, -1)

    def add_open_days(self, day: date, count: int) -> date:
        """The ``count``-th open day after ``day``; for 0 the next open day. Raises ValueError for a negative count."""
        if count < 0:
            raise ValueError(f"{count} open days after a day is before it; count from 0")
        for _ in range(count):
            day = self.next_open_day(day + timedelta(days=1))
        return self.next_open_day(day)

    def _search(self, day: date, step: int) -> date:
        for distance in range(_LONGEST_SEARCH):
            found = day + timedelta(days=step * distance)
            if self.is_open(found):
                return found
        raise ValueError(f"no open day within ten years of {day.isoformat()}: check open weekdays and closed days")


@dataclass(frozen=True, slots=True)
class DayStep:
    """One day in the course of a treatment: a visit, or something that happens at home or in the laboratory."""

    key: str
    words: str
    after: tuple[tuple[str, int], ...] = ()
    """Earlier steps, each with the least number of calendar days that must lie between."""
    in_office: bool = True
    """Needs an open day; a last whitening night does not."""
    not_before: date | None = None
    days_before_wish: int = 0
    """Days wanted between this step and the wished-for day, such as time for things to settle."""

    def __post_init__(self) -> None:
        if self.days_before_wish < 0 or any(days < 0 for _, days in self.after):
            raise ValueError(f'"{self.key}" waits a negative number of days')


@dataclass(frozen=True, slots=True)
class DayRow:
    """When a step can be at the earliest and must be at the latest."""

    key: str
    words: str
    earliest: date
    latest: date
    slack_days: int
    """Calendar days between the two; below zero it cannot be."""


@dataclass(frozen=True, slots=True)
class BackPlan:
    """The calendar reckoned back from a wished-for day."""

    rows: tuple[DayRow, ...]
    finish: date
    """Earliest day on which everything is done."""
    possible: bool
    sentence: str


def earliest_days(steps: Sequence[DayStep], start: date, open_days: OpenDays) -> dict[str, date]:
    """The earliest day of each step, none before ``start``. Raises StepOrderError for steps that cannot be ordered."""
    found: dict[str, date] = {}
    for step in _ordered(steps):
        day = max([start, *(found[key] + timedelta(days=days) for key, days in step.after)])
        if step.not_before is not None:
            day = max(day, step.not_before)
        found[step.key] = open_days.next_open_day(day) if step.in_office else day
    return found


def latest_days(steps: Sequence[DayStep], wish_by: date, open_days: OpenDays) -> dict[str, date]:
    """The latest day of each step with everything done by ``wish_by``. Raises StepOrderError as earliest_days does."""
    limits = {step.key: wish_by - timedelta(days=step.days_before_wish) for step in steps}
    found: dict[str, date] = {}
    for step in reversed(_ordered(steps)):
        day = limits[step.key]
        found[step.key] = day = open_days.last_open_day(day) if step.in_office else day
        for key, days in step.after:
            limits[key] = min(limits[key], day - timedelta(days=days))
    return found


def back_from(steps: Sequence[DayStep], start: date, wish_by: date, open_days: OpenDays) -> BackPlan:
    """Earliest and latest day and the slack of every step, in working order, or the sentence that says it cannot be."""
    if not steps:
        raise ValueError("without a step there is nothing to reckon back to")
    earliest, latest = earliest_days(steps, start, open_days), latest_days(steps, wish_by, open_days)
    rows = tuple(
        DayRow(step.key, step.words, earliest[step.key], latest[step.key], (latest[step.key] - earliest[step.key]).days)
        for step in _ordered(steps)
    )
    finish = max(earliest.values())
    tight = min(rows, key=lambda row: row.slack_days)
    possible = tight.slack_days >= 0
    if possible:
        sentence = (
            f"It can be done by {wish_by.isoformat()}, with {many(tight.slack_days, 'day')} to spare; "
            f"at the earliest it is done on {finish.isoformat()}."
        )
    else:
        late = (finish - wish_by).days
        by = f"{many(late, 'day')} after it" if late > 0 else f"{many(-tight.slack_days, 'day')} too late to settle"
        sentence = (
            f"It cannot be done by {wish_by.isoformat()}: the earliest day on which everything is done is "
            f"{finish.isoformat()}, {by}."
        )
    return BackPlan(rows, finish, possible, sentence)


def _ordered(steps: Sequence[DayStep]) -> tuple[DayStep, ...]:
    known = {step.key: step for step in steps}
    return tuple(known[key] for key in order_steps([(step.key, [key for key, _ in step.after]) for step in steps]))
