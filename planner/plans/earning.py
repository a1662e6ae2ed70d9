"""What items earn, by the day of service and never by the day of payment."""

from datetime import date, datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan, Earns, Item, StageEarned
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import read_book, today
from planner.practice.models import Staff
from planner.rules.book import EarningStage
from planner.rules.settling import earned_by_months, earned_by_stages
from planner.trail.errors import Refused
from planner.trail.services import record

FINISHED = "finished"
BILL = "bill"


def earn_stage(*, item: Item, stage: str, on: date | None = None, actor: Staff, now: datetime) -> StageEarned:
    """A stage of work made outside the mouth was reached, such as ``records`` or ``laboratory sent``.

    Raises Refused for a stage the office has not named, for one that is earned already, or for work without stages.
    """
    require_own(actor, item)
    require(actor, Act.EDIT, Thing.ITEM, subject=item)
    with transaction.atomic():
        held = _held(item)
        if held.earns != Earns.STAGES:
            raise Refused(f"“{held.words}” has no stages: it is earned when it is {held.earns}.")
        stages = stages_of(held.plan)
        reached = [row.stage for row in held.earned.all()]
        if stage in reached:
            raise Refused(f"“{stage}” is earned already.")
        total = _total(held)
        try:
            cents = earned_by_stages(total, stages, [*_named(reached, stages), stage])
        except ValueError as error:
            raise Refused(f"{str(error)[0].upper()}{str(error)[1:]}.") from None
        return _write(held, stage, cents - _sum(held), on, actor, now)


def earn_month(*, item: Item, month: int, on: date | None = None, actor: Staff, now: datetime) -> StageEarned:
    """Another month of a course has passed. Raises Refused for a month beyond the plan or earned already."""
    require_own(actor, item)
    require(actor, Act.EDIT, Thing.ITEM, subject=item)
    with transaction.atomic():
        held = _held(item)
        if held.earns != Earns.MONTHS or not held.months:
            raise Refused(f"“{held.words}” is no course of months.")
        done = sum(row.stage.startswith("month ") for row in held.earned.all())
        if month != done + 1 or month > held.months:
            raise Refused(f"Month {month}: {done} of {held.months} months are earned; the next is {done + 1}.")
        cents = earned_by_months(_total(held), held.months, month) - _sum(held)
        return _write(held, f"month {month}", cents, on, actor, now)


def pass_bill(*, item: Item, cents: int, on: date | None = None, actor: Staff, now: datetime) -> StageEarned:
    """A bill passed on has come. Raises Refused when one came already, or when the item is no bill passed on."""
    require_own(actor, item)
    require(actor, Act.CREATE, Thing.RECEIPT, subject=item)
    with transaction.atomic():
        held = _held(item)
        if held.earns != Earns.BILL:
            raise Refused(f"“{held.words}” is no bill that is passed on.")
        if cents < 0:
            raise Refused("A bill below zero is none.", field="cents")
        if held.earned.all():
            raise Refused("The bill has come already.")
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


def _named(reached: list[str], stages: tuple[EarningStage, ...]) -> list[str]:
    known = {stage.stage for stage in stages}
    return [stage for stage in reached if stage in known]


def _held(item: Item) -> Item:
    AcceptedPlan.objects.select_for_update().get(pk=item.plan_id)
    rows = Item.objects.select_related("plan__book", "office").prefetch_related("earned", "prices")
    return rows.get(pk=item.pk)


def _total(item: Item) -> int:
    return max(item.prices.all(), key=lambda price: price.pk).total_cents


def _sum(item: Item) -> int:
    return sum(row.cents for row in item.earned.all())


def _write(item: Item, stage: str, cents: int, on: date | None, actor: Staff, now: datetime) -> StageEarned:
    day = on or today(item.office, now)
    if day > today(item.office, now):
        raise Refused(f"{day.isoformat()} lies in the future: nothing is earned then yet.", field="on")
    row = StageEarned.objects.create(office=item.office, item=item, stage=stage, cents=cents, on=day, by=actor, at=now)
    content = {"stage": stage, "cents": cents, "on": day.isoformat()}
    record(actor=actor, act="item.earn", subject=item, content=content, at=now)
    return row
