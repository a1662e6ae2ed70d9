"""How own work lasts, as its page shows it: for each treatment the curves, the tables behind them, and rates."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from string import ascii_uppercase
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from planner.practice.catalogue import in_force
from planner.rules.cents import half_up
from planner.rules.evidence import whole
from planner.rules.own_svg import own_svg, years_drawn
from planner.rules.own_work import (
    IN_PLACE,
    UNTOUCHED,
    OwnCurve,
    OwnTooth,
    OwnYear,
    Rate,
    blended,
    expected,
    own_curve,
    rate,
    tenths,
)
from planner.rules.survival import curve_by_year
from planner.rules.treatment_parts import Curve
from planner.rules.treatments import Treatment
from planner.rules.years_svg import AxisWords


@dataclass(frozen=True, slots=True)
class Published:
    """A published curve beside the office's own."""

    letter: str
    setting: str
    expected: str
    """First events that it lets one expect among the office's own teeth, with one decimal."""
    sources: str


@dataclass(frozen=True, slots=True)
class ShownCurve:
    """One drawing with its table."""

    key: str
    title: str
    svg: SafeString
    teeth: int
    people: int
    is_few: bool
    failed: int
    published: tuple[Published, ...]
    rows: tuple[tuple[int, int, int, str, tuple[str, ...]], ...]
    """Year, followed then, failed until then, own share with its band, and each published share."""


@dataclass(frozen=True, slots=True)
class ShownWork:
    """One treatment."""

    key: str
    name: str
    repairs: Rate
    chips: Rate
    proposal: str
    """The rate with the published one counting beside it; empty where there is none to count."""
    curves: tuple[ShownCurve, ...]


def shown_work(teeth: Iterable[OwnTooth]) -> tuple[ShownWork, ...]:
    """A part for each treatment that was done, those with most teeth first."""
    by_treatment: dict[str, list[OwnTooth]] = {}
    for one in teeth:
        by_treatment.setdefault(one.treatment, []).append(one)
    known = in_force().catalogue.treatments
    rows = sorted(by_treatment.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return tuple(_work(key, known.get(key), found) for key, found in rows)


def _work(key: str, part: Treatment | None, teeth: Sequence[OwnTooth]) -> ShownWork:
    curves = () if part is None else tuple(one for one in part.upkeep.curves if not one.worn)
    repairs = rate(teeth, lambda one: one.repairs)
    return ShownWork(
        key,
        key if part is None else part.name,
        repairs,
        rate(teeth, lambda one: one.chips),
        _proposal(repairs, teeth, [one for one in curves if one.kind == UNTOUCHED]),
        tuple(_curve(key, kind, teeth, [one for one in curves if one.kind == kind]) for kind in (UNTOUCHED, IN_PLACE)),
    )


def _proposal(own: Rate, teeth: Sequence[OwnTooth], curves: Sequence[Curve]) -> str:
    """The published rate over the same tooth-years counts for fifty of them; the office decides by which curve."""
    if not own.days or not curves:
        return ""
    said = []
    for letter, curve in zip(ascii_uppercase, curves, strict=False):
        published = 100 * expected(teeth, curve) / own.years
        figures = {"letter": letter, "published": tenths(published), "both": tenths(blended(own, published))}
        said.append(_("%(letter)s: %(published)s published, %(both)s together") % figures)
    return "; ".join(said)


def _curve(key: str, kind: str, teeth: Sequence[OwnTooth], published: Sequence[Curve]) -> ShownCurve:
    own = own_curve(teeth, kind)
    letters = list(zip(ascii_uppercase, published, strict=False))
    name = _("Never touched") if kind == UNTOUCHED else _("Still in place")
    words = AxisWords(_title(name, own, letters), _("of 100"), _("years"), _("no data"))
    prefix = f"{key}-{kind.replace(' ', '-')}"
    return ShownCurve(
        prefix,
        name,
        mark_safe(own_svg(own, letters, _("own"), words, prefix)),  # noqa: S308  (a drawing escapes its own words)
        own.teeth,
        own.people,
        own.is_few,
        sum(step.failed for step in own.steps),
        tuple(
            Published(
                letter,
                curve.setting,
                tenths(expected(teeth, curve)),
                "; ".join(dict.fromkeys(row.source for row in curve.points)),
            )
            for letter, curve in letters
        ),
        tuple(_rows(own, [curve for _letter, curve in letters])),
    )


def _title(name: str, own: OwnCurve, letters: Sequence[tuple[str, Curve]]) -> str:
    failed = sum(step.failed for step in own.steps)
    said = _("%(name)s: own work, %(teeth)d teeth followed, %(failed)d of them failed") % {
        "name": name,
        "teeth": own.teeth,
        "failed": failed,
    }
    beside = ", ".join(letter for letter, _curve in letters)
    return f"{said}; {_few() if own.is_few else _drawn()}" + (f"; {beside}" if beside else "")


def _few() -> str:
    return _("fewer than ten, so no curve of them is drawn")


def _drawn() -> str:
    return _("drawn as long as ten are followed")


def _rows(own: OwnCurve, published: Sequence[Curve]) -> Iterator[tuple[int, int, int, str, tuple[str, ...]]]:
    years = years_drawn(own)
    beside = [curve_by_year(curve, years) for curve in published]
    for row in own.by_year(years):
        at = [curve[row.year] for curve in beside]
        shares = tuple("–" if each.extrapolated else str(whole(each.share)) for each in at)
        yield row.year, row.at_risk, row.failed, _share(row), shares


def _share(row: OwnYear) -> str:
    if row.share is None or row.low is None or row.high is None:
        return ""
    return f"{half_up(row.share * 100)} ({_of_100(row.low)}–{_of_100(row.high)})"


def _of_100(share: Decimal) -> int:
    return half_up(Fraction(share) * 100)


def context(teeth: Sequence[OwnTooth]) -> dict[str, Any]:
    """What the page shows."""
    return {"works": shown_work(teeth), "teeth": len(teeth), "people": len({one.patient for one in teeth})}
