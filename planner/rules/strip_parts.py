"""The parts that a drawing of the strip is put together from: teeth, contacts, figures, middles, budget, legend.

What is there now has a solid outline; what is added is hatched, what is taken away is cross-hatched, a gap that stays
is dotted. Pattern and number carry the meaning, so that it reads the same in black and white. Hatching is drawn as
computed lines because printing engines differ in how they treat SVG patterns.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise, zip_longest

from planner.rules.results import SpacePlanShape, ToothShape
from planner.rules.strip import (
    Midline,
    SideBudget,
    Strip,
    Words,
    budget,
    change_words,
    is_added_to,
    is_taken_from,
    ratio,
    share,
)
from planner.rules.strip_ink import FAINT, WIDEST_EM, box, closed, dots, hatched, lines, number, stroke, text
from planner.rules.strip_layout import (
    BOX_PITCH,
    CHECK_BAR_MM,
    PITCH,
    Across,
    Panel,
    Row,
    broken,
    column_ems,
    spread_within,
    stays_between_shares,
)
from planner.rules.strip_outlines import hatch
from planner.rules.teeth import Tooth
from planner.rules.words import mm, told

# ---------------------------------------------------------------- the picture


def head(at: Across, of: Panel, middle: Midline | None) -> list[str]:
    """The heading, the two sides, and the middles of face and teeth."""
    t = at.text
    drawn = [
        text(0, of.label_row, told("patient's right"), anchor="start"),
        text(at.width, of.label_row, told("patient's left"), anchor="end"),
    ]
    if of.heading:
        drawn.append(text(at.width / 2, of.top + t * 1.1, of.heading, bold=True, size=t * 1.1))
    if middle is None:
        return drawn
    face, teeth = middle.face + at.left, middle.teeth + at.left
    if abs(face - teeth) < 0.01:
        drawn.append(text(face, of.label_row, told("face and teeth")))
    else:
        outward = 0.3 * t if teeth > face else -0.3 * t
        sides = ("end", "start") if teeth > face else ("start", "end")
        drawn.append(text(face - outward, of.label_row, told("face"), anchor=sides[0]))
        drawn.append(text(teeth + outward, of.label_row, told("teeth"), anchor=sides[1]))
    return [*drawn, *middle_lines(at, of, middle)]


def middle_lines(at: Across, of: Panel, middle: Midline | None) -> list[str]:
    """The middles of face and teeth, without their words."""
    if middle is None:
        return []
    t, face, teeth = at.text, middle.face + at.left, middle.teeth + at.left
    top = of.label_row + t * 0.25
    drawn = []
    drawn.append(stroke(f"M{number(teeth)} {number(top)}V{number(of.gum + t * 0.6)}", "strip-middle-teeth", t * 0.08))
    dashes = f"{number(t * 0.6)} {number(t * 0.2)} {number(t * 0.12)} {number(t * 0.2)}"
    drawn.append(
        stroke(f"M{number(face)} {number(top)}V{number(of.fan)}", "strip-middle-face", t * 0.07, dashes=dashes)
    )
    return drawn


def teeth(strip: Strip, at: Across, of: Panel, scale: int) -> list[str]:
    """Outlines and hatching of every tooth."""
    drawn = []
    fine = 0.36 if scale == 1 else 0.28
    for tooth in strip.teeth:
        shape = tooth.shape
        if is_added_to(shape):
            added = lines(hatch(tooth.after, tooth.now, fine), at.left, of.gum)
            drawn.append(stroke(added, "strip-added", 0.08))
        if is_taken_from(shape):
            cut = hatch(tooth.now, tooth.after, fine * 0.7) + hatch(tooth.now, tooth.after, fine * 0.7, rising=False)
            drawn.append(stroke(lines(cut, at.left, of.gum), "strip-removed", 0.08))
        if tooth.after != tooth.now:
            drawn.append(stroke(closed(tooth.after, at.left, of.gum), "strip-after", 0.12))
        thick = 0.2 if scale == 1 else 0.5 / scale
        drawn.append(stroke(closed(tooth.now, at.left, of.gum), "strip-now", thick))
    return drawn


def dotted_gaps(strip: Strip, at: Across, of: Panel) -> list[str]:
    """Dots in every gap that stays."""
    drawn = []
    for (a, b), contact in zip(pairwise(strip.teeth), strip.contacts, strict=True):
        wide = contact.right - contact.left
        if wide <= 0:
            continue
        columns = max(1, int(wide / 0.5))
        top, bottom = min(a.edge, b.edge) * 0.25, min(a.edge, b.edge) * 0.92
        points = [
            (contact.left + wide * (column + 0.5) / columns + at.left, top + 0.55 * row + of.gum)
            for column in range(columns)
            for row in range(int((bottom - top) / 0.55))
        ]
        drawn.append(dots(points, min(0.16, wide / 3)))
    return drawn


def leaders(strip: Strip, at: Across, of: Panel, *, contacts: bool = True) -> list[str]:
    """From every tooth to its column of figures and, where they are said, dashed from every contact to its shares."""
    t = at.text
    end = of.contact_row - t
    solid = "".join(
        f"M{number(tooth.middle + at.left)} {number(of.fan)}L{number(x)} {number(end)}"
        f"L{number(x)} {number(of.tooth_row - t)}"
        for tooth, x in zip(strip.teeth, at.columns, strict=True)
    )
    dashed = "".join(
        f"M{number((contact.left + contact.right) / 2 + at.left)} {number(of.fan)}L{number(x)} {number(end)}"
        for contact, x in zip(strip.contacts if contacts else (), at.between if contacts else (), strict=True)
    )
    return [
        stroke(solid, "strip-leader", t * 0.05, FAINT),
        stroke(dashed, "strip-leader", t * 0.05, FAINT, dashes=f"{number(t * 0.25)} {number(t * 0.2)}"),
    ]


# ---------------------------------------------------------------- figures


def contact_texts(strip: Strip, at: Across, of: Panel, marked: Sequence[bool] = ()) -> list[str]:
    """The shares of every gap, toward the patient's right and left, and what stays; ``marked`` ones in a frame."""
    t = at.text
    drawn = []
    for index, (contact, x) in enumerate(zip(strip.contacts, at.between, strict=True)):
        gap = contact.gap
        second = ""
        if gap.to_right_tooth_tenths or gap.to_left_tooth_tenths:
            first = f"{share(gap.to_right_tooth_tenths)} | {share(gap.to_left_tooth_tenths)}"
            if stays_between_shares(contact):
                second = told("{mm} stays", mm=mm(gap.left_open_tenths))
        elif gap.width_tenths:
            first = told("gap {mm}", mm=mm(gap.width_tenths))
        else:
            first = told("touch")
        drawn.append(text(x, of.contact_row, first))
        if second:
            drawn.append(text(x, of.contact_row + t * 1.2, second))
        if index < len(marked) and marked[index]:
            drawn.append(_frame(x, of.contact_row, max(first, second, key=len), t, 2 if second else 1))
    return drawn


def figures(rows: Iterable[Row], at: Across, of: Panel) -> list[str]:
    """The rows under the teeth."""
    t = at.text
    drawn = []
    y = of.tooth_row
    for row in rows:
        # An empty box is higher than a line of lettering: its row's words stand in its middle.
        line = y + (t * 0.3 if any(row.empty) else 0)
        if row.name:
            drawn.append(text(0, line, row.name, anchor="start"))
        for index, (x, words) in enumerate(zip(at.columns, row.texts, strict=True)):
            if words:
                drawn.append(text(x, line, words, bold=row.bold))
            if words and index < len(row.marked) and row.marked[index]:
                drawn.append(_frame(x, line, words, t, 1))
            if index < len(row.empty) and row.empty[index]:
                wide, high = t * 5, t * (BOX_PITCH - 0.3)
                corners = box(x - wide / 2, line - t * 0.35 - high / 2, wide, high)
                drawn.append(stroke(closed(corners, 0, 0), "strip-box", t * 0.07))
        y += t * row.pitch
    return drawn


def _frame(x: float, y: float, words: str, t: float, rows: int) -> str:
    wide = (len(words) * 0.54 + 0.4) * t
    corners = box(x - wide / 2, y - t * 0.92, wide, t * (1.16 + 1.2 * (rows - 1)))
    return stroke(closed(corners, 0, 0), "strip-differs", t * 0.07)


def rows_of_teeth(plan: SpacePlanShape, words: Words) -> list[Row]:
    """Which teeth they are: both numbers and the name, and whose place they stand in, said in the same way."""
    ems = column_ems(len(plan.teeth)) - 0.4
    places = [words.place(shape.tooth) for shape in plan.teeth]
    return [
        *rows_of_numbers(plan, words),
        *_stacked([broken(words.name(shape.tooth), ems) for shape in plan.teeth]),
        Row("", tuple(told("in place of {tooth}", tooth=words.number(place)) if place else "" for place in places)),
        Row("", tuple(f"({words.other_number(place)})" if place else "" for place in places)),
        *_stacked([broken(words.name(place), ems) if place else () for place in places]),
    ]


def rows_of_numbers(plan: SpacePlanShape, words: Words) -> list[Row]:
    """Which teeth they are, by their two numbers."""
    return [
        Row(told("Tooth"), tuple(words.number(shape.tooth) for shape in plan.teeth), bold=True),
        Row("", tuple(words.other_number(shape.tooth) for shape in plan.teeth)),
    ]


def _stacked(columns: Sequence[Sequence[str]]) -> list[Row]:
    """What every column says in one line or more, as rows."""
    return [Row("", texts) for texts in zip_longest(*columns, fillvalue="")]


def rows_of_sizes(plan: SpacePlanShape, wrapped: bool) -> list[Row]:
    """Width, length and their ratio before and after, and the word for what comes out."""
    shapes = plan.teeth
    return [
        *_change_rows(told("Width"), [(shape.width_tenths, shape.width_after_tenths) for shape in shapes], wrapped),
        *_change_rows(told("Length"), [(shape.length_tenths, shape.length_after_tenths) for shape in shapes], wrapped),
        Row(told("W/L"), tuple(_ratio_words(shape) for shape in shapes)),
        Row(told("Shape"), tuple(told(shape.word) if shape.word else "" for shape in shapes)),
    ]


def with_words(rows: Iterable[Row]) -> tuple[Row, ...]:
    """The rows that say anything at all."""
    return tuple(row for row in rows if any(row.texts) or any(row.empty))


def _change_rows(name: str, pairs: list[tuple[int, int]], wrapped: bool) -> list[Row]:
    full = [change_words(before, after) if before else told("not measured") for before, after in pairs]
    if not wrapped:
        return [Row(name, tuple(full))]
    return [
        Row(name, tuple(words.partition(" (")[0] for words in full)),
        Row("", tuple(words[words.index("(") :] if "(" in words else "" for words in full)),
    ]


def _ratio_words(shape: ToothShape) -> str:
    before, after = ratio(shape.ratio_percent), ratio(shape.ratio_after_percent)
    return before if before == after else f"{before} → {after}"


# ---------------------------------------------------------------- free space, legend


def _side_word(side: SideBudget) -> str:
    # A side of the mouth, not of a tooth: other languages say the two with different endings.
    if side.side == "middle":
        return told("middle")
    return told("side of the mouth|right") if side.side == "right" else told("side of the mouth|left")


def budget_bar(plan: SpacePlanShape, at: Across, top: float, words: Words) -> tuple[list[str], float]:
    """The free space of each side as one bar in the order of the arch, who gets how much of it; and where it ends."""
    t = at.text
    sides = budget(plan)
    total = sum(side.free_tenths for side in sides)
    sums = ", ".join(f"{_side_word(side)} {mm(side.free_tenths)}" for side in sides)
    won = sum(side.won_tenths for side in sides)
    template = "Free space: {sums} mm, {mm} of it off sides" if won else "Free space: {sums} mm"
    drawn = [text(0, top + t, told(template, sums=sums, mm=mm(won)), anchor="start")]
    if not total:
        return drawn, top + t * 1.4
    unit = at.width / total
    bar, deep = top + t * 3.2, t * 1.1
    parts: list[tuple[float, float, Tooth | None, int]] = []
    x = 0.0
    borders: list[float] = []
    side_middles: list[tuple[float, str]] = []
    for side in sides:
        start = x
        for tooth, tenths in side.spent:
            parts.append((x, x + tenths * unit, tooth, tenths))
            x += tenths * unit
        if side.free_tenths:
            side_middles.append(((start + x) / 2, _side_word(side)))
        borders.append(x)
    named = spread_within([middle for middle, _ in side_middles], t * 4.4, at.width)
    drawn += [text(place, bar - t * 0.6, name, bold=True) for place, (_, name) in zip(named, side_middles, strict=True)]
    for start, end, tooth, _ in parts:
        corners = box(start, bar, end - start, deep)
        drawn.append(hatched(corners, t * 0.28, t * 0.05) if tooth else _dotted_box(start, end, bar, deep, t))
        drawn.append(stroke(closed(corners, 0, 0), "strip-bar", t * 0.08))
    drawn += [
        stroke(f"M{number(border)} {number(bar - t * 0.3)}v{number(deep + t * 0.6)}", "strip-side", t * 0.2)
        for border in borders[:-1]
        if 0 < border < at.width - 0.01
    ]
    labels, end = _part_labels(parts, at, bar + deep, words)
    return drawn + labels, end


def _part_labels(
    parts: list[tuple[float, float, Tooth | None, int]], at: Across, below: float, words: Words
) -> tuple[list[str], float]:
    t = at.text
    said = [
        told("{mm} to {tooth}", mm=mm(tenths), tooth=words.number(tooth))
        if tooth
        else told("{mm} stays", mm=mm(tenths))
        for _, _, tooth, tenths in parts
    ]
    also = [words.other_number(tooth) if tooth else "" for _, _, tooth, _ in parts]
    middles = [(start + end) / 2 for start, end, _, _ in parts]
    apart = (max(map(len, [*said, *also])) * WIDEST_EM * 0.9 + 0.6) * t
    staggered = apart * len(said) > at.width
    drawn = []
    places = spread_within(middles, apart / 2 if staggered else apart, at.width)
    # The outermost labels reach half their length to each side, also where labels stand in two rows.
    places = tuple(min(max(place, apart / 2), at.width - apart / 2) for place in places)
    for index, (middle, place, label, other) in enumerate(zip(middles, places, said, also, strict=True)):
        row = t * 2.3 if staggered and index % 2 else 0.0
        drawn.append(text(place, below + t * 1.9 + row, label))
        if other:
            drawn.append(text(place, below + t * 3.05 + row, other))
        leader = f"M{number(middle)} {number(below)}L{number(place)} {number(below + t * 0.95 + row)}"
        drawn.append(stroke(leader, "strip-leader", t * 0.05, FAINT))
    return drawn, below + t * ((5.35 if staggered else 3.05) + (1.15 if any(also) else 0.0))


def _dotted_box(start: float, end: float, top: float, deep: float, t: float) -> str:
    count = max(1, int((end - start) / (t * 0.4)))
    step = (end - start) / count
    points = [(start + step * (index + 0.5), top + deep * row) for index in range(count) for row in (0.3, 0.7)]
    return dots(points, t * 0.06)


def legend(
    plans: Sequence[SpacePlanShape], at: Across, top: float, *, differs: bool = False
) -> tuple[list[str], float]:
    """What the patterns mean, as far as they occur, in as many rows as it takes; and where it ends."""
    t = at.text
    drawn = []
    x, y = 0.0, top + t * 1.1
    for name, words in _patterns(plans, differs):
        wide = t * (3.4 + WIDEST_EM * len(words))
        if x and x + wide > at.width:
            x, y = 0.0, y + t * 1.6
        corners = box(x + t * 0.1, y - t, t * 2, t * 1.1)
        if name == "gap":
            drawn.append(_dotted_box(x, x + t * 2.2, y - t, t, t))
        else:
            thick = 0.12 if name == "now" else 0.06
            drawn.append(stroke(closed(corners, 0, 0), f"strip-{name}-key", t * thick))
        if name in ("added", "removed"):
            drawn.append(hatched(corners, t * 0.25, t * 0.05, crossed=name == "removed"))
        drawn.append(text(x + t * 2.5, y, words, anchor="start"))
        x += wide
    return drawn, y + t * 0.4


def _patterns(plans: Sequence[SpacePlanShape], differs: bool) -> list[tuple[str, str]]:
    shapes = [shape for plan in plans for shape in plan.teeth]
    found = [("now", told("now"))]
    if any(map(is_added_to, shapes)):
        found.append(("added", told("added")))
    if any(map(is_taken_from, shapes)):
        found.append(("removed", told("taken away")))
    if any(gap.left_open_tenths for plan in plans for gap in plan.gaps):
        found.append(("gap", told("gap that stays")))
    if differs:
        found.append(("differs", told("differs")))
    return found


def notes(sentences: Iterable[str], at: Across, top: float) -> tuple[list[str], float]:
    """Sentences below the legend, broken to the drawing's width; and where they end."""
    t = at.text
    drawn = []
    y = top
    for sentence in sentences:
        for line in broken(sentence, at.width / t):
            y += t * PITCH
            drawn.append(text(0, y, line, anchor="start"))
    return drawn, y + t * 0.4


def check_bar(at: Across, top: float) -> tuple[list[str], float]:
    """A bar of 50 mm, by which a print can be measured; and where it ends."""
    t = at.text
    y = top + 2.2
    ends = f"M0.2 {number(y - 1)}v2M0.2 {number(y)}h{CHECK_BAR_MM}M{number(CHECK_BAR_MM + 0.2)} {number(y - 1)}v2"
    drawn = [
        stroke(ends, "strip-check", 0.2),
        text(CHECK_BAR_MM + 2, y + t * 0.35, told("{mm} mm if printed at true size", mm=CHECK_BAR_MM), anchor="start"),
    ]
    return drawn, y + 1 + t * 0.4
