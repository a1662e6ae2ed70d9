"""Options side by side over the years: what is still in place, what it costs, what it takes in the chair and in tooth.

Reckoned from a case plan for one setting of figures, chosen by the dentist. Fees are those of the plan; upkeep is at
the prices of the plan's own price list, without any rise of prices.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.rules.book import OfficeBook, PriceList
from planner.rules.chair_time import minutes_of
from planner.rules.evidence import Evidence
from planner.rules.mouth import CaseFacts
from planner.rules.outlook import Figures, asked_for, curves_of
from planner.rules.results import CasePlan, OptionShape
from planner.rules.structure import StructureAccount, structure_account
from planner.rules.survival import CurveYear, curve_by_year, row_year, unique
from planner.rules.treatment_parts import Curve
from planner.rules.treatments import Treatment, all_treatments
from planner.rules.upkeep import CostOverYears, Demand, UpkeepService, cost_over_years

YEARS = 30


@dataclass(frozen=True, slots=True)
class CurveOverYears:
    """One curve by year, with what a reader needs to judge it."""

    kind: str
    setting: str
    setting_es: str
    last_year: Decimal
    """The last published year."""
    years: tuple[CurveYear, ...]
    points: tuple[Evidence, ...]
    """The published points, by year."""
    spread: tuple[Evidence, ...]
    """The best and the worst that make the band, where the source prints them."""

    @property
    def counted(self) -> str:
        """How many of what were followed, such as ``72,196 composites``; empty where the source does not say."""
        row = self.points[-1]
        return f"{row.n:,} {row.n_of}".strip() if row.n is not None else ""

    @property
    def band(self) -> str:
        """What the band is: ``best and worst``, ``95 % interval``, ``range``, or empty without one."""
        if self.years[-1].low is None:
            return ""
        return "best and worst" if self.spread else self.points[-1].interval


@dataclass(frozen=True, slots=True)
class MoneyYear:
    """What an option has come to by the end of a year, its fee included."""

    year: int
    total_cents: int
    low_cents: int
    high_cents: int
    minutes: Decimal
    """In the chair, treatment and upkeep together, expected."""
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class OptionOverYears:
    """One option over the years."""

    key: str
    name: str
    name_es: str
    start_cents: int
    """Fee, and what belongs beside it."""
    fee_cents: int
    money: tuple[MoneyYear, ...]
    """By year, from 0; empty where something has no price yet."""
    not_priced: str
    """Why there is no money, in words."""
    services: tuple[UpkeepService, ...]
    """What the years ask for, over the whole time."""
    extrapolated_from: int | None
    kept: CurveOverYears | None
    untouched: CurveOverYears | None
    account: StructureAccount
    rows: tuple[Evidence, ...]
    """Every number it rests on."""
    special: str = ""
    """``worn mouths`` or ``university clinics`` where its repairs and renewals are counted there and those of other
    options need not be; ``none`` where nothing follows a curve, so that any figures go with it."""

    def at(self, year: int) -> MoneyYear | None:
        """The money at the end of ``year``."""
        return self.money[year] if self.money else None


@dataclass(frozen=True, slots=True)
class Crossing:
    """From ``year`` on one option has cost more than another that cost more until then."""

    year: int
    overtakes: str
    """Key of the option that was cheaper until then."""
    overtaken: str
    cents: int
    """What the dearer one has come to by then."""
    within_bands: bool
    """The bands of the two overlap that year, so that it may as well be long before or after."""
    extrapolated: bool
    alike: bool
    """Both are reckoned with the same kind of figures; if not, the crossing says little."""


@dataclass(frozen=True, slots=True)
class OverYears:
    """The options side by side."""

    options: tuple[OptionOverYears, ...]
    crossings: tuple[Crossing, ...]
    figures: Figures
    years: int


def over_years(
    plan: CasePlan,
    facts: CaseFacts,
    book: OfficeBook,
    keys: Sequence[str],
    figures: Figures,
    years: int = YEARS,
    *,
    treatments: Mapping[str, Treatment] | None = None,
) -> OverYears:
    """The options called ``keys`` over ``years``, in the plan's order; see :func:`is_charged` for which make sense.

    ``treatments`` is the catalogue the plan was computed with; what is shipped where it is left out. Raises LookupError
    when the book has no price list in force on the plan's day; a service without a price leaves that option without
    money and says so.
    """
    prices = book.price_list_on(plan.planned_on)
    known = all_treatments() if treatments is None else treatments
    found = tuple(
        _option(option, tuple(known[key] for key in option.treatments), plan, facts, book, prices, figures, years)
        for option in plan.options
        if option.key in keys
    )
    return OverYears(found, tuple(crossings(found)), figures, years)


def _option(
    option: OptionShape,
    parts: tuple[Treatment, ...],
    plan: CasePlan,
    facts: CaseFacts,
    book: OfficeBook,
    prices: PriceList,
    figures: Figures,
    years: int,
) -> OptionOverYears:
    asked = asked_for(parts, option.work, figures)
    kept, untouched = curves_of(parts, figures)
    account = structure_account(option, asked, parts, facts, plan.patient_age)
    money: tuple[MoneyYear, ...] = ()
    cost: CostOverYears | None = None
    not_priced = _not_priced(option)
    if not not_priced:
        try:
            cost = cost_over_years(asked, years, lambda key: prices.service(key).price)
        except LookupError as error:
            not_priced = f"Not computed: {error}."
        else:
            money = tuple(_money(option, asked, cost, book))
    curves = [each for each in (kept, untouched) if each is not None]
    return OptionOverYears(
        key=option.key,
        name=option.name,
        name_es=option.name_es,
        start_cents=option.estimate.compared_cents,
        fee_cents=option.estimate.total_cents,
        money=money,
        not_priced=not_priced,
        services=cost.services if cost else (),
        extrapolated_from=cost.extrapolated_from if cost else None,
        kept=_curve(kept, years),
        untouched=_curve(untouched, years),
        account=account,
        rows=unique(_rows(asked, curves, account)),
        special=_special(asked),
    )


def _special(asked: Sequence[Demand]) -> str:
    lines = [demand.line for demand in asked if demand.line.follows]
    if not lines:
        return "none"
    return next((line.only_in for line in lines if line.only_in in ("worn mouths", "university clinics")), "")


def is_charged(option: OptionShape) -> bool:
    """Whether there is anything to follow: doing nothing, something charged, or something whose price is missing."""
    return option.treatments == ("none",) or bool(option.estimate.lines) or bool(_not_priced(option))


def _not_priced(option: OptionShape) -> str:
    return next((reason.words for reason in option.reasons if reason.gate == "price"), "")


def _rows(asked: Iterable[Demand], curves: Iterable[Curve], account: StructureAccount) -> Iterator[Evidence]:
    for demand in asked:
        yield from demand.rows()
    for curve in curves:
        yield from (*curve.points, *(curve.spread or ()))
    for at in account.at:
        for each in at.renewals:
            yield from each.rows


def _money(option: OptionShape, asked: Sequence[Demand], cost: CostOverYears, book: OfficeBook) -> Iterator[MoneyYear]:
    start, minutes = option.estimate.compared_cents, Decimal(option.minutes.mean)
    yield MoneyYear(0, start, start, start, minutes, extrapolated=False)
    each = [(demand, minutes_of(demand, book)) for demand in asked]
    for year in cost.years:
        minutes += sum((demand.count * demand.expected(year.year) * taken for demand, taken in each), Decimal(0))
        yield MoneyYear(
            year.year,
            start + year.so_far_cents,
            start + year.low_cents,
            start + year.high_cents,
            minutes,
            year.extrapolated,
        )


def _curve(curve: Curve | None, years: int) -> CurveOverYears | None:
    if curve is None:
        return None
    return CurveOverYears(
        kind=curve.kind,
        setting=curve.setting,
        setting_es=curve.setting_es,
        last_year=curve.last_year,
        years=curve_by_year(curve, years),
        points=tuple(sorted(curve.points, key=row_year)),
        spread=curve.spread or (),
    )


def crossings(options: Sequence[OptionOverYears]) -> Iterator[Crossing]:
    """Where the expected totals of two options change places, by year; the year is the first in the new order."""
    found = [each for at, one in enumerate(options) for other in options[at + 1 :] for each in _cross(one, other)]
    yield from sorted(found, key=lambda crossing: (crossing.year, crossing.overtakes, crossing.overtaken))


def _cross(one: OptionOverYears, other: OptionOverYears) -> Iterator[Crossing]:
    before = 0
    for a, b in zip(one.money, other.money, strict=False):
        order = (a.total_cents > b.total_cents) - (a.total_cents < b.total_cents)
        if order and before and order != before:
            (dearer, rises), (_, falls) = ((a, one), (b, other)) if order > 0 else ((b, other), (a, one))
            yield Crossing(
                year=a.year,
                overtakes=rises.key,
                overtaken=falls.key,
                cents=dearer.total_cents,
                within_bands=a.low_cents <= b.high_cents and b.low_cents <= a.high_cents,
                extrapolated=a.extrapolated or b.extrapolated,
                alike=one.special == other.special or "none" in (one.special, other.special),
            )
        before = order or before
