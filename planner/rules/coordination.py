"""What a plan pays after another has paid: the four ways in use, and what is certain when nobody knows which.

The ways are those of the ADA's guidance on coordination of benefits
(https://www.ada.org/resources/practice/dental-insurance/ada-guidance-on-coordination-of-benefits).
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from planner.rules.benefit_plans import Coordination
from planner.rules.cents import half_up, percent_of
from planner.rules.units import format_cents


@dataclass(frozen=True, slots=True)
class Own:
    """What a plan would do by itself, in cents."""

    fee_cents: int
    """The office's fee."""
    allowed_cents: int
    deductible_cents: int
    """Taken off first."""
    percent: Fraction
    most_cents: int | None
    """What is left of its maximums; None where it has none."""

    def of(self, base: int) -> int:
        """What it pays of ``base``: less the deductible, by its percentage, within its maximums."""
        pays = half_up(percent_of(max(base - self.deductible_cents, 0), self.percent))
        return pays if self.most_cents is None else min(pays, self.most_cents)

    @property
    def normal_cents(self) -> int:
        """What it would pay if it were alone."""
        return self.of(self.allowed_cents)


def _standard(own: Own, before: int) -> int:
    return min(own.normal_cents, own.fee_cents - before)


def _maintenance(own: Own, before: int) -> int:
    return own.of(max(own.allowed_cents - before, 0))


def _less_what_was_paid(own: Own, before: int) -> int:
    return max(own.normal_cents - before, 0)


_WAYS: Final = {
    "standard": (_standard, "what it would pay alone, and with the other payer no more than the fee"),
    "maintenance": (_maintenance, "its share of what the other payer left of the allowed fee"),
    "non-duplication": (_less_what_was_paid, "only what it would pay alone beyond what the other paid"),
    "carve-out": (_less_what_was_paid, "what it would pay alone, less what the other paid"),
}


def coordinated(rule: Coordination, own: Own, before: int) -> tuple[int, int, str]:
    """What a plan pays in cents after ``before`` cents of other payers: least, most, and how.

    The two are the same unless nobody knows the plan's way; then they span what the ways come to.
    """
    if not before:
        return own.normal_cents, own.normal_cents, f"nobody pays before: {format_cents(own.normal_cents)}"
    if rule == "unknown":
        sums = [way(own, before) for way, _words in _WAYS.values()]
        return min(sums), max(sums), f"nobody knows its way: {format_cents(min(sums))} to {format_cents(max(sums))}"
    way, words = _WAYS[rule]
    pays = way(own, before)
    return pays, pays, f"{rule}, {words}: {format_cents(pays)} after {format_cents(before)}"
