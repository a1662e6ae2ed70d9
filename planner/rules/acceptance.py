"""From a shown estimate to what is agreed: who may say yes, one item for each piece of work, how each earns its fee.

An item is a line of the estimate, or one tooth of it where teeth are finished one by one; the items of a line come to
exactly what the line comes to. A change after acceptance is priced by the list of the day of acceptance, never by a
later one.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from planner.rules import settling
from planner.rules.book import OfficeBook, PriceList, Service
from planner.rules.cents import spread
from planner.rules.choices import DiscountChoice
from planner.rules.discounts import given_on
from planner.rules.fees import Charge
from planner.rules.gate_facts import age_on
from planner.rules.gate_special import LEAP_BIRTHDAY, LEAP_DAYS, MAJORITY, OWN_CONSENT
from planner.rules.money import Estimate, estimate
from planner.rules.mouth import Person
from planner.rules.results import OptionShape, PriceLine
from planner.rules.teeth import Tooth
from planner.rules.treatments import Combination, Treatment
from planner.rules.words import told

PATIENT, DECIDER = "patient", "decision-maker"
"""In which capacity somebody says yes."""
Earning = Literal["finished", "stages", "months", "bill"]

_BY_TOOTH = ("per tooth", "per surface", "first and further")


# -------------------------------------------------------------------------------------------------- who may say yes


def right_person(person: Person, said_by: str, said_as: str, book: OfficeBook, today: date) -> str:
    """Why ``said_by`` may not say yes in the capacity ``said_as``, in one sentence; empty for the right person.

    The ages are the office's legal settings; where they are not entered nobody can be told to be the right one.
    """
    ages = {}
    for key in (OWN_CONSENT, MAJORITY):
        setting = book.legal_on(key, today)
        if setting is None or not setting.value.isdecimal():
            return told(
                'The office has not entered the legal setting "{key}", so it is not known who may say yes.', key=key
            )
        ages[key] = int(setting.value)
    if person.can_decide_alone is None:
        return told("It is not known yet whether the patient can decide alone.")
    leap = book.legal_on(LEAP_BIRTHDAY, today)
    # Unless it is set, the later day: nobody is taken to be of age a day too early.
    later = LEAP_DAYS.get(leap.value, True) if leap else True
    alone = person.can_decide_alone and age_on(person.birth_date, today, later) >= ages[OWN_CONSENT]
    if alone:
        if said_as == PATIENT:
            return ""
        return told("{name} decides alone: the yes is the patient's own.", name=person.name)
    if not person.decision_maker:
        return told("Somebody else has to decide by law, and that person is not named in the file yet.")
    if said_as != DECIDER or _plain(said_by) != _plain(person.decision_maker):
        return told("{who} decides for {name}: the yes has to be theirs.", who=person.decision_maker, name=person.name)
    return ""


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


# ------------------------------------------------------------------------------------------------------- the items


@dataclass(frozen=True, slots=True)
class Amounts:
    """What an item comes to, cents."""

    gross: int
    taken_off: int
    net: int
    tax: int

    @property
    def total(self) -> int:
        return self.net + self.tax


@dataclass(frozen=True, slots=True)
class Draft:
    """One item to be, cut from line ``line`` (counted from 0)."""

    line: int
    source: PriceLine
    teeth: tuple[Tooth, ...]
    quantity: int
    amounts: Amounts
    earns: Earning
    months: int | None = None
    treatment: str = ""


def charge_of(line: PriceLine) -> Charge:
    """The charge that a priced line answers, so that it can be priced again."""
    return Charge(
        service=line.service,
        quantity=line.quantity,
        teeth=line.teeth,
        tax_class=line.tax_class,  # type: ignore[arg-type]
        tax_reason=line.tax_reason or "as on the estimate",
        percent=line.percent,
    )


def earning_of(service: Service, book: OfficeBook) -> Earning:
    """How the fee of a service is earned: by the bill, by months, by stages of work outside the mouth, or when done."""
    if service.shape == "pass-through":
        return "bill"
    if service.shape == "course":
        return "months"
    return "stages" if service.lab_cents and service.key not in book.deposit_in_full else "finished"


def is_by_tooth(service: Service, book: OfficeBook) -> bool:
    """Whether the service is finished tooth by tooth; what is made for several at once is one item."""
    return service.shape in _BY_TOOTH and service.key not in book.deposit_in_full


def drafts(
    lines: Sequence[PriceLine],
    prices: PriceList,
    book: OfficeBook,
    *,
    months: int = 0,
    treatments: Mapping[str, str] | None = None,
) -> tuple[Draft, ...]:
    """The items of ``lines``. ``months`` is how long a course goes on; ``treatments`` say which one asks for what.

    Raises LookupError for a service that the price list does not have.
    """
    found: list[Draft] = []
    for place, line in enumerate(lines):
        service = prices.service(line.service)
        earns = earning_of(service, book)
        for teeth, quantity, amounts in _cut(line, service, book):
            found.append(
                Draft(
                    line=place,
                    source=line,
                    teeth=teeth,
                    quantity=quantity,
                    amounts=amounts,
                    earns=earns,
                    months=max(months, 1) if earns == "months" else None,
                    treatment=(treatments or {}).get(line.service, ""),
                )
            )
    return tuple(found)


def _cut(line: PriceLine, service: Service, book: OfficeBook) -> Iterable[tuple[tuple[Tooth, ...], int, Amounts]]:
    whole = Amounts(line.gross_cents, line.discount_cents, line.net_cents, line.tax_cents)
    many = len(line.teeth)
    if many < 2 or many != line.quantity or not is_by_tooth(service, book):
        return [(line.teeth, line.quantity, whole)]
    weights = [1] * many
    if service.shape == "first and further":
        weights = [service.price, *[service.further_cents or 0] * (many - 1)]
    gross = spread(line.gross_cents, weights)
    off = spread(line.discount_cents, gross)
    net = tuple(one - less for one, less in zip(gross, off, strict=True))
    # Tax that was taken before discounts follows the fee: a tooth that costs nothing any more still has its part.
    tax = spread(line.tax_cents, net if line.tax_base_cents == line.net_cents else gross)
    parts = zip(line.teeth, gross, off, net, tax, strict=True)
    return [((tooth,), 1, Amounts(*amounts)) for tooth, *amounts in parts]


def who_asks(
    option: OptionShape, treatments: Mapping[str, Treatment], combination: Combination | None = None
) -> dict[str, str]:
    """For each service the treatment of ``option`` that asks for it; the first where several do, "" for none."""
    found: dict[str, str] = {}
    for key in option.treatments:
        for rule in treatments[key].charges:
            found.setdefault(rule.service, key)
        for care in treatments[key].after:
            if care.service:
                found.setdefault(care.service, key)
    for rule in combination.charges if combination else ():
        found.setdefault(rule.service, rule.counted_of or option.treatments[-1])
    return found


# ------------------------------------------------------------------------------------------------------- changes


@dataclass(frozen=True, slots=True)
class Amended:
    """An accepted estimate before and after a change."""

    before: Estimate
    after: Estimate
    change: settling.Amendment
    kept_packages: tuple[str, ...]


def amended(
    charges: Sequence[Charge],
    dropped: Mapping[int, Sequence[Tooth | None]],
    added: Sequence[Charge],
    book: OfficeBook,
    *,
    price_list_version: int,
    accepted_on: date,
    office_dropped: bool,
    option: str = "",
    discounts: Sequence[DiscountChoice] = (),
    kept_packages: Sequence[str] = (),
    more_removal: bool = False,
    new_material_risk: bool = False,
) -> Amended:
    """What ``charges`` come to once pieces of them are dropped and others added, at the prices of ``accepted_on``.

    ``dropped`` says for each charge, by its place, which teeth fall away; None for the whole line. A package whose set
    shrank because the office dropped a line stays; ``kept_packages`` stay from earlier changes. ``discounts`` that are
    allowed on ``option`` stay while their line does. Raises EstimateError as estimate does, LookupError when the book
    no longer has that price list.
    """
    prices = list_of(book, price_list_version)

    def priced(asked: Sequence[Charge], kept: Sequence[str]) -> Estimate:
        return priced_as_accepted(
            asked,
            book=book,
            prices=prices,
            accepted_on=accepted_on,
            option=option,
            discounts=discounts,
            kept_packages=kept,
        )

    before = priced(charges, kept_packages)
    rest = [*_rest(charges, dropped), *added]
    kept = set(kept_packages)
    if office_dropped:
        kept |= {given.code for given in before.packages}
    left = {charge.service for charge in rest}
    kept = {rule.code for rule in prices.packages if rule.code in kept and rule.service in left}
    after = priced(rest, sorted(kept))
    change = settling.amendment(before, after, book, more_removal=more_removal, new_material_risk=new_material_risk)
    really = tuple(given.code for given in after.packages if given.kept)
    return Amended(before, after, change, really)


def priced_as_accepted(
    charges: Sequence[Charge],
    *,
    book: OfficeBook,
    prices: PriceList,
    accepted_on: date,
    option: str = "",
    discounts: Sequence[DiscountChoice] = (),
    kept_packages: Sequence[str] = (),
) -> Estimate:
    """``charges`` at prices, taxes and discounts of the day of acceptance. Raises EstimateError as estimate does."""
    services = tuple(charge.service for charge in charges)
    staying = [one for one in discounts if not one.line or one.line in services]
    return estimate(
        charges,
        prices,
        book.tax_rates,
        accepted_on,
        given_on(option, staying, services),
        limits=book.discount_limits,
        tax_rounding=book.tax_rounding,
        tax_base=book.tax_base,
        kept_packages=kept_packages,
    )


def list_of(book: OfficeBook, version: int) -> PriceList:
    """The price list of that version. Raises LookupError when the book has none."""
    for prices in book.price_lists:
        if prices.version == version:
            return prices
    raise LookupError(f"the office book has no price list {version}")


def _rest(charges: Sequence[Charge], dropped: Mapping[int, Sequence[Tooth | None]]) -> list[Charge]:
    left = []
    for place, charge in enumerate(charges):
        away = dropped.get(place, ())
        if None in away:
            continue
        teeth = tuple(tooth for tooth in charge.teeth if tooth not in away)
        if not away:
            left.append(charge)
        elif teeth:
            left.append(replace(charge, teeth=teeth, quantity=len(teeth)))
    return left
