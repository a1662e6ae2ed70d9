"""The strip of one plan, or of the teeth of today, as one SVG text.

One user unit is one millimetre: printed with the width it asks for, the drawing has true size, and a bar of 50 mm lets
the reader check it. Ids start with the caller's prefix; title and description are the text alternative, and
:func:`planner.rules.strip.strip_table` is the table that stands behind the picture.
"""

from planner.rules import strip_ink, strip_parts
from planner.rules.results import SpacePlanShape
from planner.rules.strip import Words, geometry, midline, strip_words
from planner.rules.strip_layout import (
    PAPER_MM,
    SCREEN,
    Row,
    across,
    across_large,
    is_wrapped,
    panel,
    panel_large,
)
from planner.rules.words import told

__all__ = ["SCREEN", "enlargement_on_paper", "strip_in_large_print", "strip_svg"]


def strip_svg(
    plan: SpacePlanShape,
    words: Words,
    prefix: str,
    *,
    scale: int = 1,
    heading: str = "",
    midline_offset: int | None = None,
    check_bar: bool = True,
    brief: bool = False,
) -> str:
    """One plan, or the teeth of today, as an SVG text.

    ``prefix`` starts every id, so that several drawings can stand on one page. ``scale`` is how much larger than life
    it will be shown: 1 or 3 on paper, 4 on a screen; lettering keeps its size. ``midline_offset`` is today's (0.1 mm,
    plus when the teeth stand too far to the patient's left); with it both middles are drawn. Drawings of the same
    teeth have the same columns, so that two plans set above each other line up. A ``brief`` one names the teeth by
    their numbers and leaves the figures to the table. Raises ValueError when teeth and gaps do not match.
    """
    strip = geometry(plan)
    middle = midline(plan, strip, midline_offset)
    said_of_teeth = (
        strip_parts.rows_of_numbers(plan, words)
        if brief
        else [*strip_parts.rows_of_teeth(plan, words), *strip_parts.rows_of_sizes(plan, is_wrapped(strip))]
    )
    rows = strip_parts.with_words(said_of_teeth)
    at = across(strip, scale)
    of = panel(strip, at, rows, heading=heading)
    spent, y = ([], of.end) if brief else strip_parts.budget_bar(plan, at, of.end + at.text * 0.4, words)
    keys, y = strip_parts.legend([plan], at, y)
    notes = [*([middle.words] if middle else []), told("All figures in millimetres. W/L: width over length.")]
    said, y = strip_parts.notes(() if brief else notes, at, y)
    bar: list[str] = []
    if check_bar and scale == 1:
        bar, y = strip_parts.check_bar(at, y)
    return strip_ink.picture(
        [
            *strip_parts.head(at, of, middle),
            *strip_parts.dotted_gaps(strip, at, of),
            *strip_parts.teeth(strip, at, of, scale),
            *strip_parts.leaders(strip, at, of),
            *strip_parts.contact_texts(strip, at, of),
            *strip_parts.figures(rows, at, of),
            *spent,
            *keys,
            *said,
            *bar,
        ],
        prefix=prefix,
        title=heading or told("The upper front teeth to scale"),
        desc=strip_words(plan, words, middle),
        view=(at.width, y),
        size=_size(at.width, y, scale),
        letters=at.text,
    )


def strip_in_large_print(
    plan: SpacePlanShape,
    words: Words,
    prefix: str,
    lettering: float,
    *,
    scale: int = 1,
    midline_offset: int | None = None,
) -> str:
    """The same for a paper in large print, whose letters are ``lettering`` millimetres high.

    Figures in that size have no room under the teeth: teeth are told apart by their numbers, patterns by the legend,
    and all else is said beside the picture (:func:`planner.rules.strip.strip_sentences`).
    """
    strip = geometry(plan)
    middle = midline(plan, strip, midline_offset)
    at = across_large(strip, scale, lettering)
    of = panel_large(strip, at)
    numbers = Row("", tuple(words.number(shape.tooth) for shape in plan.teeth), bold=True)
    keys, y = strip_parts.legend([plan], at, of.end)
    return strip_ink.picture(
        [
            *strip_parts.middle_lines(at, of, middle),
            *strip_parts.dotted_gaps(strip, at, of),
            *strip_parts.teeth(strip, at, of, scale),
            *strip_parts.leaders(strip, at, of, contacts=False),
            *strip_parts.figures([numbers], at, of),
            *keys,
        ],
        prefix=prefix,
        title=told("The upper front teeth to scale"),
        desc=strip_words(plan, words, middle),
        view=(at.width, y),
        size=_size(at.width, y, scale),
        letters=at.text,
    )


def enlargement_on_paper(plan: SpacePlanShape) -> int:
    """How many times true size (3, 2 or 1) the strip of ``plan`` can be drawn between the margins of A4 and Letter."""
    strip = geometry(plan)
    return next((scale for scale in (3, 2) if across(strip, scale).width * scale <= PAPER_MM), 1)


def _size(width: float, height: float, scale: int) -> tuple[str, str]:
    return f"{strip_ink.number(width * scale)}mm", f"{strip_ink.number(height * scale)}mm"
