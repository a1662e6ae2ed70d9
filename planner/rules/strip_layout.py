"""Where things stand in a drawing of the strip, in millimetres of the drawing.

Figures are wider than teeth at true size, so every tooth has a column of its own below the picture and a line leads
there. Drawings of the same teeth have the same columns, so that plans set above each other line up.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from planner.rules.strip import Strip, StripContact
from planner.rules.strip_ink import WIDEST_EM

CHECK_BAR_MM = 50
SCREEN = 4
"""How much larger than life a strip is shown on a screen."""
PAPER_MM = 172.0
"""Widest drawing that A4 and Letter hold between margins of 18 mm."""
PITCH = 1.25
"""From one line of lettering to the next, in sizes of the lettering."""
BOX_PITCH = 2.0
"""The same for a row of empty boxes to write in."""
_COLUMN_MM = (26.5, 34.0)
"""Room for one tooth's figures as shown, on paper (narrowed when there are many teeth) and enlarged on a screen."""
_COLUMN_EMS = 10.2
"""The same in sizes of the lettering: the longest figures, in the widest font that may be used."""
_NARROW = 0.72
"""Share of a column that is enough where figures are set on two rows."""
_WRAPPED_ABOVE = 6
"""Teeth up to which a column is wide enough for all figures of a size on one row."""
GUTTER_EMS = 4.4
"""Room for the names of the rows."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of figures under the teeth: its name and a text for every tooth."""

    name: str
    texts: tuple[str, ...]
    bold: bool = False
    marked: tuple[bool, ...] = ()
    """Texts that stand in a frame, because another plan has something else there."""
    empty: tuple[bool, ...] = ()
    """Teeth with an empty box, for a figure to be written by hand."""

    @property
    def pitch(self) -> float:
        """Height of the row, in sizes of the lettering."""
        return BOX_PITCH if any(self.empty) else PITCH


@dataclass(frozen=True, slots=True)
class Across:
    """What all panels of a drawing share."""

    text: float
    """Size of the lettering."""
    left: float
    """x of the strip's own left edge."""
    width: float
    columns: tuple[float, ...]

    @property
    def between(self) -> tuple[float, ...]:
        """x of what is said about each contact."""
        return tuple((a + b) / 2 for a, b in zip(self.columns, self.columns[1:], strict=False))


@dataclass(frozen=True, slots=True)
class Panel:
    """One picture of the teeth with its rows, from ``top`` to ``end``."""

    top: float
    heading: str
    label_row: float
    """Base line of the words above the teeth."""
    gum: float
    fan: float
    contact_row: float
    tooth_row: float
    end: float


def is_wrapped(strip: Strip) -> bool:
    """Whether columns are narrow, so that a change stands on a row of its own."""
    return len(strip.teeth) > _WRAPPED_ABOVE


def column_ems(count: int) -> float:
    """Room for the figures of one of ``count`` teeth, in sizes of the lettering."""
    return _COLUMN_EMS * (_NARROW if count > _WRAPPED_ABOVE else 1)


def across(strip: Strip, scale: int, gutter: float = GUTTER_EMS) -> Across:
    """Columns and widths. ``gutter`` is the room for the rows' names, in sizes of the lettering."""
    count = len(strip.teeth)
    ems = column_ems(count)
    on_screen = scale >= SCREEN
    shown = _COLUMN_MM[on_screen] * ems / _COLUMN_EMS
    if not on_screen:
        shown = min(shown, PAPER_MM / (count + gutter / ems))
    column = shown / scale
    text = min(3.4 if on_screen else 2.8, shown / ems) / scale
    columns = spread_out([tooth.middle for tooth in strip.teeth], column)
    low = min(columns[0] - column / 2, -text) - gutter * text
    high = max(columns[-1] + column / 2, strip.width + text, low + (CHECK_BAR_MM + 40) / scale)
    return Across(text, -low, high - low, tuple(position - low for position in columns))


_NUMBER_EMS = 2.2
"""Room for a tooth's number alone, in sizes of the lettering."""


def across_large(strip: Strip, scale: int, lettering: float) -> Across:
    """The same for a drawing as wide as the paper that says nothing but numbers, in letters of so many millimetres.

    The letters are smaller only where numbers that large have no room beside each other.
    """
    width = PAPER_MM / scale
    text = min(lettering / scale, width / (len(strip.teeth) * _NUMBER_EMS))
    left = (width - strip.width) / 2
    columns = spread_within([tooth.middle + left for tooth in strip.teeth], text * _NUMBER_EMS, width)
    return Across(text, left, width, columns)


def panel_large(strip: Strip, at: Across) -> Panel:
    """Heights of a picture with nothing above the teeth and their numbers below."""
    t = at.text
    gum = t * 0.5
    fanned = max(abs(x - tooth.middle - at.left) for x, tooth in zip(at.columns, strip.teeth, strict=True))
    fan = gum + strip.depth + t * 0.3
    row = fan + max(t * 0.3, fanned * 0.2) + t
    return Panel(0, "", -t * 0.2, gum, fan, row, row, row + t * 0.6)


def panel(strip: Strip, at: Across, rows: Sequence[Row], top: float = 0.0, heading: str = "") -> Panel:
    """Heights of one picture that begins at ``top``."""
    t = at.text
    label = top + t * (2.7 if heading else 1.2)
    gum = label + t * 0.7
    fanned = max(abs(x - tooth.middle - at.left) for x, tooth in zip(at.columns, strip.teeth, strict=True))
    fan = gum + strip.depth + t * 0.5
    contact_row = fan + max(t * 0.8, fanned * 0.2) + t
    tooth_row = contact_row + t * (2.9 if any(map(stays_between_shares, strip.contacts)) else 2)
    end = tooth_row + t * (sum(row.pitch for row in rows) - 0.65)
    return Panel(top, heading, label, gum, fan, contact_row, tooth_row, end)


def stays_between_shares(contact: StripContact) -> bool:
    """Whether something is added at the contact and yet a gap stays."""
    gap = contact.gap
    return bool(gap.left_open_tenths and (gap.to_right_tooth_tenths or gap.to_left_tooth_tenths))


def spread_out(wanted: Sequence[float], apart: float) -> tuple[float, ...]:
    """Positions in the given order, at least ``apart`` from each other and together nearest to ``wanted``.

    Nearest in the sense of least squares: neighbours that are too close are pooled about their common mean.
    """
    pools: list[tuple[float, int]] = []
    for index, position in enumerate(wanted):
        pools.append((position - apart * index, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (b, nb), (a, na) = pools.pop(), pools.pop()
            pools.append(((a * na + b * nb) / (na + nb), na + nb))
    flat = [mean for mean, count in pools for _ in range(count)]
    return tuple(mean + apart * index for index, mean in enumerate(flat))


def spread_within(wanted: Sequence[float], apart: float, width: float) -> tuple[float, ...]:
    """The same, each with half of ``apart`` to the edges of a drawing ``width`` wide that holds them all."""
    apart = min(apart, width / max(len(wanted), 1))
    last = len(wanted) - 1
    return tuple(
        min(max(at, apart * (index + 0.5)), width - apart * (last - index + 0.5))
        for index, at in enumerate(spread_out(wanted, apart))
    )


def broken(words: str, ems: float) -> tuple[str, ...]:
    """``words`` in lines of at most ``ems`` sizes of the lettering; one word alone may be longer."""
    found = [""]
    for word in words.split():
        longer = f"{found[-1]} {word}".strip()
        if found[-1] and len(longer) * WIDEST_EM > ems:
            found.append(word)
        else:
            found[-1] = longer
    return tuple(found)
