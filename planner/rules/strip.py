"""The strip: the upper front teeth to true scale, as plain numbers, and the table behind the picture.

A strip shows the teeth from the patient's right (left in the picture) to the patient's left, with their measured
widths and the gaps between them. :mod:`planner.rules.strip_svg` turns it into a picture.

The outlines are rounded shapes made from width and length by kind of tooth, with the gum line drawn level for every
tooth; they are pictures of measurements, not of a person's teeth. Drawing coordinates are binary floats: they are
positions of ink, not measurements, and are only added, multiplied and rounded.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from planner.rules.mouth import Gap, ToothFacts
from planner.rules.results import GapShape, SpacePlanShape, ToothShape, ToothWords
from planner.rules.teeth import Kind, Numbering, Side, Tooth
from planner.rules.units import format_mm

Point = tuple[float, float]
Polygon = tuple[Point, ...]
Segment = tuple[Point, Point]


# ---------------------------------------------------------------- what is drawn


def plan_of_today(teeth: Sequence[ToothFacts], gaps: Sequence[Gap]) -> SpacePlanShape:
    """The plan that changes nothing: every gap stays. For a picture of the teeth before any plan exists.

    Teeth without a measured width cannot be placed and are left out; a length that was not measured is 0 and is drawn
    by the kind's usual proportion. Raises ValueError when no tooth has a width.
    """
    shown = sorted((found for found in teeth if found.width is not None), key=lambda found: found.place or found.tooth)
    if not shown:
        raise ValueError("no tooth has a measured width, so that nothing can be drawn")
    widths = {frozenset(gap.between): gap.width for gap in gaps}
    shapes = tuple(_untouched(found) for found in shown)
    between = tuple(
        GapShape(a.tooth, b.tooth, width, 0, 0, width)
        for a, b in pairwise(shapes)
        for width in (widths.get(frozenset((a.tooth, b.tooth)), 0),)
    )
    return SpacePlanShape("today", (), False, shapes, between, 0, 0, 0, 0, 0, 0, ())


def _untouched(found: ToothFacts) -> ToothShape:
    width, length = found.width or 0, found.length or 0
    ratio = (Decimal(width) * 100 / length).quantize(Decimal("0.1"), ROUND_HALF_UP) if length else Decimal(0)
    role = found.role or (found.place or found.tooth).kind.value.removeprefix("primary-")
    return ToothShape(found.tooth, role, width, length, 0, 0, 0, 0, 0, 0, width, length, ratio, ratio, "")


@dataclass(frozen=True, slots=True)
class StripTooth:
    """One tooth as drawn: its shape now and after, in millimetres from the drawing's own left edge and gum line."""

    shape: ToothShape
    now: Polygon
    after: Polygon
    middle: float
    edge: float
    """Lowest point of either outline."""


@dataclass(frozen=True, slots=True)
class StripContact:
    """Where two teeth meet, or the gap that stays between them."""

    gap: GapShape
    left: float
    right: float
    """The open gap after the plan runs from ``left`` to ``right``; the two are equal where the teeth touch."""


@dataclass(frozen=True, slots=True)
class Strip:
    """The geometry of one plan."""

    teeth: tuple[StripTooth, ...]
    contacts: tuple[StripContact, ...]
    width: float
    depth: float
    """Longest tooth, millimetres."""


@dataclass(frozen=True, slots=True)
class SideBudget:
    """The free space of one side and where the plan spends it, tenths of a millimetre."""

    side: str
    """``right``, ``middle`` (between the two centrals) or ``left``."""
    free_tenths: int
    spent: tuple[tuple[Tooth | None, int], ...]
    """Tooth that gets it, or None for what stays open."""


def geometry(plan: SpacePlanShape) -> Strip:
    """Place every tooth of ``plan`` and compute its outlines. Raises ValueError when teeth and gaps do not match."""
    _check_pairs(plan)
    teeth: list[StripTooth] = []
    contacts: list[StripContact] = []
    x = 0.0
    for index, shape in enumerate(plan.teeth):
        teeth.append(_place(shape, x))
        x += shape.width_tenths / 10
        if index < len(plan.gaps):
            gap = plan.gaps[index]
            left = x + gap.to_right_tooth_tenths / 10
            contacts.append(StripContact(gap, left, left + gap.left_open_tenths / 10))
            x += gap.width_tenths / 10
    return Strip(tuple(teeth), tuple(contacts), x, max(tooth.edge for tooth in teeth))


def budget(plan: SpacePlanShape) -> tuple[SideBudget, ...]:
    """Free space per side and what the plan does with it; every side's parts sum to its free space."""
    found = []
    for side in ("right", "middle", "left"):
        gaps = [gap for gap in plan.gaps if _side(gap) == side]
        spent: list[tuple[Tooth | None, int]] = []
        for gap in gaps:
            spent += [
                (gap.right_tooth, gap.to_right_tooth_tenths),
                (None, gap.left_open_tenths),
                (gap.left_tooth, gap.to_left_tooth_tenths),
            ]
        found.append(SideBudget(side, sum(gap.width_tenths for gap in gaps), tuple(part for part in spent if part[1])))
    return tuple(found)


def _side(gap: GapShape) -> str:
    if gap.right_tooth.side is not gap.left_tooth.side:
        return "middle"
    return "right" if gap.right_tooth.side is Side.RIGHT else "left"


def _check_pairs(plan: SpacePlanShape) -> None:
    if not plan.teeth:
        raise ValueError("a strip needs at least one tooth")
    pairs = list(pairwise(plan.teeth))
    if len(plan.gaps) != len(pairs) or any(
        (gap.right_tooth, gap.left_tooth) != (a.tooth, b.tooth) for gap, (a, b) in zip(plan.gaps, pairs, strict=True)
    ):
        raise ValueError("the gaps of a strip must lie between its teeth, one for each pair of neighbours, in order")
    for gap in plan.gaps:
        if gap.to_right_tooth_tenths + gap.to_left_tooth_tenths + gap.left_open_tenths != gap.width_tenths:
            raise ValueError(f"the gap beside the {gap.right_tooth.name} is not shared out exactly")


# ---------------------------------------------------------------- outlines


@dataclass(frozen=True, slots=True)
class _Form:
    """How a kind of tooth is drawn, as shares of its width or length."""

    neck: float
    contact: float
    mesial_corner: float
    distal_corner: float
    tip: float = 0.0
    """How far a cusp stands below its shoulders; 0 for a straight edge."""
    proportion: float = 0.8
    """Usual width over length, for a length that was not measured."""


_INCISOR = _Form(0.74, 0.62, 0.14, 0.24)
_FORMS: Mapping[Kind, _Form] = {
    Kind.CENTRAL: _Form(0.76, 0.64, 0.12, 0.22),
    Kind.LATERAL: _Form(0.72, 0.60, 0.20, 0.30),
    Kind.CANINE: _Form(0.72, 0.52, 0.44, 0.50, tip=0.2),
    Kind.PREMOLAR: _Form(0.74, 0.54, 0.40, 0.42, tip=0.13),
    Kind.MOLAR: _Form(0.80, 0.52, 0.22, 0.22),
    Kind.PRIMARY_CANINE: _Form(0.78, 0.52, 0.42, 0.42, tip=0.14),
}


def _place(shape: ToothShape, x: float) -> StripTooth:
    form = _FORMS.get(shape.tooth.kind, _INCISOR)
    width = shape.width_tenths / 10
    length = shape.length_tenths / 10 or width / form.proportion
    mesial_left = shape.tooth.side is Side.LEFT
    now = _outline(form, x, x + width, x, x + width, length, length, mesial_left)
    left, right = x - shape.right_tenths / 10, x + width + shape.left_tenths / 10
    longer = length + shape.lengthening_tenths / 10
    after = _outline(form, x, x + width, left, right, length, longer, mesial_left)
    if shape.shortening_tenths:
        after = _cut_below(after, length - shape.shortening_tenths / 10)
    return StripTooth(shape, now, after, x + width / 2, max(length, longer))


def _outline(
    form: _Form, x0: float, x1: float, left: float, right: float, length: float, edge: float, mesial_left: bool
) -> Polygon:
    """The outline round from the gum's right corner; ``x0`` and ``x1`` fix the neck, which never changes."""
    width = x1 - x0
    middle = (x0 + x1) / 2
    neck = width * form.neck / 2
    gum, contact = length * 0.14, length * form.contact
    corners = (form.mesial_corner, form.distal_corner) if mesial_left else (form.distal_corner, form.mesial_corner)
    half_left = _flank(middle - neck, left, right, gum, contact, edge, corners[0], form.tip)
    half_right = _flank(middle + neck, right, left, gum, contact, edge, corners[1], form.tip)
    top = _bezier((middle + neck, gum), (middle + neck * 0.7, 0), (middle - neck * 0.7, 0), (middle - neck, gum), 14)
    lowest = min(y for _, y in top)
    top = tuple((px, (py - lowest) * gum / (gum - lowest)) for px, py in top)
    return tuple(top[:-1]) + half_left + tuple(reversed(half_right[1:]))


def _flank(
    neck: float, side: float, other: float, gum: float, contact: float, edge: float, corner: float, tip: float
) -> Polygon:
    """One side of a tooth from the gum down to the edge. ``other`` is the x of the opposite side."""
    down = contact - gum
    upper = _bezier(
        (neck, gum),
        (side + (neck - side) * 0.35, gum + down * 0.35),
        (side, contact - down * 0.3),
        (side, contact),
        10,
    )
    reach = (other - side) * corner
    if not tip:
        lower = _bezier(
            (side, contact),
            (side, contact + (edge - contact) * 0.8),
            (side + reach * 0.15, edge),
            (side + reach, edge),
            12,
        )
    else:
        shoulder = edge * (1 - tip)
        lower = _bezier(
            (side, contact),
            (side, max(contact, shoulder - (edge - shoulder) * 0.3)),
            (side + reach * 0.45, shoulder + (edge - shoulder) * 0.6),
            (side + reach, edge),
            12,
        )
    return upper + lower[1:]


def _bezier(a: Point, b: Point, c: Point, d: Point, steps: int) -> Polygon:
    points = []
    for step in range(steps + 1):
        t = step / steps
        u = 1 - t
        weights = (u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t)
        points.append(
            (
                sum(weight * p[0] for weight, p in zip(weights, (a, b, c, d), strict=True)),
                sum(weight * p[1] for weight, p in zip(weights, (a, b, c, d), strict=True)),
            )
        )
    return tuple(points)


def _cut_below(outline: Polygon, y: float) -> Polygon:
    """The part of ``outline`` above the level line at ``y``."""
    kept: list[Point] = []
    for a, b in zip(outline, (*outline[1:], outline[0]), strict=True):
        if a[1] <= y:
            kept.append(a)
        if (a[1] <= y) != (b[1] <= y):
            share = (y - a[1]) / (b[1] - a[1])
            kept.append((a[0] + (b[0] - a[0]) * share, y))
    return tuple(kept)


# ---------------------------------------------------------------- hatching


def hatch(inside: Polygon, outside: Polygon, spacing: float, rising: bool = True) -> tuple[Segment, ...]:
    """Diagonal segments, ``spacing`` mm apart across, that fill what lies in ``inside`` but not in ``outside``.

    Rising lines run up to the right, the others down to the right; both together are cross-hatching.
    """
    sign = -1.0 if rising else 1.0
    # A line is y = sign * x + c; along it x is the parameter.
    offsets = [y - sign * x for x, y in inside]
    step = spacing * 1.41421356
    first, last = int(min(offsets) // step), int(max(offsets) // step) + 1
    segments: list[Segment] = []
    for index in range(first, last + 1):
        c = index * step
        for start, end in _minus(_crossings(inside, sign, c), _crossings(outside, sign, c)):
            if end - start > 0.04:
                segments.append(((start, sign * start + c), (end, sign * end + c)))
    return tuple(segments)


def _crossings(polygon: Polygon, sign: float, c: float) -> list[tuple[float, float]]:
    """The stretches of the line y = sign * x + c that lie inside ``polygon``."""
    found = []
    for a, b in zip(polygon, (*polygon[1:], *polygon[:1]), strict=True):
        da, db = a[1] - sign * a[0] - c, b[1] - sign * b[0] - c
        if (da < 0) != (db < 0):
            found.append(a[0] + (b[0] - a[0]) * da / (da - db))
    found.sort()
    return list(zip(found[::2], found[1::2], strict=False))


def _minus(kept: list[tuple[float, float]], cut: list[tuple[float, float]]) -> list[tuple[float, float]]:
    for low, high in cut:
        kept = [
            part
            for start, end in kept
            for part in ((start, min(end, low)), (max(start, high), end))
            if part[0] < part[1]
        ]
    return kept


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


# ---------------------------------------------------------------- words


@dataclass(frozen=True, slots=True)
class ToothRow:
    """One tooth's line of the table behind the picture; lengths are text in millimetres."""

    tooth: str
    stands: str
    width_now: str
    added_right: str
    added_left: str
    width_after: str
    length_now: str
    length_change: str
    length_after: str
    ratio_now: str
    ratio_after: str
    word: str
    reason: str


@dataclass(frozen=True, slots=True)
class GapRow:
    """One gap's line of the table behind the picture."""

    between: str
    width_now: str
    to_right_tooth: str
    to_left_tooth: str
    left_open: str


@dataclass(frozen=True, slots=True)
class StripTable:
    teeth: tuple[ToothRow, ...]
    gaps: tuple[GapRow, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """How the teeth of one drawing are written."""

    teeth: Mapping[str, ToothWords]
    numbering: str = Numbering.ISO
    places: Mapping[Tooth, Tooth] | None = None
    """Where a tooth stands, for those that stand in another's place."""

    def number(self, tooth: Tooth) -> str:
        """The number in the office's numbering."""
        found = self.teeth.get(tooth.key)
        if found is None:
            return tooth.written(Numbering(self.numbering))
        return {"iso": found.iso, "universal": found.universal, "palmer": found.palmer}[self.numbering]

    def other_number(self, tooth: Tooth) -> str:
        """The number in the other common system, with that system's name: ``Universal 6``."""
        found = self.teeth.get(tooth.key)
        iso, universal = (found.iso, found.universal) if found else (tooth.iso, tooth.universal)
        return f"ISO {iso}" if self.numbering == Numbering.UNIVERSAL else f"Universal {universal}"

    def both(self, tooth: Tooth) -> str:
        """Both numbers, the office's first: ``13 (Universal 6)``."""
        return f"{self.number(tooth)} ({self.other_number(tooth)})"

    def label(self, tooth: Tooth) -> str:
        """Name and both numbers."""
        found = self.teeth.get(tooth.key)
        return found.label if found else tooth.label(Numbering(self.numbering))

    def stands(self, tooth: Tooth) -> str:
        """``in 12's place`` where the tooth stands in another's, else empty."""
        place = (self.places or {}).get(tooth)
        return f"in {self.number(place)}'s place" if place is not None and place != tooth else ""


def strip_table(plan: SpacePlanShape, words: Words) -> StripTable:
    """The real table that stands behind the picture: everything the picture says, row by row."""
    return StripTable(
        tuple(_tooth_row(shape, words) for shape in plan.teeth),
        tuple(
            GapRow(
                f"{words.both(gap.right_tooth)} and {words.both(gap.left_tooth)}",
                format_mm(gap.width_tenths),
                format_mm(gap.to_right_tooth_tenths),
                format_mm(gap.to_left_tooth_tenths),
                format_mm(gap.left_open_tenths),
            )
            for gap in plan.gaps
        ),
    )


def _tooth_row(shape: ToothShape, words: Words) -> ToothRow:
    change = shape.lengthening_tenths - shape.shortening_tenths
    stands = words.stands(shape.tooth)
    return ToothRow(
        words.label(shape.tooth),
        f"{stands}, to look like a {shape.role}" if stands else "",
        format_mm(shape.width_tenths),
        format_mm(shape.right_tenths),
        format_mm(shape.left_tenths),
        format_mm(shape.width_after_tenths),
        format_mm(shape.length_tenths) if shape.length_tenths else "not measured",
        signed(change) if change else format_mm(0),
        format_mm(shape.length_after_tenths) if shape.length_after_tenths else "not measured",
        ratio(shape.ratio_percent),
        ratio(shape.ratio_after_percent),
        shape.word,
        shape.word_reason,
    )


def signed(tenths: int) -> str:
    """A change in millimetres with its sign: ``+0.6``, ``−0.5`` (a true minus sign)."""
    return f"{'+' if tenths >= 0 else '−'}{format_mm(abs(tenths))}"


def ratio(percent: Decimal) -> str:
    """Width over length to two decimals: 84.8 percent is ``0.85``; a dash where the length is not known."""
    return str((percent / 100).quantize(Decimal("0.01"), ROUND_HALF_UP)) if percent else "–"


def change_words(before: int, after: int) -> str:
    """``8.3 → 8.9 (+0.6)``, or one figure where nothing changes; lengths in tenths."""
    if before == after:
        return format_mm(before)
    return f"{format_mm(before)} → {format_mm(after)} ({signed(after - before)})"


def strip_words(plan: SpacePlanShape, words: Words) -> str:
    """What the picture shows, in sentences: its text alternative."""
    said = [f"The upper front teeth, {len(plan.teeth)} of them, from the patient's right to the patient's left."]
    for shape in plan.teeth:
        changes = []
        if shape.width_after_tenths != shape.width_tenths:
            changes.append(f"width {format_mm(shape.width_tenths)} to {format_mm(shape.width_after_tenths)} mm")
        if shape.length_after_tenths != shape.length_tenths:
            changes.append(f"length {format_mm(shape.length_tenths)} to {format_mm(shape.length_after_tenths)} mm")
        stands = words.stands(shape.tooth)
        name = f"{words.both(shape.tooth)}{' ' + stands if stands else ''}"
        said.append(f"{name}: {', '.join(changes) or 'not changed'}.")
    for gap in plan.gaps:
        if gap.left_open_tenths:
            said.append(
                f"Between {words.number(gap.right_tooth)} and {words.number(gap.left_tooth)} "
                f"a gap of {format_mm(gap.left_open_tenths)} mm stays."
            )
    return " ".join(said)
