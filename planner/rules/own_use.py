"""What visits really took, step by step and material by material, beside what was planned; and what that proposes.

A disturbed visit is kept and not learnt from. What was used is held against the forecast of its own day, and only rows
that rest on the amounts of the office book as it stands now are learnt from: so nothing is learnt twice.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from statistics import median

from planner.rules.cents import half_up

WEIGHT = 10
"""The forecast counts for as many visits; an office's own minutes weigh alike (common practice, no source)."""
MOST = 2
"""A visit counts at most this many times its forecast, so that one spilt pack moves little."""


@dataclass(frozen=True, slots=True)
class StepTimed:
    """One step at one visit, whole seconds of all of it together."""

    step: str
    """``bonding.A12``."""
    words: str
    who: str
    planned: int
    real: int
    disturbed: bool = False


@dataclass(frozen=True, slots=True)
class StepTruth:
    """One step over all visits at which it was stamped."""

    step: str
    words: str
    who: str
    count: int
    disturbed: int
    """Kept and not used."""
    planned: int
    """Middle of the planned seconds."""
    real: int
    """Middle of the real seconds; 0 where every visit was disturbed."""


def step_truths(timed: Iterable[StepTimed]) -> tuple[StepTruth, ...]:
    """One row for each step, in the order first met."""
    found: dict[str, list[StepTimed]] = {}
    for one in timed:
        found.setdefault(one.step, []).append(one)
    return tuple(_truth(rows) for rows in found.values())


def _truth(rows: Sequence[StepTimed]) -> StepTruth:
    used = [one for one in rows if not one.disturbed]
    return StepTruth(
        rows[0].step,
        rows[0].words,
        rows[0].who,
        len(used),
        len(rows) - len(used),
        _middle([one.planned for one in used]),
        _middle([one.real for one in used]),
    )


def _middle(values: Sequence[int]) -> int:
    return half_up(Fraction(median(map(Fraction, values)))) if values else 0


@dataclass(frozen=True, slots=True)
class Used:
    """How much of a material one visit used, beside its forecast, in hundredths of the unit of the pack."""

    planned: int
    used: int
    basis: str
    """The amounts of the office book on which the forecast rested, as text."""
    disturbed: bool = False


@dataclass(frozen=True, slots=True)
class UseProposal:
    """What the visits propose for one material. A person adopts it or does not; nothing changes by itself."""

    count: int
    own: Fraction
    """Mean of used over forecast, each at most twice."""
    proposed: Fraction
    """(weight × 1 + the sum of them) ÷ (weight + n): by so much the amounts of the book are to be multiplied."""
    capped: int
    disturbed: int


def propose_use(rows: Iterable[Used], basis: str, weight: int = WEIGHT) -> UseProposal | None:
    """What ``rows`` of one material propose; None before there is a visit to learn from."""
    known = list(rows)
    fresh = [one for one in known if not one.disturbed and one.basis == basis and one.planned > 0]
    if not fresh:
        return None
    ratios = [Fraction(one.used, one.planned) for one in fresh]
    counted = [min(ratio, Fraction(MOST)) for ratio in ratios]
    n, total = len(counted), sum(counted, Fraction(0))
    return UseProposal(
        count=n,
        own=total / n,
        proposed=(weight + total) / (weight + n),
        capped=sum(ratio > MOST for ratio in ratios),
        disturbed=sum(one.disturbed for one in known),
    )


def scaled(amount: Decimal, by: Fraction) -> Decimal:
    """``amount`` times ``by``, to a hundredth half-up; what was something never becomes nothing."""
    exact = Fraction(amount) * by
    found = (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return max(found, Decimal("0.01")) if amount else found
