"""What an option will ask for over the years: checks, repairs, renewals, their cost, and tooth.

Expected events of a year are read off the curves of :mod:`planner.rules.survival`; each is priced by the office's book.
How the ten-year figures of the demo come about stands in ``docs/upkeep.md``.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from random import Random
from statistics import NormalDist

from planner.rules.cents import half_up, spread
from planner.rules.evidence import Evidence
from planner.rules.survival import (
    HUNDRED,
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
    yearly_hazard,
)
from planner.rules.treatment_parts import Curve, UpkeepLine
from planner.rules.treatments import Treatment

__all__ = [
    "CostOverYears",
    "Counts",
    "Demand",
    "SurvivalAt",
    "ToothAccount",
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
    "tooth_account",
]

SEED = 20260302
"""Fixed, so that two runs print the same band."""
DRAWS = 1000
_STRATA = 10


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


def demands(treatments: Sequence[tuple[Treatment, Counts]], grinding: bool = False) -> tuple[Demand, ...]:
    """Every upkeep line of a course.

    A service that several treatments ask for per patient at an interval (the yearly check) is asked for once, at the
    shortest interval. ``grinding`` raises the events of curves where the treatment says by how much.
    """
    keys = {treatment.key for treatment, _ in treatments}
    found: list[Demand] = []
    shared: dict[str, int] = {}
    for treatment, counts in treatments:
        row = treatment.upkeep.grinding_factor
        factor = row.value if grinding and row is not None else Decimal(1)
        for line in treatment.upkeep.lines:
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
    prices = [price(demand.line.service) for demand in asked]
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


def _band(asked: Sequence[Demand], prices: Sequence[int], years: int, seed: int, draws: int) -> list[tuple[int, int]]:
    """The 10th and 90th of 100 of the sum so far, by year. Binary floating point serves luck here, never money."""
    dice = Random(seed)  # noqa: S311 - repeatable on purpose
    planned = [
        sum(demand.count * demand.planned(year) * cents for demand, cents in zip(asked, prices, strict=True))
        for year in range(1, years + 1)
    ]
    lucky = [at for at, demand in enumerate(asked) if demand.line.every_months is None]
    # The middle of each tenth of the normal curve: in which tenth a draw lies is thrown once for all its curves.
    strata = [Decimal(str(round(NormalDist().inv_cdf((place + 0.5) / _STRATA), 6))) for place in range(_STRATA)]
    hazards = {at: [asked[at].hazards(year) for year in range(1, years + 1)] for at in lucky}
    chances = [[_chances(asked[at], hazards[at], z) for at in lucky] for z in strata]
    sums: list[list[int]] = [[] for _ in range(years)]
    counts = [(prices[at], range(asked[at].count)) for at in lucky]
    throw = dice.random
    for _ in range(draws):
        row = chances[dice.randrange(_STRATA)]
        total = 0
        for year in range(years):
            total += planned[year]
            for (cents, units), chance in zip(counts, row, strict=True):
                for _ in units:
                    if throw() < chance[year]:
                        total += cents
            sums[year].append(total)
    return [(_rank(each, 10), _rank(each, 90)) for each in sums]


def _rank(values: list[int], percent: int) -> int:
    """Nearest-rank percentile."""
    ordered = sorted(values)
    return ordered[max(0, -(-len(ordered) * percent // 100) - 1)]


def _chances(demand: Demand, hazards: list[tuple[Decimal, ...]], z: Decimal) -> list[float]:
    """The chances by year when the curves lie ``z`` standard deviations towards their worse end."""
    ratios = [hazard_ratio(curve, z) for curve in demand.curves()]
    return [
        float(demand.chance(tuple(hazard * ratio for hazard, ratio in zip(year, ratios, strict=True))))
        for year in hazards
    ]


@dataclass(frozen=True, slots=True)
class ToothAccount:
    """What a treatment takes from the teeth over the years, beyond what its first placing takes."""

    first_tenths: tuple[int, int]
    """Least and most at one point, per tooth, at the first placing."""
    renewals: Decimal
    """Expected on all teeth together."""
    renewal_mm: tuple[Decimal, Decimal]
    """Millimetres those renewals cost, on all teeth together, low and high."""
    step_ups: Decimal
    """Expected number of teeth that need the next larger treatment."""
    rows: tuple[Evidence, ...]


def tooth_account(treatment: Treatment, teeth: int, years: int) -> ToothAccount:
    """The account of tooth over ``years`` for a treatment on ``teeth`` teeth."""
    renewal = treatment.renewal
    if renewal is None:
        return ToothAccount(treatment.removal.tenths, Decimal(0), (Decimal(0), Decimal(0)), Decimal(0), ())
    lines = [line for line in treatment.upkeep.lines if line.follows == renewal.follows and not line.less]
    # Where a share of the events are repairs, only the rest are renewals.
    demand = Demand(treatment, next((line for line in lines if line.rest), lines[0]), teeth)
    number = teeth * sum((demand.expected(year) for year in range(1, years + 1)), Decimal(0))
    low, high = (
        end if end is not None else renewal.removal.value for end in (renewal.removal.low, renewal.removal.high)
    )
    return ToothAccount(
        first_tenths=treatment.removal.tenths,
        renewals=number,
        renewal_mm=(number * low, number * high),
        step_ups=number * renewal.step_up.value / HUNDRED,
        rows=unique((*demand.rows(), renewal.removal, renewal.step_up)),
    )
