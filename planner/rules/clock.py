"""Minutes: how long a visit takes, how much to book, how to split it, in which order its steps go.

A piece of work has three minutes, fast, usual and slow. Its mean is (f + 4u + s) ÷ 6 and its spread (s − f) ÷ 6 (the
three-point rule of project planning, common practice). Teeth of one visit go well or badly together, so their spreads
are neither added up nor treated as independent but correlated, as far as the office's book says. Blocks add up to a
visit as a normal distribution (an approximation, and said so where it is printed).

Rounding: the mean and the "n in 10" minutes are rounded half-up to whole minutes for print; what is booked is the
unrounded "8 in 10" up to whole slots. Days and waits between visits lie in :mod:`planner.rules.calendar_days`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter
from heapq import heappop, heappush
from math import sqrt
from statistics import NormalDist

from planner.rules.book import OfficeBook
from planner.rules.cents import Exact, half_up, up_to_next
from planner.rules.teeth import Tooth

EIGHT_IN_TEN, NINE_IN_TEN = 0.8, 0.9


@dataclass(frozen=True, slots=True)
class Span:
    """Minutes of one piece of work: fast, usual, slow."""

    fast: Exact
    usual: Exact
    slow: Exact

    def __post_init__(self) -> None:
        if not 0 <= self.fast <= self.usual <= self.slow:
            raise ValueError(f"minutes stand as fast, usual, slow, not as {self.fast}, {self.usual}, {self.slow}")

    @property
    def mean(self) -> Fraction:
        return (Fraction(self.fast) + 4 * Fraction(self.usual) + Fraction(self.slow)) / 6

    @property
    def spread(self) -> Fraction:
        """One standard deviation."""
        return (Fraction(self.slow) - Fraction(self.fast)) / 6


NOTHING = Span(0, 0, 0)


@dataclass(frozen=True, slots=True)
class Blocks:
    """The work of one treatment in one visit: set-up once, so many teeth, finish once."""

    treatment: str
    visit: str
    teeth: int
    set_up: Span = NOTHING
    per_tooth: Span = NOTHING
    finish: Span = NOTHING


@dataclass(frozen=True, slots=True)
class VisitTime:
    """How long one visit takes."""

    mean: Fraction
    deviation: float
    usual: Fraction
    """The usual minutes added up; what a fee is reckoned from, never what is booked."""
    slot_minutes: int
    how: tuple[str, ...] = ()

    @property
    def mean_minutes(self) -> int:
        return half_up(self.mean)

    @property
    def eight_in_ten(self) -> int:
        """8 of 10 such visits are over within so many minutes."""
        return half_up(Fraction(self._within(EIGHT_IN_TEN)))

    @property
    def nine_in_ten(self) -> int:
        """9 of 10 such visits are over within so many minutes."""
        return half_up(Fraction(self._within(NINE_IN_TEN)))

    @property
    def booked(self) -> int:
        """Minutes to book: 8 in 10, up to whole slots."""
        # A millionth of a minute is no reason for another slot.
        return up_to_next(Fraction(round(self._within(EIGHT_IN_TEN), 6)), self.slot_minutes)

    def chance_within(self, minutes: int) -> int:
        """Of 100 such visits, how many are over within ``minutes``, rounded half-up."""
        if not self.deviation:
            return 100 if minutes >= self.mean else 0
        return half_up(Fraction(NormalDist(float(self.mean), self.deviation).cdf(minutes)) * 100)

    def _within(self, share: float) -> float:
        return float(self.mean) + NormalDist().inv_cdf(share) * self.deviation


def visit_time(work: Sequence[Blocks], correlation: Decimal, slot_minutes: int) -> VisitTime:
    """How long a visit with this work takes; teeth of one treatment are correlated, everything else independent.

    Raises ValueError for a correlation outside 0 to 1 or a slot below a minute.
    """
    if not 0 <= correlation <= 1 or slot_minutes < 1:
        raise ValueError(f"a correlation of {correlation} or a slot of {slot_minutes} minutes cannot be")
    mean, variance, usual = Fraction(0), Fraction(0), Fraction(0)
    how: list[str] = []
    for part in work:
        for once in (part.set_up, part.finish):
            mean, variance, usual = mean + once.mean, variance + once.spread**2, usual + Fraction(once.usual)
        n, each = part.teeth, part.per_tooth
        mean += n * each.mean
        variance += n * (1 + (n - 1) * Fraction(correlation)) * each.spread**2
        usual += n * Fraction(each.usual)
        how.append(f"{part.treatment}: {_said(part)}")
    time = VisitTime(mean, sqrt(variance), usual, slot_minutes)
    how.append(f"mean {time.mean_minutes}, teeth of one treatment correlated {correlation}, normal approximation")
    how.append(f"8 in 10 within {time.eight_in_ten}, 9 in 10 within {time.nine_in_ten}; booked {time.booked}")
    return replace(time, how=tuple(how))


@dataclass(frozen=True, slots=True)
class WrongSums:
    """What two tempting ways of adding up would say 8 of 10 visits stay within; neither is booked."""

    independent: int
    """Teeth that have nothing to do with each other: too short, since a bad day is bad for every tooth."""
    added: int
    """Each piece's own "8 in 10" added up: too long, since not everything goes slowly at once."""


def wrong_sums(work: Sequence[Blocks], slot_minutes: int) -> WrongSums:
    """The two wrong sums for a visit with this work, minutes."""
    independent = visit_time(work, Decimal(0), slot_minutes)
    spreads = sum(
        (part.set_up.spread + part.teeth * part.per_tooth.spread + part.finish.spread for part in work), Fraction(0)
    )
    all_slow = VisitTime(independent.mean, float(spreads), independent.usual, slot_minutes)
    return WrongSums(independent.eight_in_ten, all_slow.eight_in_ten)


def _said(part: Blocks) -> str:
    once = [
        f"{name} {span.fast}/{span.usual}/{span.slow}"
        for name, span in (("set-up", part.set_up), ("finish", part.finish))
        if span != NOTHING
    ]
    each = part.per_tooth
    return ", ".join([*once, f"{part.teeth} × {each.fast}/{each.usual}/{each.slow} minutes fast/usual/slow"])


def office_blocks(book: OfficeBook, start: Blocks) -> Blocks:
    """``start`` with the office's own minutes where its book has any for that treatment and visit."""
    own = {
        row.block: Span(row.fast, row.usual, row.slow)
        for row in book.minutes
        if (row.treatment, row.visit) == (start.treatment, start.visit)
    }
    return replace(
        start,
        set_up=own.get("set-up", start.set_up),
        per_tooth=own.get("per tooth", start.per_tooth),
        finish=own.get("finish", start.finish),
    )


def share_block(block: Span, steps: Sequence[Span]) -> tuple[Span, ...]:
    """The minutes of a block over its steps, in proportion to their usual minutes, exact.

    The graph of steps gives order and proportions; the office's block gives the minutes. Raises ValueError when the
    steps have no usual minutes to share by.
    """
    whole = sum((Fraction(step.usual) for step in steps), Fraction(0))
    if not whole:
        raise ValueError("steps without usual minutes give no proportion to share a block by")
    shares = [Fraction(step.usual) / whole for step in steps]
    return tuple(
        Span(Fraction(block.fast) * share, Fraction(block.usual) * share, Fraction(block.slow) * share)
        for share in shares
    )


# ---------------------------------------------------------------- visits


@dataclass(frozen=True, slots=True)
class VisitPart:
    """The teeth of one visit, each finished in it."""

    teeth: tuple[Tooth, ...]
    time: VisitTime
    too_long: bool = False
    """Even this alone is longer than the office's limit."""


def in_pairs(teeth: Sequence[Tooth]) -> tuple[tuple[Tooth, ...], ...]:
    """The teeth with each one's mirror tooth beside it, where both are there, in the order of the first of them."""
    groups: dict[tuple[object, ...], list[Tooth]] = {}
    for tooth in teeth:
        groups.setdefault((tooth.upper, tooth.position, tooth.is_primary, tooth.extra), []).append(tooth)
    return tuple(tuple(group) for group in groups.values())


def split_visits(
    groups: Sequence[Sequence[Tooth]], time_of: Callable[[tuple[Tooth, ...]], VisitTime], limit_minutes: int
) -> tuple[VisitPart, ...]:
    """The groups over as few visits as their order allows, none booked longer than ``limit_minutes``.

    A group (a pair) stays in one visit unless it is too long by itself. ``time_of`` gives the time of a visit with the
    teeth it is given.
    """
    visits: list[tuple[Tooth, ...]] = []
    for group in groups:
        fits = time_of(tuple(group)).booked <= limit_minutes
        for unit in [tuple(group)] if fits else [(tooth,) for tooth in group]:
            if visits and time_of((*visits[-1], *unit)).booked <= limit_minutes:
                visits[-1] += unit
            else:
                visits.append(unit)
    parts = ((teeth, time_of(teeth)) for teeth in visits)
    return tuple(VisitPart(teeth, time, time.booked > limit_minutes) for teeth, time in parts)


# ---------------------------------------------------------------- order of steps


class StepOrderError(ValueError):
    """Steps that cannot be put in an order; :attr:`cycle` names those that wait for each other."""

    def __init__(self, message: str, cycle: Sequence[str] = ()) -> None:
        self.cycle = tuple(cycle)
        super().__init__(message)


def order_steps(steps: Sequence[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
    """The ids of ``steps``, given as (id, ids that must be finished first), in an order that can be worked.

    Among steps that may come next, the one written first comes first, so that two runs agree. Raises StepOrderError
    for an id given twice, a predecessor that is not there, or steps in a circle, which it names.
    """
    return _ordered(tuple((step, tuple(before)) for step, before in steps))


@lru_cache(maxsize=256)
def _ordered(steps: tuple[tuple[str, tuple[str, ...]], ...]) -> tuple[str, ...]:
    # The same treatment is ordered again for every option and case it is in.
    place = {step: number for number, (step, _) in enumerate(steps)}
    if len(place) != len(steps):
        twice = next(step for number, (step, _) in enumerate(steps) if place[step] != number)
        raise StepOrderError(f'the step "{twice}" is there twice')
    for step, before in steps:
        for earlier in before:
            if earlier not in place:
                raise StepOrderError(f'the step "{step}" comes after "{earlier}", which is not there')
    sorter = TopologicalSorter(dict(steps))
    try:
        sorter.prepare()
    except CycleError as fault:
        cycle: list[str] = fault.args[1]
        raise StepOrderError(f"these steps wait for each other in a circle: {' → '.join(cycle)}", cycle[:-1]) from None
    ready: list[int] = []
    order: list[str] = []
    while sorter.is_active():
        for step in sorter.get_ready():
            heappush(ready, place[step])
        order.append(steps[heappop(ready)][0])
        sorter.done(order[-1])
    return tuple(order)


# ---------------------------------------------------------------- the office's own clock


@dataclass(frozen=True, slots=True)
class Timing:
    """Minutes that one piece of work really took; a visit with several teeth gives its minutes for each of them."""

    minutes: Exact
    disturbed: bool = False
    """A fire alarm, a fainting: kept, and not learnt from."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the office's own timings propose. A person adopts it or does not; nothing changes by itself."""

    proposed: Fraction
    own_mean: Fraction
    count: int
    drift: Fraction
    """Mean of the later half less mean of the earlier half, minutes."""
    inside_band: int
    """Timings within the 10-to-90 band of the starting value; about 8 of 10 should be."""
    band: tuple[Fraction, Fraction]
    """Of the starting value, minutes."""
    span: Span
    """Fast, usual and slow in whole minutes, whose mean is the proposal as nearly as they go."""
    weight: int
    """As many timings as the starting value counts for."""
    capped: int
    """Timings that counted as twice the usual minutes because they were longer."""


def said_minutes(value: Exact) -> str:
    """Minutes with one decimal, half-up: ``50.5``."""
    tenths = half_up(Fraction(value) * 10)
    return f"{'-' if tenths < 0 else ''}{abs(tenths) // 10}.{abs(tenths) % 10}"


def ten_to_ninety(span: Span) -> tuple[Fraction, Fraction]:
    """Between which minutes 8 of 10 pieces of work should lie: from the 10th to the 90th of 100, exact."""
    reach = Fraction(NormalDist().inv_cdf(NINE_IN_TEN)) * span.spread
    return span.mean - reach, span.mean + reach


def propose_minutes(start: Span, timings: Sequence[Timing], weight: int = 10) -> Proposal | None:
    """(weight × starting mean + n × own mean) ÷ (weight + n); None before there is a timing to learn from.

    A timing counts at most twice the usual minutes, so that one disaster does not move the proposal far. Timings stand
    in the order in which they happened. The starting value weighs as much as ``weight`` timings (an office's choice,
    common practice, no source).
    """
    most = 2 * Fraction(start.usual)
    known = [min(Fraction(timing.minutes), most) for timing in timings if not timing.disturbed]
    if not known:
        return None
    n = len(known)
    own = sum(known, Fraction(0)) / n
    earlier, later = known[: n // 2], known[(n + 1) // 2 :]
    drift = sum(later, Fraction(0)) / len(later) - sum(earlier, Fraction(0)) / len(earlier) if later else Fraction(0)
    low, high = ten_to_ninety(start)
    inside = sum(low <= minutes <= high for minutes in known)
    proposed = (weight * start.mean + n * own) / (weight + n)
    return Proposal(
        proposed=proposed,
        own_mean=own,
        count=n,
        drift=drift,
        inside_band=inside,
        band=(low, high),
        span=_stretched(start, proposed),
        weight=weight,
        capped=sum(not timing.disturbed and timing.minutes > most for timing in timings),
    )


def _stretched(start: Span, mean: Fraction) -> Span:
    """``start`` in proportion to another mean, in whole minutes; fast and slow move with the usual minutes."""
    if not start.mean:
        return start
    fast, usual, slow = (
        half_up(Fraction(minutes) * mean / start.mean) for minutes in (start.fast, start.usual, start.slow)
    )
    return Span(fast, usual, slow)
