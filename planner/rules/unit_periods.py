"""Time between an advance and its payments, as each law counts it: in unit-periods, or in years.

The rules of counting are those of 12 CFR 1026 (Regulation Z), Appendix J (b)(3) to (b)(5), and of Annex I to Directive
2008/48/EC as amended by Directive 2011/90/EU, which Directive (EU) 2023/2225 keeps. Both are from memory, and held
against the published examples in the tests.
"""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from planner.rules.instalments import add_months, eu_apr, us_apr

Unit = Literal["day", "week", "half month", "month", "year"]
_DAYS = {"week": 7, "half month": 15, "month": 30}
_A_YEAR = {"week": Fraction(52), "half month": Fraction(24), "month": Fraction(12), "year": Fraction(1)}


@dataclass(frozen=True, slots=True)
class UnitPeriod:
    """The interval by which time is counted: ``count`` of one unit, such as 3 months."""

    unit: Unit
    count: int = 1

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ValueError(f"a unit-period of {self.count} {self.unit}s is none: write 1 or more")
        if self.in_a_year < 1:
            raise ValueError(f"a unit-period of {self.count} {self.unit}s is longer than a year, which is the longest")

    @property
    def in_a_year(self) -> Fraction:
        """How many of it make a year: 12 for a month, 365/255 for 255 days."""
        return (Fraction(365) if self.unit == "day" else _A_YEAR[self.unit]) / self.count

    def between(self, first: date, later: date) -> tuple[int, Fraction]:
        """Whole unit-periods from ``first`` to ``later``, counted back from the later day, and the fraction left.

        Raises ValueError when ``later`` lies before ``first``.
        """
        if later < first:
            raise ValueError(f"{later.isoformat()} lies before {first.isoformat()}: nothing is paid before it is lent")
        if self.unit == "day":
            whole, left = divmod((later - first).days, self.count)
            return whole, Fraction(left, self.count)
        if self.unit == "week":
            whole, left = divmod((later - first).days, 7 * self.count)
            return whole, Fraction(left, 7 * self.count)
        months, days = months_between(first, later)
        if self.unit == "year":
            years, months = divmod(months, 12)
            # Whole months are twelfths; any odd day turns all that is left into days.
            if not days:
                return years, Fraction(months, 12)
            return years, Fraction((add_months(later, -12 * years) - first).days, 365)
        whole, left = divmod(30 * months + days, _DAYS[self.unit] * self.count)
        return whole, Fraction(left, _DAYS[self.unit] * self.count)


MONTH = UnitPeriod("month")


def months_between(first: date, later: date) -> tuple[int, int]:
    """Whole months counted back from ``later``, and the days left. The end of a month answers to the end of another."""
    months = (later.year - first.year) * 12 + later.month - first.month
    end = _is_last(later) and _is_last(first)
    while months > 0 and not end and add_months(later, -months) < first:
        months -= 1
    return months, 0 if end else (add_months(later, -months) - first).days


def _is_last(day: date) -> bool:
    return day.day == monthrange(day.year, day.month)[1]


def single_payment_unit(first: date, later: date) -> UnitPeriod:
    """The unit-period of one payment for one advance: the term itself, a year at most, in months where they are whole.

    Raises ValueError when the payment falls on the day of the advance.
    """
    months, days = months_between(first, later)
    if months >= 12:
        return UnitPeriod("year")
    if months and not days:
        return UnitPeriod("month", months)
    return UnitPeriod("day", (later - first).days)


def us_apr_of(
    advanced_on: date, amount: Decimal, payments: Sequence[tuple[Decimal, date]], unit: UnitPeriod
) -> Decimal:
    """The United States' rate of one advance and dated payments, in percent, not rounded.

    Odd days and first periods longer or shorter than the rest are counted as Appendix J asks. Raises ValueError.
    """
    timed = [(paid, *unit.between(advanced_on, on)) for paid, on in payments]
    return us_apr(amount, timed, unit.in_a_year)


def years_between(first: date, later: date) -> Fraction:
    """Years as the European rate counts them: whole months as twelfths, odd days by the year that ends with them.

    Raises ValueError when ``later`` lies before ``first``.
    """
    if later < first:
        raise ValueError(f"{later.isoformat()} lies before {first.isoformat()}: nothing is paid before it is lent")
    months, days = months_between(first, later)
    if not days:
        return Fraction(months, 12)
    ends = first + timedelta(days=days)
    return Fraction(months, 12) + Fraction(days, (ends - add_months(ends, -12)).days)


def eu_apr_of(advanced_on: date, amount: Decimal, payments: Sequence[tuple[Decimal, date]]) -> Decimal:
    """The European Union's rate of one drawdown and dated repayments, in percent, not rounded. Raises ValueError."""
    return eu_apr([(amount, Fraction(0))], [(paid, years_between(advanced_on, on)) for paid, on in payments])
