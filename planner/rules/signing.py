"""Who may sign a consent, and what has to be known about a signature before it is one.

The periods and ages are the office's dated settings; whether such a signature suffices is for local law. Everything is
judged on the day of signing, and once more on the day of a visit.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Final

from planner.rules.acceptance import DECIDER, PATIENT, right_person
from planner.rules.book import OfficeBook
from planner.rules.gate_facts import age_on
from planner.rules.gate_special import LEAP_BIRTHDAY, LEAP_DAYS, MAJORITY, OWN_CONSENT
from planner.rules.mouth import Person
from planner.rules.strokes import Strokes
from planner.rules.words import told


class Basis(StrEnum):
    """By what right somebody consents."""

    SELF = "self"
    PARENT = "parent"
    GUARDIAN = "guardian"
    COURT = "court order"
    POWER = "power of attorney"
    DECIDER = "decision-maker"


FOR_A_MINOR: Final = (Basis.PARENT,)
"""Ends by law when the patient comes of age."""


class Method(StrEnum):
    """How somebody signs."""

    TYPED = "typed name"
    DRAWN = "drawn"
    MARK = "mark before a witness"
    SPOKEN = "spoken yes before two of the staff"


class Choice(StrEnum):
    """What was decided."""

    ALL = "yes"
    PART = "yes, to a part"
    NOTHING = "no treatment"
    LATER = "not now"
    UNTOLD = "prefers not to be told details"
    """A yes, with details waived."""


CONSENTS: Final = (Choice.ALL, Choice.PART, Choice.UNTOLD)
"""The choices on which treatment may rest."""


@dataclass(frozen=True, slots=True)
class Interpreter:
    """Who interpreted."""

    name: str
    adult: bool | None
    relation: str
    """To the patient, or "professional"."""


@dataclass(frozen=True, slots=True)
class Talk:
    """Who held the talk, and in which role."""

    clinician: str
    role: str
    licence: str
    is_dentist: bool
    held_on: date | None


@dataclass(frozen=True, slots=True)
class Said:
    """All that is stated when a consent is signed. What was not stated is empty or None and never reads as fine."""

    signer: str
    basis: Basis
    method: Method
    choice: Choice
    talk: Talk
    id_seen: str = ""
    """How the signer is known: in person, or by which document."""
    typed: str = ""
    strokes: Strokes = ()
    witnesses: tuple[str, ...] = ()
    pieces: tuple[str, ...] = ()
    """For a yes to a part: the pieces of the option."""
    proof: str = ""
    """The order, power or record that a right other than the patient's own rests on."""
    other_parent: str = ""
    """Note on a second parent: agrees, is not needed, or why not asked."""
    other_parent_objects: bool = False
    assent: bool | None = None
    """The young or represented person's own agreement; None when not asked."""
    assent_words: str = ""
    interpreter: Interpreter | None = None
    capacity_doubted: bool = False
    capacity_note: str = ""
    capacity_by: str = ""
    capacity_on: date | None = None
    understood: str = ""
    """Understanding check: what was said back, and how it was asked."""
    copy: str = ""
    """How the copy is handed over."""
    ticks: Mapping[str, bool] = field(default_factory=dict)
    """What is asked apart, each with its own answer."""


Fault = tuple[str, str]
"""The input at fault, and what is wrong with it in one sentence."""


def faults(said: Said, person: Person, book: OfficeBook, day: date) -> tuple[Fault, ...]:
    """All that keeps ``said`` from being a signature on ``day``, in the order of the form and the language spoken."""
    return tuple(_faults(said, person, book, day))


def entitled(person: Person, signer: str, basis: Basis, book: OfficeBook, day: date) -> str:
    """Why ``signer`` may not consent for ``person`` on ``day`` by that right, in one sentence; empty when so."""
    capacity = PATIENT if basis is Basis.SELF else DECIDER
    if refused := right_person(person, signer, capacity, book, day):
        return refused
    if basis is Basis.SELF and _plain(signer) != _plain(person.name):
        return told("Who consents for nobody else signs with the own name: {name}.", name=person.name)
    if basis in FOR_A_MINOR and not is_minor(person, book, day):
        return told(
            "{name} is of age: a parent decides no more. Say by which order or power somebody decides.",
            name=person.name,
        )
    return ""


def is_minor(person: Person, book: OfficeBook, day: date) -> bool | None:
    """Whether ``person`` is under the age of majority on ``day``; None where the office has not entered that age."""
    setting = book.legal_on(MAJORITY, day)
    if setting is None or not setting.value.isdecimal():
        return None
    return age(person, book, day) < int(setting.value)


def age(person: Person, book: OfficeBook, day: date) -> int:
    """Whole years on ``day``; where 29 February is not settled, by the later birthday."""
    leap = book.legal_on(LEAP_BIRTHDAY, day)
    return age_on(person.birth_date, day, LEAP_DAYS.get(leap.value, True) if leap else True)


def own_signature_wanted(person: Person, basis: Basis, book: OfficeBook, day: date) -> str:
    """Why what somebody else signed no longer suffices on ``day``, the day of a visit; empty where it does."""
    setting = book.legal_on(OWN_CONSENT, day)
    if basis is Basis.SELF or setting is None or not setting.value.isdecimal():
        return ""
    if person.can_decide_alone and age(person, book, day) >= int(setting.value):
        return f"{person.name} decides alone on {day.isoformat()}: the own signature is wanted, the {basis}'s ends."
    return ""


def _faults(said: Said, person: Person, book: OfficeBook, day: date) -> Iterator[Fault]:
    if not said.signer.strip():
        yield "signer", told("Write the name of whoever consents.")
    elif refused := entitled(person, said.signer, said.basis, book, day):
        yield "signer", refused
    if not said.id_seen.strip():
        yield "id_seen", told("Say how the signer is known: in person, or by which document.")
    if said.basis is not Basis.SELF:
        yield from _for_another(said)
    if said.interpreter is not None:
        yield from _interpreted(said.interpreter)
    if said.capacity_doubted:
        yield from _capacity(said, day)
    yield from _talked(said.talk, day)
    if said.choice in CONSENTS and not said.understood.strip():
        yield "understood", told("Write what was said back in the own words, or how understanding was checked.")
    if said.choice is Choice.PART and not said.pieces:
        yield "pieces", told("A yes to a part says to which: tick the pieces.")
    if not said.copy.strip():
        yield "copy", told("Say how the copy is handed over: on paper, or by which way.")
    yield from _signed(said)


def _for_another(said: Said) -> Iterator[Fault]:
    if said.basis in (Basis.COURT, Basis.POWER, Basis.GUARDIAN) and not said.proof.strip():
        yield "proof", told("Name the paper that the {basis} rests on, and its date.", basis=told(str(said.basis)))
    if said.assent is None:
        yield "assent", told("Ask the patient's own agreement too, and say what came of it.")
    elif not said.assent and not said.assent_words.strip():
        yield "assent_words", told("Write down in which words the patient does not agree.")
    elif not said.assent and said.choice in CONSENTS:
        yield "assent", told("The patient does not agree: work that can wait is not signed for.")
    if said.other_parent_objects and said.choice in CONSENTS:
        yield (
            "other_parent_objects",
            told("The parents do not agree: the plan waits until they do, or a court decides."),
        )
    if said.basis is Basis.PARENT and not said.other_parent.strip():
        yield "other_parent", told("Note whether the other parent agrees, or why it is not needed.")


def _interpreted(who: Interpreter) -> Iterator[Fault]:
    if not who.name.strip():
        yield "interpreter", told("Write the interpreter's name.")
    if who.adult is None:
        yield "interpreter_adult", told("Say whether the interpreter is an adult.")
    elif not who.adult:
        yield (
            "interpreter_adult",
            told("{who} is a child and never interprets a consent: find an adult.", who=who.name or told("A child")),
        )
    if not who.relation.strip():
        yield "interpreter_relation", told("Say what the interpreter is to the patient, or that it is a professional.")


def _capacity(said: Said, day: date) -> Iterator[Fault]:
    if not said.capacity_note.strip():
        yield "capacity_note", told("Capacity was doubted: write what was found.")
    if not said.capacity_by.strip():
        yield "capacity_by", told("Capacity was doubted: name who looked into it.")
    if said.capacity_on is None:
        yield "capacity_on", told("Capacity was doubted: write the day on which it was looked into.")
    elif said.capacity_on > day:
        yield (
            "capacity_on",
            told("{day} lies in the future: write the day it was looked into.", day=said.capacity_on.isoformat()),
        )


def _talked(talk: Talk, day: date) -> Iterator[Fault]:
    if not talk.is_dentist:
        yield (
            "clinician",
            told(
                "{who} is no dentist here: the treating dentist holds the talk.", who=talk.clinician or told("Nobody")
            ),
        )
    if not talk.licence.strip():
        yield "licence", told("Write the licence number of the dentist who held the talk.")
    if talk.held_on is None:
        yield "talk_on", told("Write the day on which the dentist held the talk.")
    elif talk.held_on > day:
        yield (
            "talk_on",
            told("{day} lies in the future: write the day on which the talk was held.", day=talk.held_on.isoformat()),
        )


def _signed(said: Said) -> Iterator[Fault]:
    named = [name for name in said.witnesses if name.strip()]
    if said.method is Method.TYPED and _plain(said.typed) != _plain(said.signer):
        yield (
            "typed",
            told("Type the name of whoever consents as it stands above: {name}.", name=said.signer.strip() or "…"),
        )
    if said.method is Method.DRAWN and not said.strokes:
        yield "strokes", told("Nothing is drawn yet: draw the signature, or type the name.")
    if said.method is Method.MARK and (not named or _plain(said.signer) in map(_plain, named)):
        yield "witness", told("A mark takes a witness who is somebody else: write the name.")
    if said.method is Method.SPOKEN and len({_plain(name) for name in named}) < 2:
        yield "witness", told("A spoken yes takes two of the staff who heard it: name both.")


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
