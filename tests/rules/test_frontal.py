"""Frontal proportions against the published formula and the worked table for an intercanine width of 38.0 mm."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.frontal import (
    FrontalWidth,
    frontal_scheme,
    percentage_shares,
    recurring_for_height,
    recurring_proportion,
    scheme_names,
)
from planner.rules.proportions import CaliperWidth, lateral_central

WIDE = FrontalWidth(Decimal("38.0"))
WIDTHS = st.decimals(min_value=20, max_value=60, places=1).map(FrontalWidth)
PERCENTS = st.integers(62, 80)


def row(widths):
    return tuple(round(width.mm, 3) for width in (widths.central, widths.lateral, widths.canine))


@pytest.mark.parametrize(
    ("percent", "central", "lateral", "canine", "length"),
    [
        (62, "9.479", "5.877", "3.644", "12.15"),
        (66, "9.067", "5.984", "3.949", "11.62"),
        (70, "8.676", "6.073", "4.251", "11.12"),
        (75, "8.216", "6.162", "4.622", "10.53"),
        (80, "7.787", "6.230", "4.984", "9.98"),
    ],
)
def test_recurring_proportion_table(percent, central, lateral, canine, length):
    """Formula of Ward DH (central = width / (2 (1 + r + r r))), central length at 78 % (Ward, Dent Clin North Am 2015);
    table worked by hand from it."""
    widths = recurring_proportion(WIDE, percent)
    assert row(widths) == (Decimal(central), Decimal(lateral), Decimal(canine))
    assert round(widths.central_length(), 2) == Decimal(length)


@pytest.mark.parametrize(
    ("scheme", "expected", "adds_to"),
    [
        ("golden", ("9.500", "5.871", "3.629"), None),
        ("natural", ("8.580", "5.663", "4.757"), None),
        ("golden percentage", ("9.500", "5.700", "3.800"), None),
        ("modified golden percentage", ("8.550", "5.700", "4.750"), None),
        ("measured 2021", ("7.451", "5.588", "5.961"), "51"),
        ("measured Jordan", ("9.011", "5.994", "3.996"), "46.6"),
    ],
)
def test_named_schemes(scheme, expected, adds_to):
    """Shares and ratios as printed by Levin 1978, Preston 1993, Snow 1999, Kalia 2020, PMC8081617 and Alhabahbah; the
    last two do not add to one half and are brought to it."""
    widths = frontal_scheme(WIDE, scheme)
    assert row(widths) == tuple(map(Decimal, expected))
    assert widths.adds_to == (None if adds_to is None else Decimal(adds_to))
    assert widths.source


def test_golden_length():
    assert round(frontal_scheme(WIDE, "golden").central_length(), 2) == Decimal("12.18")


@pytest.mark.parametrize(
    ("percent", "share"), [(62, "24.945"), (66, "23.860"), (70, "22.831"), (75, "21.622"), (80, "20.492")]
)
def test_central_share_of_the_whole_width(percent, share):
    hundred = FrontalWidth(Decimal(100))
    assert round(recurring_proportion(hundred, percent).central.mm, 3) == Decimal(share)


@given(WIDTHS, PERCENTS)
def test_three_teeth_make_one_half(width, percent):
    widths = recurring_proportion(width, percent)
    total = widths.central.mm + widths.lateral.mm + widths.canine.mm
    assert abs(total * 2 - width.mm) < Decimal("1e-20")
    assert abs(widths.lateral.mm / widths.central.mm - widths.canine.mm / widths.lateral.mm) < Decimal("1e-20")
    assert widths.adds_to is None


@given(WIDTHS, *[st.decimals(min_value=1, max_value=60, places=1)] * 3)
def test_shares_always_make_one_half(width, central, lateral, canine):
    widths = percentage_shares(width, central, lateral, canine)
    assert abs((widths.central.mm + widths.lateral.mm + widths.canine.mm) * 2 - width.mm) < Decimal("1e-20")
    assert (widths.adds_to is None) == (central + lateral + canine == 50)


@given(WIDTHS, st.integers(62, 79))
def test_a_larger_proportion_gives_a_narrower_central_and_a_wider_canine(width, percent):
    now, more = recurring_proportion(width, percent), recurring_proportion(width, percent + 1)
    assert more.central < now.central
    assert more.canine > now.canine


def test_default_and_by_height():
    """70 % preferred for teeth of normal height (Ward 2007); the words for the other heights from memory."""
    assert recurring_proportion(WIDE) == recurring_proportion(WIDE, 70)
    assert row(recurring_for_height(WIDE, "very tall")) == row(recurring_proportion(WIDE, 62))
    assert row(recurring_for_height(WIDE, "very short")) == row(recurring_proportion(WIDE, 80))


@pytest.mark.parametrize("percent", [61, 81, 0, 100])
def test_outside_the_published_range(percent):
    with pytest.raises(ValueError, match="the published range is 62 to 80 %"):
        recurring_proportion(WIDE, percent)


def test_unknown_words():
    with pytest.raises(ValueError, match='height is "huge"'):
        recurring_for_height(WIDE, "huge")
    with pytest.raises(ValueError, match='scheme is "silver"'):
        frontal_scheme(WIDE, "silver")
    assert set(scheme_names()) >= {"golden", "natural", "golden percentage"}


def test_bad_shares_and_widths():
    with pytest.raises(ValueError, match="each must be above 0"):
        percentage_shares(WIDE, Decimal(25), Decimal(25), Decimal(0))
    for bad in (Decimal(0), Decimal(-1), Decimal("NaN"), 38, 38.0):
        with pytest.raises(ValueError, match="frontal width is"):
            FrontalWidth(bad)


def test_a_frontal_width_is_no_caliper_width():
    """What a photograph shows must never be judged by a target for measured teeth."""
    widths = recurring_proportion(WIDE)
    with pytest.raises(TypeError, match="two caliper widths"):
        lateral_central(widths.lateral, widths.central)
    assert FrontalWidth(Decimal(85)) != CaliperWidth(85)
