"""How much of each material visits really used: kept at their end, held against the forecast, and learnt from."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from planner.practice import books, stock
from planner.practice.access import Act, Thing, require
from planner.practice.drafts import checked
from planner.practice.models import BookVersion, Office, Staff
from planner.practice.stock_models import MoveKind, StockLot
from planner.rules.book import MaterialUse, OfficeBook
from planner.rules.own_use import StepTimed, StepTruth, Used, UseProposal, propose_use, scaled, step_truths
from planner.rules.step_sheet import StepSheet, runs
from planner.trail.errors import Refused
from planner.trail.services import record
from planner.visits.step_drawing import read_copy
from planner.visits.step_models import StampKind, StepAmount, StepsClosed, StepSheetCopy, StepStamp

LEARN_DAYS = 730
"""Steps of visits of the last two years are looked at."""


@dataclass(frozen=True, slots=True)
class Planned:
    """What a sheet says that its visit takes of one material."""

    material: str
    words: str
    amount: Decimal
    unit: str


def planned_of(sheet: StepSheet) -> tuple[Planned, ...]:
    """Each material of the sheet once, with the amount of the whole visit."""
    found: dict[str, Planned] = {}
    for step in sheet.steps:
        for use in step.uses:
            amount, _space, unit = use.amount.partition(" ")
            if amount:
                found.setdefault(use.material, Planned(use.material, use.words, Decimal(amount), unit))
    return tuple(found.values())


def basis_of(material: MaterialUse, book: OfficeBook) -> str:
    """The amounts of the book from which a forecast of ``material`` follows, as text."""
    each = f"{material.per_tooth:f}/{material.per_visit:f}/{material.per_arch:f}"
    return f"{each}, waste {book.stock_waste_percent:f}"


def keep_amounts(
    copy: StepSheetCopy, sheet: StepSheet, amounts: Mapping[str, Decimal], actor: Staff, now: datetime
) -> None:
    """Keep what was used, and take it from the lot that was opened where there was just one.

    Inside the caller's transaction. Raises Refused for a material that is not on the sheet, an amount that cannot be,
    and more than is left of that lot.
    """
    planned = {one.material: one for one in planned_of(sheet)}
    book = books.current_book(copy.office, copy.at.astimezone(copy.office.zone).date())
    known = {one.key: one for one in book.materials}
    for key, amount in amounts.items():
        field = f"used_{key}"
        if key not in planned or key not in known:
            raise Refused(_("“%(key)s” is no material of this visit.") % {"key": key}, field=field)
        used = stock.hundredths(amount, field)
        lot = _only_lot(copy, key)
        if lot is not None and used:
            try:
                stock.take_out(
                    lot=lot,
                    kind=MoveKind.USED,
                    amount=amount,
                    reason="",
                    on=books.today(copy.office, now),
                    actor=actor,
                    now=now,
                )
            except Refused as refusal:
                raise Refused(refusal.sentence, field=field) from None
        made = StepAmount.objects.create(
            office=copy.office,
            sheet=copy,
            material=key,
            unit=planned[key].unit,
            planned_hundredths=stock.hundredths(planned[key].amount, field),
            used_hundredths=used,
            basis=basis_of(known[key], book),
            lot=lot,
            by=actor,
            at=now,
        )
        record(actor=actor, act="steps.amount", subject=made, content={"material": key, "hundredths": used}, at=now)


def _only_lot(copy: StepSheetCopy, material: str) -> StockLot | None:
    lots = {one.lot for one in copy.lots.filter(lot__material=material).select_related("lot")}
    return lots.pop() if len(lots) == 1 else None


# ---------------------------------------------------------------------------------------------------------- learning


@dataclass(frozen=True, slots=True)
class OwnUse:
    """One material beside what visits used of it."""

    material: MaterialUse
    visits: int
    planned: int
    used: int
    """Of all visits that nothing disturbed, hundredths."""
    in_book: int
    """Visits that nothing disturbed, planned by other amounts than the book has now: it has learnt from them."""
    proposal: UseProposal | None

    @property
    def may_be_adopted(self) -> bool:
        """What is reckoned from millimetres follows from them: its amount a tooth only shares it among materials."""
        now = (self.material.per_tooth, self.material.per_visit, self.material.per_arch)
        return self.proposal is not None and not self.material.by_geometry and self.next != now

    @property
    def next(self) -> tuple[Decimal, Decimal, Decimal]:
        """Amounts a tooth, a visit and an arch as they are proposed."""
        row, by = self.material, self.proposal.proposed if self.proposal is not None else 1
        return tuple(scaled(one, by) for one in (row.per_tooth, row.per_visit, row.per_arch))  # type: ignore[return-value,arg-type]


def own_uses(office: Office, book: OfficeBook) -> tuple[OwnUse, ...]:
    """Every material of which an amount was written down at least once, in the order of the book. One query."""
    rows = StepAmount.objects.filter(office=office).select_related("sheet__closed").order_by("pk")
    found: dict[str, list[Used]] = {}
    for row in rows:
        one = Used(row.planned_hundredths, row.used_hundredths, row.basis, row.sheet.closed.disturbed)
        found.setdefault(row.material, []).append(one)
    return tuple(_use(material, book, found[material.key]) for material in book.materials if material.key in found)


def _use(material: MaterialUse, book: OfficeBook, rows: list[Used]) -> OwnUse:
    counted, basis = [one for one in rows if not one.disturbed], basis_of(material, book)
    return OwnUse(
        material,
        len(rows),
        sum(one.planned for one in counted),
        sum(one.used for one in counted),
        sum(one.basis != basis for one in counted),
        propose_use(rows, basis),
    )


def adopt_use(*, use: OwnUse, seen: int, effective: date, reason: str, actor: Staff, now: datetime) -> BookVersion:
    """Take the proposed amounts of a material into a new version of the book, in one's own name and with a reason.

    ``seen`` is the number of the book version that was looked at. Raises Refused, StaleEdit, NotAllowed.
    """
    require(actor, Act.EDIT, Thing.BOOK, subject=actor.office)
    if not use.may_be_adopted:
        raise Refused(_("There is nothing to adopt: no visit counts yet, or the amount follows from millimetres."))
    per_tooth, per_visit, per_arch = use.next
    with transaction.atomic():
        book = books.read_book(books.latest_version(actor.office).data)
        row = use.material.model_copy(update={"per_tooth": per_tooth, "per_visit": per_visit, "per_arch": per_arch})
        rows = [row if one.key == row.key else one for one in book.materials]
        return books.change_book(
            office=actor.office,
            book=checked(book, materials=rows),
            effective=effective,
            reason=reason,
            seen=seen,
            actor=actor,
            now=now,
        )


def own_steps(office: Office, now: datetime) -> tuple[StepTruth, ...]:
    """Real against planned seconds of every step that was stamped, of visits closed in two years. Two queries."""
    since = now - timedelta(days=LEARN_DAYS)
    closed = StepsClosed.objects.filter(office=office, at__gte=since).select_related("sheet")
    return step_truths(
        each
        for one in closed.prefetch_related("sheet__stamps").order_by("pk")
        for each in _steps(one.sheet, read_copy(one.sheet), one.disturbed)
    )


def _steps(copy: StepSheetCopy, sheet: StepSheet, disturbed: bool) -> Iterator[StepTimed]:
    """What each step took at one visit: all its runs together, where each of them was stamped done."""
    seconds = seconds_of(copy.stamps.all())
    by_step: dict[str, list[int | None]] = {}
    for run in runs(sheet):
        by_step.setdefault(run.step.key, []).append(seconds.get(run.key))
    for step in sheet.steps:
        real = by_step.get(step.key, [])
        known = [one for one in real if one is not None]
        if known and len(known) == len(real) and not step.only_if:
            yield StepTimed(step.key, step.short, step.who, step.seconds, sum(known), disturbed)


def seconds_of(stamps: Iterable[StepStamp]) -> dict[str, int]:
    """Seconds from the stamp before to that of each run that is done."""
    found: dict[str, int] = {}
    before: datetime | None = None
    for stamp in sorted(stamps, key=lambda one: one.sequence):
        if stamp.kind == StampKind.BACK:
            found.pop(stamp.run, None)
        elif stamp.kind == StampKind.DONE and before is not None:
            found[stamp.run] = (stamp.at - before) // timedelta(seconds=1)
        elif stamp.kind == StampKind.LEFT_OUT:
            found.pop(stamp.run, None)
        before = stamp.at
    return found
