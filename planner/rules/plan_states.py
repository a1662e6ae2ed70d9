"""The lifecycle of an accepted plan. That prices no longer hold is no state: see :func:`price_hold_lapsed`."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from planner.rules.moves import Guard, Machine, Move

LONGEST_REST_DAYS: Final = 90
"""A plan that rests is looked at again within this many days; common practice, no source."""


class PlanState(StrEnum):
    """How far an accepted plan is."""

    ACCEPTED = "accepted"
    BOOKED = "booked"
    UNDER_WAY = "under way"
    FINISHED = "finished"
    RESTING = "resting"
    STOPPED = "stopped early"
    CHANGED = "changed"


OPEN_PLAN: Final = (PlanState.ACCEPTED, PlanState.BOOKED, PlanState.UNDER_WAY)
"""The states in which work on a plan goes on."""


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """What the moves of an accepted plan depend on."""

    day: date | None = None
    items: int = 0
    price_frozen: bool | None = None
    right_person: str | None = None
    """Empty when who said yes may; else why not; None when nobody asked."""
    estimate_in_date: bool | None = None
    clashes: tuple[str, ...] = ()
    """Why what was chosen cannot stand together."""
    first_item_has_visit: bool | None = None
    deposit_paid_or_waived: bool | None = None
    consent: str | None = None
    """Empty when a consent to this very plan is signed and in date; else what is wrong with it; None if unknown."""
    history_asked_on: date | None = None
    open_items: tuple[str, ...] = ()
    """Items neither done nor dropped, in words."""
    review_done: bool | None = None
    """True also where nothing was done that is reviewed."""
    reason: str = ""
    look_again_on: date | None = None
    rested_from: str = ""
    """The state it went to rest from."""
    to: str = ""
    stale: tuple[str, ...] | None = None
    """What is no longer in date of what the plan rests on; None when nobody looked."""
    price_held: bool | None = None
    balance_sheet: bool = False
    teeth_altered: bool | None = None
    make_safe: str = ""
    replaced_by: str = ""


def price_hold_lapsed(held_through: date, confirmed_through: date | None, started: bool, day: date) -> bool:
    """Whether the accepted prices of what is not booked have to be confirmed anew on ``day``.

    Once treatment has started they stand.
    """
    last = max(held_through, confirmed_through or held_through)
    return not started and day > last


def _look_again(facts: PlanFacts) -> str:
    if facts.day is None or facts.look_again_on is None:
        return "Say on which day somebody looks at it again."
    last = facts.day + timedelta(days=LONGEST_REST_DAYS)
    if not facts.day < facts.look_again_on <= last:
        return (
            f"{facts.look_again_on.isoformat()} is not a day to look again: it lies after today and at most "
            f"{LONGEST_REST_DAYS} days ahead, by {last.isoformat()}."
        )
    return ""


def _consent(facts: PlanFacts) -> str:
    return "It is not known whether a consent to this plan is signed." if facts.consent is None else facts.consent


def _history(facts: PlanFacts) -> str:
    if facts.day is not None and facts.history_asked_on == facts.day:
        return ""
    return "The medical history has not been asked again today."


def _right_person(facts: PlanFacts) -> str:
    return "Nobody asked whether who said yes may say it." if facts.right_person is None else facts.right_person


def _estimate_in_date(facts: PlanFacts) -> str:
    return "" if facts.estimate_in_date else "The estimate is not in date: make a new issue at today's prices first."


def _all_closed(facts: PlanFacts) -> str:
    if not facts.open_items:
        return ""
    return f"Not everything is done or dropped: {'; '.join(facts.open_items)}."


def _not_stale(facts: PlanFacts) -> str:
    if facts.stale is None:
        return "Nobody has looked whether what the plan rests on is still in date."
    return " ".join(facts.stale)


def _back(facts: PlanFacts) -> str:
    if facts.rested_from and facts.rested_from == facts.to:
        return ""
    return f"It went to rest when it was {facts.rested_from or 'not known what'}; it goes on from there."


def _make_safe(facts: PlanFacts) -> str:
    if facts.teeth_altered is None:
        return "Say whether teeth have been altered."
    if facts.teeth_altered and not facts.make_safe.strip():
        return "Teeth are altered: say how they are made safe, whoever owes what."
    return ""


_REASON: Final = Guard[PlanFacts]("a reason is given", lambda facts: "" if facts.reason.strip() else "Give the reason.")
_REST: Final = (_REASON, Guard[PlanFacts](f"look again within {LONGEST_REST_DAYS} days", _look_again))
_STOP: Final = (
    _REASON,
    Guard[PlanFacts](
        "the balance sheet is made",
        lambda facts: "" if facts.balance_sheet else "What was paid and what is earned has not been laid side by side.",
    ),
    Guard[PlanFacts]("where teeth are altered, it is said how they are made safe", _make_safe),
)
_CHANGE: Final = (
    Guard[PlanFacts](
        "another accepted plan takes its place",
        lambda facts: "" if facts.replaced_by else "Say which accepted plan takes its place.",
    ),
)
_GO_ON: Final = (
    Guard[PlanFacts]("back to where it rested from", _back),
    Guard[PlanFacts]("what it rests on is still in date", _not_stale),
    Guard[PlanFacts](
        "prices are held or confirmed anew",
        lambda facts: "" if facts.price_held else "The price is no longer held: confirm it anew first.",
    ),
)

PLAN: Final = Machine[PlanFacts](
    "accepted plan",
    tuple(str(state) for state in PlanState),
    (
        Move(
            "",
            PlanState.ACCEPTED,
            (
                Guard("at least one item", lambda facts: "" if facts.items else "Nothing was chosen."),
                Guard(
                    "the version of the price list is pinned",
                    lambda facts: "" if facts.price_frozen else "No version of the price list is pinned.",
                ),
                Guard("the right person said yes", _right_person),
                Guard("the estimate is in date", _estimate_in_date),
                Guard("what was chosen can stand together", lambda facts: " ".join(facts.clashes)),
            ),
        ),
        Move(
            PlanState.ACCEPTED,
            PlanState.BOOKED,
            (
                Guard(
                    "the first item that can be booked has a visit",
                    lambda facts: "" if facts.first_item_has_visit else "No item that can be booked has a visit.",
                ),
                Guard(
                    "the deposit is paid, or waived by name",
                    lambda facts: "" if facts.deposit_paid_or_waived else "The deposit is neither paid nor waived.",
                ),
            ),
        ),
        Move(
            PlanState.BOOKED,
            PlanState.ACCEPTED,
            (
                Guard(
                    "no item has a visit any more",
                    lambda facts: "" if facts.first_item_has_visit is False else "An item may still have a visit.",
                ),
            ),
        ),
        Move(
            PlanState.BOOKED,
            PlanState.UNDER_WAY,
            (
                Guard("a consent to this very plan is signed and in date", _consent),
                Guard("the medical history was asked again that day", _history),
            ),
        ),
        Move(
            PlanState.UNDER_WAY,
            PlanState.FINISHED,
            (
                Guard("every item is done or dropped, retainers and guards too", _all_closed),
                Guard(
                    "the review is done",
                    lambda facts: "" if facts.review_done else "The review after the work has not been done.",
                ),
            ),
        ),
        *(Move(str(state), PlanState.RESTING, _REST) for state in OPEN_PLAN),
        *(Move(PlanState.RESTING, str(state), _GO_ON) for state in OPEN_PLAN),
        *(Move(str(state), PlanState.STOPPED, _STOP) for state in (*OPEN_PLAN, PlanState.RESTING)),
        *(Move(str(state), PlanState.CHANGED, _CHANGE) for state in (*OPEN_PLAN, PlanState.RESTING)),
    ),
    (("price hold lapsed", "the day through which prices are held is over and treatment has not started"),),
)
