"""Showings and answers of the patients first shown something in a span of days, as rows for figures."""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from django.db.models import Exists, F, Min, OuterRef, Q

from planner.followup.frozen_words import Summary, summaries
from planner.plans.accepted_models import AcceptedPlan, Follows, Item
from planner.plans.models import Answer, Estimate, Showing, State
from planner.practice.models import Office, Staff
from planner.rules.figure_rows import YES, Answered, Shown
from planner.rules.figure_words import ANSWER_DAYS
from planner.rules.figures import Cohort, cohort
from planner.rules.item_states import BOOKABLE_WITHIN_DAYS
from planner.rules.plan_states import PlanState


def read_cohort(
    office: Office, first: date, last: date, on: date, only: Staff | None = None
) -> tuple[Cohort, dict[str, str]]:
    """The cohort, and the names of the options in it. Five queries, however many people; ``only`` shown by them."""
    earlier = Showing.objects.filter(
        office=office, estimate__case__patient=OuterRef("estimate__case__patient"), on__lt=first
    )
    begun = Showing.objects.filter(~Exists(earlier), office=office, on__gte=first, on__lte=last)
    people = set(begun.values_list("estimate__case__patient", flat=True))
    until = last + timedelta(days=ANSWER_DAYS)
    rows = list(
        Showing.objects.filter(office=office, estimate__case__patient__in=people, on__lte=until)
        .select_related("estimate__case__patient", "shown_by")
        .order_by("on", "pk")
    )
    estimates = list(
        Estimate.objects.filter(office=office, case__patient__in=people, state=State.ANSWERED, answered_on__lte=until)
        .select_related("case__patient")
        .order_by("answered_on", "pk")
    )
    frozen = {row.estimate.frozen_id for row in rows} | {one.frozen_id for one in estimates}
    known = summaries(one for one in frozen if one is not None)
    plans = {plan.estimate_id: plan for plan in _accepted(office, people)}
    shown = [_shown(row, known) for row in rows]
    found = cohort(shown, [_answered(one, plans.get(one.pk), known, office) for one in estimates], first, last, on)
    if only is not None:
        own = tuple(person for person in found.people if person.first.by == only.full_name)
        found = Cohort(first, last, on, own)
    names = {key: name for one in known.values() for key, name in one.names}
    return found, names


def _accepted(office: Office, people: Iterable[int]) -> Iterable[AcceptedPlan]:
    """Plans of these people that came of an estimate, with what figures ask of them."""
    worked = Item.objects.filter(plan=OuterRef("pk")).filter(Q(done_on__isnull=False) | Q(earned__isnull=False))
    soon = Item.objects.filter(plan=OuterRef("pk"), amendment=None).filter(
        Q(earliest=None) | Q(earliest__lte=F("plan__accepted_on") + timedelta(days=BOOKABLE_WITHIN_DAYS))
    )
    plans = AcceptedPlan.objects.filter(office=office, patient__in=people, estimate__isnull=False)
    return (
        plans.exclude(follows_as=Follows.REPAIR)
        .defer("part")
        .annotate(worked=Exists(worked), soon=Exists(soon), first_booking=Min("visits__at"))
    )


def _shown(row: Showing, known: Mapping[int, Summary]) -> Shown:
    estimate = row.estimate
    summary = known[estimate.frozen_id or 0]
    return Shown(
        patient=estimate.case.patient.public_id,
        on=row.on,
        by=row.shown_by.full_name,
        options=summary.of(estimate),
        recommended=summary.recommended,
        gentlest=summary.gentlest,
    )


def _answered(estimate: Estimate, plan: AcceptedPlan | None, known: Mapping[int, Summary], office: Office) -> Answered:
    assert estimate.answered_on is not None  # by the database's constraint on answered estimates
    patient, kind = estimate.case.patient.public_id, estimate.answer
    if kind not in YES:
        return Answered(patient, estimate.answered_on, kind)
    if plan is None:
        options = known[estimate.frozen_id or 0].options
        cents = next((one.cents for one in options if one.key == estimate.answered_option), 0)
        whole = cents if kind == Answer.ALL else 0
        return Answered(patient, estimate.answered_on, kind, estimate.answered_option, whole)
    booked = plan.first_booking  # type: ignore[attr-defined]
    return Answered(
        patient=patient,
        on=plan.accepted_on,
        kind=kind,
        option=plan.option_key,
        # What another plan took the place of is counted with that one.
        cents=0 if plan.state == PlanState.CHANGED else plan.total_cents,
        stopped_before_start=plan.state == PlanState.STOPPED and not plan.worked,  # type: ignore[attr-defined]
        bookable_at_once=plan.soon,  # type: ignore[attr-defined]
        booked_on=None if booked is None else booked.astimezone(office.zone).date(),
    )
