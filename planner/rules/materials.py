"""How much of which material a visit takes, what it costs, and what to order before it runs out or runs old.

Two figures are kept apart. The *price* of an option uses the office's flat planning value per tooth and visit. The
*stock forecast* uses the geometry of what is added: millimetres added × height × depth × taper, as grams, with the
office's allowance for waste, shared among the composites as the office uses them. Amounts are in the unit of the pack.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import ceil

from planner.rules.book import MaterialUse, OfficeBook
from planner.rules.cents import half_up, percent_of
from planner.rules.courses import Work
from planner.rules.settings import read_settings
from planner.rules.teeth import Tooth
from planner.rules.units import many

_HUNDREDTH = Decimal("0.01")


def flat_material_cost(book: OfficeBook, teeth: int, visits: int) -> Fraction:
    """The office's planning value of the materials for so many teeth and visits, with waste, in exact cents.

    Raises LookupError when the office has not typed it.
    """
    if book.material_cents_per_tooth is None or book.material_cents_per_visit is None:
        raise LookupError("material_cents_per_tooth and material_cents_per_visit have not both been typed yet")
    bare = book.material_cents_per_tooth * teeth + book.material_cents_per_visit * visits
    return bare + percent_of(bare, book.material_waste_percent)


@dataclass(frozen=True, slots=True)
class Built:
    """What is added to one tooth, in tenths of a millimetre."""

    tooth: Tooth
    width: int
    """Before anything is added."""
    length: int
    mesial: int = 0
    distal: int = 0
    lengthening: int = 0
    face: bool = False
    """The whole face is covered as well."""

    @classmethod
    def of(cls, work: Work, width: int, length: int, *, face: bool = False) -> "Built":
        """What ``work`` adds to its tooth of measured ``width`` and ``length``. Raises ValueError without a tooth."""
        if work.tooth is None:
            raise ValueError(f"{work.treatment} is work on no tooth; nothing is built")
        return cls(work.tooth, width, length, work.mesial, work.distal, work.lengthening, face)

    @property
    def cubic_tenths(self) -> Fraction:
        """Volume added, in thousandths of a cubic millimetre (tenths cubed), exact."""
        settings = read_settings("materials.toml")
        depths: dict[str, int] = settings["depth_tenths"].value
        depth = depths.get(self.tooth.kind.value, depths["other"])
        taper = Fraction(settings["taper"].value)
        height = self.length + self.lengthening
        sides = (self.mesial + self.distal) * height * depth
        edge_depth: int = settings["edge_depth_tenths"].value
        edge = self.lengthening * (self.width + self.mesial + self.distal) * edge_depth
        thickness: int = settings["face_thickness_tenths"].value
        face = self.width * self.length * thickness if self.face else 0
        return taper * (sides + edge + face)

    @property
    def grams(self) -> Fraction:
        """Paste composite that stays on the tooth, without waste."""
        density = Fraction(read_settings("materials.toml")["density"].value)
        return self.cubic_tenths / 1000 * density / 1000


@dataclass(frozen=True, slots=True)
class Need:
    """So much of one material, in the unit of its pack."""

    material: str
    words: str
    unit: str
    amount: Decimal
    cents: int | None
    """Its part of the price of a pack, half-up; None while the pack has no price."""
    how: str

    @property
    def said(self) -> str:
        """The amount with its unit: ``0.13 g``, ``1 sheet``."""
        whole = self.amount == self.amount.to_integral_value()
        return f"{int(self.amount) if whole else self.amount} {self.unit}"


def latex_free(materials: Sequence[MaterialUse], book: OfficeBook, latex: bool | None) -> tuple[MaterialUse, ...]:
    """``materials`` with exactly one of each pair that comes with and without latex.

    ``latex`` is whether the patient must not meet it: True, False, or None where nobody asked, which counts as True.
    Only with a plain "no" does the office's latex material stay, and then it stands for the other one. One that the
    office has no latex-free kind of is left out, never used.
    """
    pairs: dict[str, str] = read_settings("materials.toml")["latex_free_instead"].value
    keys = {row.key for row in materials}
    gone: set[str] = set()
    come: list[str] = []
    for with_latex, without in pairs.items():
        if with_latex in keys and latex is False:
            gone.add(without)
        elif with_latex in keys:
            gone.add(with_latex)
            come.append(without)
    return tuple(row for row in book.materials if (row.key in keys or row.key in come) and row.key not in gone)


def forecast(
    book: OfficeBook,
    treatment: str,
    materials: Sequence[str],
    built: Sequence[Built] = (),
    *,
    teeth: int = 0,
    visits: int = 1,
    arches: int = 0,
    latex: bool | None = None,
) -> tuple[Need, ...]:
    """What one treatment takes from the shelf, in the order of the office's list.

    ``materials`` are the keys the treatment's own file names; the office's book may add some. Where ``built`` says
    what is added, composites follow from it; else the office's amount per tooth is taken for ``teeth`` (the number
    built, when not given). Waste is added except to what is counted in whole pieces. ``latex`` as in
    :func:`latex_free`.
    """
    count = teeth or len(built)
    named = [row for row in book.materials if row.key in materials or treatment in row.treatments]
    used = latex_free(named, book, latex)
    shared = sum((Fraction(material.per_tooth) for material in used if material.by_geometry), Fraction(0))
    grams = sum((tooth.grams for tooth in built), Fraction(0))
    needs: list[Need] = []
    for material in used:
        from_geometry = material.by_geometry and bool(built) and shared > 0
        if from_geometry:
            bare = grams * Fraction(material.per_tooth) / shared
            how = f"{_amount(grams)} {material.unit} added by its measurements, {_amount(bare)} of it in this material"
        else:
            bare = Fraction(material.per_tooth) * count
            bare += Fraction(material.per_visit) * visits + Fraction(material.per_arch) * arches
            parts = f"{many(count, 'tooth')}, {many(visits, 'visit')}, {arches} {'arch' if arches == 1 else 'arches'}"
            how = f"{parts} as the office uses it: {_amount(bare)}"
        if not bare:
            continue
        if material.whole:
            needs.append(_need(material, Fraction(ceil(bare)), how))
        else:
            full = bare + percent_of(bare, book.stock_waste_percent)
            needs.append(_need(material, full, f"{how}, + {book.stock_waste_percent} % waste"))
    return tuple(needs)


def _need(material: MaterialUse, exact: Fraction, how: str) -> Need:
    price = material.pack_cents
    cents = None if price is None else half_up(price * exact / Fraction(material.pack_amount))
    return Need(material.key, material.words, material.unit, _amount(exact), cents, how)


def together(needs: Sequence[Need]) -> tuple[Need, ...]:
    """The same material of several treatments or visits as one need, in the order first met."""
    found: dict[str, Need] = {}
    for need in needs:
        if known := found.get(need.material):
            cents = None if known.cents is None or need.cents is None else known.cents + need.cents
            how = known.how if known.how == need.how else f"{known.how}; {need.how}"
            need = replace(known, amount=known.amount + need.amount, cents=cents, how=how)
        found[need.material] = need
    return tuple(found.values())


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """What the materials of a forecast cost, beside the office's flat planning value."""

    cents: int
    """Of what has a price, each material rounded half-up to cents."""
    unpriced: tuple[str, ...]
    """Materials whose pack has no price yet: the sum is short of them."""


def material_cost(needs: Sequence[Need]) -> MaterialCost:
    """What ``needs`` cost by the prices of their packs."""
    return MaterialCost(
        sum(need.cents for need in needs if need.cents is not None),
        tuple(need.words for need in needs if need.cents is None),
    )


def _amount(exact: Fraction) -> Decimal:
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(_HUNDREDTH, ROUND_HALF_UP)


@dataclass(frozen=True, slots=True)
class Lot:
    """One lot on the shelf."""

    material: str
    code: str
    amount: Decimal
    """What is left of it, in the unit of the pack."""
    expires: date | None = None
    """Last day on which it may be used."""


@dataclass(frozen=True, slots=True)
class Shortage:
    """A booked visit for which the shelf will not hold enough that is still good."""

    material: str
    on: date
    missing: Decimal


@dataclass(frozen=True, slots=True)
class RunsOld:
    """A lot of which something is left when it expires."""

    lot: Lot
    left: Decimal
    visits_after: int
    """Booked visits that need this material after it has expired."""


@dataclass(frozen=True, slots=True)
class Order:
    """Whole packs to order of one material."""

    material: str
    packs: int
    why: str
    words: str
    unit: str
    pack_amount: Decimal
    cents: int | None
    """What the packs cost; None while a pack has no price."""


@dataclass(frozen=True, slots=True)
class StockReport:
    shortages: tuple[Shortage, ...]
    runs_old: tuple[RunsOld, ...]
    orders: tuple[Order, ...]
    used_from: tuple[tuple[date, str, str, Decimal], ...]
    """Day, material, lot and amount: which lot each visit is meant to use."""


def check_stock(
    book: OfficeBook, visits: Sequence[tuple[date, Sequence[Need]]], lots: Sequence[Lot], today: date
) -> StockReport:
    """Which booked visits the shelf can serve, lot by lot, what will run old, and what to order.

    Each visit takes what expires first among what is still good on its day. Lots already expired on ``today`` are not
    counted. Packs to order cover what is missing and bring the shelf back to the office's reorder mark.
    """
    left = [lot for lot in lots if lot.expires is None or lot.expires >= today]
    left.sort(key=lambda lot: (lot.material, lot.expires or date.max, lot.code))
    shortages: list[Shortage] = []
    used: list[tuple[date, str, str, Decimal]] = []
    for on, needs in sorted(visits, key=lambda visit: visit[0]):
        for need in needs:
            missing = need.amount
            for place, lot in enumerate(left):
                taken = min(lot.amount, missing)
                if lot.material == need.material and taken > 0 and (lot.expires is None or lot.expires >= on):
                    left[place] = replace(lot, amount=lot.amount - taken)
                    used.append((on, need.material, lot.code, taken))
                    missing -= taken
            if missing > 0:
                shortages.append(Shortage(need.material, on, missing))
    last = max((on for on, _ in visits), default=today)
    return StockReport(
        tuple(shortages),
        tuple(_running_old(left, visits, last)),
        tuple(_orders(book, left, shortages, last)),
        tuple(used),
    )


def _running_old(left: Sequence[Lot], visits: Sequence[tuple[date, Sequence[Need]]], last: date) -> Iterator[RunsOld]:
    for lot in left:
        if lot.amount > 0 and lot.expires is not None and lot.expires <= last:
            after = sum(
                on > lot.expires and any(need.material == lot.material for need in needs) for on, needs in visits
            )
            yield RunsOld(lot, lot.amount, after)


def _orders(book: OfficeBook, left: Sequence[Lot], shortages: Sequence[Shortage], last: date) -> Iterator[Order]:
    for material in book.materials:
        missing = sum((item.missing for item in shortages if item.material == material.key), Decimal(0))
        good = sum(
            (lot.amount for lot in left if lot.material == material.key and (lot.expires or date.max) >= last),
            Decimal(0),
        )
        mark = material.reorder_at if material.whole else material.reorder_at * material.pack_amount
        if not missing and good >= mark:
            continue
        wanted = missing + max(mark - good, Decimal(0))
        why = f"{missing} {material.unit} missing for booked visits, " if missing else ""
        why += f"{good} {material.unit} left after booked visits, reorder mark {mark} {material.unit}"
        packs = ceil(wanted / material.pack_amount)
        cents = None if material.pack_cents is None else packs * material.pack_cents
        yield Order(material.key, packs, why, material.words, material.unit, material.pack_amount, cents)
