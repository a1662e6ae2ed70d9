"""Finished work that is due to be looked at again: read for the Monday page in two queries, whatever is finished."""

from collections.abc import Iterable
from datetime import date, timedelta

from django.db.models import Max, Q

from planner.followup.review_models import Review as ReviewRow
from planner.plans.accepted_models import AcceptedPlan, Item
from planner.practice.models import Office, Staff
from planner.rules.figure_rows import ReviewDue
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.promise import APPOINTED, Moment, Review, due_on, next_review, review_late_days


def reviews_due(office: Office, day: date, only: Staff | None = None) -> tuple[ReviewDue, ...]:
    """Reviews whose day has come and that nobody wrote down; of ``only`` what that person checked or treated.

    A repair has none of its own. One that was not held within :func:`review_late_days` is let go.
    """
    late, windows = timedelta(days=review_late_days()), Q()
    for moment in APPOINTED:
        through = day - (due_on(moment, day) - day)
        windows |= Q(done_on__range=(through - late, through))
    done = Item.objects.filter(windows, office=office, state=ItemState.DONE.value)
    found = AcceptedPlan.objects.filter(
        pk__in=done.values("plan_id"), state=PlanState.FINISHED.value, estimate__isnull=False
    )
    if only is not None:
        mine = AcceptedPlan.objects.filter(Q(estimate__checked_by=only) | Q(visits__clinician=only))
        found = found.filter(pk__in=mine.values("pk"))
    plans = list(found.select_related("patient").defer("part").annotate(last=Max("items__done_on")).order_by("pk"))
    held: dict[int, list[Review]] = {}
    rows = ReviewRow.objects.filter(office=office, plan__in=[plan.pk for plan in plans] or [0], corrected_by=None)
    for plan_id, said, on in rows.order_by("pk").values_list("plan_id", "moment", "on"):
        held.setdefault(plan_id, []).append(Review(Moment(said), on))
    return tuple(
        ReviewDue(plan.public_id, plan.patient.name, plan.name, str(due[0]), due[1])
        for plan in plans
        if (due := _due(plan.last, held.get(plan.pk, ()), day)) is not None
    )


def _due(done_on: date, held: Iterable[Review], day: date) -> tuple[Moment, date] | None:
    """The review that is due on ``day``: the newest whose day has come, where neither it nor a later one was held."""
    known = list(held)
    first = next_review(done_on, known)
    if first is None:
        return None
    come = [one for one in APPOINTED[APPOINTED.index(first[0]) :] if due_on(one, done_on) <= day]
    if not come or (day - due_on(come[-1], done_on)).days > review_late_days():
        return None
    return come[-1], due_on(come[-1], done_on)
