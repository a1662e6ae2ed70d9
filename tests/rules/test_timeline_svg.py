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


def test_a_course_without_days_says_so_and_words_are_escaped() -> None:
    svg = timeline_svg([Course("A", (), "no <visits>")], START, "months", "<b>", "p")
    assert "no &lt;visits&gt;" in svg
    assert re.search(r"<title[^>]*>&lt;b&gt;</title>", svg)
