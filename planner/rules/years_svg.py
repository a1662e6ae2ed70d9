"""Curves over the years as SVG texts: how many of 100 are still there, and what options come to.

Pattern and place carry the meaning, so they read the same in black and white: a solid line is published, a dashed one
is carried beyond what was published; a hatched area is the range around a line; every line is named where it ends, and
options have marks of their own shape. The text carries presentation attributes only, so that it passes a strict
content security policy; ids start with the caller's prefix; the title stands first and is the text alternative. One
user unit is one millimetre of paper; a screen may show it larger.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10
from xml.sax.saxutils import escape, quoteattr

from planner.rules.strip_ink import FONT_FAMILY
from planner.rules.strip_layout import spread_out

_INK, _FAINT, _HATCH = "#1a1a1a", "#767676", "#8a8a8a"
_WIDTH, _HEIGHT = 132.0, 74.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 13.0, 7.0, 31.0, 10.0
_TEXT = 3.1
_LINE = 4.0
"""From one name at the end of a line to the next."""
_EVERY = 5
"""Years between marks and grid lines."""
_CLOSE = 0.1
"""Points nearer than this many years get no stroke of their own between them."""
MARKS = ("circle", "square", "triangle", "diamond", "open circle", "open square", "open triangle", "open diamond")
"""Shapes of the marks of options, in order."""


@dataclass(frozen=True, slots=True)
class At:
    """One year of a line: where it is, and the range around it where one is known."""

    year: float
    value: float
    low: float | None = None
    high: float | None = None
    beyond: bool = False
    """Beyond what was published."""


@dataclass(frozen=True, slots=True)
class Curve:
    """One line, drawn and named."""

    name: str
    years: tuple[At, ...]
    heavy: bool = False
    mark: str = ""
    """Shape of its marks, one of :data:`MARKS`."""
    marked: tuple[float, ...] = ()
    """The years at which a mark stands."""
    bounds: tuple[str, str] = ("", "")
    """Names of the lower and the upper end of the range."""


@dataclass(frozen=True, slots=True)
class Crossed:
    """A point at which two lines change places."""

    year: float
    value: float
    name: str


@dataclass(frozen=True, slots=True)
class AxisWords:
    """The words on a drawing."""

    title: str
    """The text alternative."""
    upright: str
    """What the upright axis counts."""
    years: str = "years"
    no_data: str = "no data"


@dataclass(frozen=True, slots=True)
class _Frame:
    years: float
    most: float

    def x(self, year: float) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * year / self.years

    def y(self, value: float) -> float:
        return _HEIGHT - _BOTTOM - (_HEIGHT - _TOP - _BOTTOM) * value / self.most


def shares_svg(curves: Sequence[Curve], words: AxisWords, prefix: str, years: int, every: int = _EVERY) -> str:
    """How many of 100 are still there, by year: every curve with its range hatched.

    Where a curve ends before ``years`` the rest says that there are no data. Years are marked ``every`` so many.
    """
    frame = _Frame(years, 100)
    ticks = [(value, str(value)) for value in (0, 25, 50, 75, 100)]
    parts = [*_axes(frame, ticks, words, years, every)]
    for curve in curves:
        parts += _range(frame, curve)
    for curve in curves:
        parts += _line(frame, curve)
    last = max((curve.years[-1].year for curve in curves), default=0)
    if last < years:
        middle = (frame.x(last) + frame.x(years)) / 2
        parts.append(_text(middle, frame.y(50), words.no_data, "middle", _FAINT))
        parts.append(_path([(frame.x(last), frame.y(0)), (frame.x(last), frame.y(100))], _FAINT, 0.2, "0.4 0.8"))
    parts += _names(frame, curves)
    return _svg(parts, words.title, prefix)


def money_svg(
    curves: Sequence[Curve],
    words: AxisWords,
    prefix: str,
    years: int,
    amount: Callable[[int], str],
    crossed: Iterable[Crossed] = (),
) -> str:
    """What options have come to, by year, in cents; ranges hatched, points where two change places ringed.

    ``amount`` writes an amount of whole units for the upright axis.
    """
    highest = max((at.high if at.high is not None else at.value for each in curves for at in each.years), default=0)
    step = _step(highest)
    frame = _Frame(years, step * max(1, ceil(highest / step)))
    ticks = [(value, amount(int(value))) for value in _steps(step, frame.most)]
    parts = [*_axes(frame, ticks, words, years)]
    for curve in curves:
        parts += _range(frame, curve)
    for curve in curves:
        parts += _line(frame, curve)
    for point in crossed:
        x, y = frame.x(point.year), frame.y(point.value)
        parts.append(
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="1.7" fill="none" stroke="{_INK}" stroke-width="0.35"/>'
            + _text(x, y - 2.4, point.name, "middle", _INK, halo=True)
        )
    parts += _names(frame, curves)
    return _svg(parts, words.title, prefix)


# ---------------------------------------------------------------- pieces


def _svg(parts: Iterable[str], title: str, prefix: str) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" '
        f"aria-labelledby={quoteattr(prefix + '-title')} "
        f'viewBox="0 0 {_n(_WIDTH)} {_n(_HEIGHT)}" width="{_n(_WIDTH)}mm" height="{_n(_HEIGHT)}mm">'
        f"<title id={quoteattr(prefix + '-title')}>{escape(title)}</title>"
        f'<g font-family="{FONT_FAMILY}" font-size="{_n(_TEXT)}" fill="{_INK}" stroke="none">{"".join(parts)}</g></svg>'
    )


def _axes(
    frame: _Frame, ticks: Sequence[tuple[float, str]], words: AxisWords, years: int, every: int = _EVERY
) -> Iterator[str]:
    left, right = frame.x(0), frame.x(years)
    for value, said in ticks:
        y = frame.y(value)
        yield _path([(left, y), (right, y)], _FAINT, 0.12 if value else 0.3)
        yield _text(left - 1.2, y + _TEXT * 0.35, said, "end", _INK)
    for year in range(0, years + 1, every):
        x = frame.x(year)
        yield _path([(x, frame.y(0)), (x, frame.y(0) + 1.2)], _FAINT, 0.2)
        yield _text(x, frame.y(0) + 4.6, str(year), "middle", _INK)
    yield _text(right + 3, frame.y(0) + 4.6, words.years, "start", _INK)
    yield _text(0.5, 3.6, words.upright, "start", _INK)


def _line(frame: _Frame, curve: Curve) -> Iterator[str]:
    width = 0.75 if curve.heavy else 0.45
    known = [at for at in curve.years if not at.beyond]
    beyond = [*known[-1:], *(at for at in curve.years if at.beyond)]
    for run, dashes in ((known, ""), (beyond, "1.6 1.1")):
        if len(run) > 1:
            yield _path([(frame.x(at.year), frame.y(at.value)) for at in run], _INK, width, dashes)
    values = {at.year: at.value for at in curve.years}
    for year in curve.marked:
        if year in values:
            yield _mark(frame.x(year), frame.y(values[year]), curve.mark)


def _range(frame: _Frame, curve: Curve) -> Iterator[str]:
    """The range as hatching between hairlines, closer for a heavy line; beyond the data the hairlines alone."""
    parts = (0.125, 0.375, 0.625, 0.875) if curve.heavy else (0.25, 0.75)
    ranged = [(at.year, at.low, at.high, at.beyond) for at in curve.years if at.low is not None and at.high is not None]
    if len(ranged) < 2 or all(low == high for _, low, high, _ in ranged):
        return
    for bound in (1, 2):
        points = [(frame.x(each[0]), frame.y(float(each[bound] or 0))) for each in ranged]
        yield _path(points, _HATCH, 0.18)
    strokes = ""
    for (year, low, high, _), (next_year, next_low, next_high, beyond) in pairwise(ranged):
        if beyond:
            break
        span = next_year - year
        # A curve that falls in steps has points closer than a year, two of them where it falls.
        for part in parts if span >= 1 else (0.5,) if span > _CLOSE else ():
            bottom, top = low + (next_low - low) * part, high + (next_high - high) * part
            x = _n(frame.x(year + span * part))
            strokes += f"M{x} {_n(frame.y(bottom))}L{x} {_n(frame.y(top))}"
    if strokes:
        yield f'<path d="{strokes}" fill="none" stroke="{_HATCH}" stroke-width="0.16"/>'


def _names(frame: _Frame, curves: Sequence[Curve]) -> Iterator[str]:
    """Each line's name at its end, moved apart where they would lie on each other."""
    found: list[tuple[float, Curve, str]] = []
    for curve in curves:
        last = curve.years[-1]
        for value, name in ((last.value, curve.name), (last.low, curve.bounds[0]), (last.high, curve.bounds[1])):
            if name and value is not None:
                found.append((frame.y(value), curve, name))
    ends = sorted(found, key=lambda end: end[0])
    x = frame.x(frame.years)
    for place, (y, curve, name) in zip(spread_out([y for y, _, _ in ends], _LINE), ends, strict=True):
        mark = curve.mark if name == curve.name else ""
        yield _path([(frame.x(curve.years[-1].year) + 0.6, y), (x + 2.2, place)], _FAINT, 0.15)
        if mark:
            yield _mark(x + 3.6, place, mark)
        yield _text(x + (5.6 if mark else 2.8), place + _TEXT * 0.35, name, "start", _INK)


def _mark(x: float, y: float, shape: str) -> str:
    opened = shape.startswith("open ")
    look = f'fill="{"#ffffff" if opened else _INK}" stroke="{_INK}" stroke-width="0.3"'
    name, r = shape.removeprefix("open "), 0.95
    if name == "circle":
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{r}" {look}/>'
    corners = {
        "square": [(-r, -r), (r, -r), (r, r), (-r, r)],
        "triangle": [(0, -1.2 * r), (1.15 * r, 0.9 * r), (-1.15 * r, 0.9 * r)],
        "diamond": [(0, -1.35 * r), (1.35 * r, 0), (0, 1.35 * r), (-1.35 * r, 0)],
    }[name]
    d = "M" + "L".join(f"{_n(x + dx)} {_n(y + dy)}" for dx, dy in corners) + "Z"
    return f'<path d="{d}" {look}/>'


def _path(points: Sequence[tuple[float, float]], colour: str, width: float, dashes: str = "") -> str:
    d = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width}" stroke-linejoin="round"{dashed}/>'


def _text(x: float, y: float, words: str, anchor: str, colour: str, halo: bool = False) -> str:
    around = ' stroke="#ffffff" stroke-width="0.9" paint-order="stroke" stroke-linejoin="round"' if halo else ""
    return f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}" fill="{colour}"{around}>{escape(words)}</text>'


def _step(highest: float) -> float:
    """A round step of 1, 2 or 5 times a power of ten that makes at most six parts."""
    if highest <= 0:
        return 100.0
    raw = highest / 5
    power = 10.0 ** floor(log10(raw))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw)


def _steps(step: float, most: float) -> list[float]:
    return [step * at for at in range(round(most / step) + 1)]


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
