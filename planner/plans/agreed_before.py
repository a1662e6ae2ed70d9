"""What was agreed before the start for what may be found, and what a later change may come to because of it.

The list is the one frozen with the plan. It covers that very service for that tooth, as often as it says; whatever goes
beyond, in work or in money, is signed for.
"""

from collections.abc import Iterable
from functools import partial

from planner.plans.accepted_models import AcceptedPlan, Amendment, Item
from planner.plans.accepted_rows import charge_from, option_of_plan
from planner.plans.estimates import read_frozen
from planner.practice.books import read_book
from planner.rules.acceptance import list_of, priced_as_accepted
from planner.rules.choices import DiscountChoice
from planner.rules.fees import Charge
from planner.rules.frozen import facts_in
from planner.rules.if_then import not_covered, range_of
from planner.rules.item_states import ItemState
from planner.rules.results import FoundShape
from planner.rules.teeth import Numbering
from planner.rules.units import format_cents

BEFORE = "agreed before"


def discounts_of(plan: AcceptedPlan) -> tuple[DiscountChoice, ...]:
    """Those allowed on the whole option; a part never had them, nor has a repair."""
    if plan.estimate_id is None or plan.part is not None:
        return ()
    return facts_in(read_frozen(plan.frozen)).choices.discounts


def pieces_agreed(plan: AcceptedPlan) -> tuple[FoundShape, ...]:
    """The pieces agreed beforehand, as frozen with the plan's option; none for a repair."""
    taken = option_of_plan(plan)
    span = taken[0].estimate.span if taken is not None else None
    return span.found if span is not None else ()


def charges_of_items(items: Iterable[Item]) -> list[Charge]:
    """The charges that ``items`` are cut from, line by line."""
    lines: dict[int, list[Item]] = {}
    for item in items:
        lines.setdefault(item.line, []).append(item)
    return [charge_from(rows) for rows in lines.values()]


def most_agreed(plan: AcceptedPlan, before: int | None = None) -> int:
    """What the plan may come to without a new signature, cents: its range as accepted, and each change that was signed.

    ``before`` leaves out the change of that number and later ones.
    """
    book = read_book(plan.book.data)
    prices = list_of(book, plan.price_list_version)
    price = partial(
        priced_as_accepted,
        book=book,
        prices=prices,
        accepted_on=plan.accepted_on,
        option=plan.option_key,
        discounts=discounts_of(plan),
    )
    accepted = charges_of_items(plan.items.filter(amendment=None).order_by("line", "position"))
    signed = (
        one.difference_cents
        for one in _earlier(plan, before)
        if (agreement := getattr(one, "agreement", None)) is not None and agreement.how != BEFORE
    )
    return range_of(accepted, pieces_agreed(plan), prices, price).high_cents + sum(signed)


def why_not_before(plan: AcceptedPlan, added: Iterable[Charge], after_cents: int, before: int | None = None) -> str:
    """Why work ``added`` to a plan that then comes to ``after_cents`` was not agreed beforehand; empty when it was.

    ``before`` is the number of the change itself, once it is written.
    """
    agreed = pieces_agreed(plan)
    if not agreed:
        return "No piece of work was agreed beforehand in this plan: it is signed."
    used = [
        charge
        for one in _earlier(plan, before)
        if getattr(getattr(one, "agreement", None), "how", BEFORE) == BEFORE
        for charge in charges_of_items(one.added.exclude(state=ItemState.DROPPED.value).order_by("line", "position"))
    ]
    if beyond := not_covered(list(added), agreed, used):
        service, tooth = beyond[0]
        named = list_of(read_book(plan.book.data), plan.price_list_version).service(service).words
        where = f" on the {tooth.label(Numbering(plan.case.numbering))}" if tooth is not None else ""
        return f"“{named}”{where} is not in the list agreed beforehand, or not that often: it is signed."
    most = most_agreed(plan, before)
    if after_cents > most:
        return (
            f"The plan then comes to {format_cents(after_cents)}, more than the {format_cents(most)} agreed at most: "
            "it is signed."
        )
    return ""


def _earlier(plan: AcceptedPlan, before: int | None) -> list[Amendment]:
    rows = plan.amendments.select_related("agreement").order_by("number")
    return [one for one in rows if before is None or one.number < before]
