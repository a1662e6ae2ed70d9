"""The lifecycles of a visit and of a piece of laboratory work, as tables of moves with guards.

They are written as :mod:`planner.rules.moves` says; a fact nobody stated is None and never reads as fine.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Final

from planner.rules.book import OfficeBook, PriceList, Service
from planner.rules.moves import Guard, Machine, Move
from planner.rules.teeth import Numbering, Tooth, ToothNumberError


class VisitState(StrEnum):
    """How far a visit is."""

    BOOKED = "booked"
    KEPT = "kept"
    CANCELLED = "cancelled"
    NO_SHOW = "no-show"
    RESCHEDULED = "rescheduled"


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """What the moves of a visit depend on."""

    now: datetime
    starts: datetime
    reason: str = ""
    next_visit: bool = False
    """Whether the visit that takes its place is booked."""


def _has_begun(facts: VisitFacts) -> str:
    return "" if facts.now >= facts.starts else "The visit has not begun yet."


def _not_begun(facts: VisitFacts) -> str:
    return "" if facts.now < facts.starts else "The visit has begun: it was kept, or nobody came."


_REASON: Final = Guard[VisitFacts](
    "a reason is given", lambda facts: "" if facts.reason.strip() else "Give the reason."
)
_BEGUN: Final = Guard[VisitFacts]("its hour has come", _has_begun)
_AHEAD: Final = Guard[VisitFacts]("its hour has not come", _not_begun)

VISIT: Final = Machine[VisitFacts](
    "visit",
    tuple(str(state) for state in VisitState),
    (
        Move("", VisitState.BOOKED, (_AHEAD,)),
        Move(VisitState.BOOKED, VisitState.KEPT, (_BEGUN,)),
        Move(VisitState.BOOKED, VisitState.NO_SHOW, (_BEGUN,)),
        Move(VisitState.BOOKED, VisitState.CANCELLED, (_AHEAD, _REASON)),
        Move(
            VisitState.BOOKED,
            VisitState.RESCHEDULED,
            (
                _AHEAD,
                _REASON,
                Guard(
                    "the visit in its place is booked",
                    lambda facts: "" if facts.next_visit else "Book the visit that takes its place.",
                ),
            ),
        ),
    ),
)


class LaboratoryState(StrEnum):
    """How far a piece of laboratory work is."""

    ORDERED = "ordered"
    SENT = "sent"
    RECEIVED = "received"
    CHECKED = "label checked"
    SENT_BACK = "sent back"
    DROPPED = "not needed"


OPEN_LABORATORY: Final = (LaboratoryState.ORDERED, LaboratoryState.SENT, LaboratoryState.SENT_BACK)
"""The states in which the work is not in the office."""


@dataclass(frozen=True, slots=True)
class LaboratoryFacts:
    """What the moves of laboratory work depend on."""

    day: date
    due: date | None = None
    reason: str = ""
    label_faults: tuple[str, ...] | None = None
    """What on the label is not as ordered; None when nobody has read it."""


def _due_ahead(facts: LaboratoryFacts) -> str:
    if facts.due is None:
        return "Say on which day it is to be back."
    if facts.due < facts.day:
        return f"{facts.due.isoformat()} is over: say on which day it is to be back."
    return ""


def _label_read(facts: LaboratoryFacts) -> str:
    if facts.label_faults is None:
        return "Read name and both numbers off the label first."
    return " ".join(facts.label_faults)


_DUE: Final = (Guard[LaboratoryFacts]("it is said when it is to be back", _due_ahead),)
_WHY: Final = (
    Guard[LaboratoryFacts]("a reason is given", lambda facts: "" if facts.reason.strip() else "Give the reason."),
)

LABORATORY: Final = Machine[LaboratoryFacts](
    "laboratory work",
    tuple(str(state) for state in LaboratoryState),
    (
        Move("", LaboratoryState.ORDERED),
        Move(LaboratoryState.ORDERED, LaboratoryState.SENT, _DUE),
        Move(LaboratoryState.SENT, LaboratoryState.SENT, _DUE),
        Move(LaboratoryState.SENT_BACK, LaboratoryState.SENT_BACK, _DUE),
        Move(LaboratoryState.SENT, LaboratoryState.RECEIVED),
        Move(LaboratoryState.SENT_BACK, LaboratoryState.RECEIVED),
        Move(
            LaboratoryState.RECEIVED,
            LaboratoryState.CHECKED,
            (Guard("name and both numbers on the label are those ordered", _label_read),),
        ),
        Move(LaboratoryState.RECEIVED, LaboratoryState.SENT_BACK, (*_DUE, *_WHY)),
        Move(LaboratoryState.CHECKED, LaboratoryState.SENT_BACK, (*_DUE, *_WHY)),
        *(
            Move(str(state), LaboratoryState.DROPPED, _WHY)
            for state in (LaboratoryState.ORDERED, LaboratoryState.SENT, LaboratoryState.SENT_BACK)
        ),
    ),
    (("overdue", "out of the office, and the day on which it is to be back is over"),),
)


def label_faults(
    *, name: str, teeth: tuple[Tooth, ...], read_name: str, read_iso: str, read_universal: str
) -> tuple[str, ...]:
    """What on a label is not as ordered, one sentence each.

    ``read_name``, ``read_iso`` and ``read_universal`` are what somebody reads off the box, numbers with commas
    between. A number that means the right tooth in the other numbering is called so: that is how a case is made for
    the wrong tooth.
    """
    found = []
    if " ".join(read_name.split()).casefold() != " ".join(name.split()).casefold():
        found.append(f"The label says “{read_name.strip() or 'no name'}”, the work is for {name}.")
    for system, text in ((Numbering.ISO, read_iso), (Numbering.UNIVERSAL, read_universal)):
        found.extend(_number_faults(system, text, teeth))
    return tuple(found)


def _number_faults(system: Numbering, text: str, teeth: tuple[Tooth, ...]) -> list[str]:
    wanted = ", ".join(tooth.written(system) for tooth in teeth)
    other = Numbering.UNIVERSAL if system is Numbering.ISO else Numbering.ISO
    numbers = [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]
    if not numbers and teeth:
        return [f"The label has no {system.printed} number; it should say {wanted}."]
    read: list[Tooth] = []
    for number in numbers:
        try:
            read.append(Tooth.parse(number, system))
        except ToothNumberError as fault:
            return [str(fault)]
    odd = [tooth for tooth in read if tooth not in teeth]
    missing = [tooth for tooth in teeth if tooth not in read]
    found = []
    for tooth in odd:
        number = tooth.written(system)
        swapped = [each for each in teeth if each.written(other) == number]
        said = f" In {other.printed} that number is the {swapped[0].name}, which is ordered." if swapped else ""
        found.append(f"{number} in {system.printed} is the {tooth.name}, for which nothing is ordered.{said}")
    found += [f"The {tooth.name} ({tooth.written(system)}) is ordered and not on the label." for tooth in missing]
    return found


def late_cancelling(starts: datetime, minutes: int, now: datetime, *, within_hours: int, from_minutes: int) -> bool:
    """Whether cancelling now is late by the office's rule: a long visit, and little time left to fill it."""
    left = (starts - now).total_seconds()
    return minutes >= from_minutes and 0 <= left < within_hours * 3600


@dataclass(frozen=True, slots=True)
class LateTerms:
    """What an office may ask for when a long visit is cancelled late."""

    within_hours: int
    from_minutes: int
    service: Service
    prices: PriceList


def late_terms(book: OfficeBook, day: date) -> LateTerms | None:
    """The terms of ``book`` in force on ``day``; None where it asks for nothing: no price, or no hour is late."""
    if not book.late_cancel_hours:
        return None
    try:
        prices = book.price_list_on(day)
        service = prices.service("late-cancel")
    except LookupError:
        return None
    if service.cents is None:
        return None
    return LateTerms(book.late_cancel_hours, book.late_cancel_from_minutes, service, prices)
