"""A statement of account: what came in, what went out, what was earned, day by day, with the balance after each.

A balance above zero is money held for whoever paid it; below zero it is earned and not paid yet. It is the same sum as
:func:`planner.rules.settling.settle`, taken step by step.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Entry:
    """One line, in cents; of the amounts usually only one is not zero."""

    on: date
    paid_cents: int = 0
    """Came in; below zero it went back, was taken back or was carried forward."""
    earned_cents: int = 0
    """Below zero for a correction."""
    bill_cents: int = 0
    """A bill passed on, which is no income."""
    charged_cents: int = 0
    """Charged beside the work; below zero where a charge is waived."""

    @property
    def difference_cents(self) -> int:
        """By how much the balance changes."""
        return self.paid_cents - self.earned_cents - self.bill_cents - self.charged_cents


@dataclass(frozen=True, slots=True)
class Sums:
    """What the lines come to, in cents."""

    came_in_cents: int
    went_out_cents: int
    """Above zero: what went back, was taken back or was carried forward."""
    earned_cents: int
    bills_cents: int
    charged_cents: int = 0

    @property
    def balance_cents(self) -> int:
        taken = self.earned_cents + self.bills_cents + self.charged_cents
        return self.came_in_cents - self.went_out_cents - taken

    @property
    def held_cents(self) -> int:
        """Paid and not earned yet."""
        return max(self.balance_cents, 0)

    @property
    def owed_cents(self) -> int:
        """Earned, billed or charged, and not paid yet."""
        return max(-self.balance_cents, 0)


def by_day(entries: Iterable[Entry]) -> tuple[int, ...]:
    """The places of ``entries`` in the order of their days; what falls on one day stays in the order it was written."""
    rows = list(entries)
    return tuple(sorted(range(len(rows)), key=lambda place: rows[place].on))


def balances(entries: Sequence[Entry]) -> tuple[int, ...]:
    """The balance after each of ``entries``, in cents."""
    found, balance = [], 0
    for entry in entries:
        balance += entry.difference_cents
        found.append(balance)
    return tuple(found)


def sums(entries: Sequence[Entry]) -> Sums:
    """What ``entries`` come to."""
    return Sums(
        came_in_cents=sum(entry.paid_cents for entry in entries if entry.paid_cents > 0),
        went_out_cents=-sum(entry.paid_cents for entry in entries if entry.paid_cents < 0),
        earned_cents=sum(entry.earned_cents for entry in entries),
        bills_cents=sum(entry.bill_cents for entry in entries),
        charged_cents=sum(entry.charged_cents for entry in entries),
    )
