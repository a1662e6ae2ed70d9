"""Papilla, contact heights and gum steps against the published figures named beside each check."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.gumline import connector_heights, contact_lowering, gum_step, papilla_fill
from planner.rules.teeth import Tooth


@pytest.mark.parametrize(
    ("distance", "of_100", "dark"),
    [
        (30, None, False),
        (50, None, False),
        (51, 56, True),
        (60, 56, True),
        (61, 27, True),
        (70, 27, True),
        (95, 27, True),
    ],
)
def test_papilla_fill(distance, of_100, dark):
    """Tarnow 1992 (summary read): almost all at 5 mm or less, 56 of 100 at 6 mm, 27 or fewer at 7 mm and more."""
    fill = papilla_fill(distance)
    assert (fill.of_100, fill.dark_triangle_likely) == (of_100, dark)
    assert fill.words.startswith("almost always" if of_100 is None else f"full in {of_100} of 100")


@given(st.integers(1, 120))
def test_lowering_the_contact_by_what_is_asked_is_enough_and_no_more(distance):
    needed = contact_lowering(distance)
    if needed:
        assert not papilla_fill(distance - needed).dark_triangle_likely
        assert papilla_fill(distance - needed + 1).dark_triangle_likely
    else:
        assert not papilla_fill(distance).dark_triangle_likely


@pytest.mark.parametrize("distance", [0, -10, 5.0])
def test_distance_must_be_measured(distance):
    with pytest.raises(ValueError, match="contact to bone is"):
        papilla_fill(distance)


def test_connector_heights():
    """Raj 2009: taught 50, 40 and 30 % of the central's height, measured 49, 38 and 27; for 10.5 mm."""
    taught = connector_heights(105)
    assert (taught.central_central, taught.central_lateral, taught.lateral_canine) == (
        Decimal("5.25"),
        Decimal("4.20"),
        Decimal("3.15"),
    )
    measured = connector_heights(105, measured=True)
    assert (measured.central_central, measured.central_lateral, measured.lateral_canine) == (
        Decimal("5.145"),
        Decimal("3.99"),
        Decimal("2.835"),
    )


@pytest.mark.parametrize(
    ("iso", "step", "as_expected"),
    [
        ("12", 7, True),
        ("22", 1, False),
        ("12", 12, True),
        ("12", 13, False),
        ("14", 10, True),
        ("14", 7, True),
        ("24", 6, False),
        ("15", 16, True),
        ("15", 9, False),
    ],
)
def test_gum_steps(iso, step, as_expected):
    """Lateral 0.68 (0.52) mm, Charruel 2008; premolars 1.04 (0.41) and 1.56 (0.59) mm, Pankhem; one deviation."""
    assert gum_step(Tooth.from_iso(iso), step).as_expected is as_expected


def test_premolar_step_is_one_millimetre_give_or_take_four_tenths():
    step = gum_step(Tooth.from_iso("14"), 10)
    assert (step.low, step.mean, step.high) == (Decimal("0.63"), Decimal("1.04"), Decimal("1.45"))
    assert "Pankhem" in step.source


@pytest.mark.parametrize("iso", ["11", "13", "16", "32", "44", "52", "extra beside 12"])
def test_no_step_is_known_for_other_teeth(iso):
    with pytest.raises(ValueError, match="gum steps are known for upper laterals and premolars only"):
        gum_step(Tooth.from_iso(iso), 5)
