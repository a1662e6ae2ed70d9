"""Promise against result of one accepted plan, read from its rows: the frozen plan, reviews, repairs, step sheets."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q

from planner.followup.review_models import Review as ReviewRow
from planner.plans.accepted_models import AcceptedPlan, Follows, Item
from planner.plans.accepted_rows import option_of_plan
from planner.plans.account import account_of, value_of
from planner.plans.estimates import read_frozen
from planner.practice.catalogue import in_force
from planner.practice.models import Office, Staff
from planner.rules.courses import Work
from planner.rules.frozen import facts_in
from planner.rules.item_states import ItemState
from planner.rules.promise import (
    Condition,
    Mended,
    Moment,
    Promised,
    Result,
    Review,
    SeenTooth,
    compare,
    next_review,
)
from planner.rules.series import course_of
from planner.rules.settling import Account
from planner.rules.teeth import Tooth
from planner.rules.tooth_sizes import target_size
from planner.visits.step_models import StepsClosed
from planner.visits.stepping import progress_of


@dataclass(frozen=True, slots=True)
class VisitMinutes:
    """A visit that was worked by its step sheet: minutes as they were booked for it, and as they were."""

    on: date
    words: str
    planned: int
    real: int
    disturbed: bool


@dataclass(frozen=True, slots=True)
class PlanResult:
    """What came of an accepted plan, with all that is shown beside it."""

    plan: AcceptedPlan
    result: Result
    rows: tuple[ReviewRow, ...]
    """The reviews that count, by day."""
    minutes: tuple[VisitMinutes, ...]
    account: Account
    done_on: date | None
    """The day on which the last of it was done; None while nothing is."""
    next: tuple[Moment, date] | None
    """The next review that has a day of its own."""
    is_open: bool
    """Whether something of it is still to be done."""

    @property
    def planned_minutes(self) -> int:
        """Of the visits that were worked by their sheets."""
        return sum(one.planned for one in self.minutes)

    @property
    def real_minutes(self) -> int:
        return sum(one.real for one in self.minutes)


def result_of(plan: AcceptedPlan) -> PlanResult:
    """Everything about ``plan``. The number of queries grows with its visits alone."""
    rows = tuple(reviews_of(plan))
    result = compare(promised_of(plan), map(review_of, rows), wishes_of(plan), mended_of(plan))
    done = [item.done_on for item in plan.items.all() if item.state == ItemState.DONE and item.done_on]
    last = max(done, default=None)
    return PlanResult(
        plan=plan,
        result=result,
        rows=rows,
        minutes=minutes_of(plan),
        account=account_of(plan),
        done_on=last,
        next=None if last is None else next_review(last, result.reviews),
        is_open=any(item.state not in (ItemState.DONE, ItemState.DROPPED) for item in plan.items.all()),
    )


def promised_of(plan: AcceptedPlan) -> tuple[Promised, ...]:
    """What was agreed for each tooth, in the order of the arch; empty for a repair, which promises no size.

    A tooth whose lines were all dropped promises nothing and is left out. One for which a change of the plan agreed
    something instead has no planned size any more: the change names none in millimetres.
    """
    found = option_of_plan(plan)
    if found is None:
        return ()
    parts, facts = in_force().catalogue.treatments, facts_in(read_frozen(plan.frozen))
    edges = {key for key, part in parts.items() if part.works_on == "edges"}
    items = list(plan.items.all())
    chosen = {(one.treatment, tooth) for one in items if one.state != ItemState.DROPPED for tooth in one.teeth or [""]}
    instead = {tooth for item in items if item.amendment_id is not None for tooth in item.teeth}
    work = [line for line in course_of(found[0]).work if _shapes(line)]
    teeth = sorted({line.tooth for line in work if line.tooth is not None})
    promised = []
    for tooth in teeth:
        lines = [line for line in work if line.tooth == tooth]
        kept = [line for line in lines if not {(line.treatment, tooth.key), (line.treatment, "")}.isdisjoint(chosen)]
        if not kept and tooth.key not in instead:
            continue
        size = target_size(tooth, kept, edges, facts)
        known = len(kept) == len(lines) and tooth.key not in instead
        promised.append(
            Promised(
                tooth,
                size.width or None,
                (size.width_after or None) if known else None,
                size.length or None,
                (size.length_after or None) if known else None,
                sum(line.lengthening for line in kept),
            )
        )
    return tuple(promised)


def _shapes(line: Work) -> bool:
    """Whether a line changes the shape of its tooth, or puts one where none is."""
    if line.tooth is None or line.extracted:
        return False
    changed = (line.mesial, line.distal, line.lengthening, line.removal, *line.crown_percent)
    return line.fills_place or line.surfaces > 0 or any(changed)


def wishes_of(plan: AcceptedPlan) -> tuple[tuple[int, str], ...]:
    """The patient's wishes as they stood in the plan that was accepted: rank and words."""
    if plan.estimate_id is None:
        return ()
    return tuple(sorted((wish.rank, wish.words) for wish in facts_in(read_frozen(plan.frozen)).wishes))


def reviews_of(plan: AcceptedPlan) -> list[ReviewRow]:
    """The reviews that count: those that none corrects. Three queries."""
    rows = plan.reviews.filter(corrected_by=None).select_related("by").prefetch_related("teeth", "scores")
    return list(rows.order_by("on", "id"))


def review_of(row: ReviewRow) -> Review:
    """A review as the rules take it."""
    return Review(
        Moment(row.moment),
        row.on,
        row.measured_by,
        row.instrument,
        {
            Tooth.from_key(one.tooth): SeenTooth(Condition(one.condition), one.width, one.length)
            for one in row.teeth.all()
        },
        {one.rank: one.score for one in row.scores.all()},
    )


def mended_of(plan: AcceptedPlan) -> tuple[Mended, ...]:
    """The repairs of ``plan``, each a small plan that points back at it. Three queries."""
    rows = AcceptedPlan.objects.filter(follows=plan, follows_as=Follows.REPAIR)
    found = rows.prefetch_related("items__prices", "items__earned").order_by("accepted_on", "pk")
    return tuple(
        Mended(
            one.accepted_on,
            one.name,
            _teeth(one.items.all()),
            sum(value_of(item) for item in one.items.all() if item.state != ItemState.DROPPED),
            _office_cents(one.items.all()),
        )
        for one in found
    )


def _teeth(items: Iterable[Item]) -> tuple[Tooth, ...]:
    return tuple(Tooth.from_key(key) for key in dict.fromkeys(tooth for item in items for tooth in item.teeth))


def _office_cents(items: Iterable[Item]) -> int:
    # Every item of a repair keeps what the whole repair cost the office.
    return max((item.charge.get("promise_cost_cents", 0) for item in items), default=0)


def pooled_results(office: Office, only: Staff | None = None) -> tuple[tuple[str, Result], ...]:
    """The result of every plan that was reviewed, with its patient; of ``only`` what that person checked or treated.

    Money and minutes stand with each plan. The number of queries is the same however many there are.
    """
    rows = AcceptedPlan.objects.filter(office=office, reviews__isnull=False)
    if only is not None:
        rows = rows.filter(Q(estimate__checked_by=only) | Q(visits__clinician=only))
    counting = ReviewRow.objects.filter(corrected_by=None).prefetch_related("teeth", "scores").order_by("on", "id")
    found = rows.distinct().select_related("frozen", "patient").order_by("pk")
    return tuple(
        (
            plan.patient.public_id,
            compare(promised_of(plan), map(review_of, plan.reviews.all()), wishes_of(plan)),
        )
        for plan in found.prefetch_related("items", Prefetch("reviews", queryset=counting))
    )


def minutes_of(plan: AcceptedPlan) -> tuple[VisitMinutes, ...]:
    """The visits that were worked by their step sheets to the end. Queries for each of them."""
    closed = StepsClosed.objects.filter(sheet__visit__plan=plan).select_related("sheet__visit__office")
    return tuple(_minutes(closed.order_by("sheet__visit__starts", "pk")))


def _minutes(closed: Iterable[StepsClosed]) -> Sequence[VisitMinutes]:
    found = []
    for one in closed:
        visit, progress = one.sheet.visit, progress_of(one.sheet)
        day = visit.starts.astimezone(visit.office.zone).date()
        found.append(VisitMinutes(day, visit.words, progress.sheet.minutes, progress.real_minutes, one.disturbed))
    return found
