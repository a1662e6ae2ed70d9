"""The lifecycle of a consent. Lapsed is no state: it follows from dates and facts, see :func:`consent_lapsed`."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from planner.rules.moves import Guard, Machine, Move
from planner.rules.words import ENGLISH, spoken, told


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
    contradictions: tuple[str, ...] | None = None
    """Where papers of the plan disagree; None when nobody has compared them."""
    others: tuple[str, ...] = ()
    """Who else must agree and does not, or not yet; see :mod:`planner.rules.others_agree`."""
    too_hard: str | None = None
    """Why the letter is too hard to be signed as it is; empty where it is not, None when it was not measured."""
    estimate_in_date: bool | None = None
    newest: bool | None = None
    """Whether no newer letter about the same option was made or handed over."""
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
    return told("The letter has changed since it was opened: look at what is new, then sign.")


def _questions_answered(facts: ConsentFacts) -> str:
    if facts.open_questions is None:
        return told("It is not known whether questions are open.")
    return told("Questions are open: {n}.", n=facts.open_questions) if facts.open_questions else ""


def _entitled(facts: ConsentFacts) -> str:
    return told("Nobody asked whether the signer may sign.") if facts.signer_entitled is None else facts.signer_entitled


def _reflected(facts: ConsentFacts) -> str:
    return "" if facts.reflection_over else told("The time to think it over is not over yet.")


def facts_are_others() -> str:
    """Why a letter is not signed whose case is told otherwise today."""
    return told("Facts of the case have changed since this letter was made: make it anew.")


def papers_differ(sentences: tuple[str, ...]) -> tuple[str, ...]:
    """What whoever signs is told of papers that differ in the facts that ``sentences`` name.

    The sentences are for whoever puts the papers right, and in English; a reader of another language is told that they
    differ, and how often.
    """
    if spoken() == ENGLISH or not sentences:
        return sentences
    return (told("The papers differ on this many facts: {n}. The office puts that right first.", n=len(sentences)),)


def too_hard_to_read(grade: object, ceiling: object) -> str:
    """Why a letter is not signed that is above the reading grade that is let through."""
    return told(
        "This paper is too hard to read: grade {grade}, and {ceiling} is the most. Make it plainer, or let a dentist "
        "sign a reason.",
        grade=grade,
        ceiling=ceiling,
    )


def not_to_be_read() -> str:
    """Why a letter is not signed whose words nobody can measure."""
    return told("The words of this paper cannot be read back, so it cannot be signed. Make it anew.")


def _agree(facts: ConsentFacts) -> str:
    return told("Nobody has compared the papers.") if facts.contradictions is None else " ".join(facts.contradictions)


def _plain_enough(facts: ConsentFacts) -> str:
    return told("Nobody has measured how hard the letter is to read.") if facts.too_hard is None else facts.too_hard


_SIGN: Final = (
    Guard[ConsentFacts]("the letter that was handed is the one that is signed", _same_letter, "letter"),
    Guard[ConsentFacts]("every question is answered", _questions_answered, "questions"),
    Guard[ConsentFacts]("the signer may sign that day", _entitled, "signer"),
    Guard[ConsentFacts]("whoever else must agree agrees", lambda facts: " ".join(facts.others), "others"),
    Guard[ConsentFacts]("the time to think it over is over", _reflected, "time"),
    Guard[ConsentFacts]("papers agree with each other", _agree, "papers"),
    Guard[ConsentFacts]("it is plain enough to be read", _plain_enough, "reading"),
    Guard[ConsentFacts](
        "the estimate is in date",
        lambda facts: "" if facts.estimate_in_date else told("The estimate is not in date: a new issue comes first."),
        "estimate",
    ),
    Guard[ConsentFacts](
        "it is the newest letter",
        lambda facts: "" if facts.newest else told("There is a newer letter: hand that one over, and sign it."),
        "newest",
    ),
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
        # What is withdrawn in part: the rest stays signed.
        Move(ConsentState.SIGNED, ConsentState.SIGNED, _WITHDRAW),
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
