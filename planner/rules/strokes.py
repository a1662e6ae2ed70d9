"""A signature that was drawn: lines of points with times, whole numbers only, so that it is kept as it was drawn.

Times are milliseconds since the first touch. Coordinates are those of the field it was drawn in, :data:`WIDE` by
:data:`HIGH`, counted from its upper left corner.
"""

import json
from itertools import pairwise
from typing import Final

WIDE: Final = 1000
HIGH: Final = 300
MOST_POINTS: Final = 4000
"""Of all strokes together; a signature has some hundred."""
LEAST_EXTENT: Final = 40
"""Something this small is a slip of the finger and no signature; estimate of this project."""
_LONGEST_MS: Final = 10 * 60 * 1000

Point = tuple[int, int, int]
Strokes = tuple[tuple[Point, ...], ...]


def read_strokes(text: str) -> Strokes:
    """The strokes in the JSON ``text``: a list of strokes of ``[x, y, milliseconds]``. Raises ValueError."""
    try:
        found = json.loads(text)
    except ValueError:
        raise ValueError("The drawn signature cannot be read: draw it again, or type the name.") from None
    if not isinstance(found, list) or not all(isinstance(stroke, list) for stroke in found):
        raise ValueError("The drawn signature cannot be read: draw it again, or type the name.")
    strokes = tuple(tuple(_point(point) for point in stroke) for stroke in found if stroke)
    points = [point for stroke in strokes for point in stroke]
    if not points:
        raise ValueError("Nothing is drawn yet: draw the signature, or type the name.")
    if len(points) > MOST_POINTS:
        raise ValueError(f"The drawn signature has {len(points)} points, {MOST_POINTS} is the most: draw it again.")
    if any(later[2] < earlier[2] for earlier, later in pairwise(points)):
        raise ValueError("The drawn signature is not in the order of time: draw it again.")
    wide = max(x for x, _y, _t in points) - min(x for x, _y, _t in points)
    high = max(y for _x, y, _t in points) - min(y for _x, y, _t in points)
    if max(wide, high) < LEAST_EXTENT:
        raise ValueError("What is drawn is a dot: draw the signature again, or type the name.")
    return strokes


def _point(point: object) -> Point:
    if isinstance(point, list) and len(point) == 3 and all(type(number) is int for number in point):
        x, y, moment = point
        if 0 <= x <= WIDE and 0 <= y <= HIGH and 0 <= moment <= _LONGEST_MS:
            return x, y, moment
    raise ValueError("The drawn signature leaves its field: draw it again, or type the name.")


def svg_path(strokes: Strokes) -> str:
    """The strokes as the data of an SVG path; a dot is a line of no length, which a round end makes visible."""
    parts = []
    for stroke in strokes:
        (x, y, _t), *rest = stroke
        parts.append(f"M{x} {y}" + ("".join(f"L{x} {y}" for x, y, _t in rest) or f"L{x} {y}"))
    return "".join(parts)
