"""Time counted in unit-periods and in years, held against dated published examples.

Sources: 12 CFR 1026 (Regulation Z), Appendix J (c), read in a public test file that quotes it; the examples marked
"memory" were recalled and reproduce to their printed digits. Directive 87/102/EEC Annex III as replaced by Directive
98/7/EC, whose equation Directives 2008/48/EC and (EU) 2023/2225 keep.
"""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.instalments import add_months, printed_rate
from planner.rules.unit_periods import (
    MONTH,
    UnitPeriod,
    eu_apr_of,
    months_between,
    single_payment_unit,
    us_apr_of,
    years_between,
)

Dated = list[tuple[Decimal, date]]


def every(count: int, amount: str, first: date, months: int = 1) -> Dated:
    return [(Decimal(amount), add_months(first, months * place)) for place in range(count)]


def twice_a_month(count: int, amount: str, first: date) -> Dated:
    return [
        (Decimal(amount), add_months(first, place // 2) + timedelta(days=15 * (place % 2))) for place in range(count)
    ]


def weekly(count: int, amount: str, first: date) -> Dated:
    return [(Decimal(amount), first + timedelta(days=7 * place)) for place in range(count)]


def with_amounts(payments: Dated, **changed: str) -> Dated:
    found = list(payments)
    for place, amount in changed.items():
        where = {"first": 0, "last": -1}[place]
        found[where] = (Decimal(amount), found[where][1])
    return found


JANUARY, FEBRUARY = date(1978, 1, 10), date(1978, 2, 10)
MONTHLY = every(24, "230", FEBRUARY)


@pytest.mark.parametrize(
    ("example", "advanced", "amount", "payments", "unit", "printed"),
    [
        ("J (c)(1)(i)", JANUARY, "5000", MONTHLY, MONTH, "9.69"),
        ("J (c)(1)(ii), memory", FEBRUARY, "6000", every(36, "200", date(1978, 4, 1)), MONTH, "11.82"),
        ("J (c)(1)(iii)", date(1978, 2, 23), "5000", twice_a_month(24, "219.17", date(1978, 3, 1)),
         UnitPeriod("half month"), "10.34"),
        ("J (c)(1)(iv), memory", date(1978, 5, 23), "10000", every(40, "385", date(1978, 10, 1), 3),
         UnitPeriod("month", 3), "8.97"),
        ("J (c)(1)(v)", date(1978, 3, 20), "500", weekly(30, "17.60", date(1978, 4, 21)), UnitPeriod("week"), "14.96"),
        ("J (c)(2)(i)", JANUARY, "5000", with_amounts(MONTHLY, first="250"), MONTH, "10.08"),
        ("J (c)(3)(i)", JANUARY, "5000", with_amounts(MONTHLY, last="280"), MONTH, "10.50"),
        ("J (c)(4)(i)", JANUARY, "5000", with_amounts(MONTHLY, first="250", last="280"), MONTH, "10.90"),
    ],
)  # fmt: skip
def test_dated_examples_of_the_united_states(
    example: str, advanced: date, amount: str, payments: Dated, unit: UnitPeriod, printed: str
) -> None:
    assert printed_rate(us_apr_of(advanced, Decimal(amount), payments, unit)) == Decimal(printed), example


@pytest.mark.parametrize(
    ("example", "advanced", "paid_on", "paid", "unit", "printed"),
    [
        ("J (c)(5)(i)", date(1978, 1, 3), date(1978, 9, 15), "1080", UnitPeriod("day", 255), "11.45"),
        ("J (c)(5)(ii), memory", date(1978, 7, 15), date(1979, 1, 15), "1044", UnitPeriod("month", 6), "8.80"),
        ("J (c)(5)(iii), memory", date(1978, 1, 17), date(1979, 7, 17), "1135.19", UnitPeriod("year"), "8.76"),
        ("J (c)(5)(iv), memory", date(1978, 1, 3), date(1980, 1, 3), "1240", UnitPeriod("year"), "11.36"),
    ],
)
def test_one_payment_for_one_advance(
    example: str, advanced: date, paid_on: date, paid: str, unit: UnitPeriod, printed: str
) -> None:
    assert single_payment_unit(advanced, paid_on) == unit, example
    rate = us_apr_of(advanced, Decimal(1000), [(Decimal(paid), paid_on)], unit)
    assert printed_rate(rate) == Decimal(printed), example


def test_the_fractions_that_the_examples_print() -> None:
    assert MONTH.between(date(1978, 2, 10), date(1978, 4, 1)) == (1, Fraction(19, 30))
    assert UnitPeriod("half month").between(date(1978, 2, 23), date(1978, 3, 1)) == (0, Fraction(6, 15))
    assert UnitPeriod("month", 3).between(date(1978, 5, 23), date(1978, 10, 1)) == (1, Fraction(39, 90))
    assert UnitPeriod("week").between(date(1978, 3, 20), date(1978, 4, 21)) == (4, Fraction(4, 7))
    assert UnitPeriod("year").between(date(1978, 1, 17), date(1979, 7, 17)) == (1, Fraction(6, 12))
    assert UnitPeriod("year").between(date(1978, 1, 17), date(1979, 1, 27)) == (1, Fraction(10, 365))


def test_the_end_of_a_month_answers_to_the_end_of_another() -> None:
    assert months_between(date(2026, 1, 31), date(2026, 2, 28)) == (1, 0)
    assert months_between(date(2026, 2, 28), date(2026, 3, 31)) == (1, 0)
    assert months_between(date(2026, 1, 30), date(2026, 3, 1)) == (1, 2)
    assert months_between(date(2026, 1, 30), date(2026, 1, 31)) == (0, 1)


@pytest.mark.parametrize(
    ("example", "drawn", "repaid", "printed"),
    [
        ("B.1, memory", "1000", [("1200", 18)], "12.9"),
        ("B.2, memory", "950", [("1200", 18)], "16.9"),
        ("A.3", "1000", [("600", 12), ("600", 24)], "13.1"),
        ("B.4, memory", "1000", [("272", 3), ("272", 6), ("544", 12)], "13.2"),
    ],
)
def test_dated_examples_of_the_european_union(
    example: str, drawn: str, repaid: list[tuple[str, int]], printed: str
) -> None:
    start = date(1994, 1, 1)
    flows = [(Decimal(amount), add_months(start, months)) for amount, months in repaid]
    assert printed_rate(eu_apr_of(start, Decimal(drawn), flows), 1) == Decimal(printed), example


def test_odd_days_are_parts_of_the_year_that_ends_with_them() -> None:
    assert years_between(date(2026, 3, 2), date(2026, 3, 12)) == Fraction(10, 365)
    assert years_between(date(2024, 3, 2), date(2024, 4, 12)) == Fraction(1, 12) + Fraction(10, 366)


def test_what_is_no_time_is_refused() -> None:
    early, late = date(2026, 3, 2), date(2026, 3, 1)
    for count in (lambda: MONTH.between(early, late), lambda: years_between(early, late)):
        with pytest.raises(ValueError, match="before it is lent"):
            count()
    with pytest.raises(ValueError, match="1 or more"):
        UnitPeriod("month", 0)
    with pytest.raises(ValueError, match="longer than a year"):
        UnitPeriod("week", 53)


@settings(max_examples=40, deadline=None)
@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(0, 5000))
def test_months_and_days_lead_back_to_where_they_began(first: date, days: int) -> None:
    later = first + timedelta(days=days)
    months, left = months_between(first, later)
    assert 0 <= left <= 30
    whole, part = MONTH.between(first, later)
    assert 30 * (whole + part) == 30 * months + left
