"""How an accepted plan goes on: begun, finished, put to rest and taken up again, stopped early, its prices held.

Every move is held against :data:`planner.rules.plan_states.PLAN`. What lies on a floor above (a signed consent, a
history asked again, a review done) is told by whoever knows it.
"""

from datetime import date, datetime, timedelta

from django.db import transaction

from planner.plans.accepted_models import (
    AcceptedPlan,
    BalanceCall,
    BalanceSheet,
    Cause,
    PriceHold,
)
from planner.plans.accepted_rows import option_of_plan, write_move
from planner.plans.account import account_of, deposit_settled
from planner.plans.items import drop_item
from planner.plans.still_holds import against
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import read_book, today
from planner.practice.models import Staff
from planner.rules.item_states import OPEN_ITEM, ItemState
from planner.rules.moves import may_move
from planner.rules.plan_states import PLAN, PlanFacts, PlanState, price_hold_lapsed
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

_WHAT = "The accepted plan"


def follow_visits(*, plan: AcceptedPlan, seen: int, actor: Staff, now: datetime) -> AcceptedPlan:
    """Accepted becomes booked once an item has a visit and the deposit is settled, and back when none has one.

    Raises Refused with the sentence why it stays, StaleEdit.
    """
    with transaction.atomic():
        held = _held(plan)
        has_visit = held.items.filter(state=str(ItemState.BOOKED)).exists()
        facts = PlanFacts(first_item_has_visit=has_visit, deposit_paid_or_waived=deposit_settled(held))
        return _move(held, seen, PlanState.BOOKED if has_visit else PlanState.ACCEPTED, facts, "", actor, now)


def begin_plan(
    *, plan: AcceptedPlan, seen: int, consent: str | None, history_asked_on: date | None, actor: Staff, now: datetime
) -> AcceptedPlan:
    """Treatment starts. ``consent`` is empty when one to this very plan is signed and in date, else what is wrong.

    Raises Refused, StaleEdit, NotAllowed.
    """
    require(actor, Act.EDIT, Thing.ITEM, subject=plan)
    with transaction.atomic():
        held = _held(plan)
        facts = PlanFacts(day=today(held.office, now), consent=consent, history_asked_on=history_asked_on)
        return _move(held, seen, PlanState.UNDER_WAY, facts, "", actor, now)


def finish_plan(
    *, plan: AcceptedPlan, seen: int, review_done: bool | None, actor: Staff, now: datetime
) -> AcceptedPlan:
    """Everything is done or dropped, and reviewed. Raises Refused, StaleEdit, NotAllowed."""
    require(actor, Act.APPROVE, Thing.ITEM, subject=plan)
    with transaction.atomic():
        held = _held(plan)
        left = tuple(held.items.filter(state__in=OPEN_ITEM).values_list("words", flat=True))
        facts = PlanFacts(open_items=left, review_done=review_done)
        return _move(held, seen, PlanState.FINISHED, facts, "", actor, now)


def rest_plan(
    *, plan: AcceptedPlan, seen: int, reason: str, look_again_on: date, actor: Staff, now: datetime
) -> AcceptedPlan:
    """Put the plan to rest until somebody looks at it again. Raises Refused, StaleEdit, NotAllowed."""
    require(actor, Act.EDIT, Thing.ACCEPTED, subject=plan)
    with transaction.atomic():
        held = _held(plan)
        facts = PlanFacts(day=today(held.office, now), reason=reason, look_again_on=look_again_on)
        return _move(held, seen, PlanState.RESTING, facts, reason, actor, now)


def resume_plan(*, plan: AcceptedPlan, seen: int, actor: Staff, now: datetime) -> AcceptedPlan:
    """Take a resting plan up again where it was. Raises Refused when what it rests on is stale or its price no longer
    held; StaleEdit, NotAllowed.
    """
    require(actor, Act.EDIT, Thing.ACCEPTED, subject=plan)
    with transaction.atomic():
        held = _held(plan)
        back = rested_from(held)
        day = today(held.office, now)
        facts = PlanFacts(
            rested_from=back,
            to=back,
            stale=against(held, now),
            price_held=not hold_lapsed(held, day),
        )
        return _move(held, seen, PlanState(back or PlanState.ACCEPTED), facts, "", actor, now)


def confirm_prices(*, plan: AcceptedPlan, reason: str, actor: Staff, now: datetime) -> PriceHold:
    """Hold the accepted prices for another term of the office's. Raises Refused for a plan that is over; NotAllowed.

    Whoever does not want to hold them makes a new estimate at today's list.
    """
    require_own(actor, plan)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=plan)
    if not reason.strip():
        raise Refused("Say why the prices are held on.", field="reason")
    with transaction.atomic():
        held = _held(plan)
        if held.state in (PlanState.FINISHED, PlanState.STOPPED, PlanState.CHANGED):
            raise Refused(f"The plan is {held.state}: no price is held any more.")
        day = today(held.office, now)
        through = day + timedelta(days=read_book(held.book.data).price_held_days)
        row = PriceHold.objects.create(
            office=held.office, plan=held, through=through, reason=reason.strip(), on=day, by=actor, at=now
        )
        content = {"through": through.isoformat()}
        record(actor=actor, act="plan.hold_price", subject=held, content=content, reason=reason.strip(), at=now)
    return row


def stop_plan(
    *,
    plan: AcceptedPlan,
    seen: int,
    because: Cause,
    reason: str,
    make_safe: str = "",
    actor: Staff,
    now: datetime,
) -> BalanceSheet:
    """Stop early: what is open is dropped, what was paid and earned is laid side by side, altered teeth are made safe.

    Nothing is asked of the patient by it: a balance due is a call of the manager first, a refund goes through two
    people. Raises Refused, StaleEdit, NotAllowed.
    """
    require(actor, Act.EDIT, Thing.ACCEPTED, subject=plan)
    with transaction.atomic():
        held = _held(plan)
        facts = PlanFacts(reason=reason, balance_sheet=True, teeth_altered=teeth_altered(held), make_safe=make_safe)
        if refused := may_move(PLAN, held.state, PlanState.STOPPED, facts):
            raise Refused(" ".join(refused), field="make_safe" if facts.reason.strip() else "reason")
        _drop_open(held, because, actor, now)
        sheet = _write_sheet(held, make_safe.strip(), actor, now)
        _move(held, seen, PlanState.STOPPED, facts, reason, actor, now)
    return sheet


def change_plan(*, plan: AcceptedPlan, replaced_by: AcceptedPlan, actor: Staff, now: datetime) -> BalanceSheet:
    """End a plan because ``replaced_by`` takes its place; it stays readable, with what was paid and earned.

    Money that is held stays here until somebody carries it forward (:func:`planner.plans.carrying.carry_forward`) or
    it goes back like any other. Raises Refused for another
    person's plan or one that is over; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.EDIT, Thing.ACCEPTED, subject=plan)
    if plan.patient_id != replaced_by.patient_id:
        raise Refused("A plan is replaced only by another of the same person.", field="replaces")
    with transaction.atomic():
        held = _held(plan)
        facts = PlanFacts(replaced_by=replaced_by.public_id)
        if refused := may_move(PLAN, held.state, PlanState.CHANGED, facts):
            raise Refused(" ".join(refused), field="replaces")
        _drop_open(held, Cause.PATIENT, actor, now)
        sheet = _write_sheet(held, "", actor, now)
        _move(held, held.version, PlanState.CHANGED, facts, "replaced by another accepted plan", actor, now)
    return sheet


def record_balance_call(
    *, sheet: BalanceSheet, spoke_with: str, words: str, actor: Staff, now: datetime
) -> BalanceCall:
    """The manager's call about a balance due, before any bill goes out. Raises Refused, NotAllowed."""
    require_own(actor, sheet)
    require(actor, Act.CREATE, Thing.BALANCE, subject=sheet.plan)
    if not sheet.balance_due_cents:
        raise Refused("No balance is due here.")
    if not spoke_with.strip() or not words.strip():
        missing = "words" if spoke_with.strip() else "spoke_with"
        raise Refused("Say with whom you spoke and what was agreed.", field=missing)
    with transaction.atomic():
        row = BalanceCall.objects.create(
            office=sheet.office,
            sheet=sheet,
            spoke_with=spoke_with.strip(),
            words=words.strip(),
            on=today(sheet.office, now),
            by=actor,
            at=now,
        )
        record(actor=actor, act="plan.balance_call", subject=sheet.plan, content={"with": row.spoke_with}, at=now)
    return row


def rested_from(plan: AcceptedPlan) -> str:
    """The state from which the plan went to rest; empty when it does not rest."""
    if plan.state != PlanState.RESTING:
        return ""
    last = plan.moves.filter(after=str(PlanState.RESTING)).order_by("-pk").first()
    return last.before if last else ""


def held_through(plan: AcceptedPlan) -> date:
    """The last day on which the accepted prices are held."""
    return max([plan.price_held_through, *(row.through for row in plan.price_holds.all())])


def hold_lapsed(plan: AcceptedPlan, day: date) -> bool:
    """Whether the accepted prices have to be confirmed anew; once treatment has started they stand."""
    started = plan.state == PlanState.UNDER_WAY or any(move.after == PlanState.UNDER_WAY for move in plan.moves.all())
    return price_hold_lapsed(plan.price_held_through, held_through(plan), started, day)


def teeth_altered(plan: AcceptedPlan) -> bool:
    """Whether work that cannot be undone has begun on a tooth: done, or prepared in a stage after the records."""
    taken = option_of_plan(plan)
    cut = {
        (line.treatment, line.tooth.key)
        for line in (taken[0].work if taken else ())
        if line.tooth is not None and (line.irreversible or line.removal_tenths or line.crown_percent_high)
    }
    stages = read_book(plan.book.data).earning_stages
    first = stages[0].stage if stages else ""
    for item in plan.items.prefetch_related("earned"):
        begun = item.state == ItemState.DONE or any(row.stage != first for row in item.earned.all())
        if begun and any((item.treatment, tooth) in cut for tooth in item.teeth):
            return True
    return False


def _held(plan: AcceptedPlan) -> AcceptedPlan:
    rows = AcceptedPlan.objects.select_for_update(of=("self",)).select_related("office", "book", "frozen", "case")
    return rows.get(pk=plan.pk)


def _move(
    plan: AcceptedPlan, seen: int, to: PlanState, facts: PlanFacts, reason: str, actor: Staff, now: datetime
) -> AcceptedPlan:
    require_own(actor, plan)
    if refused := may_move(PLAN, plan.state, to, facts):
        raise Refused(" ".join(refused), field="look_again_on" if to == PlanState.RESTING and reason.strip() else "")
    before = plan.state
    look = facts.look_again_on if to == PlanState.RESTING else None
    saved = save_seen(plan, seen=seen, what=_WHAT, values={"state": str(to), "look_again_on": look})
    write_move(saved, before, to, today(saved.office, now), reason.strip(), actor, now, look)
    content = {"before": before, "after": str(to), "look_again_on": look.isoformat() if look else ""}
    record(actor=actor, act="plan.move", subject=saved, content=content, reason=reason.strip(), at=now)
    return saved


def _drop_open(plan: AcceptedPlan, because: Cause, actor: Staff, now: datetime) -> None:
    for item in plan.items.filter(state__in=OPEN_ITEM):
        drop_item(item=item, seen=item.version, because=because, amendment=None, actor=actor, now=now)


def _write_sheet(plan: AcceptedPlan, make_safe: str, actor: Staff, now: datetime) -> BalanceSheet:
    account = account_of(plan)
    settled = account.settlement
    return BalanceSheet.objects.create(
        office=plan.office,
        plan=plan,
        paid_cents=account.paid_cents,
        earned_cents=account.earned_cents,
        bills_cents=account.bills_cents,
        charged_cents=account.charged_cents,
        refund_cents=settled.refund_cents,
        balance_due_cents=settled.balance_due_cents,
        how=settled.how,
        make_safe=make_safe,
        on=today(plan.office, now),
        by=actor,
        at=now,
    )
