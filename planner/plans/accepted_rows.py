"""Rows of accepted plans, written and read: for the services of this floor, inside their transactions."""

import json
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Manager, QuerySet

from planner.plans.accepted_models import AcceptedPlan, Agreement, Amendment, Item, ItemPrice, PlanMove
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate, FrozenPlan
from planner.practice.models import BookVersion, Staff
from planner.rules.acceptance import Amounts, Draft, charge_of
from planner.rules.fees import Charge
from planner.rules.partial import whole_of
from planner.rules.plan_states import PlanState
from planner.rules.results import OptionShape, PriceLine
from planner.rules.teeth import Tooth


def rows_for(plans: Manager[AcceptedPlan]) -> QuerySet[AcceptedPlan]:
    """The plans with everything their page reads: a fixed number of queries, however many items."""
    return plans.select_related(
        "office", "book", "estimate", "case__patient__office", "frozen", "follows"
    ).prefetch_related(
        "items__prices",
        "items__earned",
        "items__amendment__agreement",
        "payments__by",
        "charges__by",
        "refunds__asked_by",
        "refunds__allowed_by",
        "refunds__closed_by",
        "refunds__receipt",
        "amendments__agreement",
        "moves__by",
        "price_holds",
        "followed_by",
    )


def option_of_plan(plan: AcceptedPlan) -> tuple[OptionShape, tuple[str, ...]] | None:
    """The option a plan is of, as frozen, with the pieces taken; None for a repair."""
    if plan.estimate_id is None:
        return None
    option = read_frozen(plan.frozen).option(plan.option_key)
    return option, tuple(read_part(plan)["chosen"]) if plan.part is not None else whole_of(option)


def read_part(plan: AcceptedPlan) -> dict[str, Any]:
    """The part as it was computed, plain JSON values; empty where the whole option was accepted."""
    if plan.part is None:
        return {}
    read: dict[str, Any] = json.loads(bytes(plan.part))
    return read


def is_agreed(item: Item) -> bool:
    """Whether the amendment that added the item needs no yes, or has it."""
    return item.amendment is None or change_agreed(item.amendment)


def change_agreed(change: Amendment, at: datetime | None = None) -> bool:
    """Whether a change holds: it needs no signature or has it, as things stood ``at`` a moment."""
    agreed: Agreement | None = getattr(change, "agreement", None)
    return not change.new_signature or (agreed is not None and (at is None or agreed.at <= at))


def changes_of(plan: AcceptedPlan, at: datetime | None = None) -> list[Amendment]:
    """The changes of a plan up to a moment, in their order."""
    return [one for one in plan.amendments.all() if at is None or one.at <= at]


def came_to(plan: AcceptedPlan, at: datetime | None = None) -> int:
    """What a plan comes to, taxes included, cents: as accepted, or as its last change left it ``at`` a moment.

    A change that still waits for its signature does not count.
    """
    held = [one for one in changes_of(plan, at) if change_agreed(one, at)]
    return held[-1].after_cents if held else plan.total_cents


def charge_json(line: PriceLine) -> dict[str, Any]:
    """What the price list was asked for, as an item keeps it."""
    charge = charge_of(line)
    return {
        "service": charge.service,
        "quantity": charge.quantity,
        "teeth": [tooth.key for tooth in charge.teeth],
        "tax_class": charge.tax_class,
        "tax_reason": charge.tax_reason,
        "percent": charge.percent,
    }


def charge_from(items: Sequence[Item]) -> Charge:
    """The charge that the items of one line are left of: for each tooth of its own, or as the line was."""
    kept = items[0].charge
    teeth = [key for item in items for key in item.teeth]
    return Charge(
        service=kept["service"],
        quantity=sum(item.quantity for item in items),
        teeth=tuple(Tooth.from_key(key) for key in teeth),
        tax_class=kept["tax_class"],
        tax_reason=kept["tax_reason"],
        percent=kept["percent"],
    )


def write_plan(
    source: Estimate | AcceptedPlan,
    *,
    book: BookVersion,
    frozen: FrozenPlan,
    version: int,
    name: str,
    total: int,
    by: str,
    capacity: str,
    day: date,
    held_days: int,
    actor: Staff,
    now: datetime,
    deposit: int = 0,
    option_key: str = "",
    part: bytes | None = None,
    follows: AcceptedPlan | None = None,
    follows_as: str = "",
    reason: str = "",
) -> AcceptedPlan:
    """The row of a new accepted plan, and its first move."""
    plan = AcceptedPlan.objects.create(
        office=source.office,
        patient=source.case.patient,
        case=source.case,
        estimate=source if isinstance(source, Estimate) else None,
        frozen=frozen,
        book=book,
        price_list_version=version,
        option_key=option_key,
        name=name,
        part=part,
        accepted_on=day,
        accepted_by=by,
        accepted_as=capacity,
        price_held_through=day + timedelta(days=held_days),
        total_cents=total,
        deposit_cents=deposit,
        follows=follows,
        follows_as=follows_as,
        created_by=actor,
        at=now,
    )
    write_move(plan, "", PlanState.ACCEPTED, day, reason, actor, now)
    return plan


def write_move(
    plan: AcceptedPlan,
    before: str,
    after: PlanState,
    day: date,
    reason: str,
    actor: Staff,
    now: datetime,
    look_again_on: date | None = None,
) -> PlanMove:
    """One move of a plan, to stay."""
    return PlanMove.objects.create(
        office=plan.office,
        plan=plan,
        before=before,
        after=str(after),
        on=day,
        reason=reason,
        look_again_on=look_again_on,
        by=actor,
        at=now,
    )


def write_items(
    plan: AcceptedPlan,
    found: Iterable[Draft],
    *,
    first_position: int = 0,
    first_line: int = 0,
    amendment: Amendment | None = None,
    beside_charge: dict[str, Any] | None = None,
) -> tuple[Item, ...]:
    """One row for each draft, with its price. ``beside_charge`` is kept with what was charged."""
    made = []
    for place, draft in enumerate(found):
        line = draft.source
        item = Item.objects.create(
            office=plan.office,
            plan=plan,
            position=first_position + place,
            line=first_line + draft.line,
            amendment=amendment,
            service=line.service,
            code=line.code,
            words=line.words,
            words_es=line.words_es,
            treatment=draft.treatment,
            teeth=[tooth.key for tooth in draft.teeth],
            quantity=draft.quantity,
            charge=charge_json(line) | (beside_charge or {}),
            tax_class=line.tax_class,
            tax_reason=line.tax_reason,
            tax_percent=line.tax_percent,
            earns=draft.earns,
            months=draft.months,
        )
        write_price(item, draft.amounts, amendment)
        made.append(item)
    return tuple(made)


def write_price(item: Item, amounts: Amounts, amendment: Amendment | None = None) -> ItemPrice:
    """The price of an item, as accepted or as an amendment leaves it."""
    return ItemPrice.objects.create(
        office_id=item.office_id,
        item=item,
        amendment=amendment,
        gross_cents=amounts.gross,
        taken_off_cents=amounts.taken_off,
        net_cents=amounts.net,
        tax_cents=amounts.tax,
        total_cents=amounts.total,
    )
