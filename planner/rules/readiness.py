"""Is a visit ready? What is looked at a week before it, row by row, each with what is wanting and where it is settled.

A fact that nobody stated is wanting, never fine. Which facts count follows the brief of the trade: consent, deposit,
laboratory box, whitening, history, materials; common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from planner.rules.evidence import all_evidence
from planner.rules.gate_engine import gate_book
from planner.rules.gate_facts import add_months
from planner.rules.settings import read_settings
from planner.rules.units import format_cents
from planner.rules.visit_states import LaboratoryState


@dataclass(frozen=True, slots=True)
class ReadyFacts:
    """What is known of a visit some days before it."""

    on: date
    """The day of the visit."""
    consent: tuple[str, ...] = ()
    """Why no consent holds on that day, one sentence each."""
    deposit_due_cents: int = 0
    laboratory: bool = False
    """Whether laboratory work is needed at it."""
    laboratory_state: LaboratoryState | None = None
    """None where it is needed and was not ordered."""
    laboratory_due: date | None = None
    too_early: tuple[tuple[str, date, str], ...] = ()
    """Items that may not be worked on that day: words, the first day, what is waited for."""
    after_whitening: bool = False
    """Whether resin is bonded or a shade is matched after whitening in this plan."""
    last_night: date | None = None
    """The last night with gel, as the patient reported it."""
    history_signed_on: date | None = None
    short: tuple[str, ...] = ()
    """Materials that the shelf will lack."""


@dataclass(frozen=True, slots=True)
class ReadyRow:
    """One thing that is looked at."""

    key: str
    """``consent``, ``deposit``, ``laboratory``, ``whitening``, ``waiting``, ``history`` or ``materials``."""
    words: str
    lack: str = ""
    """What is wanting, in a sentence; empty where it is ready."""
    where: str = ""
    """Where it is settled: ``letter``, ``account``, ``laboratory``, ``case``, ``visit``, ``history`` or ``shelf``."""

    @property
    def ready(self) -> bool:
        return not self.lack


def readiness(facts: ReadyFacts) -> tuple[ReadyRow, ...]:
    """Every row that applies to the visit, in the order in which they are looked at."""
    return tuple(_rows(facts))


def lacks(facts: ReadyFacts) -> tuple[str, ...]:
    """What the visit lacks, one sentence each."""
    return tuple(row.lack for row in readiness(facts) if row.lack)


def days_before() -> int:
    """How many days before a visit it is looked at."""
    days: int = read_settings("step_sheet.toml")["readiness_days"].value
    return days


def _rows(facts: ReadyFacts) -> Iterator[ReadyRow]:
    yield ReadyRow("consent", "Consent is signed and holds on the day", " ".join(facts.consent), "letter")
    due = f"Of the deposit {format_cents(facts.deposit_due_cents)} is unpaid." if facts.deposit_due_cents else ""
    yield ReadyRow("deposit", "The deposit is paid or waived", due, "account")
    if facts.laboratory:
        yield ReadyRow("laboratory", "Laboratory work is here, its label read", _laboratory(facts), "laboratory")
    if facts.after_whitening:
        yield ReadyRow("whitening", f"{whitening_gap()} days since the last whitening night", _whitening(facts), "case")
    if facts.too_early:
        yield ReadyRow("waiting", "Nothing has to wait longer", " ".join(map(_too_early, facts.too_early)), "visit")
    yield ReadyRow("history", "The signed history is fresh on the day", _history(facts), "history")
    short = f"The shelf will lack: {'; '.join(facts.short)}." if facts.short else ""
    yield ReadyRow("materials", "Materials are on the shelf and in date", short, "shelf")


def _laboratory(facts: ReadyFacts) -> str:
    state, due = facts.laboratory_state, facts.laboratory_due
    if state is None or state == LaboratoryState.DROPPED:
        return "Laboratory work is needed and not ordered."
    if state == LaboratoryState.CHECKED:
        return ""
    if state == LaboratoryState.RECEIVED:
        return "The box is here, and nobody has read its label."
    if due is None:
        return f"Laboratory work is {state}, and no day is said on which it is back."
    late = f", after the visit on {facts.on.isoformat()}" if due > facts.on else ""
    return f"Laboratory work is {state}; it is due back on {due.isoformat()}{late}."


def _too_early(one: tuple[str, date, str]) -> str:
    words, earliest, waiting_for = one
    return f"{words}: not before {earliest.isoformat()} ({waiting_for or 'a day that is set'})."


def whitening_gap() -> int:
    """Days between the last whitening night and bonding."""
    return int(all_evidence()["whitening-bond-wait"].value)


def _whitening(facts: ReadyFacts) -> str:
    if facts.last_night is None:
        return "The last night with gel is not written down: ask the patient."
    earliest = facts.last_night + timedelta(days=whitening_gap())
    if earliest > facts.on:
        return f"The last night with gel was {facts.last_night.isoformat()}: from {earliest.isoformat()} on."
    return ""


def _history(facts: ReadyFacts) -> str:
    if facts.history_signed_on is None:
        return "No signed history is on record."
    until = add_months(facts.history_signed_on, gate_book().shelves["history"].months)
    if until < facts.on:
        signed = facts.history_signed_on.isoformat()
        return f"The history was signed on {signed} and holds through {until.isoformat()}: it is signed anew."
    return ""
