"""The lifecycle of an estimate. Expired is no state: it follows from dates, see :func:`expired`."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from planner.rules.moves import Guard, Machine, Move


class EstimateState(StrEnum):
    """How far an estimate is."""

    DRAFT = "draft"
    CHECKED = "checked"
    SHOWN = "shown"
    ANSWERED = "answered"
    REPLACED = "replaced"


@dataclass(frozen=True, slots=True)
class EstimateFacts:
    """What the moves of an estimate depend on."""

    day: date | None = None
    valid_through: date | None = None
    facts_changed: bool | None = None
    """Whether a deciding fact is another than when it was checked."""
    shown_to: str = ""
    channel: str = ""
    contradictions: tuple[str, ...] | None = None
    """Where its papers differ, a sentence each; None when nobody has compared them."""
    answered_by: str = ""
    is_yes: bool | None = None
    option_named: bool | None = None
    """Whether a yes names one of the options handed over."""
    next_issue_checked: bool | None = None


def expired(state: str, valid_through: date | None, day: date) -> bool:
    """Whether an estimate is still open on ``day`` and no longer valid; valid through the end of its last day."""
    open_still = state in (EstimateState.CHECKED, EstimateState.SHOWN)
    return open_still and valid_through is not None and day > valid_through


def _in_date(facts: EstimateFacts) -> str:
    if facts.day is None or facts.valid_through is None:
        return "It is not known until when the estimate holds."
    if facts.day > facts.valid_through:
        through = facts.valid_through.isoformat()
        return f"The estimate was valid through {through}: make a new issue at today's prices first."
    return ""


def _same_facts(facts: EstimateFacts) -> str:
    if facts.facts_changed is None:
        return "Nobody has compared the facts of the case with those of the estimate."
    if facts.facts_changed:
        return "Facts of the case have changed since the estimate was checked: a dentist checks a new issue first."
    return ""


def _only_a_yes(guard: Callable[[EstimateFacts], str]) -> Callable[[EstimateFacts], str]:
    return lambda facts: "" if facts.is_yes is False else guard(facts)


def _option_named(facts: EstimateFacts) -> str:
    return "" if facts.option_named else "A yes is to one of the options on the estimate: say which one."


_SHOWN_TO: Final = Guard[EstimateFacts](
    "it is said to whom", lambda facts: "" if facts.shown_to.strip() else "Say to whom it was shown.", "to"
)
_CHANNEL: Final = Guard[EstimateFacts](
    "it is said in which way", lambda facts: "" if facts.channel.strip() else "Say in which way it was shown."
)
_IN_DATE: Final = Guard[EstimateFacts]("it is in date", _in_date)
_SAME_FACTS: Final = Guard[EstimateFacts]("facts of the case are those it was checked with", _same_facts)
_AGREE: Final = Guard[EstimateFacts](
    "papers agree with each other",
    lambda facts: "Nobody has compared the papers." if facts.contradictions is None else " ".join(facts.contradictions),
)
_SHOWING: Final = (_SHOWN_TO, _CHANNEL, _IN_DATE, _SAME_FACTS, _AGREE)
_REPLACED: Final = Guard[EstimateFacts](
    "a dentist has checked the next issue",
    lambda facts: "" if facts.next_issue_checked else "The next issue is not checked yet; until then this one holds.",
)

ESTIMATE: Final = Machine[EstimateFacts](
    "estimate",
    tuple(str(state) for state in EstimateState),
    (
        Move("", EstimateState.DRAFT),
        Move(EstimateState.DRAFT, EstimateState.CHECKED),
        Move(EstimateState.CHECKED, EstimateState.SHOWN, _SHOWING),
        Move(EstimateState.SHOWN, EstimateState.SHOWN, _SHOWING),
        Move(
            EstimateState.SHOWN,
            EstimateState.ANSWERED,
            (
                Guard(
                    "it is said who answered",
                    lambda facts: "" if facts.answered_by.strip() else "Say who answered.",
                    "by",
                ),
                Guard("a yes names an option that was handed over", _only_a_yes(_option_named), "option"),
                Guard("a yes comes in date", _only_a_yes(_in_date)),
                Guard("for a yes, facts of the case are those it was checked with", _only_a_yes(_same_facts)),
            ),
        ),
        Move(EstimateState.CHECKED, EstimateState.REPLACED, (_REPLACED,)),
        Move(EstimateState.SHOWN, EstimateState.REPLACED, (_REPLACED,)),
    ),
    (("expired", "checked or shown, and the last day it holds has ended in the office's time zone"),),
)
