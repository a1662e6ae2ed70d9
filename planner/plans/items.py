"""Items of an accepted plan: what they wait for, when they are booked, and when they are done and earn their fee.

Every move is held against :data:`planner.rules.item_states.ITEM`. Whoever books visits calls :func:`book_item` and
:func:`free_item`; whoever keeps the step sheet calls :func:`finish_item`, which also writes what it earned.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan, Cause, Earns, Item, ItemPrice, StageEarned, Waiting
from planner.plans.accepted_rows import is_agreed
from planner.plans.consent_stops import stands_still
from planner.plans.earning import earn_finished
from planner.plans.others_agree import disputed
from planner.plans.treating import refuse_before_take_over
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import read_book, today
from planner.practice.models import Staff
from planner.rules.item_states import ITEM, ItemFacts, ItemState
from planner.rules.moves import may_move
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

_WHAT = "The item"


@dataclass(frozen=True, slots=True)
class Blocks:
    """What keeps an item from being booked or done although its own state would allow it."""

    tooth_gone_since: date | None = None


NOTHING = Blocks()


def wait_item(
    *, item: Item, seen: int, waiting_for: Waiting, earliest: date | None = None, actor: Staff, now: datetime
) -> Item:
    """Let the item wait for something, until at least ``earliest`` where a day is known. Raises Refused, StaleEdit."""
    facts = {"waiting_for": str(waiting_for)}
    values = {"waiting_for": waiting_for, "earliest": earliest, "booked_for": None}
    return _move(item, seen, ItemState.WAITING, facts, values, NOTHING, actor, now)


def free_item(*, item: Item, seen: int, reason: str = "", actor: Staff, now: datetime) -> Item:
    """Back to "to do": what it waited for has come, or its visit fell away or ended before it was begun."""
    values = {"waiting_for": "", "booked_for": None}
    return _move(item, seen, ItemState.TO_DO, {}, values, NOTHING, actor, now, reason=reason)


def book_item(*, item: Item, seen: int, visit_on: date, blocks: Blocks = NOTHING, actor: Staff, now: datetime) -> Item:
    """Give the item a visit on a day. Raises Refused when it may not be done by then, StaleEdit."""
    values = {"booked_for": visit_on}
    return _move(item, seen, ItemState.BOOKED, {"visit_on": visit_on}, values, blocks, actor, now)


def finish_item(
    *, item: Item, seen: int, done_on: date | None = None, blocks: Blocks = NOTHING, actor: Staff, now: datetime
) -> Item:
    """The dentist who treats the case marks the item done; what it has not earned yet is earned on that day.

    Raises Refused, StaleEdit, NotAllowed.
    """
    require_own(actor, item)
    require(actor, Act.APPROVE, Thing.ITEM, subject=item)
    refuse_before_take_over(item.plan.case, actor)
    day = done_on or today(item.office, now)
    values = {"done_on": day, "waiting_for": "", "booked_for": None}
    with transaction.atomic():
        saved = _move(item, seen, ItemState.DONE, {"done_on": day}, values, blocks, actor, now)
        earn_finished(item=saved, on=day, actor=actor, now=now)
    return saved


def drop_item(*, item: Item, seen: int, because: Cause, amendment: Any, actor: Staff, now: datetime) -> Item:
    """Leave the item out, as part of an amendment or of stopping the plan (``amendment`` None). For services."""
    facts = {"dropped_because": str(because)}
    values = {
        "dropped_because": because,
        "dropped_by_amendment": amendment,
        "waiting_for": "",
        "booked_for": None,
    }
    return _move(item, seen, ItemState.DROPPED, facts, values, NOTHING, actor, now)


def in_mouth(item: Item, plan: AcceptedPlan) -> bool:
    """Whether the item is work in the mouth, not something made for it beforehand or billed by somebody else."""
    return item.earns != Earns.BILL and item.service not in read_book(plan.book.data).deposit_in_full


def price_of(item: Item) -> ItemPrice:
    """The price that holds now: the newest row. No query where the prices are fetched."""
    return max(item.prices.all(), key=lambda price: price.pk)


def earned_cents(rows: Iterable[StageEarned]) -> int:
    """What the rows come to; of bills passed on nothing is income."""
    return sum(row.cents for row in rows if row.stage != "bill")


def _move(
    item: Item,
    seen: int,
    to: ItemState,
    facts: dict[str, Any],
    values: dict[str, Any],
    blocks: Blocks,
    actor: Staff,
    now: datetime,
    reason: str = "",
) -> Item:
    require_own(actor, item)
    require(actor, Act.EDIT, Thing.ITEM, subject=item)
    with transaction.atomic():
        plan = AcceptedPlan.objects.select_for_update(of=("self",)).select_related("book").get(pk=item.plan_id)
        current = Item.objects.select_related("amendment__agreement", "office").get(pk=item.pk)
        known = ItemFacts(
            day=today(current.office, now),
            plan_state=plan.state,
            earliest=current.earliest,
            tooth_gone_since=blocks.tooth_gone_since,
            consent_withdrawn=stands_still(current),
            disputed=disputed(plan.case_id),
            in_mouth=in_mouth(current, plan),
            agreed=is_agreed(current),
            **facts,
        )
        if refused := may_move(ITEM, current.state, to, known):
            raise Refused(" ".join(refused))
        saved = save_seen(current, seen=seen, what=_WHAT, values={"state": str(to), **values})
        content = {"before": current.state, "after": str(to), "plan": plan.public_id, "words": current.words}
        record(actor=actor, act="item.move", subject=saved, content=content, reason=reason, at=now)
    return saved
