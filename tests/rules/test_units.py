"""Millimetres and money as they are written and as they are kept."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.units import format_cents, format_mm, parse_mm, parse_money


@given(st.integers(-99_999, 99_999))
def test_millimetres_round_trip(tenths: int) -> None:
    written = format_mm(tenths)
    assert parse_mm(written) == parse_mm(written.replace(".", ",")) == parse_mm(Decimal(written)) == tenths


@given(st.integers(-(10**12), 10**12))
def test_money_round_trips(cents: int) -> None:
    written = format_cents(cents)
    assert parse_money(written) == parse_money(Decimal(written)) == cents
    assert Decimal(written) * 100 == cents


@given(st.decimals(-9999, 9999, places=2))
def test_a_length_finer_than_a_tenth_is_refused_and_never_rounded(value: Decimal) -> None:
    if value * 10 == (value * 10).to_integral_value():
        assert parse_mm(value) == value * 10
    else:
        with pytest.raises(ValueError, match="finer than can be measured"):
            parse_mm(value)


@pytest.mark.parametrize(
    ("text", "tenths"), [("8.3", 83), ("8,3", 83), (" 8.3 ", 83), ("8", 80), ("-0.4", -4), ("+0.4", 4), ("8.30", 83)]
)
def test_ways_of_writing_a_length(text: str, tenths: int) -> None:
    assert parse_mm(text) == tenths


@pytest.mark.parametrize(
    "value",
    [
        "",
        "8.3 mm",
        "8.",
        ".3",
        "1e2",
        "8.3.1",
        "eight",
        "12345",
        "8.30000000000000000000000000000001",
        "nan",
        8.3,
        True,
        None,
        [8],
    ],
)
def test_what_is_no_length(value: object) -> None:
    with pytest.raises(ValueError, match="is not a length"):
        parse_mm(value)


@pytest.mark.parametrize(
    ("text", "cents"), [("445", 44500), ("445.5", 44550), ("0.05", 5), ("-3.10", -310), (" 7.00 ", 700)]
)
def test_ways_of_writing_money(text: str, cents: int) -> None:
    assert parse_money(text) == cents


@pytest.mark.parametrize(
    "value",
    [
        "",
        "445,00",
        "1,618.25",
        "445.005",
        "445.00000000000000000000000000001",
        "$445",
        "nan",
        "inf",
        "1e3",
        "1E+999999999",
        "1_000",
        445.0,
        False,
        None,
    ],
)
def test_what_is_no_money(value: object) -> None:
    with pytest.raises(ValueError, match="is not an amount"):
        parse_money(value)


def test_small_amounts_keep_their_sign_and_zeros() -> None:
    assert [format_cents(cents) for cents in (0, 5, -5, 100, -161825)] == ["0.00", "0.05", "-0.05", "1.00", "-1618.25"]
    assert [format_mm(tenths) for tenths in (0, 3, -3, -83)] == ["0.0", "0.3", "-0.3", "-8.3"]
