"""Changes of an accepted plan while it runs: lines added, dropped or swapped, with reason, cause and money.

Priced by the list of the day of acceptance. A package stays when the office drops a line; what is done and earned is
never dropped, and where the price of finished work changes a correction is earned beside it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from planner.plans.accepted_models import (
    AcceptedPlan,
    Agreement,
    Amendment,
    Cause,
    Item,
    StageEarned,
)
from planner.plans.accepted_rows import charge_from, write_items, write_price
from planner.plans.agreed_before import BEFORE, charges_of_items, discounts_of, most_agreed, why_not_before
from planner.plans.facts import case_facts
from planner.plans.items import drop_item, price_of
from planner.plans.others_agree import refuse_disputed
from planner.plans.treating import refuse_before_take_over
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import read_book, today
from planner.practice.models import Staff
from planner.rules.acceptance import Amended, Amounts, amended, drafts, list_of, right_person
from planner.rules.fees import Charge
from planner.rules.item_states import ItemState
from planner.rules.money import EstimateError
from planner.rules.options import price_line
from planner.rules.plan_states import OPEN_PLAN
from planner.rules.settling import MORE_REMOVED, NEW_RISK
from planner.rules.teeth import Tooth
from planner.rules.units import format_cents
from planner.trail.errors import Refused
from planner.trail.services import record

SPOKEN, SIGNED = "spoken", "signed"


def preview(
    *,
    plan: AcceptedPlan,
    cause: Cause,
    dropped: Sequence[Item] = (),
    added: Sequence[Charge] = (),
    more_removal: bool = False,
    new_material_risk: bool = False,
) -> Amended:
    """What the change would come to; nothing is written. Raises Refused when it cannot be priced."""
    rows = _open_rows(plan)
    lines = _by_line(rows)
    book = read_book(plan.book.data)
    try:
        change = amended(
            [charge_from(items) for items in lines.values()],
            _dropped(lines, dropped),
            added,
            book,
            price_list_version=plan.price_list_version,
            accepted_on=plan.accepted_on,
            office_dropped=cause == Cause.OFFICE,
            option=plan.option_key,
            discounts=discounts_of(plan),
            kept_packages=sorted({code for one in plan.amendments.all() for code in one.kept_packages}),
            more_removal=more_removal,
            new_material_risk=new_material_risk,
        )
        return _above_the_most(plan, change)
    except EstimateError as error:
        raise Refused(" ".join(f"{fault[0].upper()}{fault[1:]}." for fault in error.faults)) from None
    except LookupError as error:
        raise Refused(f"{str(error)[0].upper()}{str(error)[1:]}.") from None


def amend(
    *,
    plan: AcceptedPlan,
    cause: Cause,
    reason: str,
    dropped: Sequence[Item] = (),
    added: Sequence[Charge] = (),
    more_removal: bool = False,
    new_material_risk: bool = False,
    actor: Staff,
    now: datetime,
) -> Amendment:
    """Change the plan. What was added and needs a signature is neither booked nor done before :func:`agree`.

    Raises Refused without a reason, for no change, for dropping everything (stop the plan instead) or what is done, in
    a plan that does not go on, when it cannot be priced, or while another dentist treats the case; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.APPROVE, Thing.AMENDMENT, subject=plan)
    refuse_before_take_over(plan.case, actor)
    if not reason.strip():
        raise Refused("Give the reason for the change.", field="reason")
    if not dropped and not added:
        raise Refused("Nothing changes: drop or add a line.")
    with transaction.atomic():
        held = AcceptedPlan.objects.select_for_update(of=("self",)).select_related("office", "book").get(pk=plan.pk)
        if held.state not in OPEN_PLAN:
            raise Refused(f"The plan is {held.state}; it is changed only while it goes on.")
        rows = _open_rows(held)
        if any("promise_cost_cents" in item.charge for item in rows):
            raise Refused("Work done again under promise has no price to change: more of it is another repair.")
        if not added and {item.pk for item in dropped} >= {item.pk for item in rows}:
            raise Refused("This drops everything: stop the plan instead.")
        change = preview(
            plan=held,
            cause=cause,
            dropped=dropped,
            added=added,
            more_removal=more_removal,
            new_material_risk=new_material_risk,
        )
        made = Amendment.objects.create(
            office=held.office,
            plan=held,
            number=held.amendments.count() + 1,
            cause=cause,
            reason=reason.strip(),
            before_cents=change.before.total_cents,
            after_cents=change.after.total_cents,
            new_signature=list(change.change.new_signature),
            kept_packages=list(change.kept_packages),
            on=today(held.office, now),
            by=actor,
            at=now,
        )
        for item in dropped:
            drop_item(item=item, seen=item.version, because=cause, amendment=made, actor=actor, now=now)
        _apply(held, change, rows, {item.pk for item in dropped}, len(added), made, actor, now)
        content = {
            "number": made.number,
            "cause": str(cause),
            "difference_cents": made.difference_cents,
            "dropped": [item.words for item in dropped],
            "added": [charge.service for charge in added],
            "new_signature": made.new_signature,
        }
        record(actor=actor, act="plan.amend", subject=held, content=content, reason=reason.strip(), at=now)
    return made


def agree(
    *,
    amendment: Amendment,
    by: str,
    capacity: str,
    how: str = SIGNED,
    witness: str = "",
    actor: Staff,
    now: datetime,
) -> Agreement:
    """Record the yes to a change: signed, agreed before in the signed list of what may be found, or spoken.

    A spoken yes needs a witness and is never enough where more is removed from a tooth. Raises Refused, NotAllowed.
    """
    require_own(actor, amendment)
    require(actor, Act.CREATE, Thing.ACCEPTED, subject=amendment)
    with transaction.atomic():
        rows = AcceptedPlan.objects.select_for_update(of=("self",))
        plan = rows.select_related("office", "case__patient", "book", "frozen").get(pk=amendment.plan_id)
        day = today(plan.office, now)
        person = case_facts(plan.case, day).patient
        if refused := right_person(person, by, capacity, read_book(plan.book.data), day):
            raise Refused(refused, field="by")
        if how == SPOKEN and not witness.strip():
            raise Refused("A spoken yes needs a witness: say who heard it.", field="witness")
        if how == SPOKEN and MORE_REMOVED in amendment.new_signature:
            raise Refused("A spoken yes is not enough where more is removed from a tooth: it is signed.", field="how")
        if how == BEFORE and (refused := _not_before(plan, amendment)):
            raise Refused(refused, field="how")
        before = Agreement.objects.filter(amendment=amendment).select_related("by").first()
        if before is not None:
            noted = done_by("recorded", before.by, before.at, plan.office)
            raise Refused(f"This change is agreed to already: {before.agreed_by} said yes ({before.how}), {noted}.")
        refuse_disputed(plan.case_id)
        made = Agreement.objects.create(
            office=plan.office,
            amendment=amendment,
            agreed_by=by.strip(),
            how=how,
            witness=witness.strip(),
            on=day,
            by=actor,
            at=now,
        )
        content = {"amendment": amendment.number, "by": by.strip(), "how": how}
        record(actor=actor, act="plan.agree", subject=plan, content=content, at=now)
    return made


def _above_the_most(plan: AcceptedPlan, change: Amended) -> Amended:
    """``change``, with one more reason for a signature where the price would rise above the most that was agreed.

    The papers promise that, whatever limit the office has for changes that need none.
    """
    after = change.after.total_cents
    if change.change.difference_cents <= 0 or after <= (most := most_agreed(plan)):
        return change
    words = f"the price comes to {format_cents(after)}, more than the {format_cents(most)} agreed at most"
    return replace(change, change=replace(change.change, new_signature=(*change.change.new_signature, words)))


def not_before(
    plan: AcceptedPlan,
    added: Iterable[Charge],
    after_cents: int,
    new_signature: Iterable[str],
    number: int | None = None,
) -> str:
    """Why a change was not agreed beforehand, in one sentence; empty when it was. ``number`` once it is written."""
    if {MORE_REMOVED, NEW_RISK} & set(new_signature):
        return "More removal or a new risk was never agreed beforehand: it is signed."
    return why_not_before(plan, added, after_cents, number)


def _not_before(plan: AcceptedPlan, made: Amendment) -> str:
    added = charges_of_items(made.added.order_by("line", "position"))
    return not_before(plan, added, made.after_cents, made.new_signature, made.number)


def _open_rows(plan: AcceptedPlan) -> list[Item]:
    rows = plan.items.exclude(state=str(ItemState.DROPPED)).prefetch_related("prices", "earned")
    return list(rows.order_by("line", "position"))


def _by_line(rows: Iterable[Item]) -> dict[int, list[Item]]:
    lines: dict[int, list[Item]] = {}
    for item in rows:
        lines.setdefault(item.line, []).append(item)
    return lines


def _dropped(lines: Mapping[int, list[Item]], dropped: Sequence[Item]) -> dict[int, tuple[Tooth | None, ...]]:
    gone = {item.pk for item in dropped}
    found: dict[int, tuple[Tooth | None, ...]] = {}
    for place, items in enumerate(lines.values()):
        away = [item for item in items if item.pk in gone]
        if len(away) == len(items):
            found[place] = (None,)
        elif away:
            found[place] = tuple(Tooth.from_key(key) for item in away for key in item.teeth)
    return found


def _apply(
    plan: AcceptedPlan,
    change: Amended,
    rows: list[Item],
    gone: set[int],
    added: int,
    made: Amendment,
    actor: Staff,
    now: datetime,
) -> None:
    """Write the new prices of what stays, and the items that are added."""
    book = read_book(plan.book.data)
    found = drafts([price_line(line) for line in change.after.lines], list_of(book, plan.price_list_version), book)
    kept_lines = len(change.after.lines) - added
    stays = [item for item in rows if item.pk not in gone]
    old = [draft for draft in found if draft.line < kept_lines]
    for item, draft in zip(stays, old, strict=True):
        _reprice(item, draft.amounts, made, actor, now)
    last = plan.items.aggregate(position=Max("position"), line=Max("line"))
    write_items(
        plan,
        [draft for draft in found if draft.line >= kept_lines],
        first_position=last["position"] + 1,
        first_line=last["line"] + 1 - kept_lines,
        amendment=made,
    )


def _reprice(item: Item, amounts: Amounts, made: Amendment, actor: Staff, now: datetime) -> None:
    before = price_of(item)
    known = Amounts(before.gross_cents, before.taken_off_cents, before.net_cents, before.tax_cents)
    if known == amounts:
        return
    write_price(item, amounts, made)
    if item.state == ItemState.DONE:
        StageEarned.objects.create(
            office_id=item.office_id,
            item=item,
            stage=f"correction {made.number}",
            cents=amounts.total - known.total,
            on=made.on,
            by=actor,
            at=now,
        )
