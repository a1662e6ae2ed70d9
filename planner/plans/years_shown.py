"""Options over the years, laid out for the page: pictures, the tables behind them, and where every number comes from.

Nothing is computed anew here.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from planner.practice.templatetags.money import whole_amount
from planner.rules.evidence import CERTAINTY_WORDS, Evidence, whole
from planner.rules.icon_array import icon_array
from planner.rules.over_years import Crossing, CurveOverYears, MoneyYear, OptionOverYears, OverYears
from planner.rules.structure import AtAge, StructureAccount, ToothLedger
from planner.rules.survival import CurveYear
from planner.rules.teeth import Numbering
from planner.rules.units import format_mm
from planner.rules.upkeep import UpkeepService
from planner.rules.years_svg import MARKS, At, AxisWords, Crossed, Curve, money_svg, shares_svg

TABLE_YEARS = (0, 1, 5, 10, 20, 30)
"""The years of the tables."""
HORIZON = 10
"""The one horizon that signs of 100 are drawn at."""
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Field:
    """A field of 100 signs, both ways round."""

    picture: SafeString
    words: str


@dataclass(frozen=True, slots=True)
class ShownCurve:
    """One curve in words, with its numbers."""

    name: str
    about: str
    rows: tuple[tuple[int, str, str, bool], ...]
    """Year, of 100, range, beyond what was published."""
    field: Field | None
    no_data: str


@dataclass(frozen=True, slots=True)
class MoneyRow:
    """One option in the table of what options come to."""

    letter: str
    name: str
    cells: tuple[tuple[str, str, bool], ...]
    """Expected, range, beyond what was published."""
    hours: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class ToothRow:
    """One tooth of the account, in words."""

    tooth: str
    edge_before: str
    edge_now: str
    edge_in_all: str
    over: bool
    sides_before: str
    face_now: str
    crown: str
    restored: str


@dataclass(frozen=True, slots=True)
class AgeRow:
    """The account at one age, in words."""

    age: int
    years: int
    number: str
    mm: str
    step_ups: str
    to: str
    how: tuple[str, ...]
    beyond: bool


@dataclass(frozen=True, slots=True)
class ShownOption:
    """One option over the years."""

    key: str
    letter: str
    name: str
    shares: SafeString | None
    money: SafeString | None
    curves: tuple[ShownCurve, ...]
    services: tuple[tuple[str, str, str], ...]
    extrapolated_from: int | None
    why: str
    teeth: tuple[ToothRow, ...]
    ages: tuple[AgeRow, ...]
    no_curve: bool


@dataclass(frozen=True, slots=True)
class ShownSource:
    """One number that the page rests on."""

    words: str
    value: str
    source: str
    certainty: str


@dataclass(frozen=True, slots=True)
class ShownYears:
    """The whole page."""

    overview: SafeString | None
    rows: tuple[MoneyRow, ...]
    crossings: tuple[str, ...]
    uneven: str
    """Which options have no figures of the kind that was asked for, and so look better or worse beside the others."""
    options: tuple[ShownOption, ...]
    sources: tuple[ShownSource, ...]
    ages: tuple[int, ...]
    edge_limit: str


def shown_years(found: OverYears, currency: str, numbering: Numbering) -> ShownYears:
    """``found`` laid out; teeth are written in ``numbering``."""
    letters = {option.key: _LETTERS[at] for at, option in enumerate(found.options)}
    rows = {row.key: row for option in found.options for row in option.rows}
    accounts = [option.account for option in found.options]
    return ShownYears(
        overview=_overview(found, letters, currency),
        rows=tuple(_money_row(option, letters[option.key]) for option in found.options),
        crossings=tuple(_crossing(each, letters, found) for each in found.crossings),
        uneven=_uneven(found, letters),
        options=tuple(
            _option(option, letters[option.key], found.years, currency, numbering) for option in found.options
        ),
        sources=tuple(_source(rows[key]) for key in sorted(rows)),
        ages=tuple(at.age for at in accounts[0].at) if accounts else (),
        edge_limit=format_mm(accounts[0].edge_limit) if accounts else "",
    )


# ---------------------------------------------------------------- money


def _overview(found: OverYears, letters: dict[str, str], currency: str) -> SafeString | None:
    priced = [option for option in found.options if option.money]
    if not priced:
        return None
    marks = {key: MARKS[at % len(MARKS)] for at, key in enumerate(letters)}
    every = tuple(float(year) for year in range(0, found.years + 1, 5))
    curves = [
        Curve(letters[option.key], tuple(_at(each) for each in option.money), mark=marks[option.key], marked=every)
        for option in priced
    ]
    said = "; ".join(
        _("%(letter)s, %(name)s: %(amount)s")
        % {"letter": letters[one.key], "name": one.name, "amount": whole_amount(one.money[-1].total_cents)}
        for one in priced
    )
    title = _(
        "What the options come to over %(years)d years, %(currency)s, fee and upkeep. After %(years)d years: %(said)s"
    )
    words = AxisWords(
        title % {"years": found.years, "currency": currency, "said": said}, f"{currency}", _("years"), _("no data")
    )
    crossed = [Crossed(each.year, float(each.cents), str(each.year)) for each in found.crossings]
    return mark_safe(money_svg(curves, words, "years-all", found.years, _axis, crossed))  # noqa: S308


def _axis(cents: int) -> str:
    return whole_amount(cents)


def _at(each: MoneyYear, ranged: bool = False) -> At:
    low, high = (float(each.low_cents), float(each.high_cents)) if ranged else (None, None)
    return At(each.year, float(each.total_cents), low, high, each.extrapolated)


def _money_row(option: OptionOverYears, letter: str) -> MoneyRow:
    found = [each for year in TABLE_YEARS if (each := option.at(year)) is not None]
    cells = tuple(
        (
            whole_amount(each.total_cents),
            "" if each.low_cents == each.high_cents else _range(each.low_cents, each.high_cents),
            each.extrapolated,
        )
        for each in found
    )
    return MoneyRow(letter, option.name, cells, tuple(_hours(each.minutes) for each in found), option.not_priced)


def _range(low: int, high: int) -> str:
    return f"{whole_amount(low)}–{whole_amount(high)}"


def _hours(minutes: Decimal) -> str:
    return f"{minutes / 60:.1f}"


def _crossing(each: Crossing, letters: dict[str, str], found: OverYears) -> str:
    names = {option.key: f"{letters[option.key]}, {option.name}" for option in found.options}
    said = _("From year %(year)d on “%(one)s” has come to more than “%(other)s”.") % {
        "year": each.year,
        "one": names[each.overtakes],
        "other": names[each.overtaken],
    }
    if each.within_bands:
        said += " " + _("Their ranges overlap then: it may be long before or long after.")
    if not each.alike:
        said += " " + _("One of them is reckoned with figures of another kind than the other: it says little.")
    if each.extrapolated:
        said += " " + _("It rests on rates beyond what was published.")
    return said


def _uneven(found: OverYears, letters: dict[str, str]) -> str:
    without = ", ".join(letters[option.key] for option in found.options if option.special == "")
    some = any(option.special not in ("", "none") for option in found.options)
    if not without or not some:
        return ""
    if found.figures.worn_events:
        said = _("No figures of worn mouths were found for %(which)s: they may well do worse here than is shown.")
    else:
        said = _("No figures of university clinics alone are used for %(which)s: beside the others they look worse.")
    return said % {"which": without}


# ---------------------------------------------------------------- one option


def _option(option: OptionOverYears, letter: str, years: int, currency: str, numbering: Numbering) -> ShownOption:
    curves = [(curve, _kind(curve)) for curve in (option.kept, option.untouched) if curve is not None]
    return ShownOption(
        key=option.key,
        letter=letter,
        name=option.name,
        shares=_shares(option, curves, years),
        money=_money(option, years, currency),
        curves=tuple(_curve(curve, name, option.key) for curve, name in curves),
        services=tuple(map(_service, option.services)),
        extrapolated_from=option.extrapolated_from,
        why=option.not_priced,
        teeth=tuple(_tooth(row, option.account, numbering) for row in option.account.teeth),
        ages=tuple(_age(at) for at in option.account.at),
        no_curve=bool(option.account.no_curve),
    )


def _service(each: UpkeepService) -> tuple[str, str, str]:
    return each.words, f"{each.number:.1f}", whole_amount(each.cents)


def _kind(curve: CurveOverYears) -> str:
    return _("still in place") if curve.kind == "still in place" else _("never touched")


def _shares(option: OptionOverYears, curves: list[tuple[CurveOverYears, str]], years: int) -> SafeString | None:
    if not curves:
        return None
    drawn = [
        Curve(
            name,
            tuple(_share(each) for each in curve.years),
            heavy=curve.kind == "still in place",
            mark="circle" if curve.kind == "still in place" else "open square",
            marked=tuple(float(row.years) for row in curve.points if row.years is not None),
        )
        for curve, name in curves
    ]
    said = "; ".join(
        _("%(name)s: %(share)d after %(years)s years")
        % {"name": name, "share": whole(curve.years[int(curve.last_year)].share), "years": int(curve.last_year)}
        for curve, name in curves
    )
    title = _("%(option)s, of 100 by year. %(said)s") % {"option": option.name, "said": said}
    words = AxisWords(title, _("of 100"), _("years"), _("no data"))
    return mark_safe(shares_svg(drawn, words, f"shares-{option.key}", years))  # noqa: S308


def _share(each: CurveYear) -> At:
    low, high = (None if end is None else float(end) for end in (each.low, each.high))
    return At(each.year, float(each.share), low, high, each.extrapolated)


def _money(option: OptionOverYears, years: int, currency: str) -> SafeString | None:
    if not option.money or option.money[-1].low_cents == option.money[-1].high_cents:
        return None  # no luck in it: the table says it all
    last = option.money[-1]
    title = _(
        "%(option)s: fee and upkeep after %(years)d years %(currency)s %(amount)s, in 8 of 10 such courses %(range)s"
    )
    words = AxisWords(
        title
        % {
            "option": option.name,
            "years": years,
            "currency": currency,
            "amount": whole_amount(last.total_cents),
            "range": _range(last.low_cents, last.high_cents),
        },
        currency,
        _("years"),
        _("no data"),
    )
    bounds = (_("1 of 10: less"), _("1 of 10: more"))
    curve = Curve(_("expected"), tuple(_at(each, ranged=True) for each in option.money), heavy=True, bounds=bounds)
    return mark_safe(money_svg([curve], words, f"money-{option.key}", years, _axis))  # noqa: S308


def _curve(curve: CurveOverYears, name: str, prefix: str) -> ShownCurve:
    last = int(curve.last_year)
    counted = f"; {curve.counted}" if curve.counted else ""
    about = _("Counted in: %(setting)s%(counted)s. Published up to year %(last)s.") % {
        "setting": curve.setting,
        "counted": counted,
        "last": f"{curve.last_year.normalize():f}",
    }
    about += " " + {
        "": _("The source prints no range."),
        "best and worst": _("Range: the best and the worst dentists."),
        "95 % interval": _("Range: the source's 95 % interval."),
        "range": _("Range: as the source prints it."),
    }.get(curve.band, "")
    known = {*(year for year in TABLE_YEARS if year), last}
    rows = tuple(
        (each.year, f"{whole(each.share)}", _share_range(each), each.extrapolated)
        for each in curve.years
        if each.year in known
    )
    if last < HORIZON:
        none = _("At %(years)d years: no data.") % {"years": HORIZON}
        return ShownCurve(name, about, rows, None, none)
    return ShownCurve(name, about, rows, _field(curve, name, f"{prefix}-{curve.kind.replace(' ', '-')}"), "")


def _share_range(each: CurveYear) -> str:
    if each.low is None or each.high is None:
        return ""
    low, high = whole(each.low), whole(each.high)
    return str(low) if low == high else f"{low}–{high}"


def _field(curve: CurveOverYears, name: str, prefix: str) -> Field:
    """How many of 100 were lost or touched at the horizon, and how many not."""
    each = curve.years[HORIZON]
    least = 100 - whole(each.high if each.high is not None else each.share)
    most = 100 - whole(each.low if each.low is not None else each.share)
    happens = str(least) if least == most else _("%(low)d to %(high)d") % {"low": least, "high": most}
    stays = str(100 - most) if least == most else _("%(low)d to %(high)d") % {"low": 100 - most, "high": 100 - least}
    words = (
        _("Of 100, after %(years)d years: %(stays)s are still in place, %(happens)s were lost or made again.")
        if curve.kind == "still in place"
        else _("Of 100, after %(years)d years: %(stays)s were never touched, %(happens)s were repaired or made again.")
    ) % {"years": HORIZON, "stays": stays, "happens": happens}
    return Field(mark_safe(icon_array(least, most, 100, prefix, words)), words)  # noqa: S308


# ---------------------------------------------------------------- tooth


def _tooth(row: ToothLedger, account: StructureAccount, numbering: Numbering) -> ToothRow:
    low, high = row.crown_percent
    restored = {True: _("yes"), False: _("no"), None: _("not noted")}[row.restored_before]
    return ToothRow(
        tooth=row.tooth.label(numbering),
        edge_before=format_mm(row.edge_before),
        edge_now=_("taken out") if row.extracted else format_mm(row.edge_now),
        edge_in_all=format_mm(row.edge_in_all),
        over=row.edge_in_all > account.edge_limit,
        sides_before=format_mm(row.sides_before),
        face_now=format_mm(row.face_now),
        crown=f"{low}–{high}" if high else "0",
        restored=restored,
    )


def _age(at: AtAge) -> AgeRow:
    low, high = at.mm
    how = tuple(
        ngettext(
            "%(units)d tooth, %(years)d years, at the rates of its curve: %(number)s renewals; each costs %(mm)s mm; "
            "of 100 renewals %(of)s lead to %(next)s: %(steps)s teeth.",
            "%(units)d teeth, %(years)d years, at the rates of their curve: %(number)s renewals; each costs %(mm)s mm; "
            "of 100 renewals %(of)s lead to %(next)s: %(steps)s teeth.",
            each.units,
        )
        % {
            "units": each.units,
            "years": at.years,
            "number": f"{each.number:.2f}",
            "mm": "–".join(f"{end.normalize():f}" for end in each.each_mm),
            "of": f"{each.of_100.normalize():f}",
            "next": each.next_larger,
            "steps": f"{each.step_ups:.2f}",
        }
        for each in at.renewals
    )
    return AgeRow(
        age=at.age,
        years=at.years,
        number=f"{at.number:.1f}",
        mm=f"{low:.2f}–{high:.2f}" if high else "0",
        step_ups=f"{at.step_ups:.2f}" if at.step_ups else "0",
        to=", ".join(dict.fromkeys(each.next_larger for each in at.renewals)),
        how=how,
        beyond=any(each.extrapolated for each in at.renewals),
    )


# ---------------------------------------------------------------- sources


def _source(row: Evidence) -> ShownSource:
    value = f"{row.value.normalize():f} {row.unit}"
    if row.low is not None and row.high is not None:
        value += f" ({row.low.normalize():f}–{row.high.normalize():f})"
    return ShownSource(row.words, value, row.citation or row.note, CERTAINTY_WORDS[row.certainty][0])


def notes() -> Iterable[str]:
    """What holds for every figure on the page."""
    return tuple(_notes())


def _notes() -> Iterator[str]:
    yield _(
        "Money is at today's prices. An expected amount is the mean of many such courses; where something dear happens "
        "seldom it may lie above the range of 8 of 10."
    )
    yield _(
        "Beyond what was published, and after year ten, rates rise: things placed together wear out together. How fast "
        "is an assumption of this program, so the range is widened. Such years are for talking, not for a letter."
    )
    yield _("A renewed tooth goes on at the rate of its year; it does not start young again.")
    yield _("Teeth of one mouth are more alike than is reckoned here, so that true ranges are wider.")
