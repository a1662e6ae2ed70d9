"""Courses on a line of time: marks where the days are, words inside the drawing, a title as text."""

import re
from datetime import date, timedelta
from itertools import pairwise
from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from planner.rules.timeline_svg import Course, timeline_svg

START = date(2026, 3, 2)
SVG = "{http://www.w3.org/2000/svg}"


@given(st.lists(st.integers(0, 900), min_size=1, max_size=8).map(sorted))
def test_steps_stand_in_order_inside_the_drawing(days: list[int]) -> None:
    course = Course("A", tuple(START + timedelta(days=each) for each in days), "so long")
    root = ElementTree.fromstring(timeline_svg([course], START, "months", "in words", "p"))
    width = float(root.get("viewBox", "").split()[2])
    dots = [float(dot.get("cx", "")) for dot in root.iter(f"{SVG}circle")]
    (square,) = root.iter(f"{SVG}rect")
    places = [*dots, float(square.get("x", "")) + 1.1]
    assert len(places) == len(days)
    assert all(after >= before - 0.01 for before, after in pairwise(places))
    assert all(0 < place < width for place in places)
    assert root[0].text == "in words"


@given(st.floats(4, 9), st.integers(0, 900))
def test_in_large_print_letters_do_not_touch_and_what_is_said_stands_elsewhere(lettering: float, days: int) -> None:
    courses = [Course(name, (START, START + timedelta(days=days)), "so long") for name in "ABCDEFG"]
    root = ElementTree.fromstring(timeline_svg(courses, START, "months", "in words", "p", lettering))
    width, height = map(float, root.get("viewBox", "").split()[2:])
    texts = [one for one in root.iter(f"{SVG}text") if one.text]
    assert "so long" not in {one.text for one in texts}
    lines = sorted(float(one.get("y", "")) for one in texts)
    assert all(after == before or after - before >= lettering * 0.99 for before, after in pairwise(lines))
    assert lines[-1] < height
    ticks = sorted(float(one.get("x", "")) for one in texts if (one.text or "").isdigit())
    widest = max(len(one.text or "") for one in texts if (one.text or "").isdigit())
    assert all(after - before >= widest * lettering * 0.5 for before, after in pairwise(ticks))
    assert ticks[-1] < width


def test_a_course_without_days_says_so_and_words_are_escaped() -> None:
    svg = timeline_svg([Course("A", (), "no <visits>")], START, "months", "<b>", "p")
    assert "no &lt;visits&gt;" in svg
    assert re.search(r"<title[^>]*>&lt;b&gt;</title>", svg)
