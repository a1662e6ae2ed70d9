"""The strip as one SVG text: what is there, what is added, what is taken away, which gaps stay.

What is there now has a solid outline; what is added is hatched, what is taken away is cross-hatched, a gap that stays
is dotted. Pattern and number carry the meaning, so it reads the same in black and white. One user unit is one
millimetre: printed with the width it asks for, the drawing has true size, and a bar of 50 mm lets the reader check it.

Hatching is drawn as computed line segments because printing engines differ in how they treat SVG patterns. The text
carries presentation attributes and classes only, no styles, so that it passes a strict content security policy; its ids
start with the caller's prefix; its title stands first and is the text alternative.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

from planner.rules.results import SpacePlanShape, ToothShape
from planner.rules.strip import (
    Point,
    Segment,
    Strip,
    StripContact,
    Words,
    budget,
    change_words,
    geometry,
    hatch,
    ratio,
    spread_out,
    strip_words,
)
from planner.rules.units import format_mm

CHECK_BAR_MM = 50
SCREEN = 4
"""How much larger than life a strip is shown on a screen."""
FONT_FAMILY = "Atkinson Hyperlegible Next, DejaVu Sans, sans-serif"
_PAPER_MM = 172.0
"""Widest drawing that A4 and Letter hold between margins of 18 mm."""
_COLUMN_MM = (26.5, 34.0)
"""Room for one tooth's figures as shown, on paper (narrowed when there are many teeth) and enlarged on a screen."""
_COLUMN_EMS = 10.2
"""The same in sizes of the lettering: the longest figures, in the widest font that may be used."""
_GUTTER_EMS = 4.4
"""Room for the names of the rows."""
_INK = "#1a1a1a"
_FAINT = "#767676"


@dataclass(frozen=True, slots=True)
class _Row:
    """One row of figures under the teeth: its name and a text for every tooth."""

    name: str
    texts: tuple[str, ...]
    bold: bool = False


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where things stand, millimetres of the drawing."""

    text: float
    left: float
    """x of the strip's own left edge."""
    width: float
    columns: tuple[float, ...]
    gum: float
    fan: float
    contact_row: float
    tooth_row: float
    bar: float
    legend: float
    height: float


def strip_svg(
    plan: SpacePlanShape,
    words: Words,
    prefix: str,
    *,
    scale: int = 1,
    heading: str = "",
    width: str = "",
    height: str = "",
    check_bar: bool = True,
) -> str:
    """One plan, or the teeth of today, as an SVG text.

    ``prefix`` starts every id, so that several drawings can stand on one page. ``scale`` is how much larger than life
    it will be shown: 1 or 3 on paper, 4 on a screen; lettering keeps its size. ``width`` and ``height`` are written as
    given; left out, they are the true size times ``scale`` in millimetres. Drawings of the same teeth have the same
    columns, so that two plans set above each other line up. Raises ValueError when teeth and gaps do not match.
    """
    strip = geometry(plan)
    wrapped = len(plan.teeth) > 6
    rows = _rows(plan, words, wrapped)
    layout = _lay_out(strip, scale, rows, wrapped)
    parts = [
        *_header(layout, heading),
        *_dots_of_gaps(strip, layout),
        *_teeth(strip, layout, scale),
        *_leaders(strip, layout),
        *_contact_texts(strip, layout),
        *_row_texts(rows, layout),
        *_budget_bar(plan, layout, words),
        *_legend(layout, scale, check_bar),
    ]
    head = (
        '<svg xmlns="http://www.w3.org/2000/svg" class="strip" role="img" '
        f"aria-labelledby={quoteattr(prefix + '-title')} "
        f'viewBox="0 0 {_n(layout.width)} {_n(layout.height)}" '
        f"width={quoteattr(width or _n(layout.width * scale) + 'mm')} "
        f"height={quoteattr(height or _n(layout.height * scale) + 'mm')}>"
        f"<title id={quoteattr(prefix + '-title')}>{escape(strip_words(plan, words))}</title>"
        f'<g font-family="{FONT_FAMILY}" font-size="{_n(layout.text)}" fill="{_INK}" stroke="none">'
    )
    return head + "".join(parts) + "</g></svg>"


def enlargement_on_paper(plan: SpacePlanShape) -> int:
    """How many times true size (3, 2 or 1) the strip of ``plan`` can be drawn between the margins of A4 and Letter."""
    strip = geometry(plan)
    for scale in (3, 2):
        if _lay_out(strip, scale, (), len(plan.teeth) > 6).width * scale <= _PAPER_MM:
            return scale
    return 1


def _lay_out(strip: Strip, scale: int, rows: tuple[_Row, ...], wrapped: bool) -> _Layout:
    count = len(strip.teeth)
    ems = _COLUMN_EMS * (0.72 if wrapped else 1)
    on_screen = scale >= SCREEN
    shown = _COLUMN_MM[on_screen] * ems / _COLUMN_EMS
    if not on_screen:
        shown = min(shown, _PAPER_MM / (count + _GUTTER_EMS / ems))
    column = shown / scale
    text = min(3.4 if on_screen else 2.8, shown / ems) / scale
    columns = spread_out([tooth.middle for tooth in strip.teeth], column)
    low = min(columns[0] - column / 2, -text) - _GUTTER_EMS * text
    high = max(columns[-1] + column / 2, strip.width + text, low + (CHECK_BAR_MM + 40) / scale)
    fanned = max(abs(a - tooth.middle) for a, tooth in zip(columns, strip.teeth, strict=True))
    gum = text * 3.2
    fan = gum + strip.depth + text * 0.5
    contact_row = fan + max(text * 0.8, fanned * 0.2) + text
    tooth_row = contact_row + text * (2.9 if any(_stays_between_shares(c) for c in strip.contacts) else 2)
    bar = tooth_row + text * (1.25 * len(rows) + 0.6)
    legend = bar + text * 6.2
    return _Layout(
        text=text,
        left=-low,
        width=high - low,
        columns=tuple(position - low for position in columns),
        gum=gum,
        fan=fan,
        contact_row=contact_row,
        tooth_row=tooth_row,
        bar=bar,
        legend=legend,
        height=legend + text * 3.4,
    )


def _n(value: float) -> str:
    """A coordinate with at most two decimals and no needless noughts."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _text(x: float, y: float, words: str, *, anchor: str = "middle", bold: bool = False, size: float = 0) -> str:
    weight = ' font-weight="bold"' if bold else ""
    bigger = f' font-size="{_n(size)}"' if size else ""
    return f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}"{weight}{bigger}>{escape(words)}</text>'


def _path(points: Iterable[Point], left: float, top: float) -> str:
    moved = [f"{_n(x + left)} {_n(y + top)}" for x, y in points]
    return "M" + "L".join(moved) + "Z"


def _lines(segments: Iterable[Segment], left: float, top: float) -> str:
    return "".join(f"M{_n(a[0] + left)} {_n(a[1] + top)}L{_n(b[0] + left)} {_n(b[1] + top)}" for a, b in segments)


def _stroke(d: str, css: str, width: float, colour: str = _INK) -> str:
    return f'<path class="{css}" d="{d}" fill="none" stroke="{colour}" stroke-width="{_n(width)}"/>' if d else ""


def _header(layout: _Layout, heading: str) -> list[str]:
    t = layout.text
    sides = [
        _text(0, t * 2.5, "patient's right", anchor="start"),
        _text(layout.width, t * 2.5, "patient's left", anchor="end"),
    ]
    if heading:
        sides.append(_text(layout.width / 2, t * 1.1, heading, bold=True, size=t * 1.1))
    return sides


def _teeth(strip: Strip, layout: _Layout, scale: int) -> list[str]:
    drawn = []
    fine = 0.36 if scale == 1 else 0.28
    for tooth in strip.teeth:
        shape = tooth.shape
        added = _lines(hatch(tooth.after, tooth.now, fine), layout.left, layout.gum) if _adds(shape) else ""
        removed = ""
        if shape.shortening_tenths:
            removed = _lines(
                hatch(tooth.now, tooth.after, fine * 0.7) + hatch(tooth.now, tooth.after, fine * 0.7, rising=False),
                layout.left,
                layout.gum,
            )
        drawn.append(_stroke(added, "strip-added", 0.08))
        drawn.append(_stroke(removed, "strip-removed", 0.08))
        if tooth.after != tooth.now:
            drawn.append(_stroke(_path(tooth.after, layout.left, layout.gum), "strip-after", 0.12))
        drawn.append(
            _stroke(_path(tooth.now, layout.left, layout.gum), "strip-now", 0.2 if scale == 1 else 0.5 / scale)
        )
    return drawn


def _adds(shape: ToothShape) -> bool:
    return bool(shape.right_tenths or shape.left_tenths or shape.lengthening_tenths)


def _dots_of_gaps(strip: Strip, layout: _Layout) -> list[str]:
    drawn = []
    for (a, b), contact in zip(pairwise(strip.teeth), strip.contacts, strict=True):
        wide = contact.right - contact.left
        if wide <= 0:
            continue
        columns = max(1, int(wide / 0.5))
        radius = min(0.16, wide / 3)
        top, bottom = min(a.edge, b.edge) * 0.25, min(a.edge, b.edge) * 0.92
        rows = int((bottom - top) / 0.55)
        dots = [
            (contact.left + wide * (column + 0.5) / columns, top + 0.55 * row)
            for column in range(columns)
            for row in range(rows)
        ]
        circles = "".join(
            f'<circle cx="{_n(x + layout.left)}" cy="{_n(y + layout.gum)}" r="{_n(radius)}"/>' for x, y in dots
        )
        drawn.append(f'<g class="strip-gap" fill="{_INK}">{circles}</g>')
    return drawn


def _contact_columns(layout: _Layout) -> list[float]:
    return [(a + b) / 2 for a, b in pairwise(layout.columns)]


def _leaders(strip: Strip, layout: _Layout) -> list[str]:
    t = layout.text
    end = layout.contact_row - t
    d = ""
    for tooth, x in zip(strip.teeth, layout.columns, strict=True):
        d += f"M{_n(tooth.middle + layout.left)} {_n(layout.fan)}L{_n(x)} {_n(end)}L{_n(x)} {_n(layout.tooth_row - t)}"
    contacts = ""
    for contact, x in zip(strip.contacts, _contact_columns(layout), strict=True):
        middle = (contact.left + contact.right) / 2 + layout.left
        contacts += f"M{_n(middle)} {_n(layout.fan)}L{_n(x)} {_n(end)}"
    dashed = f'<path class="strip-leader" d="{contacts}" fill="none" stroke="{_FAINT}" stroke-width="{_n(t * 0.05)}"'
    return [
        _stroke(d, "strip-leader", t * 0.05, _FAINT),
        f'{dashed} stroke-dasharray="{_n(t * 0.25)} {_n(t * 0.2)}"/>' if contacts else "",
    ]


def _stays_between_shares(contact: StripContact) -> bool:
    gap = contact.gap
    return bool(gap.left_open_tenths and (gap.to_right_tooth_tenths or gap.to_left_tooth_tenths))


def _contact_texts(strip: Strip, layout: _Layout) -> list[str]:
    t = layout.text
    drawn = []
    for contact, x in zip(strip.contacts, _contact_columns(layout), strict=True):
        gap = contact.gap
        if gap.to_right_tooth_tenths or gap.to_left_tooth_tenths:
            shares = f"{format_mm(gap.to_right_tooth_tenths)} | {format_mm(gap.to_left_tooth_tenths)}"
            drawn.append(_text(x, layout.contact_row, shares))
            if gap.left_open_tenths:
                drawn.append(_text(x, layout.contact_row + t * 1.2, f"{format_mm(gap.left_open_tenths)} stays"))
        elif gap.width_tenths:
            drawn.append(_text(x, layout.contact_row, f"gap {format_mm(gap.width_tenths)}"))
        else:
            drawn.append(_text(x, layout.contact_row, "touch"))
    return drawn


def _rows(plan: SpacePlanShape, words: Words, wrapped: bool) -> tuple[_Row, ...]:
    """The figures under the teeth; ``wrapped`` sets a change on a row of its own, where columns are narrow."""
    teeth = plan.teeth
    rows = [
        _Row("Tooth", tuple(words.number(shape.tooth) for shape in teeth), bold=True),
        _Row("", tuple(words.other_number(shape.tooth) for shape in teeth)),
        _Row("", tuple(words.stands(shape.tooth) for shape in teeth)),
        *_change_rows("Width", [(shape.width_tenths, shape.width_after_tenths) for shape in teeth], wrapped),
        *_change_rows("Length", [(shape.length_tenths, shape.length_after_tenths) for shape in teeth], wrapped),
        _Row("W/L", tuple(_ratio_words(shape) for shape in teeth)),
        _Row("Shape", tuple(shape.word for shape in teeth)),
    ]
    return tuple(row for row in rows if any(row.texts))


def _change_rows(name: str, pairs: list[tuple[int, int]], wrapped: bool) -> list[_Row]:
    full = [change_words(before, after) if before else "not measured" for before, after in pairs]
    if not wrapped:
        return [_Row(name, tuple(full))]
    return [
        _Row(name, tuple(text.partition(" (")[0] for text in full)),
        _Row("", tuple(text[text.index("(") :] if "(" in text else "" for text in full)),
    ]


def _ratio_words(shape: ToothShape) -> str:
    before, after = ratio(shape.ratio_percent), ratio(shape.ratio_after_percent)
    return before if before == after else f"{before} → {after}"


def _row_texts(rows: tuple[_Row, ...], layout: _Layout) -> list[str]:
    drawn = []
    for index, row in enumerate(rows):
        y = layout.tooth_row + layout.text * 1.25 * index
        if row.name:
            drawn.append(_text(0, y, row.name, anchor="start"))
        drawn += [
            _text(x, y, words, bold=row.bold) for x, words in zip(layout.columns, row.texts, strict=True) if words
        ]
    return drawn


def _budget_bar(plan: SpacePlanShape, layout: _Layout, words: Words) -> list[str]:
    """The free space of each side as one bar, in the order of the arch: who gets how much of it."""
    t = layout.text
    sides = budget(plan)
    total = sum(side.free_tenths for side in sides)
    sums = ", ".join(f"{side.side} {format_mm(side.free_tenths)}" for side in sides)
    drawn = [_text(0, layout.bar, f"Free space between the teeth: {sums} mm", anchor="start")]
    if not total:
        return drawn
    parts = [(side.side, tooth, tenths) for side in sides for tooth, tenths in side.spent]
    unit = layout.width / total
    ends, x = [], 0.0
    for _, _, tenths in parts:
        ends.append((x, x + tenths * unit))
        x += tenths * unit
    top, deep = layout.bar + t * 0.6, t * 1.1
    texts = [f"{format_mm(tenths)} {f'to {words.number(tooth)}' if tooth else 'stays'}" for _, tooth, tenths in parts]
    labels, staggered = _label_places([(a + b) / 2 for a, b in ends], max(map(len, texts)) * t * 0.6, layout.width)
    for index, ((start, end), (_, tooth, _), label, at) in enumerate(zip(ends, parts, texts, labels, strict=True)):
        row = t * 1.1 if staggered and index % 2 else 0.0
        box = ((start, top), (end, top), (end, top + deep), (start, top + deep))
        if tooth is None:
            drawn += _dots(start, end, top, deep, t)
        else:
            drawn.append(_stroke(_lines(hatch(box, (), t * 0.28), 0, 0), "strip-added", t * 0.05))
        drawn.append(_stroke(_path(box, 0, 0), "strip-bar", t * 0.08))
        drawn.append(_text(at, top + deep + t * 1.9 + row, label))
        drawn.append(
            _stroke(
                f"M{_n((start + end) / 2)} {_n(top + deep)}L{_n(at)} {_n(top + deep + t * 0.95 + row)}",
                "strip-leader",
                t * 0.05,
                _FAINT,
            )
        )
    return drawn


def _label_places(wanted: list[float], apart: float, width: float) -> tuple[list[float], bool]:
    """Where the labels of the bar stand, inside the picture; True when they need two rows in turn."""
    count = len(wanted)
    staggered = apart * count > width
    apart = min(apart / 2, width / count) if staggered else apart
    places = spread_out(wanted, apart)
    last = count - 1
    return [
        min(max(at, apart * (index + 0.5)), width - apart * (last - index + 0.5)) for index, at in enumerate(places)
    ], staggered


def _dots(start: float, end: float, top: float, deep: float, t: float) -> list[str]:
    count = max(1, int((end - start) / (t * 0.4)))
    step = (end - start) / count
    circles = "".join(
        f'<circle cx="{_n(start + step * (index + 0.5))}" cy="{_n(top + deep * row)}" r="{_n(t * 0.06)}"/>'
        for index in range(count)
        for row in (0.3, 0.7)
    )
    return [f'<g class="strip-gap" fill="{_INK}">{circles}</g>']


def _legend(layout: _Layout, scale: int, check_bar: bool) -> list[str]:
    t = layout.text
    y = layout.legend
    drawn = []
    x = 0.0
    for name, words in (("now", "now"), ("added", "added"), ("removed", "taken away"), ("gap", "gap that stays")):
        box = ((x + t * 0.1, y - t), (x + t * 2.1, y - t), (x + t * 2.1, y + t * 0.1), (x + t * 0.1, y + t * 0.1))
        if name == "gap":
            drawn += _dots(x, x + t * 2.2, y - t, t, t)
        else:
            drawn.append(_stroke(_path(box, 0, 0), f"strip-{name}-key", t * (0.12 if name == "now" else 0.06)))
        if name in ("added", "removed"):
            lines = hatch(box, (), t * 0.25)
            if name == "removed":
                lines += hatch(box, (), t * 0.25, rising=False)
            drawn.append(_stroke(_lines(lines, 0, 0), f"strip-{name}", t * 0.05))
        drawn.append(_text(x + t * 2.5, y, words, anchor="start"))
        x += t * (3.4 + 0.58 * len(words))
    if check_bar and scale == 1:
        low = y + t * 2.4
        drawn.append(
            _stroke(
                f"M0.2 {_n(low - 1)}V{_n(low + 1)}M0.2 {_n(low)}H{_n(CHECK_BAR_MM + 0.2)}"
                f"M{_n(CHECK_BAR_MM + 0.2)} {_n(low - 1)}V{_n(low + 1)}",
                "strip-check",
                0.2,
            )
        )
        drawn.append(
            _text(
                CHECK_BAR_MM + 2,
                low + t * 0.35,
                f"{CHECK_BAR_MM} mm if printed at true size. W/L: width over length.",
                anchor="start",
            )
        )
    else:
        drawn.append(_text(0, y + t * 1.8, "All figures in millimetres. W/L: width over length.", anchor="start"))
    return drawn
