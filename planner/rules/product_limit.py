"""The product-limit estimate: how many of 100 still stand, from times that ended in a failure or in a last look.

Times are whole days or any other exact number; shares are exact fractions. The band is the one of Kalbfleisch and
Prentice (The Statistical Analysis of Failure Time Data, 1980): Greenwood's variance carried through log(-log), so that
it never leaves 0 to 100. Kaplan and Meier, J Am Stat Assoc 1958;53:457-481; Greenwood, 1926 (all three from memory;
held against two general-purpose libraries in the tests).
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from statistics import NormalDist

Number = Decimal | Fraction | int | float | str
"""A time as it is written."""


@dataclass(frozen=True, slots=True)
class Step:
    """One time at which something failed."""

    time: Fraction
    at_risk: int
    """How many were still looked at just before it."""
    failed: int
    share: Fraction
    """Share still standing just after ``time``, exact."""
    greenwood: Fraction | None
    """Sum of d / (n (n - d)) up to here: the variance of the share is its square times this; None once none stands."""

    def band(self, within: Decimal = Decimal("0.95")) -> tuple[Decimal, Decimal]:
        """Lower and upper bound of the share, 0 to 1: where it lies ``within`` so many of 1 cases.

        Where none stands any more both are 0, as there is nothing left to vary. Raises ValueError for a part outside 0
        to 1.
        """
        if not 0 < within < 1:
            raise ValueError(f"a band within {within} cannot be: above 0, below 1")
        if self.greenwood is None or not self.share:
            return Decimal(0), Decimal(0)
        z = Decimal(repr(NormalDist().inv_cdf(float((1 + within) / 2))))
        log_share = _decimal(self.share).ln()
        theta = z * _decimal(self.greenwood).sqrt() / log_share
        ends = [(log_share * (sign * theta).exp()).exp() for sign in (1, -1)]
        return min(ends), max(ends)


def _decimal(exact: Fraction) -> Decimal:
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def product_limit(durations: Sequence[Number], observed: Sequence[bool]) -> tuple[Step, ...]:
    """The product-limit estimate of what still stands, at every time at which something failed, exact.

    ``durations`` are the times to failure or to the last look, in any one unit; ``observed`` says which ended in a
    failure. A look that ends at the time of a failure counts as still at risk. Raises ValueError for lists of different
    length, an empty one, or a time below 0.
    """
    if len(durations) != len(observed):
        raise ValueError(f"{len(durations)} times and {len(observed)} ends: one end for each time")
    if not durations:
        raise ValueError("nothing was followed: at least one time")
    times = [Fraction(one) if not isinstance(one, float) else Fraction(str(one)) for one in durations]
    if min(times) < 0:
        raise ValueError(f"{float(min(times))} is before the start: 0 or more")
    ended = Counter(time for time, failed in zip(times, observed, strict=True) if failed)
    ordered = sorted(times)
    share, greenwood = Fraction(1), Fraction(0)
    steps: list[Step] = []
    for time in sorted(ended):
        # Whoever is seen last at this very time is still at risk.
        at_risk = len(ordered) - bisect_left(ordered, time)
        failed = ended[time]
        share *= Fraction(at_risk - failed, at_risk)
        if share:
            greenwood += Fraction(failed, at_risk * (at_risk - failed))
        steps.append(Step(time, at_risk, failed, share, greenwood if share else None))
    return tuple(steps)


def at_risk(durations: Sequence[Number], time: Number) -> int:
    """How many are still looked at, or fail, at ``time``."""
    return sum(Fraction(one) >= Fraction(time) for one in durations)


def share_at(steps: Sequence[Step], time: Number) -> Fraction:
    """The share that still stands at ``time``, as far as ``steps`` go: 1 before the first failure."""
    past = [step for step in steps if step.time <= Fraction(time)]
    return past[-1].share if past else Fraction(1)
