"""Closed rows of the practice."""

from planner.practice import books
from planner.practice.books import latest_version
from planner.practice.exchange import keep_file
from planner.practice.stock_models import MinutesAdopted, StockLot, WorkTiming
from planner.practice.timings import Timed, adopt, note_timing, own_clocks
from planner.rules.clock import Span
from tests.closed_rows import Ground, Maker
from tests.support import NOW, TODAY


def _lot(ground: Ground) -> StockLot:
    """The test office's book names no material, so the rows are written as the service writes them."""
    office, by = ground.owner.office, ground.owner
    lot = StockLot.objects.create(
        office=office,
        material="etch-gel",
        unit="ml",
        code="E1",
        packs=1,
        pack_hundredths=1200,
        received=TODAY,
        by=by,
        at=NOW,
    )
    lot.moves.create(office=office, sequence=1, kind="received", hundredths=1200, on=TODAY, by=by, at=NOW)
    return lot


def _timing(ground: Ground) -> WorkTiming:
    owner = ground.owner
    timed = Timed("bonding.bonding.finish", 1, 20, TODAY, owner)
    return note_timing(timed=timed, actor=owner, now=NOW)


def _adopted(ground: Ground) -> MinutesAdopted:
    _timing(ground)
    owner = ground.owner
    (clock,) = own_clocks(owner.office, books.current_book(owner.office, TODAY))
    adopt(clock=clock, span=Span(9, 19, 29), seen=1, effective=TODAY, reason="timed", actor=owner, now=NOW)
    return MinutesAdopted.objects.get()


CLOSED_ROWS: dict[str, Maker] = {
    "practice.bookversion": lambda ground: latest_version(ground.owner.office),
    "practice.bookfile": lambda ground: keep_file(
        part="minutes", name="minutes.csv", content=b"treatment", sign=".", actor=ground.owner, now=NOW
    ),
    "practice.stocklot": _lot,
    "practice.stockmove": lambda ground: _lot(ground).moves.get(),
    "practice.worktiming": _timing,
    "practice.minutesadopted": _adopted,
}
