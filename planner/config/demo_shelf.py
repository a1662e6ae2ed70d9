"""The invented office's shelf and its own clock: lots that came, what went out, and twelve finished visits."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal

from planner.practice import books
from planner.practice.models import Staff
from planner.practice.stock import Arrival, receive, take_out
from planner.practice.stock_models import MoveKind, StockLot, WorkTiming
from planner.practice.timings import Timed, note_timing

At = Callable[[int, int], datetime]
"""The instant at which the office's clock shows that hour, days from day zero."""

SHORT_LIVED = "EM-2231"
"""The lot of the medium enamel shade that expires in nine days."""
CAME, EXPIRE_IN = -45, 260
PER_TOOTH = (52, 49, 61, 44, 58, 55, 47, 63, 50, 56, 53, 48)
"""Minutes for each bonded tooth of twelve finished visits."""


def load_shelf(owner: Staff, zero: date, at: At) -> None:
    """Two packs of everything in the office book, the enamel lot that runs old, and what was used of some."""
    if StockLot.objects.filter(office=owner.office).exists():
        return
    came = zero + timedelta(days=CAME)
    for place, row in enumerate(books.current_book(owner.office, came).materials):
        enamel = row.key == "composite-enamel"
        code = SHORT_LIVED if enamel else f"{row.key[:2].upper()}-{4100 + 17 * place}"
        expires = zero + timedelta(days=9 if enamel else EXPIRE_IN + 11 * place)
        packs = 1 if enamel else 2 if row.whole and row.pack_amount > 1 else row.reorder_at + 1
        arrival = Arrival(row.key, code, packs, row.pack_amount, row.unit, expires, came)
        lot = receive(arrival=arrival, actor=owner, now=at(CAME, 9))
        if row.by_geometry:
            amount = Decimal("0.60") if enamel else Decimal("0.90")
            on = zero - timedelta(days=30)
            take_out(
                lot=lot,
                kind=MoveKind.USED,
                amount=amount,
                reason="three teeth bonded",
                on=on,
                actor=owner,
                now=at(-30, 13),
            )


def load_timings(owner: Staff, zero: date, at: At) -> None:
    """Twelve finished visits with one to three bonded teeth, and one that a fire alarm disturbed."""
    if WorkTiming.objects.filter(office=owner.office).exists():
        return
    for place, minutes in enumerate(PER_TOOTH):
        days, teeth = -112 + 7 * place, 1 + place % 3
        on = zero + timedelta(days=days)
        timed = Timed("bonding.bonding.per-tooth", teeth, minutes * teeth, on, owner)
        note_timing(timed=timed, actor=owner, now=at(days, 13))
    alarm = Timed("bonding.bonding.per-tooth", 1, 118, zero - timedelta(days=21), owner, True, "fire alarm")
    note_timing(timed=alarm, actor=owner, now=at(-21, 13))
