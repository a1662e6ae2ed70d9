"""What an option will ask for over the years: checks, repairs, renewals, their cost and their time in the chair.

Expected events of a year are read off the curves of :mod:`planner.rules.survival`; each is priced by the office's book.
How the ten-year figures of the demo come about stands in ``docs/upkeep.md``.
"""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from itertools import accumulate
from math import exp, expm1, log, log1p
from random import Random
from statistics import NormalDist

from planner.rules.cents import half_up, spread
from planner.rules.evidence import Evidence
from planner.rules.settings import CountedIn
from planner.rules.survival import (
    SurvivalAt,
    all_without_event,
    annual_from_survival,
    hazard_ratio,
    probability,
    survival,
    survival_at,
    survival_from_annual,
    survival_from_hazard,
    unique,
    wear_out_from,
    wear_out_rise,
    yearly_hazard,
)
from planner.rules.treatment_parts import Curve, UpkeepLine
from planner.rules.treatments import Treatment

__all__ = [
    "CostOverYears",
    "Counts",
    "Demand",
    "SurvivalAt",
    "UpkeepService",
    "UpkeepYear",
    "all_without_event",
    "annual_from_survival",
    "cost_over_years",
    "demands",
    "survival",
    "survival_at",
    "survival_from_annual",
    "survival_from_hazard",
]

SEED = 20260302
"""Fixed, so that two runs print the same band."""
DRAWS = 1000
_DRAWN_YEARS = 30
"""Every draw is thrown for so many years at the least, so that ten years come out the same alone and within thirty."""
_STRATA = 10
_TENTHS = [Decimal(str(round(NormalDist().inv_cdf((place + 0.5) / _STRATA), 6))) for place in range(_STRATA)]
"""The middle of each tenth of the normal curve."""
_Z80 = NormalDist().inv_cdf(0.9)
"""8 of 10 lie between minus and plus so many standard deviations."""
_Band = tuple[tuple[int, int], ...]
"""The 10th and the 90th of 100, cents, by year."""
_Strata = tuple[tuple[float, ...], ...]
"""For each tenth of what is possible the hazard from the start to the end of each year."""


@dataclass(frozen=True, slots=True)
class Counts:
    """How many of what a treatment's upkeep is asked for."""

    teeth: int = 0
    places: int = 0
    arches: int = 0

    def of(self, counted: str) -> int:
        """The number for ``counted``; a line per patient is one."""
        return {"teeth": self.teeth, "places": self.places, "arches": self.arches, "patient": 1}[counted]


@dataclass(frozen=True, slots=True)
class Demand:
    """One upkeep line of one treatment, for so many teeth, places or arches."""

    treatment: Treatment
    line: UpkeepLine
    count: int
    factor: Decimal = Decimal(1)
    """How many times as often the curve's events come (grinding without a guard)."""

    def curves(self) -> tuple[Curve, ...]:
        """The curves the line reads."""
        names = [name for name in (self.line.follows, self.line.less) if name]
        return tuple(self.treatment.upkeep.curve(name) for name in names)

    def hazards(self, year: int) -> tuple[Decimal, ...]:
        """The hazards in that year of the curves the line reads."""
        return tuple(yearly_hazard(curve, year) * self.factor for curve in self.curves())

    def chance(self, hazards: tuple[Decimal, ...]) -> Decimal:
        """The probability, per unit, that the service is needed in a year with those hazards; 0 for an interval."""
        if self.line.over_years is not None and self.line.happens is not None:
            return (100 - self.line.happens.kept()) / 100 / self.line.over_years
        if not hazards:
            return Decimal(0)
        event, *otherwise = map(probability, hazards)
        chance = max(Decimal(0), event - sum(otherwise, Decimal(0)))
        if self.line.share is not None:
            share = self.line.share.of_100 / 100
            chance *= 1 - share if self.line.rest else share
        return chance

    def expected(self, year: int) -> Decimal:
        """How often, per unit, the service is expected in that year."""
        return self.planned(year) + self.chance(self.hazards(year))

    def planned(self, year: int) -> int:
        """How often an interval brings the service in that year, per unit."""
        if self.line.every_months is None:
            return 0
        months = self.line.every_months.value
        return int(12 * year // months) - int(12 * (year - 1) // months)

    def extrapolated(self, year: int) -> bool:
        """Whether the year lies beyond what was published for one of the line's curves."""
        return any(year > curve.last_year for curve in self.curves())

    def rows(self) -> tuple[Evidence, ...]:
        """Every evidence row the line rests on."""
        line = self.line
        single = (line.every_months, line.share, line.happens)
        return (*(row for row in single if row is not None), *(row for curve in self.curves() for row in curve.points))


def demands(
    treatments: Sequence[tuple[Treatment, Counts]],
    grinding: bool = False,
    counted_in: CountedIn = "general practice",
    worn: bool = False,
) -> tuple[Demand, ...]:
    """Every upkeep line of a course, with figures as counted in such offices and, where ``worn``, in worn mouths.

    A service that several treatments ask for per patient at an interval (the yearly check) is asked for once, at the
    shortest interval. ``grinding`` raises the events of curves where the treatment says by how much; figures of worn
    mouths are those of people who grind already and are not raised again.
    """
    keys = {treatment.key for treatment, _ in treatments}
    found: list[Demand] = []
    shared: dict[str, int] = {}
    for treatment, counts in treatments:
        row = treatment.upkeep.grinding_factor
        lines = treatment.upkeep.lines_in(counted_in, worn)
        raised = grinding and row is not None and all(line.only_in != "worn mouths" for line in lines)
        factor = row.value if raised and row is not None else Decimal(1)
        for line in lines:
            if keys.intersection(line.not_with) or counts.of(line.counted) == 0:
                continue
            demand = Demand(treatment, line, counts.of(line.counted), factor)
            if line.every_months is None or line.counted != "patient":
                found.append(demand)
            elif line.service not in shared:
                shared[line.service] = len(found)
                found.append(demand)
            else:
                other = found[shared[line.service]].line.every_months
                if other is not None and line.every_months.value < other.value:
                    found[shared[line.service]] = demand
    return tuple(found)


@dataclass(frozen=True, slots=True)
class UpkeepYear:
    """One year of upkeep; the band is of the sum from the first year to this one."""

    year: int
    cents: int
    so_far_cents: int
    low_cents: int
    high_cents: int
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class UpkeepService:
    """What one line comes to over the whole time."""

    service: str
    words: str
    words_es: str
    number: Decimal
    """Expected, unrounded."""
    cents: int


@dataclass(frozen=True, slots=True)
class CostOverYears:
    """Expected upkeep of a course, with the band in which 8 of 10 such courses lie."""

    years: tuple[UpkeepYear, ...]
    services: tuple[UpkeepService, ...]
    total_cents: int
    low_cents: int
    high_cents: int
    extrapolated_from: int | None
    """First year that rests on a rate carried beyond its source; None when all years are published."""
    rows: tuple[Evidence, ...]


def cost_over_years(
    asked: Sequence[Demand],
    years: int,
    price: Callable[[str], int],
    seed: int = SEED,
    draws: int = DRAWS,
) -> CostOverYears:
    """Expected repairs, renewals and checks over ``years`` and what they cost, with a 10-90 band.

    ``price`` gives the cents of one unit of a service. The band comes from ``draws`` seeded draws: in each, the curves
    lie somewhere in their source's interval (or between its best and worst dentists), and every unit has its own luck
    each year. Teeth of one mouth are more alike than that, so the true band is wider. Raises ValueError unless
    ``years`` is at least 1.
    """
    if years < 1:
        raise ValueError(f"upkeep over {years} years: at least 1")
    prices = [price(demand.line.service) * demand.line.pieces for demand in asked]
    span = range(1, years + 1)
    numbers = [[demand.count * demand.expected(year) for year in span] for demand in asked]
    exact = [sum(number, Decimal(0)) * cents for number, cents in zip(numbers, prices, strict=True)]
    total = half_up(sum(exact, Decimal(0)))
    by_year = [
        sum((row[at] * cents for row, cents in zip(numbers, prices, strict=True)), Decimal(0)) for at in range(years)
    ]
    so_far = [half_up(sum(by_year[: at + 1], Decimal(0))) for at in range(years)]
    band = _band(asked, prices, years, seed, draws)
    far = [year for year in span if any(demand.extrapolated(year) for demand in asked)]
    # Millionths of a cent as weights, so that the lines add up to the total to the cent.
    by_line = spread(total, [int(part * 10**6) for part in exact])
    return CostOverYears(
        years=tuple(
            UpkeepYear(
                year, so_far[year - 1] - (so_far[year - 2] if year > 1 else 0), so_far[year - 1], low, high, year in far
            )
            for year, (low, high) in zip(span, band, strict=True)
        ),
        services=tuple(
            UpkeepService(demand.line.service, demand.line.words, demand.line.words_es, sum(row, Decimal(0)), cents)
            for demand, row, cents in zip(asked, numbers, by_line, strict=True)
        ),
        total_cents=total,
        low_cents=band[-1][0],
        high_cents=band[-1][1],
        extrapolated_from=far[0] if far else None,
        rows=unique(row for demand in asked for row in demand.rows()),
    )


def _band(asked: Sequence[Demand], prices: Sequence[int], years: int, seed: int, draws: int) -> _Band:
    """The 10th and 90th of 100 of the sum so far, by year."""
    drawn = max(years, _DRAWN_YEARS)
    planned = tuple(
        sum(demand.count * demand.planned(year) * cents for demand, cents in zip(asked, prices, strict=True))
        for year in range(1, drawn + 1)
    )
    lucky = tuple(
        (demand.count, cents, _cumulated(demand, drawn))
        for demand, cents in zip(asked, prices, strict=True)
        if demand.line.every_months is None
    )
    return _thrown(planned, lucky, years, seed, draws)


@lru_cache(maxsize=256)
def _thrown(
    planned: tuple[int, ...], lucky: tuple[tuple[int, int, _Strata], ...], years: int, seed: int, draws: int
) -> _Band:
    """The band of ``planned`` cents by year with the luck of so many units at so many cents and those hazards.

    The same options come back from page to page and from case to case, so it is kept: throwing is the longest part of
    a plan. Binary floating point serves luck here, never money.

    The length of a unit's cycle is drawn at once: it ends in the year in which the hazard since its beginning passes
    an exponential draw, which is the same as throwing for every year with the probability 1 - exp(-h).
    """
    dice = Random(seed)  # noqa: S311 - repeatable on purpose
    throw = dice.random
    ready = [
        [(range(count), cents, each[stratum], exp(-each[stratum][-1])) for count, cents, each in lucky]
        for stratum in range(_STRATA)
    ]
    last = len(planned)
    sums: list[list[int]] = []
    for _ in range(draws):
        paid = list(planned)
        # In which tenth of what is possible a draw lies is thrown once for all its curves.
        for units, cents, cumulated, none in ready[dice.randrange(_STRATA)]:
            for _ in units:
                # Most units have no event at all, which the first throw settles.
                if (thrown := throw()) > none:
                    passed = 0.0
                    while (year := bisect_left(cumulated, passed - log(thrown or 1e-300))) < last:
                        paid[year] += cents
                        passed = cumulated[year]
                        thrown = throw()
        sums.append(list(accumulate(paid[:years])))
    return tuple((_rank(each, 10), _rank(each, 90)) for each in map(sorted, zip(*sums, strict=True)))


def _rank(ordered: Sequence[int], percent: int) -> int:
    """Nearest-rank percentile of values in order."""
    return ordered[max(0, -(-len(ordered) * percent // 100) - 1)]


def _cumulated(demand: Demand, years: int) -> _Strata:
    if curves := demand.curves():
        return _followed(curves, demand.line, demand.factor, years)
    each = float(-(1 - demand.chance(())).ln())
    return (tuple(each * year for year in range(1, years + 1)),) * _STRATA


@lru_cache(maxsize=512)
def _followed(curves: tuple[Curve, ...], line: UpkeepLine, factor: Decimal, years: int) -> _Strata:
    """The hazards of a line that reads ``curves``, for the middle of every tenth of what is possible."""
    share = 1.0
    if line.share is not None:
        share = float(line.share.of_100) / 100
        share = 1 - share if line.rest else share
    bases = [(curve, [float(yearly_hazard(curve, year)) for year in range(1, years + 1)]) for curve in curves]
    found = []
    for z in _TENTHS:
        event, *others = [_drawn(curve, base, z, float(factor)) for curve, base in bases]
        chances = [
            share * max(0.0, -expm1(-rate) + sum(expm1(-other[at]) for other in others))
            for at, rate in enumerate(event)
        ]
        found.append(tuple(accumulate(-log1p(-chance) for chance in chances)))
    return tuple(found)


def _drawn(curve: Curve, base: Sequence[float], z: Decimal, factor: float) -> list[float]:
    """The hazards by year when the curve, of hazards ``base``, lies ``z`` standard deviations towards its worse end.

    Beyond what was published how fast rates rise is itself unknown: 8 of 10 draws lie between no rise and twice the
    rise that is assumed, so the band widens.
    """
    ratio = float(hazard_ratio(curve, z)) * factor
    horizon = float(wear_out_from(curve.last_year))
    steeper = float(wear_out_rise()) * max(-1.0, float(z) / _Z80)
    return [
        rate * ratio if at < horizon else rate * ratio * ((at + 0.5) / horizon) ** steeper
        for at, rate in enumerate(base)
    ]
