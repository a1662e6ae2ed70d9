"""Survival curves: published points, what lies between them, and what is carried on beyond them.

Published points (year, share still standing) are joined log-linearly, that is with a constant yearly rate between two
of them; before the first point the curve starts at 100, beyond the last one it is carried on and labelled so. A yearly
rate here is the yearly probability 1 - S^(1/t) (Oliveira and others, BMC Oral Health 2021;21, footnote of table 6), not
the hazard -ln(S)/t that reviews print as "per 100 years"; :func:`survival_from_hazard` turns that into a share.

Shares are percent, unrounded.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from planner.rules.evidence import Evidence, evidence
from planner.rules.treatment_parts import Curve

Number = Decimal | int | float | str
"""A share or a time as it is written; never money or millimetres."""

HUNDRED = Decimal(100)
_Z95 = Decimal("1.96")


def _number(value: Number) -> Decimal:
    return value if isinstance(value, Decimal) else Decimal(str(value))


def _curve_points(points: Iterable[tuple[Number, Number]]) -> list[tuple[Decimal, Decimal]]:
    """The points by year, checked, with 100 at year 0 before them."""
    known = sorted((_number(year), _number(share)) for year, share in points)
    if known and known[0][0] == 0 and known[0][1] == HUNDRED:
        del known[0]
    if not known:
        raise ValueError("a survival curve needs at least one point after year 0")
    before = (Decimal(0), HUNDRED)
    for year, share in known:
        if year <= before[0]:
            raise ValueError(f"the curve has two points at {year} years: one share for each year after 0")
        if not 0 < share <= HUNDRED:
            raise ValueError(f"{share} of 100 at {year} years cannot be a point: above 0, at most 100")
        if share > before[1]:
            raise ValueError(
                f"the curve rises from {before[1]} to {share} of 100 at {year} years: points of one series cannot"
            )
        before = (year, share)
    return [(Decimal(0), HUNDRED), *known]


def survival(points: Iterable[tuple[Number, Number]], years: Number) -> Decimal:
    """Of 100, how many still stand after ``years``, percent, unrounded.

    ``points`` are (years, percent) of one series in any order. Raises ValueError for points that cannot be one series
    and for a time before 0.
    """
    known = _curve_points(points)
    at = _number(years)
    if at < 0:
        raise ValueError(f"{at} years is before the start: 0 or more")
    for year, share in known:
        if year == at:
            return share
    after = next((index for index, (year, _) in enumerate(known) if year > at), len(known) - 1)
    (year, share), (next_year, next_share) = known[after - 1], known[after]
    return share * (next_share / share) ** ((at - year) / (next_year - year))


def annual_from_survival(survival: Number, years: Number) -> Decimal:
    """The constant yearly probability of failing, percent, that leaves ``survival`` percent after ``years``.

    1 - S^(1/t). Raises ValueError for a share outside 0 to 100 or a time that is not above 0.
    """
    share, time = _number(survival), _number(years)
    if not 0 <= share <= HUNDRED:
        raise ValueError(f"{share} of 100 cannot be a share: 0 to 100")
    if time <= 0:
        raise ValueError(f"{time} years gives no yearly rate: above 0")
    return HUNDRED * (1 - (share / HUNDRED) ** (1 / time))


def survival_from_annual(annual: Number, years: Number) -> Decimal:
    """Percent left after ``years`` at a constant yearly probability (percent): (1 - p)^t."""
    rate = _number(annual)
    if not 0 <= rate <= HUNDRED:
        raise ValueError(f"{rate} % a year cannot be a yearly probability: 0 to 100")
    return HUNDRED * (1 - rate / HUNDRED) ** _number(years)


def survival_from_hazard(per_100_years: Number, years: Number) -> Decimal:
    """Percent left after ``years`` at a constant hazard, printed as events per 100 object-years: exp(-h t)."""
    return HUNDRED * (-_number(per_100_years) / HUNDRED * _number(years)).exp()


def all_without_event(share: Number, teeth: int) -> Decimal:
    """Of 100 people with ``teeth`` such teeth, how many have no event on any of them, if the teeth are independent."""
    return HUNDRED * (_number(share) / HUNDRED) ** teeth


@dataclass(frozen=True, slots=True)
class SurvivalAt:
    """A share read off a curve."""

    share: Decimal
    """Percent, unrounded."""
    extrapolated: bool
    """Beyond the last published year: for the dentist's screen only, and labelled; a letter prints "no data"."""
    source: tuple[Evidence, ...]
    """The rows it lies between, or the last one."""


def survival_at(curve: Curve, years: Number) -> SurvivalAt:
    """What ``curve`` says at ``years``, whether that is published, and by which rows."""
    at = _number(years)
    rows = sorted(curve.points, key=row_year)
    before = [row for row in rows if row_year(row) <= at][-1:]
    after = [row for row in rows if row_year(row) >= at][:1]
    return SurvivalAt(
        survival(curve.years_and_shares, at),
        at > curve.last_year,
        unique((*before, *after)),
    )


def row_year(row: Evidence) -> Decimal:
    """The year of a curve's point."""
    return row.years or Decimal(0)  # a curve's points all have one, see Curve


def unique(rows: Iterable[Evidence]) -> tuple[Evidence, ...]:
    """Each row once, in the order first met."""
    return tuple({row.key: row for row in rows}.values())


def yearly_hazard(curve: Curve, year: int) -> Decimal:
    """The hazard of ``curve`` in its ``year``-th year (1 is the first).

    Beyond the last published year, and never before year ten, it rises as things that were placed together wear out
    together: with the power of time that the row ``wear-out-shape`` sets, less one.
    """
    return _hazards(curve.years_and_shares, max(year, _READ_AHEAD))[year - 1]


_READ_AHEAD = 30


@lru_cache(maxsize=512)
def _hazards(points: tuple[tuple[Decimal, Decimal], ...], years: int) -> tuple[Decimal, ...]:
    """The hazards of the first ``years`` years of a curve through ``points``."""
    horizon = wear_out_from(points[-1][0])
    steady = [survival(points, year) for year in range(int(horizon) + 1)]
    last = (survival(points, horizon - 1) / survival(points, horizon)).ln()
    rise = wear_out_rise()
    return tuple(
        (steady[year - 1] / steady[year]).ln()
        if year <= horizon
        else last * ((year - Decimal("0.5")) / horizon) ** rise
        for year in range(1, years + 1)
    )


def wear_out_from(last_year: Decimal) -> Decimal:
    """The year after which rates rise: the last published one, and never before year ten."""
    return max(last_year, Decimal(10))


def wear_out_rise() -> Decimal:
    """With which power of time rates rise beyond what was published: the Weibull shape less one."""
    return evidence("wear-out-shape").value - 1


def probability(hazard: Decimal) -> Decimal:
    """The probability of an event in a year with that hazard: 1 - exp(-h)."""
    return 1 - (-hazard).exp()


def hazard_ratio(curve: Curve, z: Decimal) -> Decimal:
    """How many times the hazard is, ``z`` standard deviations towards the worse end of what the source found."""
    row = max(curve.points, key=row_year)
    if curve.spread is not None:
        best, worst = (end.kept(row.years) for end in curve.spread)
    else:
        shares = [row.model_copy(update={"value": end}).kept() for end in (row.low, row.high) if end is not None]
        best, worst = max(shares, default=row.kept()), min(shares, default=row.kept())
    end = worst if z > 0 else best
    middle = (row.kept() / HUNDRED).ln()
    if middle == 0 or end == row.kept():
        return Decimal(1)
    # An interval that reaches 100 would mean no risk at all; a twentieth of the rate is as low as a draw may go.
    ratio = max(Decimal("0.05"), (max(end, Decimal("0.01")) / HUNDRED).ln() / middle)
    return ratio ** (abs(z) / _Z95)


@dataclass(frozen=True, slots=True)
class CurveYear:
    """A curve at the end of one year, percent, unrounded."""

    year: int
    share: Decimal
    low: Decimal | None
    high: Decimal | None
    """Where the source's interval, or its best and worst, lies; None where the source prints neither."""
    extrapolated: bool


def curve_by_year(curve: Curve, years: int) -> tuple[CurveYear, ...]:
    """``curve`` at the end of year 0 to ``years``, with its band.

    Within the published years the band joins the bounds of the points as the curve joins the points. Beyond them the
    rate of the curve is carried on, rising after year ten (:func:`yearly_hazard`); the upper bound goes on at its own
    steady rate, the lower one with twice the rise, so that the band widens.
    """
    # Options share curves. Equal numbers may be written differently (62 and 62.0): the writing belongs to the question.
    return _by_year(curve, years, str(curve))


@lru_cache(maxsize=256)
def _by_year(curve: Curve, years: int, _written: str) -> tuple[CurveYear, ...]:
    points = curve.years_and_shares
    last = int(curve.last_year)
    bounds = _bounds_of(curve)
    shares, lows, highs = [HUNDRED], [HUNDRED], [HUNDRED]
    steady = [_last_hazard(bound) for bound in bounds] if bounds else []
    for year in range(1, years + 1):
        if year <= last:
            shares.append(survival(points, year))
            lows.append(survival(bounds[0], year) if bounds else HUNDRED)
            highs.append(survival(bounds[1], year) if bounds else HUNDRED)
            continue
        shares.append(shares[-1] * (-yearly_hazard(curve, year)).exp())
        if bounds:
            rise = _rise_at(year, curve.last_year)
            lows.append(lows[-1] * (-steady[0] * rise**2).exp())
            highs.append(highs[-1] * (-steady[1]).exp())
    return tuple(
        CurveYear(year, share, lows[year] if bounds else None, highs[year] if bounds else None, year > last)
        for year, share in enumerate(shares)
    )


def _rise_at(year: int, last_year: Decimal) -> Decimal:
    horizon = wear_out_from(last_year)
    return ((year - Decimal("0.5")) / horizon) ** wear_out_rise() if year > horizon else Decimal(1)


def _last_hazard(points: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    last = points[-1][0]
    return (survival(points, last - 1) / survival(points, last)).ln()


_Points = list[tuple[Decimal, Decimal]]


def _bounds_of(curve: Curve) -> tuple[_Points, _Points] | None:
    """Lower and upper bound of every point, neither rising; None where the source prints none."""
    rows = sorted(curve.points, key=row_year)
    pairs = [(row_year(row), *_share_bounds(row, curve.spread)) for row in rows]
    if all(low == high for _, low, high in pairs):
        return None
    low, high = HUNDRED, HUNDRED
    lows: _Points = []
    highs: _Points = []
    for year, least, most in pairs:
        low, high = min(low, max(least, Decimal("0.01"))), min(high, most)
        lows.append((year, low))
        highs.append((year, high))
    return lows, highs


def _share_bounds(row: Evidence, spread: tuple[Evidence, Evidence] | None) -> tuple[Decimal, Decimal]:
    if spread is not None:
        shares = [end.kept(row.years) for end in spread]
    else:
        ends = [end for end in (row.low, row.high) if end is not None]
        shares = [row.model_copy(update={"value": end}).kept() for end in ends]
    return min(shares, default=row.kept()), max(shares, default=row.kept())
