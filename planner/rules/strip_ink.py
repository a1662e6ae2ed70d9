"""Pieces of SVG for the strip: presentation attributes and classes only, so that a strict policy lets them pass."""

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from planner.rules.strip_outlines import Point, Segment, hatch

FONT_FAMILY = "Atkinson Hyperlegible Next, DejaVu Sans, sans-serif"
INK = "#1a1a1a"
FAINT = "#767676"
WIDEST_EM = 0.6
"""Upper bound of the mean width of a letter, in sizes of the lettering, for the widest font that may be used."""


def number(value: float) -> str:
    """A coordinate with at most two decimals and no needless noughts."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def text(x: float, y: float, words: str, *, anchor: str = "middle", bold: bool = False, size: float = 0) -> str:
    """One line of lettering."""
    weight = ' font-weight="bold"' if bold else ""
    bigger = f' font-size="{number(size)}"' if size else ""
    return f'<text x="{number(x)}" y="{number(y)}" text-anchor="{anchor}"{weight}{bigger}>{escape(words)}</text>'


def closed(points: Iterable[Point], left: float, top: float) -> str:
    """Path data of a closed outline, moved by ``left`` and ``top``."""
    moved = [f"{number(x + left)} {number(y + top)}" for x, y in points]
    return "M" + "L".join(moved) + "Z"


def lines(segments: Iterable[Segment], left: float = 0.0, top: float = 0.0) -> str:
    """Path data of separate lines."""
    return "".join(
        f"M{number(a[0] + left)} {number(a[1] + top)}L{number(b[0] + left)} {number(b[1] + top)}" for a, b in segments
    )


def stroke(d: str, css: str, width: float, colour: str = INK, dashes: str = "") -> str:
    """A stroked path of the class ``css``; nothing for no path data."""
    if not d:
        return ""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path class="{css}" d="{d}" fill="none" stroke="{colour}" stroke-width="{number(width)}"{dashed}/>'


def box(left: float, top: float, wide: float, high: float) -> tuple[Point, ...]:
    """The corners of a rectangle."""
    return ((left, top), (left + wide, top), (left + wide, top + high), (left, top + high))


def hatched(corners: tuple[Point, ...], spacing: float, width: float, *, crossed: bool = False) -> str:
    """A hatched or cross-hatched rectangle without its outline."""
    found = hatch(corners, (), spacing) + (hatch(corners, (), spacing, rising=False) if crossed else ())
    return stroke(lines(found), "strip-removed" if crossed else "strip-added", width)


def dots(points: Iterable[Point], radius: float) -> str:
    """Dots of one gap."""
    circles = "".join(f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"/>' for x, y in points)
    return f'<g class="strip-gap" fill="{INK}">{circles}</g>' if circles else ""


def picture(
    parts: Iterable[str],
    *,
    prefix: str,
    title: str,
    desc: str,
    view: tuple[float, float],
    size: tuple[str, str],
    letters: float,
) -> str:
    """The whole SVG. ``view`` is width and height in user units, ``size`` what is asked of the page."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="strip" role="img" '
        f"aria-labelledby={quoteattr(prefix + '-title')} aria-describedby={quoteattr(prefix + '-desc')} "
        f'viewBox="0 0 {number(view[0])} {number(view[1])}" '
        f"width={quoteattr(size[0])} height={quoteattr(size[1])}>"
        f"<title id={quoteattr(prefix + '-title')}>{escape(title)}</title>"
        f"<desc id={quoteattr(prefix + '-desc')}>{escape(desc)}</desc>"
        f'<g font-family="{FONT_FAMILY}" font-size="{number(letters)}" fill="{INK}" stroke="none">'
        f"{''.join(parts)}</g></svg>"
    )
