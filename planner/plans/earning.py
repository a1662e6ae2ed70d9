"""What items earn, by the day of service and never by the day of payment."""

from datetime import date, datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan, Earns, Item, StageEarned
from planner.plans.accepted_rows import is_agreed
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import read_book, today
from planner.practice.models import Staff
from planner.rules.book import EarningStage
from planner.rules.item_states import OPEN_ITEM
from planner.rules.plan_states import OPEN_PLAN, PlanState
from planner.rules.settling import earned_by_months, earned_by_stages
from planner.rules.units import format_cents
from planner.trail.errors import Refused
from planner.trail.services import record

FINISHED = "finished"
BILL = "bill"


def earn_stage(*, item: Item, stage: str, on: date | None = None, actor: Staff, now: datetime) -> StageEarned:
    """A stage of work made outside the mouth was reached, such as ``records`` or ``laboratory sent``.

    Raises Refused for a stage the office has not named, for one that is earned already, for work without stages, and
    for what is done, dropped, or not agreed to.
    """
    require_own(actor, item)
    require(actor, Act.EDIT, Thing.ITEM, subject=item)
    with transaction.atomic():
        held = _held(item)
        if held.earns != Earns.STAGES:
            raise Refused(f"“{held.words}” has no stages: it is earned when it is {held.earns}.")
        _refuse_closed(held)
        stages = stages_of(held.plan)
        reached = [row.stage for row in held.earned.all()]
        if stage in reached:
            raise Refused(f"“{stage}” is earned already: {_written(held, stage)}.")
        total = _total(held)
        try:
            cents = earned_by_stages(total, stages, [*_named(reached, stages), stage])
        except ValueError as error:
            raise Refused(f"{str(error)[0].upper()}{str(error)[1:]}.") from None
        return _write(held, stage, cents - _sum(held), on, actor, now)


def earn_month(*, item: Item, month: int, on: date | None = None, actor: Staff, now: datetime) -> StageEarned:
    """Another month of a course has passed.

    Raises Refused for a month beyond the plan or earned already, and for what is done, dropped, or not agreed to.
    """
    require_own(actor, item)
    require(actor, Act.EDIT, Thing.ITEM, subject=item)
    with transaction.atomic():
        held = _held(item)
        if held.earns != Earns.MONTHS or not held.months:
            raise Refused(f"“{held.words}” is no course of months.")
        _refuse_closed(held)
        done = months_earned(held)
        if month != done + 1 or month > held.months:
            raise Refused(f"Month {month}: {done} of {held.months} months are earned; the next is {done + 1}.")
        cents = earned_by_months(_total(held), held.months, month) - _sum(held)
        return _write(held, f"month {month}", cents, on, actor, now)


def pass_bill(*, item: Item, cents: int, on: date | None = None, actor: Staff, now: datetime) -> StageEarned:
    """A bill passed on has come, which may be after the work is done or the plan is over; no part of it is income.

    Raises Refused when one came already, when the item is no bill passed on or was never agreed to, and for an amount
    of nothing: what is not billed is not written.
    """
    require_own(actor, item)
    require(actor, Act.CREATE, Thing.RECEIPT, subject=item)
    with transaction.atomic():
        held = _held(item)
        if held.earns != Earns.BILL:
            raise Refused(f"“{held.words}” is no bill that is passed on.")
        if not is_agreed(held):
            raise Refused(f"“{held.words}” is not agreed to yet.")
        if cents <= 0:
            raise Refused(f"{format_cents(cents)} is no bill; write what was billed.", field="cents")
        if held.earned.all():
            raise Refused(f"The bill has come already: {_written(held, BILL)}.")
        return _write(held, BILL, cents, on, actor, now)


def earn_finished(*, item: Item, on: date, actor: Staff, now: datetime) -> StageEarned | None:
    """Earn what an item that is done has not earned yet; nothing for a bill. Part of marking it done, inside of it."""
    held = _held(item)
    if held.earns == Earns.BILL:
        return None
    left = _total(held) - _sum(held)
    return _write(held, FINISHED, left, on, actor, now) if left else None


def stages_of(plan: AcceptedPlan) -> tuple[EarningStage, ...]:
    """The office's stages as they were when the plan was accepted."""
    return read_book(plan.book.data).earning_stages


def months_earned(item: Item) -> int:
    """How many months of a course are earned. No query where what it earned is fetched."""
    return sum(row.stage.startswith("month ") for row in item.earned.all())


def bill_is_open(item: Item, plan: AcceptedPlan) -> bool:
    """Whether a bill passed on may still come for this item."""
    return item.earns == Earns.BILL and plan.state != PlanState.CHANGED and is_agreed(item) and not item.earned.all()


def _refuse_closed(item: Item) -> None:
    if item.state not in OPEN_ITEM:
        raise Refused(f"“{item.words}” is {item.state}: nothing more of it is earned by and by.")
    if item.plan.state not in OPEN_PLAN:
        raise Refused(f"The plan is {item.plan.state}: nothing is earned in it now.")
    if not is_agreed(item):
        raise Refused(f"“{item.words}” is not agreed to yet.")


def _named(reached: list[str], stages: tuple[EarningStage, ...]) -> list[str]:
    known = {stage.stage for stage in stages}
    return [stage for stage in reached if stage in known]


def _held(item: Item) -> Item:
    AcceptedPlan.objects.select_for_update().get(pk=item.plan_id)
    rows = Item.objects.select_related("plan__book", "office", "amendment__agreement").prefetch_related(
        "earned", "prices"
    )
    return rows.get(pk=item.pk)


def _total(item: Item) -> int:
    return max(item.prices.all(), key=lambda price: price.pk).total_cents


def _sum(item: Item) -> int:
    return sum(row.cents for row in item.earned.all())


def _written(item: Item, stage: str) -> str:
    """What of an item is earned or billed, by whom it was written, and when."""
    row = item.earned.select_related("by").get(stage=stage)
    return done_by(f"{format_cents(row.cents)} written", row.by, row.on, item.office)


def _write(item: Item, stage: str, cents: int, on: date | None, actor: Staff, now: datetime) -> StageEarned:
    day = on or today(item.office, now)
    if day > today(item.office, now):
        raise Refused(f"{day.isoformat()} lies in the future: nothing is earned then yet.", field="on")
    row = StageEarned.objects.create(office=item.office, item=item, stage=stage, cents=cents, on=day, by=actor, at=now)
    content = {"stage": stage, "cents": cents, "on": day.isoformat()}
    record(actor=actor, act="item.earn", subject=item, content=content, at=now)
    return row
