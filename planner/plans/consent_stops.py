"""Letting items stand still when consent is withdrawn, and go on once there is a new one.

Consents are kept on the floor above. It tells here what they mean, so that booking or doing an item need ask nobody.
"""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.consent_models import ConsentStop
from planner.practice.access import require_own
from planner.practice.models import Staff
from planner.rules.item_states import OPEN_ITEM
from planner.trail.services import record


def stop_items(*, items: Iterable[Item], words: str, actor: Staff, now: datetime) -> tuple[Item, ...]:
    """Freeze those of ``items`` that are neither done nor dropped: none is booked, moved or done any more.

    Whoever withdraws is heard at once, so this asks for no right but that of belonging to the office. Visits stay in
    the diary until somebody cancels them. Returns the items that stand still by it.
    """
    return _write(items, True, words, actor, now)


def let_items_go_on(*, plan: AcceptedPlan, words: str, actor: Staff, now: datetime) -> tuple[Item, ...]:
    """Thaw every item of ``plan`` that stands still, because a new consent covers it."""
    return _write(plan.items.prefetch_related("consent_stops"), False, words, actor, now)


def stands_still(item: Item) -> bool:
    """Whether consent to the item is withdrawn. No query where the rows are fetched."""
    newest = max(item.consent_stops.all(), key=lambda row: row.pk, default=None)
    return newest is not None and newest.stands_still


def _write(items: Iterable[Item], still: bool, words: str, actor: Staff, now: datetime) -> tuple[Item, ...]:
    with transaction.atomic():
        changed = [item for item in items if item.state in OPEN_ITEM and stands_still(item) != still]
        for item in changed:
            require_own(actor, item)
            ConsentStop.objects.create(
                office_id=item.office_id, item=item, stands_still=still, words=words.strip(), by=actor, at=now
            )
            record(actor=actor, act="item.consent_stop" if still else "item.consent_again", subject=item, at=now)
    return tuple(changed)
