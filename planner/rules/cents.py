"""Whole cents: the one way of rounding, and the one way of spreading.

Every figure in money that is not whole is a :class:`~fractions.Fraction` or a :class:`~decimal.Decimal` until it meets
:func:`half_up`; nothing else rounds.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import floor

Exact = Fraction | Decimal | int
"""A number that has lost nothing."""


def half_up(value: Exact, step: int = 1) -> int:
    """``value`` to the nearest multiple of ``step``, a half away from zero.

    So 0.5 becomes 1 and -0.5 becomes -1: what is charged and the same amount given back are the same.
    Raises ValueError when ``step`` is below 1.
    """
    _check_step(step)
    if step == 1 and isinstance(value, int):
        return value
    # Whole numbers throughout: twice the parts and one whole, over twice the whole.
    exact = Fraction(value)
    parts, whole = exact.numerator, exact.denominator * step
    nearest = (2 * abs(parts) + whole) // (2 * whole)
    return (nearest if parts >= 0 else -nearest) * step


def up_to_next(value: Exact, step: int = 1) -> int:
    """``value`` up to the next multiple of ``step``; a multiple stays. Raises ValueError when ``step`` is below 1."""
    _check_step(step)
    return -floor(-Fraction(value) / step) * step


def _check_step(step: int) -> None:
    if step < 1:
        raise ValueError(f"{step} is no step to round to; a step is 1 cent or more")


def percent_of(cents: Exact, percent: Exact) -> Fraction:
    """``percent`` of ``cents``, exact."""
    return Fraction(cents) * Fraction(percent) / 100


def spread(total: int, weights: Sequence[int]) -> tuple[int, ...]:
    """``total`` cents over parts in proportion to ``weights``, so that the parts add up to it exactly.

    Largest remainder: every part gets the whole cents of its proportion; the cents left over go to the largest
    remainders, among equal ones to the earlier part. Each part is within one cent of its proportion. Raises ValueError
    when a weight is negative or when there is something to spread and nothing to spread it over.
    """
    if any(weight < 0 for weight in weights):
        raise ValueError(f"weights {tuple(weights)} to spread over must not be negative")
    whole = sum(weights)
    if whole == 0:
        if total:
            raise ValueError(f"{total} cents cannot be spread: the weights come to nothing")
        return (0,) * len(weights)
    sign = -1 if total < 0 else 1
    shares = [divmod(abs(total) * weight, whole) for weight in weights]
    left = abs(total) - sum(share for share, _ in shares)
    first = sorted(range(len(shares)), key=lambda place: (-shares[place][1], place))[:left]
    return tuple(sign * (share + (place in first)) for place, (share, _) in enumerate(shares))
