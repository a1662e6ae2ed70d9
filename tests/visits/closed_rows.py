"""Closed rows of the diary: a visit that was moved, what stands beside it, laboratory work that is not needed."""

from datetime import date, time, timedelta
from typing import Any

from planner.practice import books
from planner.practice.models import Staff
from planner.practice.stock_models import StockLot
from planner.rules.book import OpenHours
from planner.rules.teeth import Tooth
from planner.rules.visit_states import LaboratoryState
from planner.visits import diary, laboratory, services
from planner.visits.models import Absence, BlockedTime, Chair, LaboratoryCase, LateFee, Visit
from planner.visits.step_models import (
    ChairNote,
    NoteKind,
    NoteSettled,
    StampKind,
    StepAmount,
    StepLot,
    StepsClosed,
    StepSheetCopy,
    StepStamp,
)
from tests.closed_rows import Ground, Maker
from tests.support import NOW, TODAY
from tests.visits.sample import accepted_plan

THURSDAY = TODAY + timedelta(days=3)


def _office(owner: Staff) -> None:
    """The test office's book says no hours yet."""
    office, day = owner.office, TODAY
    old = books.latest_version(office)
    book = books.read_book(old.data)
    hours = tuple(OpenHours(weekday=each, opens=time(8), closes=time(17)) for each in range(4))
    service = book.price_lists[0].services[0].model_copy(update={"key": "late-cancel", "code": "LTE", "cents": 9000})
    prices = book.price_lists[0].model_copy(
        update={"version": 2, "effective": day + timedelta(days=1), "services": (service,)}
    )
    changed = book.model_copy(
        update={"hours": hours, "chairs": ("Chair 1",), "price_lists": (*book.price_lists, prices)}
    )
    books.change_book(office=office, book=changed, seen=old.number, effective=day, reason="hours", actor=owner, now=NOW)


def _visit(ground: Ground, day: date = THURSDAY, **changes: Any) -> Visit:
    _office(ground.owner)
    plan = accepted_plan(ground.owner)
    booking = services.Booking(
        clinician=ground.owner,
        chair="Chair 1",
        day=day,
        hour=time(9),
        minutes=200,
        words="Bonding",
        items=tuple(plan.items.all()[:1]),
        **changes,
    )
    return services.book_visit(plan=plan, booking=booking, actor=ground.owner, now=NOW).visit


def _cancelled(ground: Ground) -> Visit:
    visit = _visit(ground)
    who: dict[str, Any] = {"actor": ground.owner, "now": NOW + timedelta(days=2)}
    return services.cancel_visit(visit=visit, seen=1, reason="ill", ask_fee=True, **who)


def _fee(ground: Ground) -> LateFee:
    return _cancelled(ground).late_fee


def _absence(ground: Ground) -> Absence:
    made, _visits = diary.add_absence(
        clinician=ground.owner, first=THURSDAY, last=THURSDAY, actor=ground.owner, now=NOW
    )
    diary.take_back(row=made, seen=1, actor=ground.owner, now=NOW)
    return Absence.objects.get(pk=made.pk)


def _blocked(ground: Ground) -> BlockedTime:
    made = diary.block_time(
        office=ground.owner.office,
        day=THURSDAY,
        opens=time(9),
        closes=time(10),
        words="meeting",
        clinician=ground.owner,
        actor=ground.owner,
        now=NOW,
    )
    diary.take_back(row=made, seen=1, actor=ground.owner, now=NOW)
    return BlockedTime.objects.get(pk=made.pk)


def _case(ground: Ground) -> LaboratoryCase:
    who: dict[str, Any] = {"actor": ground.owner, "now": NOW}
    case = laboratory.order_work(
        plan=accepted_plan(ground.owner),
        words="wax-up",
        laboratory="The laboratory",
        teeth=[Tooth.from_iso("22")],
        **who,
    )
    return laboratory.move_work(case=case, seen=1, to=LaboratoryState.DROPPED, note="plan changed", **who)


def _sheet(ground: Ground) -> StepSheetCopy:
    visit = _visit(ground)
    return StepSheetCopy.objects.create(visit=visit, number=1, content="{}", sha256="0" * 64, **_by(ground))


def _by(ground: Ground) -> dict[str, Any]:
    return {"office": ground.owner.office, "by": ground.owner, "at": NOW}


def _note(ground: Ground) -> ChairNote:
    return ChairNote.objects.create(sheet=_sheet(ground), kind=NoteKind.FOUND, words="a crack", **_by(ground))


def _lot(ground: Ground) -> StepLot:
    about = {"material": "etch-gel", "unit": "ml", "code": "L-1", "packs": 1, "pack_hundredths": 1, "received": TODAY}
    lot = StockLot.objects.create(**about, **_by(ground))
    return StepLot.objects.create(sheet=_sheet(ground), run="bonding.A12", lot=lot, **_by(ground))


CLOSED_ROWS: dict[str, Maker] = {
    "visits.stepsheetcopy": _sheet,
    "visits.stepstamp": lambda ground: StepStamp.objects.create(
        sheet=_sheet(ground), sequence=1, kind=StampKind.BEGUN, **_by(ground)
    ),
    "visits.steplot": _lot,
    "visits.stepamount": lambda ground: StepAmount.objects.create(
        sheet=_sheet(ground),
        material="etch-gel",
        unit="ml",
        planned_hundredths=10,
        used_hundredths=12,
        basis="",
        **_by(ground),
    ),
    "visits.chairnote": _note,
    "visits.notesettled": lambda ground: NoteSettled.objects.create(
        note=_note(ground), words="it stays", **_by(ground)
    ),
    "visits.stepsclosed": lambda ground: StepsClosed.objects.create(
        sheet=_sheet(ground), disturbed=False, **_by(ground)
    ),
    "visits.visit": _cancelled,
    "visits.visitmove": lambda ground: _visit(ground).moves.get(),
    "visits.visititem": lambda ground: _visit(ground).visit_items.get(),
    "visits.latefee": _fee,
    "visits.chair": lambda ground: Chair.objects.create(office=ground.owner.office, name="Chair 1"),
    "visits.workweek": lambda ground: diary.set_work_week(
        clinician=ground.owner, weekdays=[0, 1], effective=TODAY, actor=ground.owner, now=NOW
    ),
    "visits.absence": _absence,
    "visits.blockedtime": _blocked,
    "visits.laboratorycase": _case,
    "visits.laboratorymove": lambda ground: _case(ground).moves.first(),
}
