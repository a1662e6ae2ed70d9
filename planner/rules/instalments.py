"""Paying in parts: instalments without interest, schedules with interest, and the yearly rate two laws ask for.

The United States and the European Union print different rates for the same loan: a nominal one (periodic rate times
periods in a year) and an effective one. They are kept apart by name, ``us_apr`` and ``eu_apr``, and printed with it.
"""

from calendar import monthrange
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from typing import Literal

from planner.rules.cents import half_up
from planner.rules.settings import read_settings
from planner.rules.units import format_cents

_PRECISION = 40
_CLOSE_ENOUGH = Decimal(10) ** -25
_HIGHEST = Decimal(10) ** 9


@dataclass(frozen=True, slots=True)
class Instalment:
    due: date
    cents: int


def instalments(
    total_cents: int, count: int, first_due: date, *, at_most: int, finish_by: date | None = None
) -> tuple[Instalment, ...]:
    """``total_cents`` in ``count`` monthly parts without interest; the last one takes the remainder.

    A due day the month does not have moves to the month's last day, and back to it afterwards. ``at_most`` is the
    office's limit, ``finish_by`` the day work from the laboratory is fitted. Raises ValueError with a sentence for too
    many parts, an amount that cannot be parted, or a last part after ``finish_by``.
    """
    if not 1 <= count <= at_most:
        raise ValueError(f"{count} instalments: this office agrees to between 1 and {at_most}")
    if total_cents < count:
        raise ValueError(f"{format_cents(total_cents)} cannot be paid in {count} parts of a cent or more")
    each = half_up(Fraction(total_cents, count))
    if each * (count - 1) >= total_cents:
        each = total_cents // count
    amounts = [each] * (count - 1) + [total_cents - each * (count - 1)]
    dues = [add_months(first_due, place) for place in range(count)]
    if finish_by is not None and dues[-1] > finish_by:
        fitting = sum(due <= finish_by for due in dues)
        raise ValueError(
            f"the last instalment would be due on {dues[-1].isoformat()}, after the work is fitted on "
            f"{finish_by.isoformat()}; at most {fitting} fit in before it"
        )
    return tuple(Instalment(due, cents) for due, cents in zip(dues, amounts, strict=True))


def add_months(day: date, months: int) -> date:
    """The same day ``months`` later, or the last day of a month that is shorter. Counted from ``day``, so day 31
    comes back after a short month.
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


@dataclass(frozen=True, slots=True)
class Row:
    """One month of a schedule, all in cents."""

    number: int
    payment_cents: int
    interest_cents: int
    principal_cents: int
    balance_cents: int
    """Still owed after it."""


def schedule(principal: int, annual_rate: Decimal, months: int) -> tuple[Row, ...]:
    """Equal monthly payments that repay ``principal`` cents with interest; the last one takes the remainder.

    ``annual_rate`` is the nominal yearly rate as a fraction of one: 8.24 % is ``Decimal("0.0824")``; 0 is allowed.
    Payment and interest of each month are rounded half-up to cents, so that the parts of the principal add up to it
    exactly. Raises ValueError for an amount, rate or number of months that makes no loan.
    """
    if principal < 1 or months < 1:
        raise ValueError("a schedule needs an amount above 0.00 and a month or more")
    if not 0 <= annual_rate < 1:
        raise ValueError(f"a yearly rate of {annual_rate} is not a fraction of one; write 8.24 % as 0.0824")
    rate = Fraction(annual_rate) / 12
    payment = half_up(level_payment(principal, rate, months))
    rows: list[Row] = []
    balance = principal
    for number in range(1, months + 1):
        interest = half_up(balance * rate)
        if number == months:
            part = balance
        else:
            part = min(payment - interest, balance)
        balance -= part
        rows.append(Row(number, interest + part, interest, part, balance))
    return tuple(rows)


def level_payment(principal: int, rate: Fraction, periods: int) -> Fraction:
    """The equal payment at the end of each period that repays ``principal`` at ``rate`` a period, exact."""
    if rate == 0:
        return Fraction(principal, periods)
    growth = (1 + rate) ** periods
    return principal * rate * growth / (growth - 1)


def us_apr(amount: Decimal, payments: Sequence[tuple[Decimal, int, Fraction]], periods_per_year: Fraction) -> Decimal:
    """The annual percentage rate of 12 CFR 1026 (Regulation Z), Appendix J, in percent, not rounded.

    ``amount`` is what is financed in one advance. Each payment is (amount, whole unit-periods, fraction of one) after
    it; the general equation discounts it by (1 + f·i)·(1 + i)^t, and the rate is i times the unit-periods in a year: a
    nominal rate. Raises ValueError when the payments do not come to the amount or no rate solves the equation.
    """
    if periods_per_year <= 0 or any(whole < 0 or not 0 <= part < 1 for _, whole, part in payments):
        raise ValueError("unit-periods are whole ones of 0 or more, a fraction below one, and some in a year")
    _check_loan([amount], [payment for payment, _, _ in payments])
    with localcontext() as context:
        context.prec = _PRECISION
        parts = [
            (payment, whole, Decimal(part.numerator) / Decimal(part.denominator)) for payment, whole, part in payments
        ]

        def surplus(rate: Decimal) -> Decimal:
            worth = (payment / ((1 + part * rate) * (1 + rate) ** whole) for payment, whole, part in parts)
            return sum(worth, Decimal(0)) - amount

        yearly = Decimal(periods_per_year.numerator) / Decimal(periods_per_year.denominator)
        return _root(surplus) * yearly * 100


def eu_apr(drawdowns: Sequence[tuple[Decimal, Fraction]], repayments: Sequence[tuple[Decimal, Fraction]]) -> Decimal:
    """The annual percentage rate of charge of Directive 2008/48/EC and (EU) 2023/2225, in percent, not rounded.

    Each flow is (amount, years after the first drawdown); charges paid count as repayments. An effective rate: X with
    the sum of C·(1 + X)^−t over drawdowns equal to the same sum over repayments. Raises ValueError when the repayments
    do not come to the drawdowns or no rate solves the equation.
    """
    if any(years < 0 for _, years in (*drawdowns, *repayments)):
        raise ValueError("times are years of 0 or more after the first drawdown")
    _check_loan([cents for cents, _ in drawdowns], [cents for cents, _ in repayments])
    with localcontext() as context:
        context.prec = _PRECISION
        flows = [(-amount, Decimal(t.numerator) / Decimal(t.denominator)) for amount, t in drawdowns]
        flows += [(amount, Decimal(t.numerator) / Decimal(t.denominator)) for amount, t in repayments]

        def surplus(rate: Decimal) -> Decimal:
            growth = (1 + rate).ln()
            return sum((amount * (-time * growth).exp() for amount, time in flows), Decimal(0))

        return _root(surplus) * 100


def _check_loan(lent: Sequence[Decimal], repaid: Sequence[Decimal]) -> None:
    if not lent or not repaid or min(*lent, *repaid) <= 0:
        raise ValueError("a loan has an amount lent and an amount repaid, all above zero")
    if sum(repaid) < sum(lent):
        raise ValueError(f"{sum(repaid)} repaid is less than {sum(lent)} lent: that is no credit and has no rate")


def _root(surplus: Callable[[Decimal], Decimal]) -> Decimal:
    """The rate of 0 or more at which ``surplus``, falling from above zero, reaches zero. By halving the interval."""
    low, high = Decimal(0), Decimal(1)
    if surplus(low) == 0:
        return low
    while surplus(high) > 0:
        low, high = high, high * 4
        if high > _HIGHEST:
            raise ValueError("no yearly rate fits these payments: too much is repaid on the day of lending")
    while high - low > _CLOSE_ENOUGH * max(high, Decimal(1)):
        middle = (low + high) / 2
        if surplus(middle) > 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def printed_rate(percent: Decimal, places: int = 2) -> Decimal:
    """A rate for print, half-up. The European rule asks for one decimal at least, a following 5 rounding up."""
    return percent.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def within_us_tolerance(exact: Decimal, disclosed: Decimal, *, irregular: bool = False) -> bool:
    """Whether a disclosed US rate is accurate by 12 CFR 1026.22(a): within 1/8 of a point, 1/4 if irregular."""
    eighths: int = read_settings("lending.toml")["us_tolerance_eighths"].value["irregular" if irregular else "regular"]
    return abs(exact - disclosed) * 8 <= eighths


def lending_questions(
    parts: Sequence[Instalment], agreed_on: date, law: Literal["us", "eu", "other"], *, charge: bool = False
) -> tuple[str, ...]:
    """What to ask local counsel before this agreement is offered, one sentence each; empty when nothing stands out.

    ``charge`` says whether interest or any fee is taken. A caution, not legal advice.
    """
    known = read_settings("lending.toml")
    asked: list[str] = []
    if charge:
        asked.append("Interest or a fee is taken: ask local counsel which disclosures a lender owes.")
    if law == "us" and len(parts) > known["us_most_instalments"].value:
        asked.append(
            f"More than {known['us_most_instalments'].value} instalments in writing: a US office that often does this "
            f"may owe a lender's disclosures even without interest ({known['us_most_instalments'].source})."
        )
    most_days: int = known["eu_most_days"].value
    late = bool(parts) and parts[-1].due > agreed_on + timedelta(days=most_days)
    if law == "eu" and agreed_on >= known["eu_from"].value and late:
        asked.append(
            f"Paid later than {most_days} days after it was agreed: from {known['eu_from'].value.isoformat()} this may "
            f"be consumer credit in the EU even without interest ({known['eu_most_days'].source})."
        )
    return tuple(asked)
