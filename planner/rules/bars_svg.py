"""Bars and dots as SVG texts, for figures that people would rather look at than read; the table stands behind them.

Every bar carries its figure in words, so nothing is told by length or shade alone. The text carries presentation
attributes only, so that it passes a strict content security policy; the title stands first and is the text
alternative. One user unit is one millimetre of paper.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from planner.rules.strip_ink import FONT_FAMILY

_INK, _FAINT, _FILL, _REST = "#1a1a1a", "#767676", "#4a4a4a", "#e4e4e4"
_WIDTH, _LABEL, _ROW, _TEXT, _SAID = 150.0, 28.0, 7.0, 3.4, 44.0
_SIDE, _EDGE = 80.0, 14.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its label, its length, how long it could be where it is a share, and what it says."""

    label: str
    value: int
    said: str
    whole: int | None = None


@dataclass(frozen=True, slots=True)
class Dot:
    """What was planned, and what came of it."""

    planned: int
    real: int
    disturbed: bool = False


def bars_svg(title: str, bars: Sequence[Bar]) -> str:
    """Lying bars, one below the other. A share is drawn within the outline of its whole."""
    most = max([1, *(max(bar.value, bar.whole or 0) for bar in bars)])
    room = _WIDTH - _LABEL - _SAID
    height = _ROW * max(len(bars), 1) + 2
    parts = [_open(_WIDTH, height, title)]
    for place, bar in enumerate(bars):
        top = 1 + place * _ROW
        middle = top + _ROW / 2 + 1.1
        parts.append(_words(_LABEL - 2, middle, bar.label, "end"))
        if bar.whole:
            parts.append(
                f'<rect x="{_LABEL}" y="{top + 1:.1f}" width="{room * bar.whole / most:.1f}" height="{_ROW - 2:.1f}" '
                f'fill="{_REST}" stroke="{_FAINT}" stroke-width="0.2"/>'
            )
        if bar.value:
            parts.append(
                f'<rect x="{_LABEL}" y="{top + 1:.1f}" width="{room * bar.value / most:.1f}" height="{_ROW - 2:.1f}" '
                f'fill="{_FILL}"/>'
            )
        parts.append(_words(_LABEL + room * max(bar.value, bar.whole or 0) / most + 2, middle, bar.said, "start"))
    parts.append(f'<path d="M {_LABEL} 0 V {height:.1f}" stroke="{_INK}" stroke-width="0.3"/></svg>')
    return "".join(parts)


def dots_svg(title: str, dots: Sequence[Dot], *, planned: str, real: str) -> str:
    """Planned across, real upwards; on the slanting line both are the same. A cross is what something disturbed."""
    most = max([10, *(max(dot.planned, dot.real) for dot in dots)])
    step = next(one for one in (5, 10, 20, 30, 60, 120, 240, 600) if most / one <= 6)
    most = -(-most // step) * step
    scale = (_SIDE - 2) / most
    wide, high = _EDGE + _SIDE + 4, _SIDE + _EDGE
    parts = [_open(wide, high, title)]
    for mark in range(0, most + 1, step):
        x, y = _EDGE + mark * scale, _SIDE - mark * scale
        parts.append(f'<path d="M {_EDGE} {y:.1f} H {_EDGE + most * scale:.1f}" stroke="{_REST}" stroke-width="0.2"/>')
        parts.append(_words(_EDGE - 1.5, y + 1.1, str(mark), "end"))
        parts.append(_words(x, _SIDE + 4.5, str(mark), "middle"))
    parts.append(
        f'<path d="M {_EDGE} {_SIDE} L {_EDGE + most * scale:.1f} {_SIDE - most * scale:.1f}" stroke="{_FAINT}" '
        'stroke-width="0.3" stroke-dasharray="1.5 1"/>'
    )
    for dot in dots:
        x, y = _EDGE + dot.planned * scale, _SIDE - dot.real * scale
        if dot.disturbed:
            parts.append(
                f'<path d="M {x - 1.2:.1f} {y - 1.2:.1f} l 2.4 2.4 m 0 -2.4 l -2.4 2.4" stroke="{_INK}" '
                'stroke-width="0.4" fill="none"/>'
            )
        else:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.2" fill="none" stroke="{_INK}" stroke-width="0.4"/>')
    parts.append(_words(_EDGE + _SIDE / 2, _SIDE + 10, planned, "middle"))
    parts.append(
        f'<text x="3.5" y="{_SIDE / 2:.1f}" transform="rotate(-90 3.5 {_SIDE / 2:.1f})" text-anchor="middle" '
        f'font-family={quoteattr(FONT_FAMILY)} font-size="{_TEXT}" fill="{_INK}">{escape(real)}</text>'
    )
    parts.append("</svg>")
    return "".join(parts)


def _open(width: float, height: float, title: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}" width="{width:.1f}mm" '
        f'height="{height:.1f}mm" role="img"><title>{escape(title)}</title>'
    )


def _words(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-family={quoteattr(FONT_FAMILY)} '
        f'font-size="{_TEXT}" fill="{_INK}">{escape(text)}</text>'
    )
