"""The four lifecycles, kept apart: estimate, accepted plan, item, consent.

Each is a table of moves; each move names its guards, and each guard is a function over plain facts that answers with
the sentence that refuses, or with nothing. A fact nobody stated is None and never reads as fine. Expired and lapsed are
no states: they follow from dates and facts, see :func:`expired`, :func:`consent_lapsed` and :func:`price_hold_lapsed`.

That the four are apart and how they run is the project's own design; the periods are the office's settings.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final, Generic, TypeVar

LONGEST_REST_DAYS: Final = 90
"""A plan that rests is looked at again within this many days; common practice, no source."""
BOOKABLE_WITHIN_DAYS: Final = 14
"""An item whose earliest day is at most this far off can be given a visit now."""

Facts = TypeVar("Facts")
# The generic ones have no slots: Python 3.11 cannot name the type parameter of an object that has.


@dataclass(frozen=True)
class Guard(Generic[Facts]):
    """What a move demands. ``refuses`` answers with one sentence, or with nothing when the demand is met."""

    words: str
    refuses: Callable[[Facts], str]
    field: str = ""
    """The input that is at fault when it refuses, where it is one."""


@dataclass(frozen=True)
class Move(Generic[Facts]):
    """One way from a state to another; ``before`` is empty where a row begins."""

    before: str
    after: str
    guards: tuple[Guard[Facts], ...] = ()


@dataclass(frozen=True)
class Machine(Generic[Facts]):
    """One lifecycle: what its rows are called, its states in order, and every move there is."""

    name: str
    states: tuple[str, ...]
    moves: tuple[Move[Facts], ...]
    computed: tuple[tuple[str, str], ...] = ()
    """What looks like a state and is computed: its word, and from what."""

    def sources(self, to: str) -> tuple[str, ...]:
        """The states from which a move leads to ``to``."""
        return tuple(move.before for move in self.moves if move.after == to)

    def targets(self, state: str) -> tuple[str, ...]:
        """The states to which a move leads from ``state``, in the order of the states."""
        found = {move.after for move in self.moves if move.before == state}
        return tuple(one for one in self.states if one in found)


def may_move(machine: Machine[Facts], state: str, to: str, facts: Facts) -> tuple[str, ...]:
    """Why a row may not move from ``state`` to ``to``, every reason as a sentence; nothing when it may.

    Raises ValueError for a state that the machine does not have.
    """
    for one in (state, to):
        if one and one not in machine.states:
            raise ValueError(f'"{one}" is no state of {machine.name}')
    move = _move(machine, state, to)
    if move is None:
        wanted = [one or "new" for one in machine.sources(to)]
        return (f"The {machine.name} is {state or 'new'}; this needs one that is {' or '.join(wanted)}.",)
    return tuple(words for guard in move.guards if (words := guard.refuses(facts)))


def field_at_fault(machine: Machine[Facts], state: str, to: str, facts: Facts) -> str:
    """The input that the first refusing guard is about; empty where it is none."""
    move = _move(machine, state, to)
    return next((guard.field for guard in move.guards if guard.refuses(facts)), "") if move else ""


def _move(machine: Machine[Facts], state: str, to: str) -> Move[Facts] | None:
    return next((each for each in machine.moves if (each.before, each.after) == (state, to)), None)


# ------------------------------------------------------------------------------------------------------- estimate


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
_SHOWING: Final = (_SHOWN_TO, _CHANNEL, _IN_DATE, _SAME_FACTS)
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


# -------------------------------------------------------------------------------------------------- accepted plan


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


def bookable(earliest: date | None, day: date) -> bool:
    """Whether an item that may not be done before ``earliest`` can be given a visit on ``day``."""
    return earliest is None or earliest <= day + timedelta(days=BOOKABLE_WITHIN_DAYS)


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


# ----------------------------------------------------------------------------------------------------------- item


class ItemState(StrEnum):
    """How far one item of an accepted plan is."""

    TO_DO = "to do"
    WAITING = "waiting for"
    BOOKED = "booked"
    DONE = "done"
    DROPPED = "dropped"


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
    in_mouth: bool = True
    """Whether it is done in the mouth; what is made for it beforehand is not."""
    agreed: bool | None = None
    """Whether an amendment that needs a yes has it; True for what needs none."""
    dropped_because: str = ""


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


# -------------------------------------------------------------------------------------------------------- consent


class ConsentState(StrEnum):
    """How far a consent is."""

    NONE = "none"
    HANDED = "letter handed"
    QUESTIONS = "questions open"
    SIGNED = "signed"
    WITHDRAWN = "withdrawn"
    REPLACED = "replaced"


@dataclass(frozen=True, slots=True)
class ConsentFacts:
    """What the moves of a consent depend on."""

    letter_sha256: str = ""
    """Of the letter that was handed."""
    signed_sha256: str = ""
    """Of the letter that is signed."""
    open_questions: int | None = None
    signer_entitled: str | None = None
    """Empty when the signer may sign that day; else why not; None when nobody asked."""
    reflection_over: bool | None = None
    """True also where the office sets no time to think it over."""
    contradictions: tuple[str, ...] = ()
    """Where papers of the plan disagree."""
    withdrawn_words: str = ""
    withdrawn_scope: str = ""
    next_letter_handed: bool = False


def consent_lapsed(signed_on: date, day: date, days: int, *, started: bool, facts_changed: bool) -> bool:
    """Whether a signed consent no longer holds on ``day``.

    It lapses ``days`` after the signature when treatment has not started by then, and at once when deciding facts
    change.
    """
    return facts_changed or (not started and day > signed_on + timedelta(days=days))


def _same_letter(facts: ConsentFacts) -> str:
    if facts.letter_sha256 and facts.letter_sha256 == facts.signed_sha256:
        return ""
    return "The letter has changed since it was opened: look at what is new, then sign."


def _questions_answered(facts: ConsentFacts) -> str:
    if facts.open_questions is None:
        return "It is not known whether questions are open."
    return f"Questions are open: {facts.open_questions}." if facts.open_questions else ""


def _entitled(facts: ConsentFacts) -> str:
    return "Nobody asked whether the signer may sign." if facts.signer_entitled is None else facts.signer_entitled


def _reflected(facts: ConsentFacts) -> str:
    return "" if facts.reflection_over else "The time to think it over is not over yet."


_SIGN: Final = (
    Guard[ConsentFacts]("the letter that was handed is the one that is signed", _same_letter),
    Guard[ConsentFacts]("every question is answered", _questions_answered),
    Guard[ConsentFacts]("the signer may sign that day", _entitled),
    Guard[ConsentFacts]("the time to think it over is over", _reflected),
    Guard[ConsentFacts]("papers agree with each other", lambda facts: " ".join(facts.contradictions)),
)
_HAND: Final = (
    Guard[ConsentFacts](
        "it is known which letter", lambda facts: "" if facts.letter_sha256 else "Say which letter was handed over."
    ),
)
_WITHDRAW: Final = (
    Guard[ConsentFacts](
        "the words used and what they cover",
        lambda facts: (
            ""
            if facts.withdrawn_words.strip() and facts.withdrawn_scope.strip()
            else "Note the words used and what they cover, all or which items."
        ),
    ),
)
_ANEW: Final = (
    Guard[ConsentFacts](
        "a newer letter is handed", lambda facts: "" if facts.next_letter_handed else "No newer letter is handed over."
    ),
)

CONSENT: Final = Machine[ConsentFacts](
    "consent",
    tuple(str(state) for state in ConsentState),
    (
        Move("", ConsentState.NONE),
        Move(ConsentState.NONE, ConsentState.HANDED, _HAND),
        Move(ConsentState.HANDED, ConsentState.QUESTIONS),
        Move(ConsentState.QUESTIONS, ConsentState.HANDED, (Guard("every question is answered", _questions_answered),)),
        Move(ConsentState.HANDED, ConsentState.SIGNED, _SIGN),
        *(
            Move(str(state), ConsentState.WITHDRAWN, _WITHDRAW)
            for state in (ConsentState.HANDED, ConsentState.QUESTIONS, ConsentState.SIGNED)
        ),
        *(
            Move(str(state), ConsentState.REPLACED, _ANEW)
            for state in (ConsentState.HANDED, ConsentState.QUESTIONS, ConsentState.SIGNED)
        ),
    ),
    (
        (
            "lapsed",
            "signed, and either deciding facts have changed since, or the office's days are over without a start",
        ),
    ),
)

MACHINES: Final[
    tuple[Machine[EstimateFacts] | Machine[PlanFacts] | Machine[ItemFacts] | Machine[ConsentFacts], ...]
] = (
    ESTIMATE,
    PLAN,
    ITEM,
    CONSENT,
)
