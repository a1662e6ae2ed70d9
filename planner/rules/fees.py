"""How a line comes to its fee: the twelve shapes of a fee, and what a fee should be from what the work costs.

An item has exactly one shape. The office's price list names it; the charge says how much of it there is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from planner.rules.book import OfficeBook, Payee, Service
from planner.rules.cents import half_up, percent_of, up_to_next
from planner.rules.materials import flat_material_cost
from planner.rules.teeth import Tooth
from planner.rules.units import format_cents, many
from planner.rules.words import in_cents, told

LineTaxClass = Literal["looks only", "reconstructive"]


class FeeError(ValueError):
    """A charge that the price list cannot price; the sentence says what would be right."""


MOST_ON_A_LINE = 200
"""Teeth, contacts or visits of one line; more is a slip of the key. No mouth and no course comes near it."""


@dataclass(frozen=True, slots=True)
class Charge:
    """One line asked for: a service, how much of it, where, and how it is taxed."""

    service: str
    """Key into the price list, such as ``build-up``."""
    quantity: int = 1
    """Teeth, units, arches, contacts or visits, by the shape of the fee."""
    teeth: tuple[Tooth, ...] = ()
    """The teeth it is for; a tooth with two restorations stands here twice."""
    tax_class: LineTaxClass | None = None
    """Set by a person where the price list says ``by line``; None takes the price list's own class."""
    tax_reason: str = ""
    """Why that class; wanted wherever a person set it."""
    surfaces: int = 0
    """``per surface``: touched sides plus the edge, of each tooth."""
    minutes: int = 0
    """``per time``."""
    bill_cents: int | None = None
    """``pass-through``: the bill received; None while it is only expected."""
    visit: int = 0
    """Which visit it belongs to, where that matters (``first and further`` starts anew with each visit)."""
    percent: int = 100
    """Part of the fee that is asked for."""
    words: str = ""
    """Printed instead of the price list's words."""
    words_es: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Fee:
    """What a charge comes to before any discount and tax, in cents."""

    unit_cents: int
    gross_cents: int
    lab_cents: int
    """Laboratory cost inside it."""
    how: tuple[str, ...]
    note: str = ""


def fee(charge: Charge, service: Service, round_to: int = 1) -> Fee:
    """The fee of ``charge`` at the price of ``service``, rounded half-up to a multiple of ``round_to`` cents.

    Raises FeeError when quantity and shape do not fit, LookupError when the price has not been typed.
    """
    _check(charge, service)
    unit, exact, how, note = _priced(charge, service)
    if charge.percent != 100:
        exact = Fraction(percent_of(exact, Decimal(charge.percent)))
        how += (told("{percent} % of it", percent=charge.percent),)
        note = note or told("{percent} % of the fee", percent=charge.percent)
    gross = half_up(exact) if service.shape == "pass-through" else half_up(exact, round_to)
    if gross != exact:
        how += (told("rounded to {amount}", amount=in_cents(gross)),)
    return Fee(unit, gross, service.lab_cents * charge.quantity, how, note)


def _priced(charge: Charge, service: Service) -> tuple[int, Fraction, tuple[str, ...], str]:
    price, quantity = service.price, charge.quantity
    match service.shape:
        case "included":
            return 0, Fraction(0), (told("included in another fee: {amount}", amount=in_cents(0)),), ""
        case "first and further":
            further = service.further_cents or 0
            if quantity == 1:
                return price, Fraction(price), (f"1 × {in_cents(price)} = {in_cents(price)}",), ""
            amount = price + (quantity - 1) * further
            how = told(
                "first {first} + {n} further × {further} = {amount}",
                first=in_cents(price),
                n=quantity - 1,
                further=in_cents(further),
                amount=in_cents(amount),
            )
            return price, Fraction(amount), (how,), ""
        case "per time":
            return _per_time(charge, service, price)
        case "pass-through":
            return _passed_through(charge, service, price)
        case "per surface" if charge.surfaces > 1:
            price = service.further_cents or 0
        case _:
            pass
    amount = quantity * price
    return price, Fraction(amount), (f"{quantity} × {in_cents(price)} = {in_cents(amount)}",), ""


def _per_time(charge: Charge, service: Service, price: int) -> tuple[int, Fraction, tuple[str, ...], str]:
    minutes = up_to_next(charge.minutes, service.step_minutes)
    amount = Fraction(price * minutes, 60)
    how: tuple[str, ...] = (
        told(
            "{minutes} minutes, in begun steps of {step}: {begun}",
            minutes=charge.minutes,
            step=service.step_minutes,
            begun=minutes,
        ),
        told(
            "{minutes} ÷ 60 × {price} an hour = {amount}",
            minutes=minutes,
            price=in_cents(price),
            amount=in_cents(half_up(amount)),
        ),
    )
    note = ""
    if service.cap_cents is not None:
        note = told("never more than {amount}", amount=in_cents(service.cap_cents))
        if amount > service.cap_cents:
            amount = Fraction(service.cap_cents)
            how += (note,)
    return price, amount, how, note


def _passed_through(charge: Charge, service: Service, price: int) -> tuple[int, Fraction, tuple[str, ...], str]:
    if charge.bill_cents is None:
        bill, what = price * charge.quantity, told("expected bill")
        note = told("the bill received is charged; this is what it is expected to be")
    else:
        bill, what, note = charge.bill_cents, told("bill received"), told("the bill is shown on request")
    amount = bill + percent_of(bill, service.handling_percent)
    how: tuple[str, ...] = (f"{what} {in_cents(bill)}",)
    if service.handling_percent:
        how += (
            told(
                "+ {percent} % handling = {amount}", percent=service.handling_percent, amount=in_cents(half_up(amount))
            ),
        )
    return price if charge.bill_cents is None else bill, amount, how, note


def _check(charge: Charge, service: Service) -> None:
    shape, quantity, name = service.shape, charge.quantity, f'"{service.words}" ({service.code})'
    if quantity < 1:
        raise FeeError(f"{name}: a quantity of {quantity} is no line; leave the line out or write 1 or more")
    if quantity > MOST_ON_A_LINE:
        raise FeeError(f"{name}: a quantity of {quantity} is a zero too many; a line has {MOST_ON_A_LINE} at most")
    if quantity < service.least:
        raise FeeError(f"{name}: {quantity} is too few; it is made of {service.least} or more")
    if shape in ("per tooth", "per surface", "first and further") and charge.teeth and len(charge.teeth) != quantity:
        raise FeeError(
            f"{name}: {quantity} charged and {many(len(charge.teeth), 'tooth')} named; "
            "name each tooth once for each restoration it gets"
        )
    if shape in ("per patient", "course", "per time") and quantity != 1:
        raise FeeError(f'{name} is priced "{shape}" and can stand once on a line, not {quantity} times')
    if shape == "per arch" and quantity > 2:
        raise FeeError(f"{name}: {quantity} arches; a mouth has two")
    if shape == "per surface" and charge.surfaces < 1:
        raise FeeError(f'{name} is priced "per surface": say how many surfaces')
    if shape == "per time" and charge.minutes < 1:
        raise FeeError(f'{name} is priced "per time": say how many minutes')
    if charge.bill_cents is not None and (shape != "pass-through" or charge.bill_cents < 0):
        raise FeeError(f"{name}: a bill of nothing or more belongs to a price that is passed through, and only there")


def operating_cost_per_hour(yearly_cents: int, chairs: int, weeks: int, hours: int, used_percent: Decimal) -> Fraction:
    """Cents that one productive chair hour costs to run, exact.

    ``yearly_cents`` are the year's running costs without laboratory, materials and pay of who treats; a week has
    ``hours`` for each of the ``chairs``, of which ``used_percent`` are worked. Raises ValueError when there is no hour.
    """
    productive = percent_of(chairs * weeks * hours, used_percent)
    if productive <= 0:
        raise ValueError("a year without a productive chair hour has no cost per hour")
    return Fraction(yearly_cents) / productive


@dataclass(frozen=True, slots=True)
class Cost:
    """What work costs the office, in exact cents: rounded only where it is printed."""

    chair: Fraction
    materials: Fraction
    lab: int
    how: tuple[str, ...]

    @property
    def total(self) -> Fraction:
        return self.chair + self.materials + self.lab

    def fee_for_margin(self, margin_percent: Decimal) -> Fraction:
        """The fee of which ``margin_percent`` is left after this cost. A margin is on the fee, not on the cost.

        Raises ValueError for a margin of 100 % or more.
        """
        if margin_percent >= 100:
            raise ValueError(f"a margin of {margin_percent} % leaves nothing for the cost; it must be below 100 %")
        return self.total / (1 - Fraction(margin_percent) / 100)

    def fee_for_mark_up(self, percent: Decimal) -> Fraction:
        """Cost plus ``percent`` of it: always less than the fee for a margin of the same figure."""
        return self.total + percent_of(self.total, percent)

    def margin_percent(self, fee_cents: int) -> Fraction:
        """The margin that ``fee_cents`` really leaves, percent of the fee. Raises ValueError for a fee of zero."""
        if fee_cents <= 0:
            raise ValueError("a fee of nothing has no margin")
        return (fee_cents - self.total) * 100 / fee_cents


def cost(
    book: OfficeBook, minutes: Sequence[tuple[Payee, int]], *, teeth: int = 0, visits: int = 0, lab_cents: int = 0
) -> Cost:
    """What work costs: minutes by who holds the chair, the flat planning value of materials, laboratory.

    Rates of dentist, hygiene and assistant are never averaged. Raises LookupError when the office has not typed a rate
    or a material value that is needed.
    """
    chair = Fraction(0)
    how: list[str] = []
    for payee, amount in minutes:
        rate = book.chair_rate(payee)
        chair += Fraction(rate * amount, 60)
        how.append(f"{amount} min × {format_cents(rate)} ÷ 60 ({payee}) = {_shown(Fraction(rate * amount, 60))}")
    materials = flat_material_cost(book, teeth, visits) if teeth or visits else Fraction(0)
    if materials:
        how.append(f"materials of {many(teeth, 'tooth')} and {many(visits, 'visit')} with waste = {_shown(materials)}")
    if lab_cents:
        how.append(f"laboratory = {format_cents(lab_cents)}")
    total = chair + materials + lab_cents
    how.append(f"cost = {_shown(total)}")
    return Cost(chair, materials, lab_cents, tuple(how))


def _shown(cents: Fraction) -> str:
    return format_cents(half_up(cents))
