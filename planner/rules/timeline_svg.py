"""Courses of treatment as lines of time: from the day of the answer to the last look, a mark for every step.

One line for each course, all on one axis of months, so that lengths can be compared by eye. Place and shape carry the
meaning, so that it reads in black and white; the title is the text alternative. One user unit is one millimetre of
paper. Presentation attributes only, so that a strict policy lets it pass.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from xml.sax.saxutils import escape, quoteattr

from planner.rules.strip_ink import FAINT, FONT_FAMILY, INK, number

_WIDTH = 174.0
_LEFT, _RIGHT = 7.0, 5.0
_TEXT = 3.1
_PITCH = 6.0
"""From one line to the next."""
_TOP = 2.5
_FEWEST = 6
"""Months shown at the least, so that one visit does not fill the whole width."""
_MOST_TICKS = 12
_DAYS_IN_MONTH = 30.4375


@dataclass(frozen=True, slots=True)
class Course:
    """One line: its name, the days of its steps in order, and what is said at its end."""

    name: str
    steps: tuple[date, ...]
    said: str


@dataclass(frozen=True, slots=True)
class _Frame:
    """So many months across, and letters so high, in mm."""

    span: float
    text: float

    @property
    def left(self) -> float:
        return _LEFT * self.text / _TEXT

    @property
    def pitch(self) -> float:
        return max(_PITCH, self.text * 1.3)

    def x(self, month: float) -> float:
        return self.left + month * (_WIDTH - self.left - _RIGHT) / self.span

    def wide(self, words: str) -> float:
        """About how wide ``words`` are."""
        return len(words) * self.text * 0.52


def timeline_svg(
    courses: Sequence[Course], start: date, months: str, title: str, prefix: str, lettering: float | None = None
) -> str:
    """``courses`` from ``start`` on as an SVG text; a course without steps says only what is said of it.

    ``months`` names the axis, ``title`` is the text alternative, ``prefix`` starts every id. ``lettering``: how high
    letters are for large print, in mm; what is said of the courses has no room then and stands beside the drawing.
    """
    last = max((day for course in courses for day in course.steps), default=start)
    span = max(-(-_months(start, last) // 1), _FEWEST)
    if lettering is not None:
        courses = [replace(course, said="") for course in courses]
    frame = _Frame(span, lettering or _TEXT)
    bottom = _TOP + frame.pitch * len(courses)
    parts = [*_axis(frame, bottom, months)]
    for at, course in enumerate(courses):
        parts += _course(course, start, frame, _TOP + frame.pitch * (at + 0.5))
    height = bottom + frame.text * 2.74
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="timeline" role="img" '
        f"aria-labelledby={quoteattr(prefix + '-title')} "
        f'viewBox="0 0 {number(_WIDTH)} {number(height)}" width="{number(_WIDTH)}mm" height="{number(height)}mm">'
        f"<title id={quoteattr(prefix + '-title')}>{escape(title)}</title>"
        f'<g font-family="{FONT_FAMILY}" font-size="{number(frame.text)}" fill="{INK}" stroke="none">'
        f"{''.join(parts)}</g></svg>"
    )


def _months(start: date, day: date) -> float:
    return max((day - start).days, 0) / _DAYS_IN_MONTH


def _axis(frame: _Frame, bottom: float, months: str) -> Iterator[str]:
    step = next(step for step in (1, 2, 3, 6, 12, 24, 60, 600) if frame.span / step <= _MOST_TICKS)
    first = f"0 {months}"
    beside = frame.x(step) - frame.x(0) > frame.wide(first)
    for month in range(0, int(frame.span) + 1, step):
        x = frame.x(month)
        yield _line(x, _TOP, x, bottom + 1, FAINT, 0.12)
        words = first if month == 0 and beside else str(month)
        yield _text(x, bottom + frame.text * 1.6, words, "start" if words == first else "middle")
    if not beside:
        yield _text(_WIDTH - _RIGHT, bottom + frame.text * 2.6, months, "end")
    yield _line(frame.left, bottom, _WIDTH - _RIGHT, bottom, FAINT, 0.3)


def _course(course: Course, start: date, frame: _Frame, y: float) -> Iterable[str]:
    below = y + frame.text * 0.35
    yield _text(0, below, course.name, "start", bold=True)
    if not course.steps:
        if course.said:
            yield _text(frame.left + 2, below, course.said, "start")
        return
    places = [frame.x(_months(start, day)) for day in course.steps]
    yield _line(places[0], y, places[-1], y, INK, 0.5)
    for x in places[:-1]:
        yield f'<circle cx="{number(x)}" cy="{number(y)}" r="0.9" fill="{INK}"/>'
    x = places[-1]
    yield (
        f'<rect x="{number(x - 1.1)}" y="{number(y - 1.1)}" width="2.2" height="2.2" fill="#ffffff" '
        f'stroke="{INK}" stroke-width="0.4"/>'
    )
    if not course.said:
        return
    # Said behind the line where there is room for it, else before it.
    wide = frame.wide(course.said)
    if x + 2.4 + wide <= _WIDTH:
        yield _line(x + 1.8, y, x + 2.4 + wide, y, "#ffffff", frame.text)  # the lines of the months stop before words
        yield _text(x + 2.4, below, course.said, "start")
    else:
        yield _line(x - 2.4 - wide, y - 2.3, x - 1.8, y - 2.3, "#ffffff", frame.text)
        yield _text(x - 2.4, y - 1.2, course.said, "end")


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    d = f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}"
    return f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width}"/>'


def _text(x: float, y: float, words: str, anchor: str, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{number(x)}" y="{number(y)}" text-anchor="{anchor}"{weight}>{escape(words)}</text>'
