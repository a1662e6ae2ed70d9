"""The font of Palmer's corner signs: every sign that teeth are written with, in the shape that Unicode names."""

import unicodedata
from typing import Any

import pytest
from django.conf import settings
from fontTools.pens.recordingPen import RecordingPen
from fontTools.ttLib import TTFont

from planner.rules.teeth import NORMAL
from tools.draw_corners import BOTTOM, TARGET, TOP, WIDTH, drawn

SIGNS = sorted({sign for tooth in NORMAL for sign in tooth.palmer if not sign.isalnum()})


@pytest.fixture(scope="module")
def font() -> TTFont:
    return TTFont(TARGET)


def bars(font: TTFont, sign: str) -> list[tuple[float, float, float, float]]:
    """The two bars of a sign as left, bottom, right, top."""
    pen = RecordingPen()
    font.getGlyphSet()[font.getBestCmap()[ord(sign)]].draw(pen)
    found: list[list[tuple[float, float]]] = []
    for act, points in pen.value:
        if act == "moveTo":
            found.append([])
        found[-1] += points
    return [(min(x for x, _ in b), min(y for _, y in b), max(x for x, _ in b), max(y for _, y in b)) for b in found]


def test_it_has_the_four_signs_and_nothing_else(font: TTFont) -> None:
    assert sorted(map(chr, font.getBestCmap())) == SIGNS
    assert len(SIGNS) == 4


@pytest.mark.parametrize("sign", SIGNS, ids=unicodedata.name)
def test_the_shape_is_the_one_that_unicode_names(font: TTFont, sign: str) -> None:
    """Unicode Character Database: an upright, and a level line at its TOP or BOTTOM that runs to its LEFT or RIGHT."""
    end, way = unicodedata.name(sign).removeprefix("DENTISTRY SYMBOL LIGHT VERTICAL AND ").split()
    upright, level = bars(font, sign)
    assert (upright[1], upright[3]) == (BOTTOM, TOP)
    assert (level[1] == BOTTOM) if end == "BOTTOM" else (level[3] == TOP)
    assert (level[0] < upright[0]) if way == "LEFT" else (level[2] > upright[2])
    assert 0 <= min(upright[0], level[0]) < max(upright[2], level[2]) <= WIDTH


def test_it_is_what_the_tool_draws(font: TTFont, tmp_path: Any) -> None:
    again = tmp_path / "again.woff2"
    again.write_bytes(drawn())
    assert [bars(TTFont(again), sign) for sign in SIGNS] == [bars(font, sign) for sign in SIGNS]


def test_the_pages_take_the_corners_from_it() -> None:
    style = (settings.BASE_DIR / "static" / "css" / "leastways.css").read_text(encoding="utf-8")
    assert TARGET.name in style
    assert ", ".join(f"U+{ord(sign):04X}" for sign in SIGNS) in style
