"""What follows when a payer paid less than was guessed, and by how much guesses were too high."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import Final

from planner.rules.benefit_plans import Told
from planner.rules.cents import half_up
from planner.rules.units import format_cents


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is paid less than was guessed, in cents, and what follows."""

    short_cents: int
    to_patient_cents: int
    office_bears_cents: int
    off_percent: int
    statement_due: date | None
    words: str


STATEMENT_DAYS: Final = 30
"""Common practice, no source."""


def paid_less(guessed_cents: int, paid_cents: int, *, signed_if_nothing: bool, reason: str, on: date) -> Shortfall:
    """What follows when the payer paid ``paid_cents`` of ``guessed_cents`` guessed, after the work was done.

    The difference goes to the patient only where the figure "if they pay nothing" was signed; otherwise the office
    bears it. Raises ValueError for an amount below zero or a shortfall without the payer's reason.
    """
    if min(guessed_cents, paid_cents) < 0:
        raise ValueError("guessed and paid are amounts of nothing or more")
    short = max(guessed_cents - paid_cents, 0)
    if short and not reason.strip():
        raise ValueError("the payer's reason is missing: the patient gets it with the statement and may appeal")
    if not short:
        return Shortfall(0, 0, 0, 0, None, f"{format_cents(paid_cents)} paid; nothing moves to the patient.")
    off = half_up(Fraction(100 * short, guessed_cents))
    due = on + timedelta(days=STATEMENT_DAYS) if signed_if_nothing else None
    words = f"{format_cents(guessed_cents)} guessed, {format_cents(paid_cents)} paid ({reason.strip()}): " + (
        f"{format_cents(short)} moves to the patient, who signed the whole price; send a statement with the payer's "
        f"reason, {STATEMENT_DAYS} days to pay, and offer help with an appeal."
        if signed_if_nothing
        else f"the whole price was not signed, so the office bears {format_cents(short)}."
    )
    return Shortfall(short, short if signed_if_nothing else 0, 0 if signed_if_nothing else short, off, due, words)


def too_high(outcomes: Iterable[tuple[Told, int, int]]) -> dict[Told, int]:
    """For each basis, by how many percent guesses were too high: the middle one of (basis, guessed, paid) in cents.

    Only final answers belong here; a guess of nothing tells nothing. Never below 0: a payer who paid more than guessed
    does not make the next guess higher.
    """
    found: dict[Told, list[Fraction]] = {}
    for told, guessed, paid in outcomes:
        if guessed > 0:
            found.setdefault(told, []).append(Fraction(100 * (guessed - paid), guessed))
    return {told: max(half_up(_middle(sorted(values))), 0) for told, values in found.items()}


def _middle(values: Sequence[Fraction]) -> Fraction:
    half = len(values) // 2
    return values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2
