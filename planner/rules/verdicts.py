"""The five verdicts, the reasons behind them, and the words that join them.

``offer`` fine; ``care`` allowed, a reason is wanted; ``wait`` not yet, names the missing step and the earliest date;
``ask`` cannot be judged, names the missing or stale datum; ``no`` not offered. Missing data is never ``offer``.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Verdict(StrEnum):
    OFFER = "offer"
    CARE = "care"
    WAIT = "wait"
    ASK = "ask"
    NO = "no"

    @property
    def severity(self) -> int:
        """0 for ``offer`` up to 4 for ``no``; the worst reason decides."""
        return list(Verdict).index(self)


@dataclass(frozen=True, slots=True)
class Reason:
    """One gate's answer about one option."""

    gate: str
    """Identifier of the gate, such as ``G9`` or ``bonding.overjet``."""
    verdict: Verdict
    words: str
    """One plain sentence."""
    datum: str = ""
    """The fact that decided, a path into the case file with its value: ``examination.gums.bleeding_percent = 34``."""
    earliest: date | None = None
    """For ``wait``: the first day on which it may be otherwise, where that can be told."""
    missing_step: str = ""
    """For ``wait``: what has to happen first."""
    source: str = ""
    certainty: str = ""
    patient_limit: bool = False
    """A ``no`` that is only the patient's own limit; the patient may raise it."""
    never_overridable: bool = False
    second_dentist: bool = False
    """An override needs a second dentist's name and a paragraph in the letter."""
    private: bool = False
    """Never printed on the estimate, the desk's view or a payer's copy."""


def worst(reasons: Iterable[Reason]) -> Verdict:
    """The verdict that a set of reasons comes to: the most severe one, ``offer`` when there is none."""
    return max((reason.verdict for reason in reasons), key=lambda verdict: verdict.severity, default=Verdict.OFFER)
