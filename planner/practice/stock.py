"""Stock as facts: lots that came, and every move of them. What is left is added up, and never below nothing.

Whoever writes waits at the office's row, so that two people cannot use the same last gram.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, Sum
from django.utils.translation import gettext as _

from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Office, Staff
from planner.practice.stock_models import MoveKind, StockLot, StockMove
from planner.rules.book import MaterialUse, OfficeBook
from planner.rules.materials import Lot
from planner.rules.settings import read_settings
from planner.trail.errors import Refused
from planner.trail.services import record

MOST_PACKS = 9999
MOST_AMOUNT = Decimal(1_000_000)
"""Units in a pack or in a count; above it a zero too many was typed."""
LATEST = timedelta(days=365 * 20)
"""No material keeps longer than this: a last day after it is a slip."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Packs that came, as somebody wrote them down."""

    material: str
    code: str
    packs: int
    pack_amount: Decimal
    unit: str
    expires: date | None
    received: date


def hundredths(amount: Decimal, field: str = "amount") -> int:
    """``amount`` in whole hundredths of its unit. Raises Refused for what is finer, negative or absurd."""
    if not amount.is_finite() or amount < 0:
        raise Refused(_("%(amount)s is not an amount on a shelf: write 0 or more.") % {"amount": amount}, field=field)
    if amount > MOST_AMOUNT:
        said = {"amount": f"{amount:f}", "most": f"{MOST_AMOUNT:,}"}
        raise Refused(_("%(amount)s is more than %(most)s: look for a zero too many.") % said, field=field)
    whole = amount * 100
    if whole != whole.to_integral_value():
        raise Refused(
            _("%(amount)s is finer than hundredths: two decimals at most.") % {"amount": f"{amount:f}"}, field=field
        )
    return int(whole)


def material_of(book: OfficeBook, key: str) -> MaterialUse:
    """The material called ``key``. Raises Refused when the office book has none."""
    for material in book.materials:
        if material.key == key:
            return material
    raise Refused(
        _("“%(key)s” is not a material of the office book: add it there first, or choose one of its materials.")
        % {"key": key},
        field="material",
    )


def receive(*, arrival: Arrival, actor: Staff, now: datetime) -> StockLot:
    """Put packs on the shelf. Raises Refused with the sentence for the field at fault."""
    require(actor, Act.CREATE, Thing.STOCK, subject=actor.office)
    day = books.today(actor.office, now)
    material = material_of(books.current_book(actor.office, day), arrival.material)
    pack = _arrival_fits(arrival, material, day)
    code = arrival.code.strip()
    with transaction.atomic():
        _hold(actor.office)
        lot = StockLot.objects.create(
            office=actor.office,
            material=material.key,
            unit=material.unit,
            code=code,
            packs=arrival.packs,
            pack_hundredths=pack,
            expires=arrival.expires,
            received=arrival.received,
            by=actor,
            at=now,
        )
        _move(lot, MoveKind.RECEIVED, arrival.packs * pack, "", arrival.received, actor, now)
        content = {"material": material.key, "code": code, "hundredths": arrival.packs * pack}
        record(actor=actor, act="stock.receive", subject=lot, content=content, at=now)
    return lot


def _arrival_fits(arrival: Arrival, material: MaterialUse, day: date) -> int:
    """What a pack holds in hundredths, once everything about the arrival can be true. Raises Refused."""
    if not arrival.code.strip():
        raise Refused(_("The lot number is missing: it is how a recall finds the pack."), field="code")
    if not 1 <= arrival.packs <= MOST_PACKS:
        raise Refused(
            _("%(packs)s packs cannot have come: write 1 to %(most)s.") % {"packs": arrival.packs, "most": MOST_PACKS},
            field="packs",
        )
    if arrival.unit != material.unit:
        raise Refused(
            _("The office book counts %(words)s in %(unit)s, not in %(other)s: write what the pack holds in %(unit)s.")
            % {"words": material.words, "unit": material.unit, "other": arrival.unit},
            field="pack_amount",
        )
    pack = hundredths(arrival.pack_amount, "pack_amount")
    if not pack:
        raise Refused(_("A pack that holds nothing cannot be used: write what it holds."), field="pack_amount")
    if material.whole and pack % 100:
        said = {"words": material.words, "unit": material.unit}
        raise Refused(_("%(words)s is counted in whole pieces (%(unit)s).") % said, field="pack_amount")
    if arrival.received > day:
        raise Refused(_("It cannot have come on a day that is still to come."), field="received")
    if arrival.expires is not None and arrival.expires < day:
        raise Refused(
            _("It expired on %(day)s and may not be used: send it back, and do not put it on the shelf.")
            % {"day": arrival.expires.isoformat()},
            field="expires",
        )
    if arrival.expires is not None and arrival.expires > day + LATEST:
        raise Refused(
            _("%(day)s is more than twenty years away: look at the year.") % {"day": arrival.expires.isoformat()},
            field="expires",
        )
    return pack


def take_out(
    *, lot: StockLot, kind: MoveKind, amount: Decimal, reason: str, on: date, actor: Staff, now: datetime
) -> StockMove:
    """Write down that some of a lot was used or thrown away. Raises Refused when there is not so much left."""
    if kind not in (MoveKind.USED, MoveKind.DISCARDED):
        raise ValueError(f"{kind} is no way out of a shelf")
    gone = hundredths(amount)
    if not gone:
        raise Refused(_("Nothing was taken out: write how much."), field="amount")
    if kind is MoveKind.DISCARDED and not reason.strip():
        raise Refused(_("Say why it was thrown away."), field="reason")
    with transaction.atomic():
        _allowed(lot, on, actor, now)
        left = left_of(lot)
        if gone > left:
            said = {"left": shown(left), "unit": lot.unit, "code": lot.code}
            raise Refused(
                _("Only %(left)s %(unit)s of lot %(code)s is left by the rows: count the shelf and correct it first.")
                % said,
                field="amount",
            )
        if kind is MoveKind.USED and lot.expires is not None and lot.expires < on:
            raise Refused(
                _("Lot %(code)s expired on %(day)s: it may be thrown away, not used.")
                % {"code": lot.code, "day": lot.expires.isoformat()},
                field="kind",
            )
        return _noted(lot, kind, -gone, reason, on, actor, now)


def count(*, lot: StockLot, amount: Decimal, reason: str, on: date, actor: Staff, now: datetime) -> StockMove:
    """Write down what was counted on the shelf; the move is the difference to what the rows say, with the reason."""
    found = hundredths(amount)
    if not reason.strip():
        raise Refused(_("Say why the count differs, or that it agrees."), field="reason")
    with transaction.atomic():
        _allowed(lot, on, actor, now)
        return _noted(lot, MoveKind.COUNTED, found - left_of(lot), reason, on, actor, now)


def _allowed(lot: StockLot, on: date, actor: Staff, now: datetime) -> None:
    require_own(actor, lot)
    require(actor, Act.EDIT, Thing.STOCK, subject=lot)
    if not lot.received <= on <= books.today(actor.office, now):
        raise Refused(
            _("The day must lie between %(day)s, when the lot came, and today.") % {"day": lot.received.isoformat()},
            field="on",
        )
    _hold(actor.office)


def _noted(lot: StockLot, kind: MoveKind, change: int, reason: str, on: date, actor: Staff, now: datetime) -> StockMove:
    move = _move(lot, kind, change, reason.strip(), on, actor, now)
    content = {"kind": kind.value, "hundredths": change, "sequence": move.sequence}
    record(actor=actor, act="stock.move", subject=lot, content=content, reason=move.reason, at=now)
    return move


def _hold(office: Office) -> None:
    Office.objects.select_for_update().get(pk=office.pk)


def _move(lot: StockLot, kind: MoveKind, change: int, reason: str, on: date, actor: Staff, now: datetime) -> StockMove:
    last: int = StockMove.objects.filter(lot=lot).aggregate(last=Max("sequence"))["last"] or 0
    return StockMove.objects.create(
        office=lot.office,
        lot=lot,
        sequence=last + 1,
        kind=kind,
        hundredths=change,
        reason=reason,
        on=on,
        by=actor,
        at=now,
    )


def left_of(lot: StockLot) -> int:
    """What is left of a lot, in hundredths of its unit."""
    # PostgreSQL adds whole numbers of this size up to a decimal.
    return int(StockMove.objects.filter(lot=lot).aggregate(left=Sum("hundredths"))["left"] or 0)


def shown(amount: int) -> str:
    """Hundredths as they are written: two decimals where there are any."""
    whole, rest = divmod(amount, 100)
    return f"{whole}.{rest:02d}" if rest else str(whole)


@dataclass(frozen=True, slots=True)
class OnShelf:
    """One lot with what is left of it."""

    lot: StockLot
    left: int
    """Hundredths."""
    days: int | None
    """Until its last day; below zero once it has expired; None where it has none."""
    soon: bool
    words: str

    @property
    def expired(self) -> bool:
        return self.days is not None and self.days < 0

    @property
    def left_shown(self) -> str:
        return shown(self.left)


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """One material of the office book with its lots."""

    material: MaterialUse
    lots: tuple[OnShelf, ...]
    good: int
    """Hundredths that are left and not expired."""
    mark: int
    """Hundredths below which it is ordered; 0 where no mark is set."""

    @property
    def below(self) -> bool:
        """Whether less is left than the office wants."""
        return self.good < self.mark

    @property
    def good_shown(self) -> str:
        return shown(self.good)

    @property
    def mark_shown(self) -> str:
        return shown(self.mark)


@dataclass(frozen=True, slots=True)
class Shelf:
    """What the office has, material by material, in the order of its book."""

    lines: tuple[ShelfLine, ...]
    unknown: tuple[OnShelf, ...]
    """Lots of a material the book no longer has, or counts in another unit: in no sum until somebody looks."""

    @property
    def lots(self) -> tuple[Lot, ...]:
        """The lots that count, as the rules take them."""
        return tuple(
            Lot(one.lot.material, one.lot.code, Decimal(one.left) / 100, one.lot.expires)
            for line in self.lines
            for one in line.lots
        )

    @property
    def expired(self) -> tuple[OnShelf, ...]:
        return tuple(one for line in self.lines for one in line.lots if one.expired)

    @property
    def soon(self) -> tuple[OnShelf, ...]:
        return tuple(one for line in self.lines for one in line.lots if one.soon)


def shelf(office: Office, book: OfficeBook, day: date) -> Shelf:
    """Everything of which something is left on ``day``. One query, whatever the number of lots."""
    reach: int = read_settings("materials.toml")["expires_soon_days"].value
    known = {row.key: row for row in book.materials}
    found: dict[str, list[OnShelf]] = {}
    unknown: list[OnShelf] = []
    for lot in StockLot.objects.filter(office=office).annotate(left=Sum("moves__hundredths")):
        if not lot.left:
            continue
        days = None if lot.expires is None else (lot.expires - day).days
        row = known.get(lot.material)
        one = OnShelf(
            lot, int(lot.left), days, days is not None and 0 <= days <= reach, row.words if row else lot.material
        )
        if row is None or row.unit != lot.unit:
            unknown.append(one)
        else:
            found.setdefault(lot.material, []).append(one)
    lines = tuple(_line(row, found.get(row.key, [])) for row in book.materials)
    return Shelf(lines, tuple(unknown))


def _line(row: MaterialUse, lots: Sequence[OnShelf]) -> ShelfLine:
    mark = row.reorder_at * 100 if row.whole else int(row.reorder_at * row.pack_amount * 100)
    return ShelfLine(row, tuple(lots), sum(one.left for one in lots if not one.expired), mark)
