"""The lifecycle of one item of an accepted plan."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from planner.rules.moves import Guard, Machine, Move
from planner.rules.plan_states import OPEN_PLAN, PlanState

BOOKABLE_WITHIN_DAYS: Final = 14
"""An item whose earliest day is at most this far off can be given a visit now."""


class ItemState(StrEnum):
    """How far one item of an accepted plan is."""

    TO_DO = "to do"
    WAITING = "waiting for"
    BOOKED = "booked"
    DONE = "done"
    DROPPED = "dropped"


OPEN_ITEM: Final = (ItemState.TO_DO, ItemState.WAITING, ItemState.BOOKED)
"""The states in which an item is still to be done."""


@dataclass(frozen=True, slots=True)
class ItemFacts:
    """What the moves of an item depend on."""

    day: date | None = None
    plan_state: str = ""
    earliest: date | None = None
    waiting_for: str = ""
    visit_on: date | None = None
    done_on: date | None = None
    tooth_gone_since: date | None = None
    """The tooth was lost or taken out elsewhere."""
    consent_withdrawn: bool = False
    disputed: tuple[str, ...] = ()
    """Who disagrees whose agreement counts; see :mod:`planner.rules.others_agree`."""
    in_mouth: bool = True
    """Whether it is done in the mouth; what is made for it beforehand is not."""
    agreed: bool | None = None
    """Whether an amendment that needs a yes has it; True for what needs none."""
    dropped_because: str = ""


def bookable(earliest: date | None, day: date) -> bool:
    """Whether an item that may not be done before ``earliest`` can be given a visit on ``day``."""
    return earliest is None or earliest <= day + timedelta(days=BOOKABLE_WITHIN_DAYS)


def _work_goes_on(facts: ItemFacts) -> str:
    if facts.plan_state in OPEN_PLAN:
        return ""
    return f"The plan is {facts.plan_state or 'not known'}; work goes on only in one that is {' or '.join(OPEN_PLAN)}."


def _tooth_there(facts: ItemFacts) -> str:
    if facts.tooth_gone_since is None:
        return ""
    return f"The tooth has been gone since {facts.tooth_gone_since.isoformat()}: the dentist plans anew."


def _not_withdrawn(facts: ItemFacts) -> str:
    return "Consent has been withdrawn: nothing further is done of what it covers." if facts.consent_withdrawn else ""


def _not_disputed(facts: ItemFacts) -> str:
    return " ".join(facts.disputed)


def _agreed(facts: ItemFacts) -> str:
    return "" if facts.agreed else "The change that added this is not agreed to yet."


def _begun(facts: ItemFacts) -> str:
    if not facts.in_mouth or facts.plan_state == PlanState.UNDER_WAY:
        return ""
    return "Treatment has not begun: a signed consent and today's history come first."


def _visit_late_enough(facts: ItemFacts) -> str:
    if facts.visit_on is None:
        return "Say for which day the visit is."
    if facts.earliest is not None and facts.visit_on < facts.earliest:
        return f"It cannot be done before {facts.earliest.isoformat()}; the visit is on {facts.visit_on.isoformat()}."
    return ""


def _done_on_a_day(facts: ItemFacts) -> str:
    if facts.done_on is None or facts.day is None:
        return "Say on which day it was done."
    if facts.done_on > facts.day:
        return f"{facts.done_on.isoformat()} lies in the future: it cannot have been done then."
    return ""


_GOES_ON: Final = Guard[ItemFacts]("work on the plan goes on", _work_goes_on)
_STANDS: Final = (
    _GOES_ON,
    Guard[ItemFacts]("the tooth is there", _tooth_there),
    Guard[ItemFacts]("consent is not withdrawn", _not_withdrawn),
    Guard[ItemFacts]("nobody disagrees whose agreement counts", _not_disputed),
    Guard[ItemFacts]("where an amendment added it, that is agreed to", _agreed),
)
_BOOK: Final = (*_STANDS, Guard[ItemFacts]("the visit is not before the earliest day", _visit_late_enough))
_DO: Final = (
    *_STANDS,
    Guard[ItemFacts]("work in the mouth only once the plan is under way", _begun),
    Guard[ItemFacts]("a day that is not in the future", _done_on_a_day),
)
_WAIT: Final = (
    Guard[ItemFacts](
        "it is said what for", lambda facts: "" if facts.waiting_for.strip() else "Say what it is waiting for."
    ),
)
_DROP: Final = (
    Guard[ItemFacts](
        "it is said who brought it about",
        lambda facts: "" if facts.dropped_because.strip() else "Say whether patient, finding or office dropped it.",
    ),
)

ITEM: Final = Machine[ItemFacts](
    "item",
    tuple(str(state) for state in ItemState),
    (
        Move("", ItemState.TO_DO),
        Move(ItemState.TO_DO, ItemState.WAITING, _WAIT),
        Move(ItemState.WAITING, ItemState.WAITING, _WAIT),
        Move(ItemState.BOOKED, ItemState.WAITING, _WAIT),
        Move(ItemState.WAITING, ItemState.TO_DO),
        Move(ItemState.BOOKED, ItemState.TO_DO),
        Move(ItemState.TO_DO, ItemState.BOOKED, _BOOK),
        Move(ItemState.WAITING, ItemState.BOOKED, _BOOK),
        Move(ItemState.BOOKED, ItemState.BOOKED, _BOOK),
        Move(ItemState.TO_DO, ItemState.DONE, _DO),
        Move(ItemState.BOOKED, ItemState.DONE, _DO),
        Move(ItemState.TO_DO, ItemState.DROPPED, _DROP),
        Move(ItemState.WAITING, ItemState.DROPPED, _DROP),
        Move(ItemState.BOOKED, ItemState.DROPPED, _DROP),
    ),
    (("bookable", f"to do, or waiting with an earliest day at most {BOOKABLE_WITHIN_DAYS} days off"),),
)
