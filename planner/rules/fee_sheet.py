"""One fee reckoned from its cost: margin and mark-up side by side, and what the list fee really leaves."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from planner.rules.book import OfficeBook, Payee
from planner.rules.cents import half_up, up_to_next
from planner.rules.fees import Cost, cost

_TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class FeeSheet:
    """What some work costs and what it should be charged, in cents; percentages with one decimal."""

    how: tuple[str, ...]
    cost_cents: int
    percent: Decimal
    """The office's margin; the mark-up beside it has the same figure, to show that it is another thing."""
    by_margin_cents: int
    by_mark_up_cents: int
    short_cents: int
    """By how much the mark-up falls short of the margin."""
    margin_fee_cents: int
    """The fee for the margin, rounded up by the office's rule."""
    mark_up_fee_cents: int
    margin_of_margin_fee: Decimal
    margin_of_mark_up_fee: Decimal
    list_cents: int | None
    list_margin: Decimal | None
    """What the list fee leaves, percent of it; None while no list fee is given."""


def fee_sheet(
    book: OfficeBook,
    minutes: tuple[tuple[Payee, int], ...],
    *,
    teeth: int,
    visits: int,
    lab_cents: int,
    list_cents: int | None = None,
) -> FeeSheet:
    """The sheet for work of so many ``minutes`` of each person, ``teeth``, ``visits`` and laboratory cents.

    Raises LookupError when the office has not typed a rate that is needed, ValueError where nothing is asked for.
    """
    found = cost(
        book, [(payee, amount) for payee, amount in minutes if amount], teeth=teeth, visits=visits, lab_cents=lab_cents
    )
    if found.total <= 0:
        raise ValueError("work of no minute, no material and no laboratory has no cost")
    by_margin, by_mark_up = found.fee_for_margin(book.margin_percent), found.fee_for_mark_up(book.margin_percent)
    margin_fee, mark_up_fee = (up_to_next(each, book.fee_round_cents) for each in (by_margin, by_mark_up))
    return FeeSheet(
        how=found.how,
        cost_cents=half_up(found.total),
        percent=book.margin_percent,
        by_margin_cents=half_up(by_margin),
        by_mark_up_cents=half_up(by_mark_up),
        short_cents=half_up(by_margin - by_mark_up),
        margin_fee_cents=margin_fee,
        mark_up_fee_cents=mark_up_fee,
        margin_of_margin_fee=_margin(found, margin_fee),
        margin_of_mark_up_fee=_margin(found, mark_up_fee),
        list_cents=list_cents,
        list_margin=_margin(found, list_cents) if list_cents else None,
    )


def _margin(found: Cost, fee_cents: int) -> Decimal:
    exact = Fraction(found.margin_percent(fee_cents))
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(_TENTH, ROUND_HALF_UP)


def usual_minutes(book: OfficeBook, teeth: int) -> int:
    """Usual minutes of bonding so many teeth with one more reshaped, by the office's blocks."""
    bonding = sum(
        row.usual * (teeth if row.block == "per tooth" else 1) for row in book.minutes if row.treatment == "bonding"
    )
    reshaping = sum(row.usual for row in book.minutes if row.treatment == "reshaping")
    return bonding + reshaping
