"""Outlines of teeth from their width and length, and the hatching of what is added or taken away.

The shapes are rounded forms by kind of tooth, not copies of a person's teeth. Coordinates are millimetres from the
drawing's left edge and from the gum line: places of ink, kept as binary floats, never measurements.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from planner.rules.results import ToothShape
from planner.rules.teeth import Kind, Side

Point = tuple[float, float]
Polygon = tuple[Point, ...]
Segment = tuple[Point, Point]


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


@dataclass(frozen=True, slots=True)
class Outlines:
    """One tooth now and after, and the lowest point of either."""

    now: Polygon
    after: Polygon
    edge: float


def outlines(shape: ToothShape, x: float) -> Outlines:
    """The outlines of a tooth whose right side today (left in the picture) stands at ``x``."""
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
    return Outlines(now, after, max(length, longer))


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
