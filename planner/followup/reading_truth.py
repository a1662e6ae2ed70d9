"""What was planned and what came of it, as rows for figures: visits, minutes, payers, laboratory, repairs, calls."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import F, Max, Q, Sum

from planner.followup.models import MadeCall
from planner.followup.review_models import Review, ReviewTooth
from planner.plans.accepted_models import (
    AcceptedPlan,
    BalanceSheet,
    Follows,
    Item,
    PaymentKind,
    PlanMove,
    RefundState,
    StageEarned,
)
from planner.plans.payer_models import PayerPaid
from planner.practice.books import current_book
from planner.practice.catalogue import in_force
from planner.practice.models import Office
from planner.practice.stock import shelf
from planner.practice.stock_models import WorkTiming
from planner.practice.timings import blocks_of
from planner.rules.cents import half_up
from planner.rules.clock import ten_to_ninety
from planner.rules.figure_rows import CallMade, Followed, Guessed, Owed, Repaired, Timed, VisitKept
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.promise import Condition
from planner.rules.visit_states import LaboratoryState, VisitState
from planner.visits.models import LaboratoryMove, Visit, VisitMove

SHORT_DAYS, YEAR_DAYS = 90, 365
SOON_OLD_DAYS = 30
"""Lots that expire within so many days are told."""
_LET_GO = (VisitState.CANCELLED.value, VisitState.RESCHEDULED.value)


def _begins(office: Office, day: date) -> datetime:
    return datetime.combine(day, time(0), office.zone).astimezone(UTC)


def visits_kept(office: Office, now: datetime, day: date) -> tuple[VisitKept, ...]:
    """The visits of the last 90 days. Two queries."""
    since = _begins(office, day - timedelta(days=SHORT_DAYS))
    rows = list(
        Visit.objects.filter(office=office, starts__gte=since, starts__lt=now).values_list("pk", "starts", "state")
    )
    let_go = [key for key, _starts, state in rows if state in _LET_GO]
    moved = VisitMove.objects.filter(visit__in=let_go, after__in=_LET_GO).values_list("visit").annotate(at=Max("at"))
    at = dict(moved)
    return tuple(
        VisitKept(
            starts.astimezone(office.zone).date(),
            state,
            int((starts - at[key]).total_seconds() // 3600) if key in at else None,
        )
        for key, starts, state in rows
    )


def minutes_timed(office: Office, day: date) -> tuple[Timed, ...]:
    """The timings of the last twelve months beside the minutes of the office book in force. One query."""
    blocks = {(one.treatment, one.visit, one.block): one for one in blocks_of(current_book(office, day))}
    rows = WorkTiming.objects.filter(office=office, on__gt=day - timedelta(days=YEAR_DAYS), on__lte=day)
    names = {key: part.name for key, part in in_force().catalogue.treatments.items()}
    return tuple(
        Timed(
            option=names.get(row.treatment, row.treatment),
            step=row.block,
            on=row.on,
            units=row.teeth,
            minutes=row.minutes,
            planned_minutes=half_up(block.start.mean * row.teeth),
            low_minutes=half_up(ten_to_ninety(block.start)[0] * row.teeth),
            high_minutes=half_up(ten_to_ninety(block.start)[1] * row.teeth),
            disturbed=row.disturbed,
        )
        for row in rows
        if (block := blocks.get((row.treatment, row.visit, row.block))) is not None
    )


def payers_guessed(office: Office, day: date) -> tuple[Guessed, ...]:
    """The final answers of payers of the last twelve months. One query."""
    rows = PayerPaid.objects.filter(office=office, on__gt=day - timedelta(days=YEAR_DAYS))
    return tuple(Guessed(row.told, row.guessed_cents, row.paid_cents) for row in rows)


def laboratory_times(office: Office, day: date) -> tuple[tuple[date, date], ...]:
    """For what a laboratory brought back in the last 90 days: when it was due, and when it came. One query."""
    since = _begins(office, day - timedelta(days=SHORT_DAYS))
    rows = LaboratoryMove.objects.filter(office=office, after=LaboratoryState.RECEIVED.value, at__gte=since)
    return tuple(
        (due, at.astimezone(office.zone).date()) for due, at in rows.values_list("case__due", "at") if due is not None
    )


def calls_made(office: Office, day: date) -> tuple[CallMade, ...]:
    """The calls of the last 90 days. One query."""
    rows = MadeCall.objects.filter(office=office, due__gt=day - timedelta(days=SHORT_DAYS))
    return tuple(CallMade(row.due, row.latest, row.on) for row in rows)


def repairs(office: Office, day: date) -> tuple[Repaired, ...]:
    """Repairs of the last twelve months, with the days since the work was finished. Two queries."""
    since = day - timedelta(days=YEAR_DAYS)
    # The instant is said too, because there is an index of it.
    rows = AcceptedPlan.objects.filter(
        office=office, follows_as=Follows.REPAIR, accepted_on__gt=since, at__gte=_begins(office, since)
    ).select_related("patient")
    found = list(rows.defer("part").order_by("accepted_on", "pk"))
    ends = PlanMove.objects.filter(plan__in=[row.follows_id for row in found], after=PlanState.FINISHED.value)
    finished = dict(ends.values_list("plan").annotate(last=Max("on")))
    return tuple(
        Repaired(
            row.public_id,
            row.patient.name,
            row.name,
            row.accepted_on,
            row.total_cents,
            (row.accepted_on - finished.get(row.follows_id, row.accepted_on)).days,
        )
        for row in found
    )


def teeth_followed(office: Office, day: date) -> tuple[Followed, ...]:
    """Teeth worked on in the last twelve months, until their patient was last seen. Five queries.

    A tooth that was mended at a review and has a repair of that day was repaired once.
    """
    since = day - timedelta(days=YEAR_DAYS)
    # By what was earned, of which there is an index by day; what is done has earned.
    earned = StageEarned.objects.filter(office=office, on__gt=since, on__lte=day, item__state=ItemState.DONE.value)
    items = list(
        earned.exclude(item__plan__follows_as=Follows.REPAIR)
        .exclude(item__treatment="")
        .order_by("pk")
        .values_list("item__plan", "item__plan__patient", "item__teeth", "item__done_on")
    )
    people = {patient for _plan, patient, _teeth, _on in items}
    seen_rows = Visit.objects.filter(patient__in=people, state=VisitState.KEPT.value).values_list("patient")
    seen = {patient: at.astimezone(office.zone).date() for patient, at in seen_rows.annotate(last=Max("starts"))}
    reviews = Review.objects.filter(office=office, plan__patient__in=people, corrected_by=None, on__lte=day)
    for patient, on in reviews.values_list("plan__patient").annotate(last=Max("on")):
        seen[patient] = max(on, seen.get(patient, on))
    mended = Item.objects.filter(
        office=office, plan__follows_as=Follows.REPAIR, plan__follows__in={plan for plan, *_ in items}
    ).values_list("plan__follows", "teeth", "plan__accepted_on")
    repaired: dict[tuple[int, str], set[date]] = {}
    for plan, teeth, on in mended:
        for tooth in teeth:
            repaired.setdefault((plan or 0, tooth), set()).add(on)
    looked = ReviewTooth.objects.filter(review__in=reviews, condition=str(Condition.MENDED))
    for plan, tooth, on in looked.values_list("review__plan", "tooth", "review__on"):
        repaired.setdefault((plan, tooth), set()).add(on)
    # Once a tooth, however many items were done at it.
    first: dict[tuple[int, str], tuple[int, date]] = {}
    for plan, patient, teeth, on in items:
        assert on is not None  # by the database's constraint on what is done
        for tooth in teeth:
            before = first.get((plan, tooth))
            first[plan, tooth] = (patient, on if before is None else max(before[1], on))
    return tuple(
        Followed(on, max(seen.get(patient, on), on), len(repaired.get((plan, tooth), ())))
        for (plan, tooth), (patient, on) in first.items()
    )


def refunds_owed(office: Office) -> tuple[Owed, ...]:
    """Plans that are over on which more was paid than earned, as far as it has neither gone back nor been
    carried forward. Two queries.
    """
    back = Sum(
        "plan__payments__cents",
        filter=Q(plan__payments__kind__in=(PaymentKind.REFUND, PaymentKind.CARRIED), plan__payments__at__gte=F("at")),
        default=0,
    )
    sheets = BalanceSheet.objects.filter(office=office, refund_cents__gt=0).annotate(back=back)
    rows = sheets.filter(refund_cents__gt=F("back")).select_related("plan__patient").prefetch_related("plan__refunds")
    return tuple(
        Owed(
            row.plan.public_id,
            row.plan.patient.name,
            row.refund_cents - row.back,
            row.on,
            ", ".join(
                str(one.state)
                for one in row.plan.refunds.all()
                if one.state in (RefundState.ASKED, RefundState.ALLOWED)
            ),
        )
        for row in rows
    )


def supplies(office: Office, day: date) -> Iterable[str]:
    """Lots with something left that expire soon or have expired, one sentence each. One query."""
    for line in shelf(office, current_book(office, day), day).lines:
        for one in line.lots:
            if one.days is not None and one.days <= SOON_OLD_DAYS:
                assert one.lot.expires is not None
                yield f"{one.words}: lot {one.lot.code} expires on {one.lot.expires.isoformat()}"
