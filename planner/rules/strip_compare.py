"""Two plans of the same teeth above each other in one drawing: one scale, one set of columns, differences framed.

Plan A stands above plan B. What differs stands in a frame in both, and a last row says for every tooth what B has
more (+) or less (−) than A. :func:`compare_table` is the table that stands behind the picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.rules import strip_ink, strip_parts
from planner.rules.results import GapShape, SpacePlanShape, ToothShape
from planner.rules.strip import (
    Words,
    change_words,
    geometry,
    is_added_to,
    is_taken_from,
    midline,
    share,
    signed,
    strip_words,
)
from planner.rules.strip_layout import PITCH, SCREEN, Row, across, is_wrapped, panel
from planner.rules.units import format_mm


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One tooth or contact in both plans, as text in millimetres."""

    what: str
    stands: str
    first: str
    second: str
    difference: str
    """What the second plan has otherwise; empty where both are alike."""


def compare_strips(
    first: SpacePlanShape,
    second: SpacePlanShape,
    words: Words,
    prefix: str,
    *,
    names: tuple[str, str],
    scale: int = SCREEN,
    midline_offset: int | None = None,
) -> str:
    """Two plans as one SVG text; ``names`` are said above them, after "A: " and "B: ".

    ``scale`` and ``midline_offset`` (0.1 mm) are as in :func:`planner.rules.strip_svg.strip_svg`. Raises ValueError
    when the two are not plans of the same teeth in the same state.
    """
    _check_same_teeth(first, second)
    pair = (first, second)
    strips = tuple(geometry(plan) for plan in pair)
    middles = tuple(midline(plan, strip, midline_offset) for plan, strip in zip(pair, strips, strict=True))
    wrapped = is_wrapped(strips[0])
    at = across(strips[0], scale)
    teeth_rows = strip_parts.rows_of_teeth(first, words)
    sizes = _marked(*(strip_parts.rows_of_sizes(plan, wrapped) for plan in pair))
    all_rows = (
        strip_parts.with_words([*teeth_rows, *sizes[0]]),
        strip_parts.with_words([*teeth_rows[:1], *sizes[1], *_difference_rows(first, second)]),
    )
    other_contacts = [_shares(a) != _shares(b) for a, b in zip(first.gaps, second.gaps, strict=True)]
    parts: list[str] = []
    y = 0.0
    for letter, name, strip, middle, rows in zip("AB", names, strips, middles, all_rows, strict=True):
        of = panel(strip, at, rows, top=y, heading=f"{letter}: {name}")
        parts += strip_parts.head(at, of, middle)
        parts += strip_parts.dotted_gaps(strip, at, of)
        parts += strip_parts.teeth(strip, at, of, scale)
        parts += strip_parts.leaders(strip, at, of)
        parts += strip_parts.contact_texts(strip, at, of, other_contacts)
        parts += strip_parts.figures(rows, at, of)
        y = of.end + at.text * PITCH
    keys, y = strip_parts.legend(pair, at, y, differs=True)
    sentences = [
        *(f"{letter}: {middle.words}" for letter, middle in zip("AB", middles, strict=True) if middle),
        "B − A: what B has more (+) or less (−) than A; W is width, L is length. All figures in millimetres.",
    ]
    said, y = strip_parts.notes(sentences, at, y)
    desc = " ".join(
        f"{letter}, {name}: {strip_words(plan, words, middle)}"
        for letter, name, plan, middle in zip("AB", names, pair, middles, strict=True)
    )
    return strip_ink.picture(
        [*parts, *keys, *said],
        prefix=prefix,
        title=f"Two plans compared: {names[0]} and {names[1]}",
        desc=desc,
        view=(at.width, y),
        size=(f"{strip_ink.number(at.width * scale)}mm", f"{strip_ink.number(y * scale)}mm"),
        letters=at.text,
    )


def compare_table(first: SpacePlanShape, second: SpacePlanShape, words: Words) -> tuple[ComparedRow, ...]:
    """Every tooth, then every contact, in both plans. Raises ValueError as :func:`compare_strips` does."""
    _check_same_teeth(first, second)
    teeth = [
        ComparedRow(
            words.label(a.tooth),
            words.stands(a.tooth),
            _said(a),
            _said(b),
            ", ".join(_differences(a, b)),
        )
        for a, b in zip(first.teeth, second.teeth, strict=True)
    ]
    contacts = [
        ComparedRow(
            f"{words.both(a.right_tooth)} and {words.both(a.left_tooth)}",
            "",
            _contact_said(a),
            _contact_said(b),
            "shared otherwise" if _shares(a) != _shares(b) else "",
        )
        for a, b in zip(first.gaps, second.gaps, strict=True)
    ]
    return (*teeth, *contacts)


def _check_same_teeth(first: SpacePlanShape, second: SpacePlanShape) -> None:
    def today(plan: SpacePlanShape) -> list[tuple[object, int, int]]:
        return [(shape.tooth, shape.width_tenths, shape.length_tenths) for shape in plan.teeth]

    gaps = [[gap.width_tenths for gap in plan.gaps] for plan in (first, second)]
    if today(first) != today(second) or gaps[0] != gaps[1]:
        raise ValueError("only plans of the same teeth, sizes and gaps can be laid above each other")


def _shares(gap: GapShape) -> tuple[int, int, int]:
    return gap.to_right_tooth_tenths, gap.to_left_tooth_tenths, gap.left_open_tenths


def _marked(ours: Sequence[Row], theirs: Sequence[Row]) -> tuple[list[Row], list[Row]]:
    """Both plans' rows, with frames where a text differs."""
    marks = [
        tuple(a != b for a, b in zip(row.texts, other.texts, strict=True))
        for row, other in zip(ours, theirs, strict=True)
    ]
    return tuple([replace(row, marked=mark) for row, mark in zip(rows, marks, strict=True)] for rows in (ours, theirs))  # type: ignore[return-value]


def _difference_rows(first: SpacePlanShape, second: SpacePlanShape) -> list[Row]:
    found = [_differences(a, b) for a, b in zip(first.teeth, second.teeth, strict=True)]
    deep = max(map(len, found), default=0)
    if not deep:
        return [Row("B − A", tuple("same" for _ in found), bold=True)]
    return [
        Row(
            "" if index else "B − A",
            tuple(lines[index] if index < len(lines) else ("" if index or lines else "same") for lines in found),
            bold=True,
        )
        for index in range(deep)
    ]


def _differences(a: ToothShape, b: ToothShape) -> tuple[str, ...]:
    """What the second plan does to a tooth otherwise than the first."""
    said = [
        f"{letter} {signed(after - before)}"
        for letter, before, after in (
            ("W", a.width_after_tenths, b.width_after_tenths),
            ("L", a.length_after_tenths, b.length_after_tenths),
        )
        if before != after
    ]
    if _touched(a) != _touched(b):
        said.append("only in A" if _touched(a) else "only in B")
    elif not said and (a.right_tenths, a.left_tenths) != (b.right_tenths, b.left_tenths):
        said.append("moved")
    return tuple(said)


def _touched(shape: ToothShape) -> bool:
    return is_added_to(shape) or is_taken_from(shape)


def _said(shape: ToothShape) -> str:
    width = change_words(shape.width_tenths, shape.width_after_tenths)
    length = change_words(shape.length_tenths, shape.length_after_tenths) if shape.length_tenths else "not measured"
    return f"width {width}, length {length}{f', {shape.word}' if shape.word else ''}"


def _contact_said(gap: GapShape) -> str:
    right, left, stays = _shares(gap)
    shares = f"{share(right)} | {share(left)}"
    if not stays:
        return shares if right or left else "touch"
    return f"{shares}, {format_mm(stays)} stays" if right or left else f"gap {format_mm(stays)}"
