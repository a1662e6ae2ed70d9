"""The strip for the chair: only what is to be reached, and an empty box for what was reached.

Teeth that the plan leaves alone are drawn, because their neighbours meet them, but ask for no figure.
"""

from planner.rules import strip_ink, strip_parts
from planner.rules.results import SpacePlanShape, ToothShape
from planner.rules.strip import Words, geometry, signed, strip_words
from planner.rules.strip_layout import Row, across, panel
from planner.rules.units import format_mm

_GUTTER_EMS = 7.8
"""Room for the names of the rows."""


def chair_strip(plan: SpacePlanShape, words: Words, prefix: str, *, scale: int = 2) -> str:
    """Target width, target length and the shares toward and away from the midline, with boxes for calliper readings.

    ``scale`` is how much larger than life it is drawn. Raises ValueError when teeth and gaps do not match.
    """
    strip = geometry(plan)
    rows = strip_parts.with_words(_rows(plan, words))
    at = across(strip, scale, _GUTTER_EMS)
    of = panel(strip, at, rows)
    keys, y = strip_parts.legend([plan], at, of.end)
    said, y = strip_parts.notes(["All figures in millimetres."], at, y)
    return strip_ink.picture(
        [
            *strip_parts.head(at, of, None),
            *strip_parts.dotted_gaps(strip, at, of),
            *strip_parts.teeth(strip, at, of, scale),
            *strip_parts.leaders(strip, at, of),
            *strip_parts.contact_texts(strip, at, of),
            *strip_parts.figures(rows, at, of),
            *keys,
            *said,
        ],
        prefix=prefix,
        title="Target sizes for the chair",
        desc=strip_words(plan, words),
        view=(at.width, y),
        size=(f"{strip_ink.number(at.width * scale)}mm", f"{strip_ink.number(y * scale)}mm"),
        letters=at.text,
    )


def _rows(plan: SpacePlanShape, words: Words) -> list[Row]:
    shapes = plan.teeth
    none = tuple("" for _ in shapes)
    wider = [bool(shape.right_tenths or shape.left_tenths) for shape in shapes]
    longer = [bool(shape.lengthening_tenths or shape.shortening_tenths) for shape in shapes]
    touched = [a or b for a, b in zip(wider, longer, strict=True)]
    return [
        *strip_parts.rows_of_teeth(plan, words),
        Row("Width", _if_touched([format_mm(shape.width_after_tenths) for shape in shapes], touched), bold=True),
        Row("Length", _if_touched([_length(shape) for shape in shapes], touched), bold=True),
        Row("Mesial", tuple(signed(shape.mesial_tenths) if shape.mesial_tenths else "" for shape in shapes)),
        Row("Distal", tuple(signed(shape.distal_tenths) if shape.distal_tenths else "" for shape in shapes)),
        Row("Width reached", none, empty=tuple(touched)),
        Row("Length reached", none, empty=tuple(touched)),
    ]


def _if_touched(texts: list[str], touched: list[bool]) -> tuple[str, ...]:
    return tuple(text if is_touched else "leave" for text, is_touched in zip(texts, touched, strict=True))


def _length(shape: ToothShape) -> str:
    return format_mm(shape.length_after_tenths) if shape.length_after_tenths else "not measured"
