"""The strip: geometry that adds up, hatching that stays in its area, an SVG that is safe to serve and true to scale."""

import re
from decimal import Decimal
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from planner.rules.mouth import Gap, ToothFacts
from planner.rules.results import GapShape, SpacePlanShape, ToothShape
from planner.rules.strip import (
    Words,
    budget,
    change_words,
    geometry,
    midline,
    plan_of_today,
    ratio,
    strip_table,
)
from planner.rules.strip_layout import spread_out
from planner.rules.strip_outlines import Polygon, hatch
from planner.rules.strip_svg import enlargement_on_paper, strip_in_large_print, strip_svg
from planner.rules.teeth import UPPER_PERMANENT, Numbering, Tooth
from tests.letters.sample import TEETH, second_plan, space_plan, words_of

SVG = "{http://www.w3.org/2000/svg}"
tooth = Tooth.from_iso
ARCH = UPPER_PERMANENT[4:12]
WORDS = Words(words_of(*TEETH), "iso", {tooth("53"): tooth("13"), tooth("13"): tooth("12")})


@st.composite
def plans(draw: st.DrawFn) -> SpacePlanShape:
    """Any consistent plan over the upper front: shares and open gaps sum to the gaps."""
    count = draw(st.integers(2, 8))
    gaps = []
    for a, b in pairwise(ARCH[:count]):
        right, left, stays = (draw(st.integers(0, 15)) for _ in range(3))
        gaps.append(GapShape(a, b, right + left + stays, right, left, stays))
    teeth = []
    for index, one in enumerate(ARCH[:count]):
        width, length = draw(st.integers(45, 100)), draw(st.integers(60, 120))
        right = gaps[index - 1].to_left_tooth_tenths if index else 0
        left = gaps[index].to_right_tooth_tenths if index < count - 1 else 0
        longer, shorter = draw(st.sampled_from([(0, 0), (5, 0), (13, 0), (0, 2), (0, 5)]))
        after, long_after = width + right + left, length + longer - shorter
        teeth.append(
            ToothShape(
                one,
                one.kind.value,
                width,
                length,
                0,
                0,
                right,
                left,
                longer,
                shorter,
                after,
                long_after,
                Decimal(width * 100) / length,
                Decimal(after * 100) / long_after,
                "good",
            )
        )
    return SpacePlanShape("any", (), True, tuple(teeth), tuple(gaps), 0, 0, 0, 0, 0, 0, ())


def extent(outline: Polygon, axis: int) -> tuple[float, float]:
    values = [point[axis] for point in outline]
    return min(values), max(values)


@given(plans())
def test_outlines_have_the_measured_size_before_and_after(plan: SpacePlanShape) -> None:
    strip = geometry(plan)
    assert strip.width == pytest.approx(
        sum(shape.width_tenths for shape in plan.teeth) / 10 + sum(gap.width_tenths for gap in plan.gaps) / 10
    )
    for drawn in strip.teeth:
        for outline, width, length in (
            (drawn.now, drawn.shape.width_tenths, drawn.shape.length_tenths),
            (drawn.after, drawn.shape.width_after_tenths, drawn.shape.length_after_tenths),
        ):
            low, high = extent(outline, 0)
            assert high - low == pytest.approx(width / 10)
            top, bottom = extent(outline, 1)
            assert top == pytest.approx(0)
            assert bottom == pytest.approx(length / 10)


@given(plans())
def test_neighbours_meet_exactly_where_no_gap_is_left(plan: SpacePlanShape) -> None:
    strip = geometry(plan)
    for (a, b), contact in zip(pairwise(strip.teeth), strip.contacts, strict=True):
        assert extent(a.after, 0)[1] == pytest.approx(contact.left)
        assert extent(b.after, 0)[0] == pytest.approx(contact.right)
        assert contact.right - contact.left == pytest.approx(contact.gap.left_open_tenths / 10)


def is_inside(polygon: Polygon, x: float, y: float) -> bool:
    """Ray casting, written apart from the code under test."""
    odd = False
    for (ax, ay), (bx, by) in zip(polygon, (*polygon[1:], polygon[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (bx - ax) * (y - ay) / (by - ay):
            odd = not odd
    return odd


FEWER = settings(max_examples=25, deadline=None)
"""Drawing is slow under a tracer; the cases below vary enough at this number."""


@FEWER
@given(plans(), st.booleans())
def test_hatching_fills_what_is_added_and_nothing_else(plan: SpacePlanShape, rising: bool) -> None:
    for drawn in geometry(plan).teeth:
        for (ax, ay), (bx, by) in hatch(drawn.after, drawn.now, 0.4, rising):
            x, y = (ax + bx) / 2, (ay + by) / 2
            assert is_inside(drawn.after, x, y)
            assert not is_inside(drawn.now, x, y)


def test_hatching_covers_the_area_of_a_square_ring() -> None:
    """The lines' total length times their distance is the area: 16 less 4 square millimetres."""
    outer: Polygon = ((0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0))
    inner: Polygon = ((1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0))
    spacing = 0.05
    lines = hatch(outer, inner, spacing)
    length = sum(((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5 for (ax, ay), (bx, by) in lines)
    assert length * spacing == pytest.approx(12, rel=0.02)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=9).map(sorted), st.floats(0.1, 30))
def test_columns_keep_apart_and_move_least(wanted: list[float], apart: float) -> None:
    """Against scipy's isotonic regression: the same least-squares problem after taking the distances out."""
    found = spread_out(wanted, apart)
    reference = isotonic_regression([x - apart * i for i, x in enumerate(wanted)]).x
    assert found == pytest.approx([x + apart * i for i, x in enumerate(reference)], abs=1e-6)
    assert all(b - a >= apart - 1e-9 for a, b in pairwise(found))


@given(plans())
def test_every_sides_budget_is_spent_exactly(plan: SpacePlanShape) -> None:
    sides = budget(plan)
    assert [side.side for side in sides] == ["right", "middle", "left"]
    for side in sides:
        assert sum(tenths for _, tenths in side.spent) == side.free_tenths
    assert sum(side.free_tenths for side in sides) == sum(gap.width_tenths for gap in plan.gaps)


@FEWER
@given(plans(), st.sampled_from([1, 3, 4]))
def test_the_svg_is_well_formed_and_passes_a_strict_policy(plan: SpacePlanShape, scale: int) -> None:
    text = strip_svg(plan, Words({}), "p", scale=scale)
    root = ElementTree.fromstring(text)
    assert root[0].tag == f"{SVG}title"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert all(one is not None and one.startswith("p-") for one in ids)
    assert root.get("aria-labelledby") in ids
    assert root[1].tag == f"{SVG}desc"
    assert root.get("aria-describedby") == root[1].get("id")
    for element in root.iter():
        assert element.tag not in (f"{SVG}style", f"{SVG}script", f"{SVG}foreignObject")
        assert not [name for name in element.attrib if name == "style" or name.startswith("on") or "href" in name]


@FEWER
@given(plans())
def test_nothing_is_drawn_outside_the_picture(plan: SpacePlanShape) -> None:
    root = ElementTree.fromstring(strip_svg(plan, Words({}), "p"))
    _, _, width, height = (float(part) for part in (root.get("viewBox") or "").split())
    for path in root.iter(f"{SVG}path"):
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d") or ""):
            assert -0.1 <= float(x) <= width + 0.1
            assert -0.1 <= float(y) <= height + 0.1


def test_true_size_is_one_unit_a_millimetre() -> None:
    root = ElementTree.fromstring(strip_svg(space_plan(), WORDS, "p"))
    _, _, width, height = (root.get("viewBox") or "").split()
    assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")
    bar = next(path.get("d") or "" for path in root.iter(f"{SVG}path") if path.get("class") == "strip-check")
    assert re.findall(r"M([\d.]+) [\d.]+h([\d.]+)", bar) == [("0.2", "50")]


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_the_lead_case_reads_as_worked_out() -> None:
    """Shares and sizes of the lead case as worked out by hand for this project."""
    said = texts(strip_svg(space_plan(), WORDS, "p"))
    for words in (
        "8.3 → 8.9 (+0.6)",
        "10.1 → 9.6 (−0.5)",
        "0.3 | 0.5",
        "0.9 | 0.0",
        "gap 0.5",
        "0.79 → 0.85",
        "in place of 12",
        "(Universal 7)",
        "Universal 6",
        "patient's right",
        "patient's left",
        "limit",
        "0.5 stays",
        "50 mm if printed at true size",
        "Free space: right 0.8, middle 0.8, left 1.6 mm",
    ):
        assert words in said, words


def test_two_plans_of_the_same_teeth_line_up() -> None:
    first, second = (
        ElementTree.fromstring(strip_svg(plan, WORDS, prefix))
        for plan, prefix in ((space_plan(), "a"), (second_plan(), "b"))
    )
    assert first.get("width") == second.get("width")
    outlines = [
        [path.get("d") for path in root.iter(f"{SVG}path") if path.get("class") == "strip-now"]
        for root in (first, second)
    ]
    assert outlines[0] == outlines[1]


@FEWER
@given(plans())
def test_large_print_has_letters_as_large_as_the_text_beside_it_and_keeps_between_the_margins(
    plan: SpacePlanShape,
) -> None:
    """24 points are 24 × 25.4 / 72 = 8.47 mm. Of more than nine teeth the numbers have no room beside each other."""
    scale, asked = enlargement_on_paper(plan), 24 * 25.4 / 72
    root = ElementTree.fromstring(strip_in_large_print(plan, Words({}), "p", asked, scale=scale))
    (lettering,) = root.findall(f"{SVG}g")
    assert float((root.get("width") or "").removesuffix("mm")) <= 174
    assert not [one for one in root.iter(f"{SVG}text") if one.get("font-size")]
    assert len(plan.teeth) > 9 or float(lettering.get("font-size") or 0) * scale == pytest.approx(asked, abs=0.02)
    assert [Words({}).number(shape.tooth) for shape in plan.teeth] == texts(ElementTree.tostring(root, "unicode"))[
        : len(plan.teeth)
    ]


@FEWER
@given(plans())
def test_a_drawing_for_paper_fits_between_the_margins(plan: SpacePlanShape) -> None:
    """A4 is 210 mm wide (ISO 216) and Letter 215.9; margins of 18 mm leave 174."""
    for scale in (1, enlargement_on_paper(plan)):
        root = ElementTree.fromstring(strip_svg(plan, Words({}), "p", scale=scale))
        assert float((root.get("width") or "").removesuffix("mm")) <= 174


def test_the_lead_case_is_enlarged_three_times() -> None:
    assert enlargement_on_paper(space_plan()) == 3


def test_the_same_plan_is_drawn_byte_for_byte_the_same() -> None:
    assert strip_svg(space_plan(), WORDS, "p") == strip_svg(space_plan(), WORDS, "p")


def test_the_mirrored_plan_is_the_mirrored_picture() -> None:
    plan = space_plan()
    mirrored = SpacePlanShape(
        plan.key, (), True,
        tuple(
            ToothShape(
                s.tooth.twin, s.role, s.width_tenths, s.length_tenths, s.mesial_tenths, s.distal_tenths, s.left_tenths,
                s.right_tenths, s.lengthening_tenths, s.shortening_tenths, s.width_after_tenths, s.length_after_tenths,
                s.ratio_percent, s.ratio_after_percent, s.word,
            )
            for s in reversed(plan.teeth)
        ),
        tuple(
            GapShape(
                g.left_tooth.twin, g.right_tooth.twin, g.width_tenths, g.to_left_tooth_tenths, g.to_right_tooth_tenths,
                g.left_open_tenths,
            )
            for g in reversed(plan.gaps)
        ),
        0, 0, 0, 0, 0, 0, (),
    )  # fmt: skip
    here, there = geometry(plan), geometry(mirrored)
    for a, b in zip(here.teeth, reversed(there.teeth), strict=True):
        assert extent(a.after, 0)[0] == pytest.approx(here.width - extent(b.after, 0)[1])
        assert sorted(y for _, y in a.after) == pytest.approx(sorted(y for _, y in b.after))


def test_the_table_says_what_the_picture_says() -> None:
    table = strip_table(space_plan(), WORDS)
    canine = table.teeth[1]
    assert canine.tooth == "upper right canine (13, Universal 6)"
    assert canine.stands == "standing in place of 12 (Universal 7), to look like a lateral"
    assert (canine.length_now, canine.length_change, canine.length_after) == ("10.1", "−0.5", "9.6")
    assert canine.reason
    assert [row.left_open for row in table.gaps] == ["0.5", "0.0", "0.0", "0.0", "0.0"]
    assert table.gaps[2].between == "11 (Universal 8) and 21 (Universal 9)"


def test_an_office_that_writes_universal_numbers_sees_them_first() -> None:
    words = Words(words_of(*TEETH, numbering=Numbering.UNIVERSAL), "universal", {tooth("13"): tooth("12")})
    assert words.both(tooth("13")) == "6 (ISO 13)"
    assert words.stands(tooth("13")) == "in place of 7 (ISO 12)"
    assert {"in place of 7", "(ISO 12)"} <= set(texts(strip_svg(space_plan(), words, "p")))


def test_a_picture_of_today_needs_no_plan() -> None:
    teeth = [
        ToothFacts(tooth=tooth("21"), width="8.4", length="10.6"),
        ToothFacts(tooth=tooth("11"), width="8.3"),
        ToothFacts(tooth=tooth("12")),
    ]
    plan = plan_of_today(teeth, [Gap(between=(tooth("11"), tooth("21")), width="0.8")])
    assert [shape.tooth.iso for shape in plan.teeth] == ["11", "21"]
    said = texts(strip_svg(plan, Words({}), "p"))
    assert {"gap 0.8", "not measured", "8.4", "10.6"} <= set(said)


def test_teeth_stand_in_the_order_of_their_places() -> None:
    teeth = [
        ToothFacts(tooth=tooth("13"), place=tooth("12"), width="7.8", length="10.1"),
        ToothFacts(tooth=tooth("53"), place=tooth("13"), width="6.4", length="6.3"),
    ]
    assert [shape.tooth.iso for shape in plan_of_today(teeth, []).teeth] == ["53", "13"]


def test_nothing_measured_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="no tooth has a measured width"):
        plan_of_today([ToothFacts(tooth=tooth("11"))], [])


def test_gaps_that_do_not_match_the_teeth_are_refused() -> None:
    plan = space_plan()
    broken = SpacePlanShape("x", (), True, plan.teeth, plan.gaps[:-1], 0, 0, 0, 0, 0, 0, ())
    with pytest.raises(ValueError, match="one for each pair of neighbours"):
        geometry(broken)


@pytest.mark.parametrize(
    ("before", "after", "words"), [(83, 89, "8.3 → 8.9 (+0.6)"), (101, 96, "10.1 → 9.6 (−0.5)"), (79, 79, "7.9")]
)
def test_a_change_is_written_with_its_sign(before: int, after: int, words: str) -> None:
    assert change_words(before, after) == words


def test_ratios_round_half_up_to_two_decimals() -> None:
    assert [ratio(Decimal(text)) for text in ("84.5", "84.4", "0")] == ["0.85", "0.84", "–"]


@pytest.mark.parametrize(
    ("offset", "words"),
    [
        (5, "0.5 mm left, then 0.4 mm left."),
        (0, "0.0 mm, then 0.1 mm right."),
        (-3, "0.3 mm right, then 0.4 mm right."),
        (1, "0.1 mm left, then 0.0 mm."),
    ],
)
def test_the_middle_of_the_teeth_moves_by_half_the_difference_of_the_shares(offset: int, words: str) -> None:
    """The lead case adds 0.3 on 11 and 0.5 on 21, so that the contact moves 0.1 mm to the patient's right."""
    plan = space_plan()
    found = midline(plan, geometry(plan), offset)
    assert found is not None
    assert found.words == f"Middle of the teeth beside the face's: {words}"
    # The face stays where it is: measured from the middle of today's gap, however the gap is shared.
    right, left = geometry(plan).teeth[2:4]
    today = (extent(right.now, 0)[1] + extent(left.now, 0)[0]) / 2
    assert found.face == pytest.approx(today - offset / 10)
    assert found.teeth == pytest.approx(today - 0.1)


def test_no_middle_is_drawn_where_none_was_measured_or_a_central_is_missing() -> None:
    plan = space_plan()
    assert midline(plan, geometry(plan), None) is None
    beside = SpacePlanShape("x", (), True, plan.teeth[3:], plan.gaps[3:], 0, 0, 0, 0, 0, 0, ())
    assert midline(beside, geometry(beside), 5) is None


def test_a_side_without_free_space_is_said_and_takes_no_part_of_the_bar() -> None:
    plan = space_plan()
    two = SpacePlanShape("x", (), True, plan.teeth[2:4], plan.gaps[2:3], 0, 0, 0, 0, 0, 0, ())
    said = texts(strip_svg(two, WORDS, "p"))
    assert "Free space: right 0.0, middle 0.8, left 0.0 mm" in said
    assert "middle" in said
    assert not {"right", "left"} & set(said)
