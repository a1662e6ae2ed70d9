"""Draw the font of Palmer's four corner signs, which the pages' own font lacks: static/fonts/palmer-corners.woff2.

python tools/draw_corners.py

The shapes are those that the Unicode names say (block Miscellaneous Technical, U+23BE, U+23BF, U+23CB, U+23CC): an
upright at the midline side and a level line toward the other jaw. The same bytes come out every time.
"""

import sys
from io import BytesIO
from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

TARGET = Path(__file__).resolve().parent.parent / "static" / "fonts" / "palmer-corners.woff2"
UNITS, WIDTH, STROKE = 1000, 430, 62
TOP, BOTTOM = 800, -110
DRAWN = 3_850_000_000
"""Seconds since 1904, as fonts count: a fixed day, so that the bytes do not change."""
CORNERS = {
    # Code point: whether the level line lies at the bottom, and whether the upright stands on the right.
    0x23BE: (False, False),
    0x23BF: (True, False),
    0x23CB: (False, True),
    0x23CC: (True, True),
}


def drawn() -> bytes:
    """The font as WOFF2."""
    names = {code: f"uni{code:04X}" for code in CORNERS}
    glyphs = {".notdef": TTGlyphPen(None).glyph()} | {names[code]: _corner(*CORNERS[code]) for code in CORNERS}
    builder = FontBuilder(UNITS, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap(names)
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(dict.fromkeys(glyphs, (WIDTH, 0)))
    builder.setupHorizontalHeader(ascent=950, descent=-250)
    builder.setupNameTable({"familyName": "Palmer Corners", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=950, sTypoDescender=-250, usWinAscent=950, usWinDescent=250)
    builder.setupPost()
    builder.updateHead(created=DRAWN, modified=DRAWN)
    builder.font.recalcTimestamp = False
    builder.font.flavor = "woff2"
    out = BytesIO()
    builder.font.save(out)
    return out.getvalue()


def _corner(at_bottom: bool, on_right: bool) -> object:
    pen = TTGlyphPen(None)
    side = WIDTH - 40 - STROKE if on_right else 40
    level = BOTTOM if at_bottom else TOP - STROKE
    for left, low, right, high in (
        (side, BOTTOM, side + STROKE, TOP),
        (0 if on_right else side, level, side + STROKE if on_right else WIDTH, level + STROKE),
    ):
        pen.moveTo((left, low))
        for point in ((left, high), (right, high), (right, low)):
            pen.lineTo(point)
        pen.closePath()
    return pen.glyph()


if __name__ == "__main__":
    TARGET.write_bytes(drawn())
    sys.stdout.write(f"{TARGET.relative_to(TARGET.parents[2])}\n")
