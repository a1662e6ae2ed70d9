"""How the office's own work lasts: repairs by tooth-year, and how many of 100 still stand, beside what was published.

A tooth is followed from the day on which it was done until its patient was last seen, until other work took its place,
or until it was lost. A repair counts on the day on which it was done, a chip or a loss on the day on which it was seen,
so at the latest. Times are whole days; a year has 365.25 of them.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Final

from planner.rules.cents import half_up
from planner.rules.figure_words import FEW
from planner.rules.product_limit import Step, at_risk, product_limit, share_at
from planner.rules.settings import read_settings
from planner.rules.survival import HUNDRED, survival
from planner.rules.treatment_parts import Curve
from planner.rules.units import many

YEAR: Final = Fraction(1461, 4)
"""Days in a year."""
UNTOUCHED, IN_PLACE = "never touched", "still in place"
"""The kinds of published curve that own work can be held against."""


@dataclass(frozen=True, slots=True)
class OwnTooth:
    """One tooth on which work was done, and what became of it."""

    patient: str
    treatment: str
    tooth: str
    done_on: date
    seen_on: date
    """Until this day it is known what became of it; never before ``done_on``."""
    lengthened: int = 0
    """How much longer its edge was made, tenths of a millimetre."""
    chipped: tuple[date, ...] = ()
    """Days on which a chip was seen and left as it is."""
    mended: tuple[date, ...] = ()
    lost_on: date | None = None

    def __post_init__(self) -> None:
        if self.seen_on < self.done_on:
            raise ValueError(f"a tooth done on {self.done_on} cannot have been seen last on {self.seen_on}")

    @property
    def ends_on(self) -> date:
        """The last day on which it is counted."""
        return self.seen_on if self.lost_on is None else min(self.seen_on, self.lost_on)

    @property
    def days(self) -> int:
        return (self.ends_on - self.done_on).days

    @property
    def repairs(self) -> int:
        """Days on which it was mended, as far as it is followed."""
        return len({on for on in self.mended if self.done_on <= on <= self.ends_on})

    @property
    def chips(self) -> int:
        """Days on which it was found chipped, mended then or not, as far as it is followed."""
        return len({on for on in (*self.chipped, *self.mended) if self.done_on <= on <= self.ends_on})

    def until(self, kind: str) -> tuple[int, bool]:
        """Days to the first event of ``kind``, and whether there was one; else the days followed.

        Untouched ends with a repair or a loss, in place with a loss alone. A chip that was left as it is ends neither.
        """
        events = [self.lost_on] if self.lost_on is not None and self.lost_on <= self.seen_on else []
        if kind == UNTOUCHED:
            events += [on for on in self.mended if self.done_on <= on <= self.ends_on]
        first = min((on for on in events if on is not None), default=None)
        return (self.days, False) if first is None else ((first - self.done_on).days, True)


# ------------------------------------------------------------------------------------------------------------ rates


@dataclass(frozen=True, slots=True)
class Rate:
    """Events among tooth-years; below ten teeth only counts are said."""

    events: int
    days: int
    teeth: int
    people: int

    @property
    def is_few(self) -> bool:
        return self.teeth < FEW

    @property
    def years(self) -> Fraction:
        """Tooth-years followed, exact."""
        return Fraction(self.days) / YEAR

    @property
    def of_100(self) -> Fraction | None:
        """Events for 100 tooth-years; None where nothing was followed."""
        return 100 * self.events / self.years if self.days else None

    @property
    def years_said(self) -> str:
        """Tooth-years with one decimal."""
        return tenths(self.years)

    @property
    def counts(self) -> str:
        """``3 in 41.2 tooth-years (18 teeth, 7 people)``."""
        if not self.teeth:
            return "nothing followed yet"
        people = f"{self.people} {'person' if self.people == 1 else 'people'}"
        return f"{self.events} in {self.years_said} tooth-years ({many(self.teeth, 'tooth')}, {people})"

    @property
    def said(self) -> str:
        """As it is printed: a rate only where at least ten teeth stand behind it."""
        if self.is_few or self.of_100 is None:
            return self.counts
        return f"{tenths(self.of_100)} for 100 tooth-years: {self.counts}"


def tenths(exact: Fraction) -> str:
    """A number of nothing or more with one decimal, half-up."""
    whole, rest = divmod(half_up(exact * 10), 10)
    return f"{whole}.{rest}"


def rate(teeth: Iterable[OwnTooth], events: Callable[[OwnTooth], int]) -> Rate:
    """How often something happened to ``teeth`` among their tooth-years."""
    rows = list(teeth)
    return Rate(sum(map(events, rows)), sum(one.days for one in rows), len(rows), len({one.patient for one in rows}))


def expected(teeth: Iterable[OwnTooth], curve: Curve) -> Fraction:
    """How many first events ``curve`` lets one expect among ``teeth``, each followed as long as it was.

    The sum of the hazards up to the end of each: -ln S(t). Beyond the last published year nothing is added, since
    nothing was published.
    """
    points = curve.years_and_shares
    total = Decimal(0)
    for one in teeth:
        years = min(Decimal(one.days) / Decimal("365.25"), curve.last_year)
        total -= (survival(points, years) / HUNDRED).ln()
    return Fraction(total)


def blended(own: Rate, published_of_100: Fraction) -> Fraction:
    """(weight × published + own events) ÷ (weight + own tooth-years), for 100 tooth-years.

    The published rate counts for as many tooth-years as the setting ``prior_tooth_years`` says. It proposes; nothing is
    changed by it.
    """
    weight: int = read_settings("reviews.toml")["prior_tooth_years"].value
    return 100 * (weight * published_of_100 / 100 + own.events) / (weight + own.years)


# ----------------------------------------------------------------------------------------------------------- curves


@dataclass(frozen=True, slots=True)
class OwnYear:
    """The office's own curve at the end of one year."""

    year: int
    at_risk: int
    """Teeth still followed then."""
    failed: int
    """So many had failed by then."""
    share: Fraction | None
    """0 to 1; None where fewer than ten are still followed: then counts alone are said."""
    low: Decimal | None
    high: Decimal | None


@dataclass(frozen=True, slots=True)
class OwnCurve:
    """How many of the office's own teeth still stand, by days."""

    kind: str
    teeth: int
    people: int
    days: tuple[int, ...]
    """How long each was followed, or until it failed."""
    steps: tuple[Step, ...]

    @property
    def is_few(self) -> bool:
        return self.teeth < FEW

    @property
    def drawn_days(self) -> int:
        """The curve is drawn as long as ten teeth are still followed; 0 where fewer ever were."""
        return sorted(self.days)[-FEW] if not self.is_few else 0

    def by_year(self, years: int) -> tuple[OwnYear, ...]:
        """The table behind the curve: at the end of year 1 to ``years``."""
        return tuple(self._year(year) for year in range(1, years + 1))

    def _year(self, year: int) -> OwnYear:
        time = year * YEAR
        followed = at_risk(self.days, time)
        past = [step for step in self.steps if step.time <= time]
        failed = sum(step.failed for step in past)
        if followed < FEW:
            return OwnYear(year, followed, failed, None, None, None)
        low, high = past[-1].band() if past else (Decimal(1), Decimal(1))
        return OwnYear(year, followed, failed, share_at(self.steps, time), low, high)


def own_curve(teeth: Sequence[OwnTooth], kind: str) -> OwnCurve:
    """The product-limit estimate of ``teeth``. Teeth of one mouth fare alike, so its band is rather too narrow.

    Raises ValueError without a tooth.
    """
    ends = [one.until(kind) for one in teeth]
    days = tuple(days for days, _failed in ends)
    steps = product_limit(days, [failed for _days, failed in ends])
    return OwnCurve(kind, len(days), len({one.patient for one in teeth}), days, steps)
