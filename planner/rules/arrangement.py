"""An arrangement to pay in parts: what is asked for, what it comes to, and what speaks against it.

Everything the page shows while somebody types and everything the agreement prints is worked out here, once. Law is
never decided: where lending law may come in, the arrangement carries a question for local counsel.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal, get_args

from planner.rules.instalments import (
    Instalment,
    add_months,
    instalments,
    lending_questions,
    printed_rate,
    schedule,
    within_us_tolerance,
)
from planner.rules.settings import read_settings
from planner.rules.unit_periods import MONTH, eu_apr_of, us_apr_of
from planner.rules.units import format_cents
from planner.rules.words import decimal, in_cents, told

Law = Literal["us", "eu", "other"]
LAWS: tuple[Law, ...] = get_args(Law)
US_RATE = "Annual percentage rate, United States (Regulation Z, nominal)"
EU_RATE = "Annual percentage rate of charge, European Union (effective)"


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody would like to arrange. Amounts in cents of ``currency``."""

    total_cents: int
    """What was estimated and accepted, taxes included."""
    deposit_cents: int
    count: int
    """Monthly instalments after the deposit."""
    first_due: date
    agreed_on: date
    accepted_on: date | None
    """The day of the yes; None while nobody has said it."""
    currency: str
    """Of the estimate."""
    office_currency: str
    """In which the office takes money today."""
    law: Law
    at_most: int
    """Instalments this office agrees to."""
    yearly_percent: Decimal = Decimal(0)
    """Interest, nominal by the year; 8.24 is 8.24 %."""
    fitted_on: date | None = None
    """When work from the laboratory is fitted, where there is any and a day is known."""


class ArrangementError(ValueError):
    """An arrangement that cannot be made: ``faults`` holds (field, sentence)."""

    def __init__(self, faults: tuple[tuple[str, str], ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(sentence for _field, sentence in faults))


@dataclass(frozen=True, slots=True)
class Due:
    """One instalment, in cents."""

    number: int
    on: date
    cents: int
    interest_cents: int
    left_cents: int
    """Still owed after it."""


@dataclass(frozen=True, slots=True)
class Rate:
    """A yearly rate with the law whose rule it follows, as printed."""

    label: str
    percent: Decimal
    note: str


@dataclass(frozen=True, slots=True)
class Arrangement:
    """What was asked for, worked out. Amounts in cents."""

    asked: Asked
    dues: tuple[Due, ...]
    financed_cents: int
    """The total less the deposit."""
    charge_cents: int
    """All interest: what paying in parts costs."""
    paid_cents: int
    """All instalments together."""
    price_cents: int
    """Deposit and instalments together."""
    rates: tuple[Rate, ...]
    warnings: tuple[str, ...]
    questions: tuple[str, ...]
    """For local counsel, before this is offered."""
    how: tuple[str, ...]


def arrange(asked: Asked) -> Arrangement:
    """Work ``asked`` out. Raises ArrangementError with every fault, each with its field and a sentence."""
    if faults := _faults(asked):
        raise ArrangementError(faults)
    financed = asked.total_cents - asked.deposit_cents
    try:
        dues = _with_interest(asked, financed) if asked.yearly_percent else _without(asked, financed)
        if min(due.cents for due in dues) < 1:
            raise ValueError(f"{format_cents(financed)} cannot be paid in {asked.count} parts of a cent or more")
        rates = _rates(asked, financed, dues)
    except ValueError as error:
        raise ArrangementError((("count", f"{str(error)[:1].upper()}{str(error)[1:]}."),)) from None
    charge = sum(due.interest_cents for due in dues)
    paid = sum(due.cents for due in dues)
    parts = [Instalment(due.on, due.cents) for due in dues]
    return Arrangement(
        asked=asked,
        dues=dues,
        financed_cents=financed,
        charge_cents=charge,
        paid_cents=paid,
        price_cents=asked.deposit_cents + paid,
        rates=rates,
        warnings=_warnings(asked, dues),
        questions=lending_questions(parts, asked.agreed_on, asked.law, charge=charge > 0),
        how=_how(asked, financed, dues, charge),
    )


def _faults(asked: Asked) -> tuple[tuple[str, str], ...]:
    said: list[tuple[str, str]] = []
    if asked.currency != asked.office_currency:
        said.append(
            (
                "",
                f"The estimate is in {asked.currency} and this office now takes {asked.office_currency}: amounts of "
                "two currencies are not put into one agreement. Issue the estimate anew first.",
            )
        )
    if asked.total_cents < 1:
        said.append(("", "Nothing is to be paid here, so there is nothing to arrange."))
    if asked.deposit_cents < 0:
        said.append(("deposit", f"A deposit of {format_cents(asked.deposit_cents)} is below nothing: write 0 or more."))
    elif asked.deposit_cents >= asked.total_cents > 0:
        said.append(
            (
                "deposit",
                f"A deposit of {format_cents(asked.deposit_cents)} leaves nothing of {format_cents(asked.total_cents)} "
                "to pay in parts: write less.",
            )
        )
    if asked.count < 1:
        said.append(("count", f"{asked.count} instalments are none: write 1 or more."))
    elif asked.count > asked.at_most:
        said.append(
            ("count", f"{asked.count} instalments are too many: this office agrees to {asked.at_most} at most.")
        )
    if not 0 <= asked.yearly_percent < 100:
        said.append(("rate", f"A yearly rate of {asked.yearly_percent} % is none: write 0, or a number below 100."))
    if asked.accepted_on is not None and asked.first_due < asked.accepted_on:
        said.append(
            (
                "first_due",
                f"The first instalment would be due on {asked.first_due.isoformat()}, before the yes of "
                f"{asked.accepted_on.isoformat()}: nothing is owed before it.",
            )
        )
    elif asked.first_due < asked.agreed_on:
        said.append(
            (
                "first_due",
                f"The first instalment would be due on {asked.first_due.isoformat()}, before the agreement of "
                f"{asked.agreed_on.isoformat()}: choose that day or a later one.",
            )
        )
    return tuple(said)


def _without(asked: Asked, financed: int) -> tuple[Due, ...]:
    left, dues = financed, []
    for number, part in enumerate(instalments(financed, asked.count, asked.first_due, at_most=asked.at_most), start=1):
        left -= part.cents
        dues.append(Due(number, part.due, part.cents, 0, left))
    return tuple(dues)


def _with_interest(asked: Asked, financed: int) -> tuple[Due, ...]:
    rows = schedule(financed, asked.yearly_percent / 100, asked.count)
    return tuple(
        Due(
            row.number,
            add_months(asked.first_due, row.number - 1),
            row.payment_cents,
            row.interest_cents,
            row.balance_cents,
        )
        for row in rows
    )


def _rates(asked: Asked, financed: int, dues: tuple[Due, ...]) -> tuple[Rate, ...]:
    """The rates that the law in force asks for, both where it is neither, from the payments as rounded to cents."""
    amount = Decimal(financed) / 100
    paid = [(Decimal(due.cents) / 100, due.on) for due in dues]
    found = []
    if asked.law != "eu":
        exact = us_apr_of(asked.agreed_on, amount, paid, MONTH)
        printed = printed_rate(exact)
        assert within_us_tolerance(exact, printed)  # two decimals lie well within it
        eighths: int = read_settings("lending.toml")["us_tolerance_eighths"].value["regular"]
        near = told("accurate within {part} of a percentage point", part=Fraction(eighths, 8))
        found.append(Rate(told(US_RATE), printed, near))
    if asked.law != "us":
        printed = printed_rate(eu_apr_of(asked.agreed_on, amount, paid), 1)
        label = told(EU_RATE)
        found.append(Rate(label, printed, told("to one decimal, the next one rounded half up")))
    return tuple(found)


def _warnings(asked: Asked, dues: tuple[Due, ...]) -> tuple[str, ...]:
    if asked.fitted_on is None or dues[-1].on <= asked.fitted_on:
        return ()
    fitting = sum(due.on <= asked.fitted_on for due in dues)
    return (
        f"The last instalment is due on {dues[-1].on.isoformat()}, after the work from the laboratory is fitted on "
        f"{asked.fitted_on.isoformat()}. Payments should end before or on that day: {fitting} of {asked.count} do.",
    )


def _how(asked: Asked, financed: int, dues: tuple[Due, ...], charge: int) -> tuple[str, ...]:
    first = told(
        "{total} − deposit {deposit} = {rest}",
        total=in_cents(asked.total_cents),
        deposit=in_cents(asked.deposit_cents),
        rest=in_cents(financed),
    )
    equal, last = dues[:-1], dues[-1]
    parts = told("{n} × {each} + last {last}", n=len(equal), each=in_cents(dues[0].cents), last=in_cents(last.cents))
    if not equal:
        parts = told("one of {last}", last=in_cents(last.cents))
    paid = in_cents(sum(due.cents for due in dues))
    if not charge:
        return first, told("no interest: {parts} = {paid}; the last one takes the remainder", parts=parts, paid=paid)
    return (
        first,
        told(
            "interest {rate} % a year on what is still owed, by equal months, the time to the first instalment "
            "counted as one; each month rounded half-up",
            rate=decimal(str(asked.yearly_percent)),
        ),
        told("{parts} = {paid}, of which interest {charge}", parts=parts, paid=paid, charge=in_cents(charge)),
    )
