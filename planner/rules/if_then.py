"""What is agreed beforehand for what may be found: its price range, and what of later work it covers.

A price has a range because of unknown pieces, never because of slow hands. Only a piece that says which service, for
which teeth and how many at most covers anything; a sentence without one is for reading. What is not covered needs a
signature of its own before it is done.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from planner.rules.book import PriceList, Service
from planner.rules.choices import IfThen
from planner.rules.fees import Charge, FeeError, fee
from planner.rules.money import Estimate
from planner.rules.mouth import CaseFacts
from planner.rules.results import FoundShape, RangeShape
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_cents

BY_TOOTH = ("per tooth", "per surface", "first and further")
"""Shapes of a fee that is counted by teeth: such a piece names them."""


# ---------------------------------------------------------------------------------------------------------- pieces


def priced_entries(facts: CaseFacts) -> tuple[IfThen, ...]:
    """The agreed entries that carry a priced piece."""
    return tuple(entry for entry in facts.choices.if_then if isinstance(entry, IfThen))


def piece_fault(entry: IfThen, facts: CaseFacts, prices: PriceList) -> str:
    """Why the piece of ``entry`` cannot be priced or cannot be done in this mouth, in one sentence; empty when it can.

    Such a piece covers nothing and stands in no range.
    """
    try:
        service = prices.service(entry.service)
        if service.shape in BY_TOOTH:
            if not entry.teeth:
                return f'"{service.words}" is priced {service.shape}: say for which teeth it may be needed.'
            gone = {absent.tooth for absent in facts.examination.absent}
            for tooth in entry.teeth:
                if tooth in gone:
                    label = tooth.label(Numbering(facts.numbering))
                    return f'The {label} is recorded as absent: "{service.words}" cannot be done on it.'
        fee(_charge(_shape(entry, service, facts), entry.quantity), service, prices.round_lines_to_cents)
    except (FeeError, LookupError) as error:
        said = str(error.args[0] if error.args else error)
        return f"{said[0].upper()}{said[1:]}."
    return ""


def agreed_notes(facts: CaseFacts, prices: PriceList, options: Collection[str]) -> Iterator[str]:
    """Agreed pieces that cover nothing, and why: one sentence each; ``options`` are the keys there are."""
    for entry in priced_entries(facts):
        if fault := piece_fault(entry, facts, prices):
            yield f"“{entry.words}” covers nothing and stands in no range. {fault}"
        for key in entry.options:
            if key not in options:
                yield f"“{entry.words}” belongs to the option “{key}”, which is not among these options."


def pieces_for(option: str, facts: CaseFacts, prices: PriceList) -> tuple[FoundShape, ...]:
    """The pieces agreed beforehand for ``option``, without those that have a fault."""
    return tuple(
        _shape(entry, prices.service(entry.service), facts)
        for entry in priced_entries(facts)
        if (not entry.options or option in entry.options) and not piece_fault(entry, facts, prices)
    )


def _shape(entry: IfThen, service: Service, facts: CaseFacts) -> FoundShape:
    by_line = service.tax_class == "by line"
    choices = facts.choices
    return FoundShape(
        words=entry.words,
        service=service.key,
        code=service.code,
        service_words=service.words,
        service_words_es=service.words_es,
        teeth=entry.teeth,
        quantity=entry.quantity,
        tax_class=("reconstructive" if choices.reconstructive else "looks only") if by_line else service.tax_class,
        tax_reason=(choices.tax_reason or "Nobody has said that it is reconstructive.") if by_line else "",
    )


def _charge(piece: FoundShape, quantity: int) -> Charge:
    """``quantity`` of a piece as the price list is asked for it; which of its teeth does not change what it costs."""
    times = -(-quantity // len(piece.teeth)) if piece.teeth else 0
    return Charge(
        service=piece.service,
        quantity=quantity,
        teeth=(piece.teeth * times)[:quantity],
        tax_class=piece.tax_class,  # type: ignore[arg-type]
        tax_reason=piece.tax_reason,
    )


# ----------------------------------------------------------------------------------------------------------- range


def range_of(
    charges: Sequence[Charge],
    pieces: Sequence[FoundShape],
    prices: PriceList,
    price: Callable[[Sequence[Charge]], Estimate],
) -> RangeShape:
    """What ``charges`` come to as planned, at least and at most, whatever of ``pieces`` turns out to be needed; cents.

    ``price`` prices charges with everything else that holds: taxes, discounts, packages that stay. A piece that
    completes a package can make the whole cheaper, so the least may lie below the plan, and the most may be reached
    without all of the pieces. Pieces of one service are of one tax class, as all added work of a case is. Raises
    EstimateError as estimate does.
    """
    planned = price(charges).total_cents
    if not pieces:
        return RangeShape(planned, planned, planned, (), ())
    alone = [price([*charges, _charge(piece, piece.quantity)]).total_cents for piece in pieces]
    ways = [
        total
        for counts in _counts(charges, pieces, prices)
        for total in _totals(charges, pieces, counts, prices, price)
    ]
    low, high = min(planned, *alone, *ways), max(planned, *alone, *ways)
    found = tuple(replace(piece, alone_cents=total) for piece, total in zip(pieces, alone, strict=True))
    how = [f"as planned {format_cents(planned)}"]
    how += [
        f"with {one.quantity} × {one.service_words} ({one.code}): {format_cents(one.alone_cents)}, "
        f"{_difference(one.alone_cents - planned)}"
        for one in found
    ]
    how.append(f"whatever of it is needed, between {format_cents(low)} and {format_cents(high)}")
    return RangeShape(low, planned, high, found, tuple(how))


def _difference(cents: int) -> str:
    return f"{format_cents(abs(cents))} {'less' if cents < 0 else 'more'}"


def _counts(charges: Sequence[Charge], pieces: Sequence[FoundShape], prices: PriceList) -> Iterator[tuple[int, ...]]:
    """How many of each piece to try: none, all, and for each package just too few and just enough.

    Between these a total only rises with the number of pieces.
    """
    wanted: dict[str, set[int]] = {}
    for service in dict.fromkeys(piece.service for piece in pieces):
        most = sum(piece.quantity for piece in pieces if piece.service == service)
        there = sum(charge.quantity for charge in charges if charge.service == service and charge.percent == 100)
        tried = {0, most}
        for rule in prices.packages:
            if rule.service == service:
                tried |= {rule.at_least - there - 1, rule.at_least - there}
        wanted[service] = {many for many in tried if 0 <= many <= most}
    packaged = {rule.service for rule in prices.packages}
    free = [service for service in wanted if service not in packaged]
    bound = [service for service in wanted if service in packaged]
    for many in product(*(sorted(wanted[service]) for service in bound)):
        for rest in (min, max):
            sums = dict(zip(bound, many, strict=True)) | {service: rest(wanted[service]) for service in free}
            yield tuple(_shared_out(pieces, sums))


def _shared_out(pieces: Sequence[FoundShape], sums: dict[str, int]) -> Iterator[int]:
    left = dict(sums)
    for piece in pieces:
        many = min(piece.quantity, left[piece.service])
        left[piece.service] -= many
        yield many


def _totals(
    charges: Sequence[Charge],
    pieces: Sequence[FoundShape],
    counts: Sequence[int],
    prices: PriceList,
    price: Callable[[Sequence[Charge]], Estimate],
) -> Iterator[int]:
    """The total with ``counts`` of the pieces, each on one line, and one by one: a rounding may make them differ."""
    asked = list(zip(pieces, counts, strict=True))
    least = {piece.service: prices.service(piece.service).least for piece in pieces}
    together = [_charge(piece, many) for piece, many in asked if many >= least[piece.service]]
    yield price([*charges, *together]).total_cents
    if any(charge.quantity > 1 and least[charge.service] == 1 for charge in together):
        single = [_charge(piece, 1) for piece, many in asked for _ in range(many if least[piece.service] == 1 else 0)]
        whole = [_charge(piece, many) for piece, many in asked if many >= least[piece.service] > 1]
        yield price([*charges, *single, *whole]).total_cents


# -------------------------------------------------------------------------------------------------------- coverage


@dataclass(frozen=True, slots=True)
class _Unit:
    service: str
    tooth: Tooth | None

    def fits(self, piece: FoundShape) -> bool:
        """Whether the piece is of this very service and for this very tooth, or for none where none is named."""
        return piece.service == self.service and (self.tooth in piece.teeth if piece.teeth else self.tooth is None)


def not_covered(
    added: Sequence[Charge], agreed: Sequence[FoundShape], used: Sequence[Charge] = ()
) -> tuple[tuple[str, Tooth | None], ...]:
    """What of ``added`` the pieces ``agreed`` beforehand do not cover: service and tooth of each unit too many.

    A unit is covered by a piece of the same service for the same tooth, each piece as often as it says and no oftener;
    ``used`` was taken of them before. Units are given to pieces so that as many as possible are covered.
    """
    taken: list[list[_Unit]] = [[] for _ in agreed]
    for unit in _units(used):
        _give(unit, agreed, taken, set())
    return tuple((unit.service, unit.tooth) for unit in _units(added) if not _give(unit, agreed, taken, set()))


def _give(unit: _Unit, agreed: Sequence[FoundShape], taken: list[list[_Unit]], tried: set[int]) -> bool:
    """Give ``unit`` to a piece with room, moving others along where that makes room."""
    for place, piece in enumerate(agreed):
        if place in tried or not unit.fits(piece):
            continue
        tried.add(place)
        if len(taken[place]) < piece.quantity:
            taken[place].append(unit)
            return True
        for at, other in enumerate(taken[place]):
            if _give(other, agreed, taken, tried):
                taken[place][at] = unit
                return True
    return False


def _units(charges: Iterable[Charge]) -> Iterator[_Unit]:
    for charge in charges:
        rest = max(charge.quantity - len(charge.teeth), 0)
        yield from (_Unit(charge.service, tooth) for tooth in (*charge.teeth, *(None,) * rest))
