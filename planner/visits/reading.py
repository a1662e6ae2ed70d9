"""What the diary knows, read from its rows: who treats, what is taken, and what is proposed for an accepted plan."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from planner.patients.files import kept_file, kept_files
from planner.patients.models import Patient
from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.accepted_rows import option_of_plan
from planner.plans.facts import case_facts
from planner.practice import books
from planner.practice.catalogue import in_force
from planner.practice.models import Office, Staff
from planner.practice.roles import Role
from planner.rules.book import OfficeBook
from planner.rules.booking import SEARCH_DAYS, Absent, Diary, NotBefore, Stretch, Taken, Week
from planner.rules.courses import Course
from planner.rules.item_states import ItemState
from planner.rules.mouth import CaseFacts
from planner.rules.options import Desk
from planner.rules.results import OptionShape
from planner.rules.series import ProposedVisit, SeriesStep, Settled, course_of, propose_series, series_of, without
from planner.rules.treatments import Combination, Treatment
from planner.rules.visit_states import OPEN_LABORATORY, LaboratoryState, VisitState
from planner.visits.models import Absence, BlockedTime, LaboratoryCase, Visit, WorkWeek

TREATING = (Role.DENTIST, Role.OWNER)
HELD = (VisitState.BOOKED.value, VisitState.KEPT.value)
"""States of a visit in which its time is taken."""


def clinicians(office: Office) -> tuple[Staff, ...]:
    """Who treats in this office and may sign in, by name."""
    found = Staff.objects.filter(office=office, is_active=True, role_rows__role__in=TREATING).distinct()
    return tuple(found.order_by("full_name", "id"))


def diary_of(office: Office, book: OfficeBook, first: date, last: date, *, besides: Visit | None = None) -> Diary:
    """The diary from ``first`` through ``last``; the time of ``besides`` counts as free, so that it can be moved.

    Six queries, whatever the number of rows.
    """
    begins = datetime.combine(first - timedelta(days=1), time(0), UTC)
    ends = datetime.combine(last + timedelta(days=2), time(0), UTC)
    within = {"office": office, "starts__lt": ends, "ends__gt": begins}
    visits = Visit.objects.filter(**within, state__in=HELD).select_related("chair", "clinician", "patient")
    blocked = BlockedTime.objects.filter(**within, taken_back_at=None).select_related("chair", "clinician")
    absences = Absence.objects.filter(office=office, first__lte=last, last__gte=first, taken_back_at=None)
    weeks = WorkWeek.objects.filter(office=office, effective__lte=last).order_by("effective", "id")
    held = [visit for visit in visits if besides is None or visit.pk != besides.pk]
    kept = kept_files({visit.patient_id for visit in held})
    taken = [_visit_taken(visit, kept.get(visit.patient_id, visit.patient)) for visit in held]
    taken += [_blocked_taken(each) for each in blocked]
    return Diary.of(
        book,
        names={staff.public_id: staff.full_name for staff in clinicians(office)},
        # Rows of one day stand in the order of writing: the last one holds.
        weeks={
            (week.clinician_id, week.effective): Week(
                week.clinician.public_id, week.effective, frozenset(week.weekdays)
            )
            for week in weeks.select_related("clinician")
        }.values(),
        absent=[
            Absent(each.clinician.public_id, each.first, each.last) for each in absences.select_related("clinician")
        ],
        taken=taken,
    )


def _visit_taken(visit: Visit, person: Patient) -> Taken:
    return Taken(
        Stretch(visit.starts, visit.ends),
        visit.clinician.public_id,
        visit.chair.name,
        person.public_id,
        "another visit",
    )


def _blocked_taken(each: BlockedTime) -> Taken:
    who = each.clinician.public_id if each.clinician else ""
    return Taken(Stretch(each.starts, each.ends), who, each.chair.name if each.chair else "", "", each.words)


# --------------------------------------------------------------------------------------------- visits of a plan


@dataclass(frozen=True, slots=True)
class PlanVisits:
    """The visits of an accepted plan: what is booked or over, what is proposed, and which items wait for what."""

    steps: tuple[SeriesStep, ...]
    proposed: tuple[ProposedVisit, ...]
    visits: tuple[Visit, ...]
    items: tuple[Item, ...]
    cases: tuple[LaboratoryCase, ...]
    diary: Diary
    wish_by: date | None

    def step(self, key: str) -> SeriesStep | None:
        """The step of the course called ``key``."""
        return next((step for step in self.steps if step.key == key), None)

    def items_of(self, step: SeriesStep | None) -> tuple[Item, ...]:
        """The open items done at ``step``; of what several treatments share, those go with the first visit of work."""
        if step is None or step.kind != "work":
            return ()
        first = next((each for each in self.steps if each.kind == "work"), None)
        teeth = {tooth.key for tooth in step.teeth}
        return tuple(
            item
            for item in self.items
            if item.state in (ItemState.TO_DO, ItemState.WAITING)
            and (
                (not item.treatment and step == first)
                or (item.treatment in step.treatments and _of_these(item, step, teeth))
            )
        )

    def case_for(self, key: str) -> LaboratoryCase | None:
        """The newest laboratory work for the visit called ``key`` that is still needed."""
        found = [case for case in self.cases if case.visit_key == key and case.state != LaboratoryState.DROPPED]
        return found[-1] if found else None


def _of_these(item: Item, step: SeriesStep, teeth: set[str]) -> bool:
    own = step.treatments[0] == item.treatment
    return not own or not item.teeth or not teeth or not teeth.isdisjoint(item.teeth)


def plan_visits(plan: AcceptedPlan, clinician: Staff | None, now: datetime) -> PlanVisits:
    """Everything about the visits of ``plan``; proposals are for ``clinician``, none where that is None."""
    day = books.today(plan.office, now)
    book = books.current_book(plan.office, day)
    facts = case_facts(plan.case, day)
    items = tuple(plan.items.order_by("position", "id"))
    visits = tuple(plan.visits.select_related("clinician", "chair", "office", "patient").order_by("starts", "id"))
    cases = tuple(plan.laboratory_cases.order_by("pk"))
    steps = tuple(_with_waits(step, items) for step in _open_steps(plan, items, book, facts))
    diary = diary_of(plan.office, book, day, day + timedelta(days=SEARCH_DAYS))
    proposed: tuple[ProposedVisit, ...] = ()
    if clinician is not None:
        proposed = propose_series(
            steps,
            diary,
            clinician=clinician.public_id,
            patient=kept_file(plan.patient).public_id,
            accepted_on=plan.accepted_on,
            now=now,
            settled={visit.key: Settled(visit.starts, visit.ends) for visit in visits if visit.state in HELD},
            laboratory_due={case.visit_key: case_due(case, day) for case in cases if _is_known(case)},
        )
    return PlanVisits(steps, proposed, visits, items, cases, diary, facts.limits.wish_by)


@dataclass(frozen=True, slots=True)
class Accepted:
    """The course of an accepted plan, as far as items are left of it, and all that its visits are reckoned from."""

    option: OptionShape
    course: Course
    parts: tuple[Treatment, ...]
    combination: Combination | None
    desk: Desk


def accepted_course(plan: AcceptedPlan, items: Iterable[Item], book: OfficeBook, facts: CaseFacts) -> Accepted | None:
    """What of the accepted course ``items`` ask for, dropped ones left out; None for a repair, which has no course."""
    found = option_of_plan(plan)
    if found is None:
        return None
    catalogue = in_force().catalogue
    course = course_of(found[0])
    kept = [item for item in items if item.state != ItemState.DROPPED]
    chosen = {(item.treatment, tooth) for item in kept for tooth in (item.teeth or [""])}
    work = tuple(
        line
        for line in course.work
        if line.tooth is None or not {(line.treatment, line.tooth.key), (line.treatment, "")}.isdisjoint(chosen)
    )
    course = replace(course, work=work)
    parts = tuple(catalogue.treatments[key] for key in course.treatments if key in catalogue.treatments)
    day = plan.accepted_on
    desk = Desk(facts, book, day, book.price_list_on(day), catalogue.treatments, catalogue.combinations)
    return Accepted(found[0], course, parts, desk.combination(course), desk)


def _open_steps(
    plan: AcceptedPlan, items: Sequence[Item], book: OfficeBook, facts: CaseFacts
) -> tuple[SeriesStep, ...]:
    """The steps of the course as far as it was accepted: what no item is left for needs no visit."""
    found = accepted_course(plan, items, book, facts)
    if found is None:
        return ()
    course = found.course
    treatments = {item.treatment for item in items if item.state != ItemState.DROPPED}
    steps = series_of(course, found.parts, found.combination, facts, book, plan.accepted_on)
    gone = [step.key for step in steps if not treatments.intersection(step.treatments or course.treatments)]
    return without(steps, gone)


def _with_waits(step: SeriesStep, items: Iterable[Item]) -> SeriesStep:
    """The step with what its items wait for."""
    waits = [
        NotBefore(item.earliest, f"{item.words}: {item.waiting_for or 'not earlier'}")
        for item in items
        if item.earliest is not None and item.treatment and item.treatment in step.treatments
    ]
    return replace(step, waits=(*step.waits, *waits)) if step.kind == "work" else step


def case_due(case: LaboratoryCase, day: date) -> date:
    """The day from which the work can be used: today once it is here."""
    return case.due if case.state in OPEN_LABORATORY and case.due is not None else day


def _is_known(case: LaboratoryCase) -> bool:
    return bool(case.visit_key) and case.state not in (LaboratoryState.ORDERED, LaboratoryState.DROPPED)
