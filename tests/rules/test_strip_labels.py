"""No word of a drawing stands on another or outside the picture, measured with the fonts that may be used."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont

from planner.rules.results import GapShape, SpacePlanShape, ToothShape
from planner.rules.strip import Words
from planner.rules.strip_chair import chair_strip
from planner.rules.strip_compare import compare_strips, compare_table
from planner.rules.strip_svg import enlargement_on_paper, strip_svg
from planner.rules.teeth import Numbering, Side, Tooth
from tests.letters.sample import second_plan, space_plan

SVG = "{http://www.w3.org/2000/svg}"
FONTS = Path(__file__).parents[2] / "static" / "fonts"
DEJAVU = Path("/usr/share/fonts/truetype/dejavu")
ASCENT, DESCENT = 0.74, 0.2
"""Of lettering with capitals and figures above the base line, and of letters such as g below it."""

PLACES = {Tooth.from_iso("53"): Tooth.from_iso("13"), Tooth.from_iso("13"): Tooth.from_iso("12")}


Today = dict[str, tuple[int, int]]
"""Width and length (0.1 mm) of every tooth by its ISO number, in arch order."""
Change = dict[str, tuple[int, int, int, int]]
"""Share toward the patient's right and left, lengthening and shortening of the teeth that are touched."""

LEAD: Today = {"53": (64, 63), "13": (78, 101), "11": (83, 105), "21": (84, 106), "22": (55, 83), "23": (79, 104)}
CASE_2: Today = {"12": (63, 88), "11": (81, 101), "21": (82, 106), "22": (64, 89)}
CASE_3: Today = {"12": (66, 87), "11": (88, 97), "21": (89, 98), "22": (67, 88)}
DEMO_4: Today = {"12": (64, 90), "11": (83, 103), "21": (83, 103), "22": (50, 77), "23": (76, 99)}
EIGHT: Today = {
    "14": (68, 85), "13": (76, 100), "12": (58, 85), "11": (82, 104), "21": (83, 105), "22": (56, 84), "23": (77, 101),
    "24": (69, 86),
}  # fmt: skip


def drawn_plan(today: Today, gaps: tuple[int, ...], changes: Change) -> SpacePlanShape:
    """A plan as it is drawn; every touched tooth has the longest word."""
    teeth = []
    for number, (width, length) in today.items():
        right, left, longer, shorter = changes.get(number, (0, 0, 0, 0))
        one = Tooth.from_iso(number)
        mesial, distal = (left, right) if one.side is Side.RIGHT else (right, left)
        after, long_after = width + right + left, length + longer - shorter
        ratios = (Decimal(width * 100) / length, Decimal(after * 100) / long_after)
        word = "acceptable" if number in changes else ""
        teeth.append(
            ToothShape(one, "lateral", width, length, mesial, distal, right, left, longer, shorter, after, long_after,
                       *ratios, word)
        )  # fmt: skip
    shapes = tuple(
        GapShape(a.tooth, b.tooth, gap, a.left_tenths, b.right_tenths, gap - a.left_tenths - b.right_tenths)
        for gap, (a, b) in zip(gaps, pairwise(teeth), strict=True)
    )
    return SpacePlanShape("p", (), True, tuple(teeth), shapes, 0, 0, 0, 0, 0, 0, ())


PLANS: dict[str, tuple[SpacePlanShape, ...]] = {
    "lead": (
        drawn_plan(
            LEAD, (5, 3, 8, 7, 9), {"13": (0, 0, 0, 5), "11": (3, 3, 0, 0), "21": (5, 0, 0, 0), "22": (7, 9, 10, 0)}
        ),
        drawn_plan(
            LEAD,
            (5, 3, 8, 7, 9),
            {"13": (0, 0, 0, 5), "11": (3, 4, 0, 0), "21": (4, 3, 0, 0), "22": (4, 5, 10, 0), "23": (4, 0, 0, 0)},
        ),
    ),
    "case 2": (
        drawn_plan(CASE_2, (3, 17, 0), {"11": (3, 8, 6, 0), "21": (9, 0, 0, 0)}),
        drawn_plan(CASE_2, (3, 17, 0), {"12": (0, 3, 5, 0), "11": (0, 9, 5, 0), "21": (8, 0, 0, 0)}),
    ),
    "case 3": (drawn_plan(CASE_3, (0, 34, 0), {"11": (0, 4, 10, 0), "21": (3, 0, 9, 0)}),),
    "demo 4": (
        drawn_plan(DEMO_4, (0, 0, 8, 9), {"22": (8, 9, 11, 0)}),
        drawn_plan(DEMO_4, (0, 0, 8, 9), {"22": (8, 6, 11, 0), "23": (3, 0, 0, 0)}),
    ),
    "eight teeth": (
        drawn_plan(
            EIGHT,
            (5, 6, 5, 9, 8, 7, 5),
            {"12": (6, 5, 5, 0), "11": (0, 6, 0, 0), "21": (3, 3, 0, 0), "22": (5, 7, 6, 0)},
        ),
        drawn_plan(
            EIGHT,
            (5, 6, 5, 9, 8, 7, 5),
            {
                "13": (0, 3, 0, 0), "12": (3, 5, 5, 0), "11": (0, 5, 0, 0), "21": (4, 3, 0, 0), "22": (5, 4, 6, 0),
                "23": (3, 0, 0, 0),
            },
        ),
    ),
    "taken off sides": (
        drawn_plan(
            {"12": (69, 88), "11": (86, 101), "21": (86, 101), "22": (69, 88)},
            (0, 0, 6),
            {"12": (0, -2, 0, 0), "11": (2, -3, 0, 0), "21": (3, 4, 0, 0), "22": (2, 0, 0, 0)},
        ),
    ),
    "two teeth": (drawn_plan({"11": (81, 101), "21": (82, 106)}, (12,), {"11": (0, 6, 0, 0), "21": (6, 0, 5, 0)}),),
    "nothing free": (drawn_plan({"21": (88, 106), "22": (56, 82), "23": (78, 100)}, (0, 0), {}),),
    "narrow teeth": (
        drawn_plan(
            dict.fromkeys(("13", "12", "11", "21", "22", "23"), (30, 60)),
            (15,) * 5,
            {number: (5 * (number != "13"), 5 * (number != "23"), 13, 0) for number in
             ("13", "12", "11", "21", "22", "23")},
        ),
    ),
}  # fmt: skip
"""Plans of the worked cases (figures of the space-sharing model), eight teeth, and what is hardest to letter: very
narrow teeth with shares on both sides and a gap that stays at every contact."""


@dataclass(frozen=True)
class Box:
    words: str
    left: float
    top: float
    right: float
    bottom: float


@cache
def advances(path: Path) -> dict[str, float]:
    font = TTFont(path)
    em = font["head"].unitsPerEm
    return {chr(code): font["hmtx"][name][0] / em for code, name in font.getBestCmap().items()}


def faces(bold: bool) -> list[Path]:
    """Our own font, and the one that stands in for it, where it is there."""
    own = FONTS / f"atkinson-hyperlegible-next-{700 if bold else 400}.woff2"
    other = DEJAVU / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")
    return [own, *([other] if other.exists() else [])]


def wide(words: str, bold: bool) -> float:
    return max(sum(advances(face).get(letter, 0.84) for letter in words) for face in faces(bold))


def boxes(svg: str) -> Iterator[Box]:
    root = ElementTree.fromstring(svg)
    group = root.find(f"{SVG}g")
    assert group is not None
    letters = float(group.get("font-size", "0"))
    for element in root.iter(f"{SVG}text"):
        size = float(element.get("font-size", letters))
        long = wide(element.text or "", element.get("font-weight") == "bold") * size
        x, y = float(element.get("x", "nan")), float(element.get("y", "nan"))
        left = x - {"start": 0.0, "middle": long / 2, "end": long}[element.get("text-anchor", "start")]
        yield Box(element.text or "", left, y - ASCENT * size, left + long, y + DESCENT * size)


def assert_readable(svg: str) -> None:
    found = list(boxes(svg))
    _, _, width, height = (float(part) for part in (ElementTree.fromstring(svg).get("viewBox") or "").split())
    for one in found:
        assert one.left >= -0.05, one
        assert one.right <= width + 0.05, (one, width)
        assert one.top >= -0.05, one
        assert one.bottom <= height + 0.05, (one, height)
    for a, b in combinations(found, 2):
        apart = a.right <= b.left or b.right <= a.left or a.bottom <= b.top or b.bottom <= a.top
        assert apart, (a, b)
    for key in legend_boxes(svg):
        for one in found:
            assert one.bottom <= key.top or key.bottom <= one.top or one.right <= key.left or key.right <= one.left, (
                one,
                key,
            )


def legend_boxes(svg: str) -> Iterator[Box]:
    """The boxes that show what a pattern means."""
    for path in ElementTree.fromstring(svg).iter(f"{SVG}path"):
        if path.get("class", "").endswith("-key"):
            at = [float(number) for number in re.findall(r"[\d.]+", path.get("d", ""))]
            yield Box(path.get("class", ""), min(at[::2]), min(at[1::2]), max(at[::2]), max(at[1::2]))


@pytest.mark.parametrize("numbering", [Numbering.ISO, Numbering.UNIVERSAL])
@pytest.mark.parametrize("name", PLANS)
def test_no_word_stands_on_another(name: str, numbering: Numbering) -> None:
    words = Words({}, numbering, PLACES)
    for plan in PLANS[name]:
        for scale in {1, enlargement_on_paper(plan), 4}:
            assert_readable(
                strip_svg(plan, words, "p", scale=scale, heading="Best proportion, fewest teeth", midline_offset=5)
            )
            assert_readable(strip_svg(plan, words, "p", scale=scale, midline_offset=0))
        assert_readable(chair_strip(plan, words, "p"))
        assert_readable(chair_strip(plan, words, "p", scale=1))


@pytest.mark.parametrize("name", ["lead", "case 2", "demo 4", "eight teeth"])
def test_nor_where_two_plans_are_compared(name: str) -> None:
    first, second = PLANS[name][:2]
    for scale in (1, 2, 4):
        drawn = compare_strips(
            first, second, Words({}, "iso", PLACES), "p",
            names=("fewest teeth", "best proportion, smallest shares"), scale=scale, midline_offset=-3,
        )  # fmt: skip
        assert_readable(drawn)


def test_the_check_finds_words_on_words() -> None:
    """The net has no hole: a word moved onto its neighbour is found."""
    drawn = strip_svg(PLANS["lead"][0], Words({}), "p")
    broken = drawn.replace(">Universal 8<", ">Universal 8 with far too many words beside it<")
    assert broken != drawn
    with pytest.raises(AssertionError):
        assert_readable(broken)


def test_enamel_taken_off_a_side_is_cross_hatched_signed_and_counted_as_space() -> None:
    """12 gives 0.2 of its side to 11, and 11 gives 0.3 to 21, though no gap is there: 0.5 mm won in all."""
    (plan,) = PLANS["taken off sides"]
    root = ElementTree.fromstring(strip_svg(plan, Words({}), "p"))
    said = {element.text for element in root.iter(f"{SVG}text")}
    assert {"−0.2 | 0.2", "−0.3 | 0.3", "taken away"} <= said
    assert "Free space: right 0.2, middle 0.3, left 0.6 mm, 0.5 of it off sides" in said
    assert len([path for path in root.iter(f"{SVG}path") if path.get("class") == "strip-removed"]) == 3  # and the key


# ---------------------------------------------------------------- two plans


def test_two_plans_share_columns_and_scale_and_say_what_differs() -> None:
    words = Words({}, "iso", PLACES)
    drawn = ElementTree.fromstring(compare_strips(space_plan(), second_plan(), words, "p", names=("few", "small")))
    said = [element.text for element in drawn.iter(f"{SVG}text")]
    assert said.count("patient's right") == 2
    assert {"A: few", "B: small", "B − A"} <= set(said)
    numbers = [e for e in drawn.iter(f"{SVG}text") if e.text == "21" and e.get("font-weight") == "bold"]
    assert [e.get("x") for e in numbers] == [numbers[0].get("x")] * 2
    outlines = [path.get("d") or "" for path in drawn.iter(f"{SVG}path") if path.get("class") == "strip-now"]
    half = len(outlines) // 2
    across = [[float(part.split()[0].lstrip("ML")) for part in d.rstrip("Z").split("L")] for d in outlines]
    assert across[:half] == across[half:]  # the teeth of today stand at the same places in both
    assert any(path.get("class") == "strip-differs" for path in drawn.iter(f"{SVG}path"))


def test_the_frames_stand_where_the_plans_differ_and_nowhere_else() -> None:
    words = Words({}, "iso", PLACES)
    same = ElementTree.fromstring(compare_strips(space_plan(), space_plan(), words, "p", names=("a", "b")))
    assert not [path for path in same.iter(f"{SVG}path") if path.get("class") == "strip-differs"]
    assert [e.text for e in same.iter(f"{SVG}text")].count("same") == 6
    assert not [row for row in compare_table(space_plan(), space_plan(), words) if row.difference]


def test_the_table_behind_two_plans_says_every_difference() -> None:
    """11 gets 0.1 mm more in the second plan, 23 is touched only there (worked out by hand from the two plans)."""
    rows = {row.what: row for row in compare_table(*PLANS["lead"], Words({}, "iso", PLACES))}
    central = rows["upper right central incisor (11, Universal 8)"]
    assert (central.first, central.second) == (
        "width 8.3 → 8.9 (+0.6), length 10.5, acceptable",
        "width 8.3 → 9.0 (+0.7), length 10.5, acceptable",
    )
    assert central.difference == "W +0.1"
    assert rows["upper left canine (23, Universal 11)"].difference == "W +0.4, only in B"
    assert rows["22 (Universal 10) and 23 (Universal 11)"].difference == "shared otherwise"
    assert rows["53 (Universal C) and 13 (Universal 6)"].difference == ""


def test_plans_of_other_teeth_are_not_laid_above_each_other() -> None:
    with pytest.raises(ValueError, match="same teeth"):
        compare_strips(PLANS["lead"][0], PLANS["case 2"][0], Words({}), "p", names=("a", "b"))


# ---------------------------------------------------------------- for the chair


def test_the_chairs_drawing_asks_for_what_was_reached_on_touched_teeth_only() -> None:
    plan = PLANS["lead"][0]
    drawn = ElementTree.fromstring(chair_strip(plan, Words({}, "iso", PLACES), "p"))
    said = [element.text for element in drawn.iter(f"{SVG}text")]
    touched = [shape for shape in plan.teeth if shape.word]
    assert len([path for path in drawn.iter(f"{SVG}path") if path.get("class") == "strip-box"]) == 2 * len(touched)
    assert said.count("leave") == 2 * (len(plan.teeth) - len(touched))
    assert {"7.1", "9.3", "+0.7", "+0.9", "9.6", "Width reached", "Length reached"} <= set(said)
    assert not {"Shape", "W/L", "limit"} & set(said)
