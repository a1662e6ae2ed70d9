"""Drawings over the years: read without colour, safe for a strict policy, and true to their numbers."""

import itertools
import re
from xml.etree import ElementTree

import pytest

from planner.rules.icon_array import icon_array
from planner.rules.lasting_picture import lasting_svg
from planner.rules.years_svg import MARKS, At, AxisWords, Crossed, Curve, money_svg, shares_svg
from tests.rules.test_outlook import LEAD

SVG = "{http://www.w3.org/2000/svg}"
WORDS = AxisWords("79 of 100 after five years", "of 100")
PUBLISHED = (At(0, 100, 100, 100), At(5, 79, 56, 90))
BEYOND = (*PUBLISHED, At(10, 62, 31, 82, beyond=True), At(30, 17, 1, 55, beyond=True))


def lines(text: str) -> list[ElementTree.Element]:
    return ElementTree.fromstring(text).findall(f".//{SVG}path")


def texts(text: str) -> list[str]:
    return [each.text or "" for each in ElementTree.fromstring(text).findall(f".//{SVG}text")]


def test_what_is_carried_beyond_is_dashed_and_what_is_published_is_not() -> None:
    thick = [
        each
        for each in lines(shares_svg([Curve("a", BEYOND, heavy=True)], WORDS, "p", 30))
        if each.get("stroke-width") == "0.75"
    ]
    assert [bool(each.get("stroke-dasharray")) for each in thick] == [False, True]


def test_the_range_is_hatched_where_published_and_only_outlined_beyond() -> None:
    hatched = [
        each for each in lines(shares_svg([Curve("a", BEYOND)], WORDS, "p", 30)) if each.get("stroke-width") == "0.16"
    ]
    (strokes,) = hatched
    right = max(float(x) for x in re.findall(r"[ML]([\d.]+) ", strokes.get("d") or ""))
    assert right < 13 + (132 - 13 - 31) * 5 / 30, "no stroke right of year five"


def test_a_paper_stops_at_the_last_published_year_and_says_no_data() -> None:
    paper = shares_svg([Curve("a", PUBLISHED)], WORDS, "p", 10)
    assert "no data" in texts(paper)
    assert not [each for each in lines(paper) if each.get("stroke-dasharray") == "1.6 1.1"]
    assert "no data" not in texts(shares_svg([Curve("a", BEYOND)], WORDS, "p", 30))


def test_title_first_ids_by_prefix_and_no_styles() -> None:
    """Title first and named by aria-labelledby (SVG accessibility mappings of the W3C); no inline style or script."""
    for text in (shares_svg([Curve("a", BEYOND)], WORDS, "p", 30), money_svg([], WORDS, "q", 30, str)):
        root = ElementTree.fromstring(text)
        title = root[0]
        assert title.tag == f"{SVG}title"
        assert title.get("id") == root.get("aria-labelledby")
        assert root.get("role") == "img"
        assert "style" not in text
        assert "<script" not in text


def test_words_are_escaped() -> None:
    assert "<b>" not in shares_svg([Curve("<b>", BEYOND)], AxisWords("<b>", "<b>"), "p", 30)


def test_options_have_marks_of_their_own_and_rings_where_they_cross() -> None:
    curves = [
        Curve(name, (At(0, 1), At(30, 2 + at)), mark=MARKS[at], marked=(0, 30)) for at, name in enumerate("ABCDEFGH")
    ]
    text = money_svg(curves, WORDS, "p", 30, str, [Crossed(14, 2, "14")])
    assert len(set(MARKS)) == len(MARKS) == 8
    assert {"A", "H", "14"} <= set(texts(text))
    rings = [each for each in ElementTree.fromstring(text).findall(f".//{SVG}circle") if each.get("r") == "1.7"]
    assert len(rings) == 1


def test_names_at_the_ends_never_lie_on_each_other() -> None:
    curves = [Curve(name, (At(0, 1), At(30, 100))) for name in "ABCDE"]
    root = ElementTree.fromstring(money_svg(curves, WORDS, "p", 30, str))
    places = sorted(float(each.get("y") or 0) for each in root.findall(f".//{SVG}text") if each.text in set("ABCDE"))
    assert all(two - one >= 3.9 for one, two in itertools.pairwise(places))


def test_an_option_of_the_plan_drawn_for_a_paper() -> None:
    option = LEAD.option("reshape-bond")
    text = lasting_svg(option, AxisWords("said", "of 100"), ("still in place", "never touched"), "lasting")
    assert {"still in place", "never touched", "10"} <= set(texts(text))
    assert "15" not in texts(text), "the horizon is the plan's ten years"
    assert lasting_svg(LEAD.option("whitening"), AxisWords("said", "of 100"), ("a", "b"), "w") == ""


@pytest.mark.parametrize(("low", "high"), [(0, 0), (5, 5), (8, 38), (100, 100)])
def test_a_field_shows_the_part_and_the_whole(low: int, high: int) -> None:
    """Five lose it of 100: five signs filled of 100 (Trevena and others 2013, BMC Med Inform Decis Mak 13(S2):S7)."""
    signs = {"0.864": 0.0, "0.432": 0.0, "0.138": 0.0}
    for path in lines(icon_array(low, high, 100, "p", "so many")):
        ends = re.findall(r"M([\d.]+) [\d.]+H([\d.]+)", path.get("d") or "")
        signs[path.get("stroke-width") or ""] += sum((float(end) - float(start) + 0.336) / 1.2 for start, end in ends)
    assert [round(count) for count in signs.values()] == [low, high - low, 100 - high]
