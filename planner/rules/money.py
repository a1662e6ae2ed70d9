"""An estimate: lines with their fees, packages, discounts and taxes, in one fixed order, in whole cents.

The order is part of the contract with the patient and never changes:

1. quantity × fee, by the shape of the fee (:mod:`planner.rules.fees`)
2. rounding of the line
3. package rules, which follow from the set and unwind with it
4. discounts on single lines
5. discounts on the whole estimate, spread over the lines in proportion
6. tax by the class of each line, on the discounted line
7. total

An office may set, from a day on, that tax is taken before discounts: then the sixth step comes before the fourth, and a
discount lowers no tax. A package is part of the price and lowers it either way.

What follows from the total (deposit, instalments, what is earned, refunds) lies in :mod:`planner.rules.settling` and
:mod:`planner.rules.instalments`. A line and an estimate refuse to exist when their own figures do not add up.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Literal

from planner.rules.book import DiscountLimit, PackageRule, PriceList, Service, TaxBase, TaxRate
from planner.rules.cents import half_up as half_up
from planner.rules.cents import percent_of
from planner.rules.cents import spread as spread
from planner.rules.discounts import Discount as Discount
from planner.rules.discounts import DiscountGiven, faults_as_written, faults_of_limits
from planner.rules.fees import Charge as Charge
from planner.rules.fees import FeeError, LineTaxClass, fee
from planner.rules.teeth import Tooth
from planner.rules.units import format_cents
from planner.rules.words import either, in_cents, told


class EstimateError(ValueError):
    """An estimate that cannot be made; :attr:`faults` says everything that is wrong, one sentence each."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


class SumError(ValueError):
    """Figures that do not add up. Never a person's mistake: a fault of the program or of a tampered copy."""


@dataclass(frozen=True, slots=True)
class Line:
    """One priced line, all amounts in cents."""

    service: str
    code: str
    words: str
    words_es: str
    teeth: tuple[Tooth, ...]
    quantity: int
    visit: int
    unit_cents: int
    gross_cents: int
    package_cents: int
    """Taken off by package rules."""
    discount_cents: int
    """Taken off by discounts on this line."""
    share_cents: int
    """This line's part of discounts on the whole estimate."""
    net_cents: int
    tax_class: LineTaxClass
    tax_reason: str
    tax_percent: Decimal
    taxed_cents: int
    """What the tax is on: what is left, or the fee less packages where tax is taken before discounts."""
    tax_cents: int
    total_cents: int
    lab_cents: int
    """Laboratory cost inside the line; for the deposit, never printed for the patient."""
    pass_through: bool = False
    percent: int = 100
    """Part of the fee that was asked for; a part is no full piece of a package."""
    note: str = ""
    how: tuple[str, ...] = ()

    @property
    def taken_off_cents(self) -> int:
        """Everything that was taken off the fee."""
        return self.package_cents + self.discount_cents + self.share_cents

    def __post_init__(self) -> None:
        parts = (self.gross_cents, self.package_cents, self.discount_cents, self.share_cents, self.tax_cents)
        if min(*parts, self.net_cents, self.lab_cents) < 0:
            raise SumError(f"line {self.code} holds an amount below zero")
        if self.net_cents != self.gross_cents - self.taken_off_cents:
            raise SumError(f"line {self.code}: what is left is not the fee less what was taken off")
        if self.total_cents != self.net_cents + self.tax_cents:
            raise SumError(f"line {self.code}: the total is not what is left plus tax")
        if self.taxed_cents not in (self.net_cents, self.gross_cents - self.package_cents):
            raise SumError(f"line {self.code}: the tax is on neither what is left nor the fee less packages")
        if self.tax_cents > self.taxed_cents:
            raise SumError(f"line {self.code}: the tax is more than what it is on")


@dataclass(frozen=True, slots=True)
class PackageGiven:
    """A package rule that applied, and what it came to."""

    code: str
    words: str
    words_es: str
    percent: Decimal
    cents: int
    kept: bool = False
    """The set has shrunk by the office's choice and the patient keeps it."""
    before_cents: int = 0
    """What the percentage was taken of."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Priced lines and their sums, all amounts in cents."""

    price_list_version: int
    priced_on: date
    lines: tuple[Line, ...]
    packages: tuple[PackageGiven, ...]
    discounts: tuple[DiscountGiven, ...]
    gross_cents: int
    taken_off_cents: int
    net_cents: int
    tax_cents: int
    total_cents: int
    how: tuple[str, ...] = ()
    """How the total was reached, in the fixed order."""

    def __post_init__(self) -> None:
        sums = {
            "the fees": (self.gross_cents, sum(line.gross_cents for line in self.lines)),
            "what was taken off": (self.taken_off_cents, sum(line.taken_off_cents for line in self.lines)),
            "what is left": (self.net_cents, sum(line.net_cents for line in self.lines)),
            "the tax": (self.tax_cents, sum(line.tax_cents for line in self.lines)),
            "the total": (self.total_cents, sum(line.total_cents for line in self.lines)),
            "the packages": (sum(p.cents for p in self.packages), sum(line.package_cents for line in self.lines)),
            "the discounts": (
                sum(given.cents for given in self.discounts),
                sum(line.discount_cents + line.share_cents for line in self.lines),
            ),
        }
        for name, (said, found) in sums.items():
            if said != found:
                raise SumError(f"{name}: {format_cents(said)} said, the lines come to {format_cents(found)}")

    @property
    def taken_off_words(self) -> tuple[str, ...]:
        """Every package and discount in words."""
        packages = (
            f"{either(p.words, p.words_es)}: −{p.percent} % = −{in_cents(p.cents)}"
            + (told(", kept though the set has shrunk") if p.kept else "")
            for p in self.packages
        )
        return (*packages, *(given.words for given in self.discounts))


def estimate(
    charges: Sequence[Charge],
    prices: PriceList,
    taxes: Sequence[TaxRate],
    on: date,
    discounts: Sequence[Discount] = (),
    *,
    limits: Sequence[DiscountLimit] = (),
    tax_rounding: Literal["per line", "per class"] = "per line",
    tax_base: TaxBase = "after discounts",
    kept_packages: Sequence[str] = (),
) -> Estimate:
    """The estimate of ``charges`` at ``prices``, with the taxes in force ``on`` a day.

    ``limits`` are the office's; without any, no discount is allowed. ``kept_packages`` are codes of packages that stay
    although the set has shrunk, because the office and not the patient dropped a line. Raises EstimateError with every
    fault: a service without a price, a quantity that does not fit, a tax class or rate nobody set, a discount nobody
    may give. ``tax_base`` says whether tax is taken after discounts that persons gave, or before them.
    """
    faults = [*faults_as_written(discounts, len(charges))]
    lines: list[Line] = []
    for charge in charges:
        try:
            lines.append(_line(charge, prices, taxes, on))
        except (FeeError, LookupError) as error:
            faults.append(str(error))
    unknown = set(kept_packages) - {rule.code for rule in prices.packages}
    faults += [f'price list {prices.version} has no package "{code}" to keep' for code in sorted(unknown)]
    if faults:
        raise EstimateError(faults)
    how = [told("1–2 fees: {sum}", sum=_adding(line.gross_cents for line in lines))]
    packages = _apply_packages(lines, prices, kept_packages)
    how += [
        told(
            "3 package {code}: {words}, −{percent} % of {base} = −{amount}",
            code=p.code,
            words=either(p.words, p.words_es),
            percent=p.percent,
            base=in_cents(p.before_cents),
            amount=in_cents(p.cents),
        )
        for p in packages
    ]
    before = sum(line.net_cents for line in lines if not line.pass_through or any(d.pass_through for d in discounts))
    given = [*_apply_to_lines(lines, discounts), *_apply_to_whole(lines, discounts)]
    first = tax_base == "before discounts"
    given_how = [f"{(4 if item.discount.line is not None else 5) + first} {item.words}" for item in given]
    if refused := [*faults_of_limits(given, before, limits)]:
        raise EstimateError(refused)
    _apply_taxes(lines, tax_rounding, first=first)
    net, tax = sum(line.net_cents for line in lines), sum(line.tax_cents for line in lines)
    tax_how = []
    for percent in sorted({line.tax_percent for line in lines if line.tax_percent}):
        taxed = [line for line in lines if line.tax_percent == percent]
        amount = in_cents(sum(line.tax_cents for line in taxed))
        base = in_cents(sum(line.taxed_cents for line in taxed))
        tax_how.append(
            told(
                "{n} tax {percent} % of {base} = {amount}",
                n=4 if first else 6,
                percent=percent,
                base=base,
                amount=amount,
            )
        )
    how += [*tax_how, *given_how] if first else [*given_how, *tax_how]
    how.append(
        told("7 total: {net} + tax {tax} = {sum}", net=in_cents(net), tax=in_cents(tax), sum=in_cents(net + tax))
    )
    return Estimate(
        price_list_version=prices.version,
        priced_on=on,
        lines=tuple(lines),
        packages=tuple(packages),
        discounts=tuple(given),
        gross_cents=sum(line.gross_cents for line in lines),
        taken_off_cents=sum(line.taken_off_cents for line in lines),
        net_cents=net,
        tax_cents=tax,
        total_cents=net + tax,
        how=tuple(how),
    )


def tax_rate(taxes: Sequence[TaxRate], tax_class: LineTaxClass, on: date) -> TaxRate:
    """The rate of a class in force ``on`` a day. Raises LookupError with a sentence when nobody has set one."""
    known = [rate for rate in taxes if rate.tax_class == tax_class and rate.effective <= on]
    if not known:
        raise LookupError(
            f'no tax rate for "{tax_class}" is set for {on.isoformat()}: type it, and 0 where there is none'
        )
    return max(known, key=lambda rate: rate.effective)


def _adding(cents: Iterable[int]) -> str:
    parts = tuple(cents)
    return f"{' + '.join(map(in_cents, parts)) or in_cents(0)} = {in_cents(sum(parts))}"


def _line(charge: Charge, prices: PriceList, taxes: Sequence[TaxRate], on: date) -> Line:
    service = prices.service(charge.service)
    priced = fee(charge, service, prices.round_lines_to_cents)
    tax_class, reason = _tax_class(charge, service)
    return Line(
        service=service.key,
        code=service.code,
        words=charge.words or service.words,
        words_es=charge.words_es or service.words_es,
        teeth=charge.teeth,
        quantity=charge.quantity,
        visit=charge.visit,
        unit_cents=priced.unit_cents,
        gross_cents=priced.gross_cents,
        package_cents=0,
        discount_cents=0,
        share_cents=0,
        net_cents=priced.gross_cents,
        tax_class=tax_class,
        tax_reason=reason,
        tax_percent=tax_rate(taxes, tax_class, on).percent,
        taxed_cents=priced.gross_cents,
        tax_cents=0,
        total_cents=priced.gross_cents,
        lab_cents=priced.lab_cents,
        pass_through=service.shape == "pass-through",
        percent=charge.percent,
        note=charge.note or priced.note,
        how=priced.how,
    )


def _tax_class(charge: Charge, service: Service) -> tuple[LineTaxClass, str]:
    name = f'"{service.words}" ({service.code})'
    if service.tax_class == "by line":
        if charge.tax_class is None or not charge.tax_reason.strip():
            raise FeeError(f"{name}: somebody has to say whether it is looks only or reconstructive, and why")
        return charge.tax_class, charge.tax_reason
    if charge.tax_class not in (None, service.tax_class):
        raise FeeError(
            f'{name} is "{service.tax_class}" in the price list, not "{charge.tax_class}"; '
            'set the list to "by line" where it may be either'
        )
    return service.tax_class, charge.tax_reason or told("set in the price list")


def _less(line: Line, *, package: int = 0, discount: int = 0, share: int = 0, why: str = "") -> Line:
    off = package + discount + share
    if not off:
        return line
    return replace(
        line,
        package_cents=line.package_cents + package,
        discount_cents=line.discount_cents + discount,
        share_cents=line.share_cents + share,
        net_cents=line.net_cents - off,
        taxed_cents=line.net_cents - off,
        total_cents=line.total_cents - off,
        how=(*line.how, f"− {in_cents(off)} {why} = {in_cents(line.net_cents - off)}"),
    )


def _apply_packages(lines: list[Line], prices: PriceList, kept: Sequence[str]) -> list[PackageGiven]:
    given: list[PackageGiven] = []
    for rule in prices.packages:
        whole = (place for place, line in enumerate(lines) if line.percent == 100)
        places = [place for place in whole if lines[place].service == rule.service]
        complete = _complete(rule, [lines[place] for place in places])
        if not places or not (complete or rule.code in kept):
            continue
        amounts = [lines[place].net_cents for place in places]
        off = half_up(percent_of(sum(amounts), rule.percent))
        for place, part in zip(places, spread(off, amounts), strict=True):
            lines[place] = _less(lines[place], package=part, why=told("package {code}", code=rule.code))
        given.append(
            PackageGiven(
                rule.code, rule.words, rule.words_es, rule.percent, off, kept=not complete, before_cents=sum(amounts)
            )
        )
    return given


def _complete(rule: PackageRule, lines: Sequence[Line]) -> bool:
    return sum(line.quantity for line in lines) >= rule.at_least


def _apply_to_lines(lines: list[Line], discounts: Sequence[Discount]) -> list[DiscountGiven]:
    given: list[DiscountGiven] = []
    for discount in discounts:
        if discount.line is None:
            continue
        line = lines[discount.line]
        if line.pass_through and not discount.pass_through:
            raise EstimateError([f"line {discount.line + 1} ({line.code}) is a bill passed on; tick it to discount it"])
        off = _at_most(discount, line.net_cents, f"line {discount.line + 1} ({line.code})")
        lines[discount.line] = _less(line, discount=off, why=told("{kind} discount", kind=discount.kind))
        given.append(DiscountGiven(discount, line.net_cents, off))
    return given


def _apply_to_whole(lines: list[Line], discounts: Sequence[Discount]) -> list[DiscountGiven]:
    given: list[DiscountGiven] = []
    for discount in discounts:
        if discount.line is not None:
            continue
        weights = [0 if line.pass_through and not discount.pass_through else line.net_cents for line in lines]
        off = _at_most(discount, sum(weights), "the estimate without bills passed on")
        for place, part in enumerate(spread(off, weights)):
            lines[place] = _less(lines[place], share=part, why=told("share of the discount on the whole"))
        given.append(DiscountGiven(discount, sum(weights), off))
    return given


def _at_most(discount: Discount, base: int, what: str) -> int:
    off = discount.amount(base)
    if off > base:
        raise EstimateError(
            [f"a discount of {format_cents(off)} is more than {what} comes to, {format_cents(base)}; write less"]
        )
    return off


def _apply_taxes(lines: list[Line], rounding: Literal["per line", "per class"], *, first: bool) -> None:
    bases = [line.gross_cents - line.package_cents if first else line.net_cents for line in lines]
    if rounding == "per line":
        taxes = [half_up(percent_of(base, line.tax_percent)) for line, base in zip(lines, bases, strict=True)]
    else:
        taxes = [0] * len(lines)
        for tax_class in sorted({line.tax_class for line in lines}):
            places = [place for place, line in enumerate(lines) if line.tax_class == tax_class]
            amounts = [bases[place] for place in places]
            whole = half_up(percent_of(sum(amounts), lines[places[0]].tax_percent))
            for place, part in zip(places, spread(whole, amounts), strict=True):
                taxes[place] = part
    for place, (line, tax, base) in enumerate(zip(lines, taxes, bases, strict=True)):
        step = told(
            "+ tax {percent} % of {base} = {amount}",
            percent=line.tax_percent,
            base=in_cents(base),
            amount=in_cents(tax),
        )
        how = (*line.how, step) if line.tax_percent else line.how
        lines[place] = replace(line, taxed_cents=base, tax_cents=tax, total_cents=line.net_cents + tax, how=how)
