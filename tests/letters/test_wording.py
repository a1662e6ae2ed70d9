"""Amounts, days and shares as they are written, and the field of signs that shows a share."""

import re
from datetime import date
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.letters.wording import amount, day, money, percent, shares, whole_money, without_corners
from planner.rules.icon_array import icon_array
from planner.rules.results import Chance
from planner.rules.teeth import NORMAL, Tooth


def test_amounts_and_days() -> None:
    assert amount(161825, "en") == "1,618.25"
    assert money(161825, "CAD", "en") == "CAD\u00a01,618.25"
    assert whole_money(145449, "CAD", "en") == "CAD\u00a01,454"
    assert day(date(2026, 2, 24), "en") == "24 February 2026"
    assert [percent(Decimal(text)) for text in ("13", "5.50", "0")] == ["13\u00a0%", "5.5\u00a0%", "0\u00a0%"]


@given(st.decimals(0, 100, places=1), st.decimals(0, 100, places=1), st.sampled_from([100, 1000]))
def test_both_ways_round_make_the_whole(a: Decimal, b: Decimal, of: int) -> None:
    found = shares(Chance("common", "x", min(a, b), max(a, b)), of)
    assert found is not None
    low, high = found.low, found.high
    rest = [int(text) for text in re.findall(r"\d+", found.does_not)]
    happens = [int(text) for text in re.findall(r"\d+", found.happens)]
    assert happens[0] + rest[-1] == of
    assert happens[-1] + rest[0] == of
    assert 0 <= low <= high <= of


def test_no_number_is_no_share() -> None:
    assert shares(Chance("common", "x"), 100) is None


@given(st.integers(0, 100), st.integers(0, 100), st.sampled_from([100, 1000]))
def test_the_field_shows_as_many_signs_as_it_says(a: int, b: int, of: int) -> None:
    low, high = sorted((a * of // 100, b * of // 100))
    root = ElementTree.fromstring(icon_array(low, high, of, "p", "so many"))
    pitch = float(root.get("viewBox", "").split()[2]) / (20 if of == 100 else 50)
    counts = []
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        runs = re.findall(r"M([\d.]+) [\d.]+H([\d.]+)", path.get("d") or "")
        counts.append(sum(round((float(end) - float(start)) / pitch + 0.28) for start, end in runs))
    assert counts == [count for count in (low, high - low, of - high) if count]
    assert root[0].text == "so many"


@pytest.mark.parametrize("tooth", NORMAL, ids=lambda tooth: tooth.key)
def test_palmer_in_letters_reads_back_as_the_same_tooth(tooth: Tooth) -> None:
    assert Tooth.from_palmer(without_corners(tooth.palmer)) == tooth
