"""Instalments and yearly rates, checked against published examples and against numpy-financial.

Sources: 12 CFR 1026 (Regulation Z) Appendix J (c), Appendix H samples H-10 and H-11, and 1026.22 with its official
commentary; Directive 87/102/EEC Annex III as replaced by Directive 98/7/EC, whose equation Directives 2008/48/EC and
(EU) 2023/2225 keep; the documentation of numpy-financial 1.0.0. The examples marked "memory" were recalled and then
recomputed, not read again.
"""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.instalments import (
    add_months,
    eu_apr,
    instalments,
    lending_questions,
    level_payment,
    printed_rate,
    schedule,
    us_apr,
    within_us_tolerance,
)

Payments = list[tuple[Decimal, int, Fraction]]


def level(count: int, amount: str, first: int = 1, part: Fraction = Fraction(0)) -> Payments:
    return [(Decimal(amount), first + place, part) for place in range(count)]


def changed(payments: Payments, place: int, amount: str) -> Payments:
    found = list(payments)
    found[place] = (Decimal(amount), *found[place][1:])
    return found


MONTHLY = level(24, "230")


@pytest.mark.parametrize(
    ("example", "amount", "payments", "per_year", "printed", "within"),
    [
        ("J (c)(1)(i)", "5000", MONTHLY, 12, "9.69", "0.005"),
        ("J (c)(1)(iii)", "5000", level(24, "219.17", 0, Fraction(6, 15)), 24, "10.34", "0.005"),
        ("J (c)(1)(v)", "500", level(30, "17.60", 4, Fraction(4, 7)), 52, "14.96", "0.005"),
        ("J (c)(2)(i)", "5000", changed(MONTHLY, 0, "250"), 12, "10.08", "0.005"),
        ("J (c)(3)(i)", "5000", changed(MONTHLY, 23, "280"), 12, "10.50", "0.005"),
        ("J (c)(4)(i)", "5000", changed(changed(MONTHLY, 0, "250"), 23, "280"), 12, "10.90", "0.005"),
        ("J (c)(5)(i)", "1000", level(1, "1080"), Fraction(365, 255), "11.45", "0.005"),
        ("J (c)(5)(iii), memory", "1000", level(1, "1135.19", 1, Fraction(6, 12)), 1, "8.76", "0.005"),
        ("J (c)(5)(iv), memory", "1000", level(1, "1240", 2), 1, "11.36", "0.005"),
        ("H-10, memory", "6107.50", level(36, "211.23"), 12, "14.84", "0.005"),
        (
            "H-11, memory; odd days inferred",
            "5000",
            changed(level(24, "235.36", 1, Fraction(16, 30)), 0, "262.03"),
            12,
            "12.00",
            "0.0125",
        ),
        ("textbook by the Regulation Z tables", "5200", level(36, "169"), 12, "10.50", "0.13"),
        ("textbook, 60 payments", "9500", level(60, "227.50"), 12, "15.3", "0.05"),
    ],
)
def test_us_rate_of_the_published_examples(
    example: str, amount: str, payments: Payments, per_year: int | Fraction, printed: str, within: str
) -> None:
    found = us_apr(Decimal(amount), payments, Fraction(per_year))
    assert abs(found - Decimal(printed)) <= Decimal(within), example


@pytest.mark.parametrize(
    ("example", "drawn", "repaid", "printed", "within"),
    [
        ("A.1", "1000", [("1200", Fraction(546, 365))], "12.96", "0.005"),
        ("A.2", "950", [("1200", Fraction(546, 365))], "16.9", "0.05"),
        (
            "A.3",
            "1000",
            [("600", Fraction(1)), ("600", Fraction(2))],
            "13.06623",
            "0.00001",
        ),  # cut, not rounded, in the print
        (
            "A.4, memory",
            "1000",
            [("272", Fraction(90, 365)), ("272", Fraction(181, 365)), ("544", Fraction(1))],
            "13.23",
            "0.005",
        ),
        ("B.1, memory", "1000", [("1200", Fraction(3, 2))], "12.92", "0.005"),
        ("B.2, memory", "950", [("1200", Fraction(3, 2))], "16.85", "0.005"),
        (
            "B.4, memory",
            "1000",
            [("272", Fraction(1, 4)), ("272", Fraction(1, 2)), ("544", Fraction(1))],
            "13.19",
            "0.005",
        ),
    ],
)
def test_eu_rate_of_the_published_examples(
    example: str, drawn: str, repaid: list[tuple[str, Fraction]], printed: str, within: str
) -> None:
    found = eu_apr([(Decimal(drawn), Fraction(0))], [(Decimal(amount), years) for amount, years in repaid])
    assert abs(found - Decimal(printed)) <= Decimal(within), example


def test_one_loan_two_rates() -> None:
    nominal = us_apr(Decimal(5000), MONTHLY, Fraction(12))
    flows = [(amount, Fraction(whole, 12)) for amount, whole, _ in MONTHLY]
    effective = eu_apr([(Decimal(5000), Fraction(0))], flows)
    assert (printed_rate(nominal), printed_rate(effective)) == (Decimal("9.69"), Decimal("10.13"))
    assert abs((1 + nominal / 1200) ** 12 - 1 - effective / 100) < Decimal("1e-20")


def test_several_drawdowns_are_one_loan() -> None:
    halves = [(Decimal(500), Fraction(0)), (Decimal(500), Fraction(1, 2))]
    rate = eu_apr(halves, [(Decimal(1100), Fraction(3, 2))])
    left = sum(amount * (1 + rate / 100) ** -Decimal(float(years)) for amount, years in halves)
    assert abs(left - 1100 * (1 + rate / 100) ** Decimal("-1.5")) < Decimal("1e-18")


def test_us_rate_with_payments_at_closing() -> None:
    # A numerical library's documented example: 1,000 at 10 %/12, 12 payments of 85.9389, 3 of them in advance
    payments = level(3, "85.9389", 0)
    payments = [(amount, 0, part) for amount, _, part in payments] + level(9, "85.9389")
    assert abs(us_apr(Decimal(1000), payments, Fraction(12)) - 10) < Decimal("0.001")


@pytest.mark.parametrize(
    ("raw", "printed"), [("12.965", "13.0"), ("13.0662", "13.1"), ("16.94999", "16.9"), ("16.95", "17.0")]
)
def test_eu_rates_are_printed_with_one_decimal_half_up(raw: str, printed: str) -> None:
    # Directive 2008/48/EC, Annex I, remark (d)
    assert printed_rate(Decimal(raw), 1) == Decimal(printed)


def test_us_tolerance() -> None:
    # Official staff commentary on rounding within 1/8 of a point; 1/4 for irregular transactions
    exact = Decimal("14.33333")
    right = [within_us_tolerance(exact, Decimal(text)) for text in ("14.33", "14.3", "14.25", "14.2", "14")]
    assert right == [True, True, True, False, False]
    assert within_us_tolerance(Decimal(10), Decimal("10.24"), irregular=True)
    assert not within_us_tolerance(Decimal(10), Decimal("10.24"))


@settings(max_examples=40, deadline=None)
@given(st.integers(100_000, 5_000_000), st.integers(1, 60), st.decimals("0.005", "0.6", places=4))
def test_us_rate_finds_the_rate_a_loan_was_made_with(principal: int, months: int, annual: Decimal) -> None:
    payment = numpy_financial.pmt(float(annual) / 12, months, -principal / 100)
    found = us_apr(Decimal(principal) / 100, level(months, repr(float(payment))), Fraction(12))
    assert abs(found - annual * 100) < Decimal("1e-6")


@settings(max_examples=25, deadline=None)
@given(st.integers(2, 24), st.integers(105, 180))
def test_us_rate_agrees_with_numpy_financial(months: int, percent: int) -> None:
    each = Decimal(percent) * 10 / months
    outside = numpy_financial.rate(months, -float(each), 1000.0, 0.0) * 1200
    assert abs(us_apr(Decimal(1000), level(months, str(each)), Fraction(12)) - Decimal(outside)) < Decimal("1e-6")


def test_rates_that_do_not_exist_are_refused() -> None:
    day_zero, year = Fraction(0), Fraction(1)
    assert us_apr(Decimal(1000), level(4, "250"), Fraction(12)) == 0
    assert eu_apr([(Decimal(1000), day_zero)], [(Decimal(1000), year)]) == 0
    with pytest.raises(ValueError, match="less than"):
        us_apr(Decimal(1000), level(4, "249.99"), Fraction(12))
    with pytest.raises(ValueError, match="less than"):
        eu_apr([(Decimal(1000), day_zero)], [(Decimal(999), year)])
    with pytest.raises(ValueError, match="day of lending"):
        eu_apr([(Decimal(1000), day_zero)], [(Decimal(1000), day_zero), (Decimal(5), year)])
    with pytest.raises(ValueError, match="above zero"):
        us_apr(Decimal(0), level(1, "5"), Fraction(12))
    with pytest.raises(ValueError, match="above zero"):
        eu_apr([(Decimal(5), day_zero)], [])
    with pytest.raises(ValueError, match="fraction below one"):
        us_apr(Decimal(1), level(1, "5", 1, Fraction(1)), Fraction(12))
    with pytest.raises(ValueError, match="0 or more"):
        eu_apr([(Decimal(5), Fraction(-1))], [(Decimal(5), year)])


# ---------------------------------------------------------------- schedules


def test_level_payment_of_numpy_financials_documentation() -> None:
    exact = level_payment(200_000, Fraction(75, 1000) / 12, 180)
    assert abs(exact - Fraction("1854.0247200054619")) < Fraction(1, 10**9)


DOCUMENTED = (
    (200.58, 17.17, 2299.42), (201.96, 15.79, 2097.46), (203.35, 14.40, 1894.11), (204.74, 13.01, 1689.37),
    (206.15, 11.60, 1483.22), (207.56, 10.18, 1275.66), (208.99, 8.76, 1066.67), (210.42, 7.32, 856.25),
    (211.87, 5.88, 644.38), (213.32, 4.42, 431.05), (214.79, 2.96, 216.26), (216.26, 1.49, 0.0),
)  # fmt: skip


def test_schedule_of_numpy_financials_documentation() -> None:
    # 2,500 at 8.24 % over 12 months. The documentation rounds for print only; here every month is rounded to cents,
    # so that a balance drifts by a cent or two on the way, and the last payment takes that up.
    rows = schedule(250_000, Decimal("0.0824"), 12)
    for row, (principal, interest, balance) in zip(rows, DOCUMENTED, strict=True):
        assert abs(row.principal_cents - round(principal * 100)) <= (2 if row is rows[-1] else 1)
        assert abs(row.interest_cents - round(interest * 100)) <= 1
        assert abs(row.balance_cents - round(balance * 100)) <= 2
    assert abs(sum(row.interest_cents for row in rows) - 11298) <= 1
    assert rows[-1].balance_cents == 0


@given(st.integers(1, 10**7), st.decimals("0", "0.99", places=4), st.integers(1, 120))
def test_schedules_repay_exactly(principal: int, rate: Decimal, months: int) -> None:
    rows = schedule(principal, rate, months)
    assert sum(row.principal_cents for row in rows) == principal
    assert sum(row.payment_cents for row in rows) == principal + sum(row.interest_cents for row in rows)
    assert rows[-1].balance_cents == 0
    assert all(row.principal_cents >= 0 and row.interest_cents >= 0 for row in rows)
    assert len({row.payment_cents for row in rows[:-1]} - {0}) <= 1 or rows[-2].balance_cents == 0


def test_schedules_refuse_what_is_no_loan() -> None:
    for principal, rate, months in ((0, "0.1", 12), (1, "0.1", 0), (100, "8.24", 12), (100, "-0.01", 12)):
        with pytest.raises(ValueError, match=r"schedule needs|fraction of one"):
            schedule(principal, Decimal(rate), months)


def test_a_schedule_without_interest() -> None:
    assert [row.payment_cents for row in schedule(100_000, Decimal(0), 3)] == [33333, 33333, 33334]


# ---------------------------------------------------------------- instalments without interest


def test_the_last_instalment_takes_the_remainder() -> None:
    # 1,181.20 less a deposit of 300.00, in six: common practice, no source
    parts = instalments(88120, 6, date(2026, 3, 2), at_most=6)
    assert [part.cents for part in parts] == [14687] * 5 + [14685]
    # 1,000.00 in three
    assert [part.cents for part in instalments(100000, 3, date(2026, 3, 2), at_most=6)] == [33333, 33333, 33334]


def test_day_31_moves_to_the_end_of_short_months_and_back() -> None:
    dues = [part.due for part in instalments(60000, 6, date(2026, 12, 31), at_most=6)]
    assert dues == [
        date(2026, 12, 31),
        *(date(2027, month, day) for month, day in ((1, 31), (2, 28), (3, 31), (4, 30), (5, 31))),
    ]
    assert add_months(date(2028, 1, 31), 1) == date(2028, 2, 29)
    assert add_months(date(2026, 3, 31), -1) == date(2026, 2, 28)


def test_instalments_that_are_refused() -> None:
    first = date(2026, 3, 2)
    with pytest.raises(ValueError, match="between 1 and 4"):
        instalments(60000, 5, first, at_most=4)
    with pytest.raises(ValueError, match="a cent or more"):
        instalments(3, 4, first, at_most=4)
    with pytest.raises(ValueError, match="at most 2 fit in"):
        instalments(60000, 3, first, at_most=6, finish_by=date(2026, 4, 20))
    assert len(instalments(60000, 2, first, at_most=6, finish_by=date(2026, 4, 20))) == 2


@given(st.integers(1, 10**7), st.integers(1, 36), st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_instalments_add_up_and_fall_due_month_by_month(total: int, count: int, first: date) -> None:
    if total < count:
        return
    parts = instalments(total, count, first, at_most=36)
    assert sum(part.cents for part in parts) == total
    assert min(part.cents for part in parts) > 0
    assert len({part.cents for part in parts[:-1]}) <= 1
    months = [part.due.year * 12 + part.due.month for part in parts]
    assert months == list(range(months[0], months[0] + count))
    assert all(part.due.day <= first.day for part in parts)


def test_when_to_ask_about_lending_law() -> None:
    first = date(2026, 12, 1)
    four, five = (instalments(60000, count, first, at_most=6) for count in (4, 5))
    agreed = date(2026, 11, 20)
    assert lending_questions(four, agreed, "us") == ()
    assert len(lending_questions(five, agreed, "us")) == 1
    assert len(lending_questions(four, agreed, "us", charge=True)) == 1
    assert len(lending_questions(four, agreed, "eu")) == 1
    assert lending_questions(four[:2], agreed, "eu") == ()  # 42 days
    assert lending_questions(four, date(2026, 11, 19), "eu") == ()
    assert lending_questions(five, agreed, "other") == ()
