"""Discounts that a person gives: what they come to, and whether that person may.

Who may allow how much of which kind is the office's own (:class:`~planner.rules.book.DiscountLimit`); the shipped rules
are only that every discount has a reason and a name, that nobody allows what they asked for themselves where asking is
wanted, and that several discounts of one kind count together, so that a large one cannot be given in small pieces.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.rules.book import DiscountKind, DiscountLimit
from planner.rules.cents import half_up, percent_of
from planner.rules.choices import DiscountChoice
from planner.rules.units import format_cents
from planner.rules.words import in_cents, told


@dataclass(frozen=True, slots=True)
class Discount:
    """One discount as it is given: a percentage or an amount, on one line or on the whole estimate."""

    kind: DiscountKind
    reason: str
    allowed_by: str
    """Name of the person who allows it."""
    allowed_role: str
    """Role of that person, such as ``office manager``."""
    percent: Decimal | None = None
    cents: int | None = None
    line: int | None = None
    """Place of the charge it is on, counted from 0; None for the whole estimate."""
    asked_by: str = ""
    asked_role: str = ""
    pass_through: bool = False
    """Ticked: bills passed through are discounted too."""
    own_family: bool = False
    """For the family of the person who allows it."""
    second_person: str = ""

    def amount(self, base: int) -> int:
        """What it comes to on ``base`` cents, half-up."""
        return half_up(percent_of(base, self.percent)) if self.percent is not None else self.cents or 0


@dataclass(frozen=True, slots=True)
class DiscountGiven:
    """A discount with what it came to."""

    discount: Discount
    before_cents: int
    """What it was given on."""
    cents: int

    @property
    def after_cents(self) -> int:
        return self.before_cents - self.cents

    @property
    def words(self) -> str:
        """One sentence for a reader."""
        given = self.discount
        where = told("the whole estimate") if given.line is None else told("line {n}", n=given.line + 1)
        return told(
            "{kind} discount{share} on {where}: {before} − {off} = {after}; {reason} (allowed by {by})",
            kind=given.kind,
            share=f" ({given.percent} %)" if given.percent is not None else "",
            where=where,
            before=in_cents(self.before_cents),
            off=in_cents(self.cents),
            after=in_cents(self.after_cents),
            reason=given.reason,
            by=given.allowed_by,
        )


def given_on(option: str, chosen: Iterable[DiscountChoice], services: Sequence[str]) -> tuple[Discount, ...]:
    """The discounts that were allowed on ``option``, whose charges are for ``services`` in this order.

    One that still waits for somebody takes nothing off and is left out. Raises LookupError for one on a line that the
    option no longer has: a discount never moves to another line by itself.
    """
    found = []
    for one in chosen:
        if one.option != option or not one.given:
            continue
        if one.line and one.line not in services:
            raise LookupError(f'the {one.kind} discount is on the line "{one.line}", which is gone: take it back')
        found.append(
            Discount(
                kind=one.kind,
                reason=one.reason,
                allowed_by=one.allowed_by,
                allowed_role=one.allowed_role,
                percent=one.percent,
                cents=one.cents,
                line=services.index(one.line) if one.line else None,
                asked_by=one.asked_by,
                asked_role=one.asked_role,
                pass_through=one.pass_through,
                own_family=one.own_family,
                second_person=one.second_person,
            )
        )
    return tuple(found)


def faults_as_written(discounts: Sequence[Discount], lines: int) -> Iterator[str]:
    """What is wrong with the discounts before anything is computed, one sentence each; ``lines`` counts the charges."""
    for place, given in enumerate(discounts, start=1):
        name = f"discount {place} ({given.kind})"
        if (given.percent is None) == (given.cents is None):
            yield f"{name}: write either a percentage or an amount"
        if given.percent is not None and not 0 < given.percent <= 100:
            yield f"{name}: {given.percent} % is no discount; it lies above 0 and at most at 100"
        if given.cents is not None and given.cents <= 0:
            yield f"{name}: {format_cents(given.cents)} is no discount; it lies above 0.00"
        if given.line is not None and not 0 <= given.line < lines:
            yield f"{name}: there is no line {given.line + 1}; the estimate has {lines}"
        if not given.reason.strip():
            yield f"{name}: a discount needs a reason"
        if not given.allowed_by.strip():
            yield f"{name}: a discount needs the name of who allows it"
        if given.own_family and given.second_person in ("", given.allowed_by, given.asked_by):
            yield f"{name}: for one's own family a second person has to agree, and none other is named"


def faults_of_limits(given: Sequence[DiscountGiven], whole: int, limits: Sequence[DiscountLimit]) -> Iterator[str]:
    """Who may not allow what they allowed, one sentence each.

    ``whole`` is what the lines come to before discounts. A discount has to fit a limit by itself, and so does the sum
    of all of its kind.
    """
    together: Counter[str] = Counter()
    for item in given:
        together[item.discount.kind] += item.cents
    for item in given:
        fault = _refusal(item.discount, item.cents, item.before_cents, limits)
        if fault is None and item.cents != together[item.discount.kind]:
            fault = _refusal(item.discount, together[item.discount.kind], whole, limits)
        if fault is not None:
            yield fault


def _refusal(discount: Discount, cents: int, base: int, limits: Sequence[DiscountLimit]) -> str | None:
    of_kind = [limit for limit in limits if limit.kind == discount.kind]
    what = f"{discount.kind} discount of {format_cents(cents)} on {format_cents(base)}"
    if not any(limit.allowed_by for limit in of_kind):
        why = next((limit.why for limit in of_kind if limit.why), "no limit of this office allows it")
        return f"{what}: {why}"
    covering = [limit for limit in of_kind if _covers(limit, cents, base)]
    mine = [limit for limit in covering if discount.allowed_role in limit.allowed_by]
    if not mine:
        may = sorted({role for limit in covering for role in limit.allowed_by}) or ["nobody here"]
        return f"{what}: a {discount.allowed_role} may not allow this much; {' or '.join(may)} may"
    if any(not limit.asked_by or _asked(discount, limit) for limit in mine):
        return None
    roles = " or ".join(sorted({role for limit in mine for role in limit.asked_by}))
    return f"{what}: somebody else has to ask for it first ({roles}), and who allows it is another person"


def _covers(limit: DiscountLimit, cents: int, base: int) -> bool:
    return cents <= percent_of(base, limit.most_percent) or (limit.most_cents is not None and cents <= limit.most_cents)


def _asked(discount: Discount, limit: DiscountLimit) -> bool:
    return discount.asked_role in limit.asked_by and discount.asked_by.strip() not in ("", discount.allowed_by)
