"""Open plans as rows: where each stands, what of it has no date, which visits lack what, and what runs out.

However many plans are open, the number of queries is the same; plans that are over are not read at all.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Model, Prefetch, Q, QuerySet

from planner.followup.frozen_words import summaries
from planner.letters.consent_models import Consent
from planner.letters.consent_standing import signed_lacks, unsigned
from planner.patients.facts import person_facts
from planner.patients.models import HistoryForm, Patient
from planner.patients.payer_models import CoverVersion
from planner.plans.accepted import held_through
from planner.plans.accepted_models import (
    AcceptedPlan,
    Amendment,
    Item,
    ItemPrice,
    Payment,
    PlanMove,
    PriceHold,
    StageEarned,
)
from planner.plans.accepted_rows import is_agreed, read_part
from planner.plans.account import account_of
from planner.plans.charge_models import PlanCharge
from planner.plans.consent_models import ConsentStop
from planner.plans.consent_stops import stands_still
from planner.plans.items import price_of
from planner.plans.models import Estimate, State
from planner.plans.others_agree import wanting_in
from planner.practice.models import Office, Staff
from planner.rules.benefit_plans import BenefitPlan
from planner.rules.book import OfficeBook
from planner.rules.consent_states import ConsentState
from planner.rules.figure_rows import Ending, ItemRow, PlanRow, VisitAhead
from planner.rules.gate_facts import age_on
from planner.rules.gate_special import LEAP_BIRTHDAY, LEAP_DAYS, MAJORITY
from planner.rules.item_states import ItemState
from planner.rules.monday import ENDS_WITHIN, WEEK_DAYS
from planner.rules.plan_states import OPEN_PLAN, PlanState
from planner.rules.readiness import ReadyFacts, lacks
from planner.rules.visit_states import LaboratoryState, VisitState
from planner.visits.models import LaboratoryCase, Visit, VisitItem, VisitMove
from planner.visits.ready import needs_laboratory, newest_laboratory

OPEN_STATES = [*(state.value for state in OPEN_PLAN), PlanState.RESTING.value]
OPEN_ITEM = (ItemState.TO_DO, ItemState.WAITING, ItemState.BOOKED)
_FELL = (VisitState.CANCELLED, VisitState.NO_SHOW, VisitState.RESCHEDULED)


@dataclass(frozen=True, slots=True)
class OpenWork:
    """The plans that are not over, with all that the page reads of them."""

    plans: tuple[AcceptedPlan, ...]
    consents: Mapping[tuple[int, str], Consent]
    """The newest consent that stands, by estimate and option."""
    histories: Mapping[int, HistoryForm]
    """The newest signed history, by patient."""
    others: Mapping[int, tuple[str, ...]]
    """Who else must agree and does not, or not yet, by case."""
    parts: Mapping[int, tuple[str, ...]]
    """What was chosen, by plan, where a part of an option was accepted."""
    office: Office
    book: OfficeBook
    now: datetime
    day: date

    def consent(self, plan: AcceptedPlan) -> Consent | None:
        """The consent to what was accepted."""
        return self.consents.get((plan.estimate_id or 0, plan.option_key))


def open_work(office: Office, book: OfficeBook, now: datetime, day: date, only: Staff | None = None) -> OpenWork:
    """Everything that is not over; of ``only`` that person's: checked or treated by them."""
    found: QuerySet[AcceptedPlan] = AcceptedPlan.objects.filter(office=office, state__in=OPEN_STATES)
    if only is not None:
        found = found.filter(Q(estimate__checked_by=only) | Q(visits__clinician=only)).distinct()
    plans = tuple(
        found.select_related("patient", "estimate")
        .defer("part")
        .prefetch_related(*_fetched())
        .order_by("accepted_on", "id")
    )
    estimates = {plan.estimate_id for plan in plans if plan.estimate_id}
    rows = Consent.objects.filter(office=office, estimate__in=estimates).exclude(state=ConsentState.REPLACED)
    consents = {
        (row.estimate_id, row.option_key): row
        for row in rows.select_related("signature__countersignature", "estimate__frozen")
        .defer("signature__content", "estimate__frozen__content")
        .prefetch_related("questions__answers", "estimate__questions__answers")
        .order_by("pk")
    }
    people = {plan.patient_id for plan in plans}
    histories = {row.patient_id: row for row in HistoryForm.objects.filter(patient__in=people).order_by("pk")}
    others = wanting_in({plan.case_id for plan in plans})
    in_parts = AcceptedPlan.objects.filter(pk__in=[plan.pk for plan in plans], part__isnull=False).only("part")
    parts = {plan.pk: tuple(read_part(plan).get("chosen", ())) for plan in in_parts.order_by("pk")}
    return OpenWork(plans, consents, histories, others, parts, office, book, now, day)


def _fetched() -> tuple[Any, ...]:
    # Each in the order of writing: the order of their models would join and sort all that ever was.
    plain: dict[str, type[Model]] = {
        "moves": PlanMove,
        "payments": Payment,
        "charges": PlanCharge,
        "price_holds": PriceHold,
        "amendments": Amendment,
        "laboratory_cases": LaboratoryCase,
        "items__prices": ItemPrice,
        "items__earned": StageEarned,
        "items__consent_stops": ConsentStop,
        "visits__moves": VisitMove,
        "visits__visit_items": VisitItem,
    }
    items = Item.objects.select_related("amendment__agreement").order_by("plan_id", "position")
    return (
        Prefetch("items", items),
        Prefetch("visits", Visit.objects.order_by("pk")),
        *(Prefetch(name, model._default_manager.order_by("pk")) for name, model in plain.items()),
    )


# ------------------------------------------------------------------------------------------------------------ rows


def plan_rows(work: OpenWork) -> tuple[PlanRow, ...]:
    """One row for each plan."""
    return tuple(_plan_row(plan, work) for plan in work.plans)


def _plan_row(plan: AcceptedPlan, work: OpenWork) -> PlanRow:
    account, started = account_of(plan), is_started(plan)
    consent = work.consent(plan)
    signed = consent is not None and consent.state == ConsentState.SIGNED
    return PlanRow(
        key=plan.public_id,
        patient=plan.patient.name,
        option=plan.name,
        state=plan.state,
        accepted_on=plan.accepted_on,
        agreed_cents=account.agreed_cents,
        earned_cents=account.earned_cents,
        bills_cents=account.bills_cents,
        charged_cents=account.charged_cents,
        paid_cents=account.paid_cents,
        deposit_cents=account.deposit_cents,
        deposit_waived=account.deposit_waived,
        started=started,
        bookable_again_on=_bookable_again(plan, work),
        look_again_on=plan.look_again_on,
        last_event_on=_last_event(plan, work),
        next_visit_on=min((_day(visit.starts, work) for visit in _coming(plan, work)), default=None),
        held_through=None if started else held_through(plan),
        consent_through=consent.signature.signed_on + timedelta(days=work.book.consent_days)
        if signed and consent is not None and not started
        else None,
    )


def is_started(plan: AcceptedPlan) -> bool:
    """Whether treatment has begun, also where the plan rests now."""
    return any(move.after == PlanState.UNDER_WAY for move in plan.moves.all())


def _coming(plan: AcceptedPlan, work: OpenWork) -> list[Visit]:
    return [one for one in plan.visits.all() if one.state == VisitState.BOOKED and one.starts >= work.now]


def _bookable_again(plan: AcceptedPlan, work: OpenWork) -> date | None:
    days = [move.on for move in plan.moves.all() if move.before == PlanState.RESTING]
    days += [_day(move.at, work) for one in plan.visits.all() for move in one.moves.all() if move.after in _FELL]
    return max(days, default=None)


def _last_event(plan: AcceptedPlan, work: OpenWork) -> date:
    days = [move.on for move in plan.moves.all()]
    days += [row.on for row in plan.payments.all()]
    days += [row.on for row in plan.amendments.all()]
    days += [row.on for item in plan.items.all() for row in item.earned.all()]
    days += [_day(move.at, work) for one in plan.visits.all() for move in one.moves.all()]
    return max(days, default=plan.accepted_on)


def item_rows(work: OpenWork) -> tuple[ItemRow, ...]:
    """One row for each item that is neither done nor dropped."""
    return tuple(
        ItemRow(
            plan=plan.public_id,
            words=item.words,
            state=item.state,
            cents=price_of(item).total_cents,
            earliest=item.earliest,
            added_on=item.amendment.on if item.amendment is not None else None,
            stands_still=stands_still(item) or not is_agreed(item),
        )
        for plan in work.plans
        for item in plan.items.all()
        if item.state in OPEN_ITEM
    )


def _day(instant: datetime, work: OpenWork) -> date:
    return instant.astimezone(work.office.zone).date()


# ---------------------------------------------------------------------------------------------------------- visits


def visits_ahead(work: OpenWork) -> tuple[VisitAhead, ...]:
    """The visits of work in the next seven days, with what each lacks."""
    until = work.day + timedelta(days=WEEK_DAYS)
    return tuple(
        VisitAhead(
            key=visit.public_id,
            plan=plan.public_id,
            patient=plan.patient.name,
            words=visit.words,
            on=_day(visit.starts, work),
            lacks=tuple(_lacks(plan, visit, work)),
        )
        for plan in work.plans
        for visit in _coming(plan, work)
        if _day(visit.starts, work) <= until and visit.kind == "work"
    )


def _lacks(plan: AcceptedPlan, visit: Visit, work: OpenWork) -> Iterable[str]:
    """What the page of the visit says is wanting, in its words. The shelf and nights with gel stand there alone."""
    on, form = _day(visit.starts, work), work.histories.get(plan.patient_id)
    newest = newest_laboratory(visit, plan.laboratory_cases.all())
    booked = {line.item_id for line in visit.visit_items.all()}
    facts = ReadyFacts(
        on=on,
        consent=(*work.others.get(plan.case_id, ()), *_consent_lacks(plan, on, work)),
        deposit_due_cents=account_of(plan).deposit_due_cents,
        laboratory=newest is not None or needs_laboratory(visit),
        laboratory_state=LaboratoryState(newest.state) if newest is not None else None,
        laboratory_due=newest.due if newest is not None else None,
        too_early=tuple(
            (item.words, item.earliest, item.waiting_for)
            for item in plan.items.all()
            if item.pk in booked and item.earliest is not None and item.earliest > on
        ),
        history_signed_on=form.signed_on if form is not None else None,
    )
    return lacks(facts)


def _consent_lacks(plan: AcceptedPlan, on: date, work: OpenWork) -> Iterable[str]:
    if plan.estimate_id is None:
        return
    consent = work.consent(plan)
    about = () if consent is None else (*consent.questions.all(), *consent.estimate.questions.all())
    asked = [one for one in about if not one.answers.all()]
    if said := unsigned(consent, len(asked)):
        yield from said
        return
    assert consent is not None  # it is signed
    signature, person = consent.signature, person_facts(plan.patient)
    yield from signed_lacks(
        signature,
        chosen=work.parts.get(plan.pk, ()),
        started=is_started(plan),
        changed=False,
        person=person,
        book=work.book,
        day=on,
    )
    # Whether the facts of every case are others than they were takes queries for each: the plan's page says it.
    form, frozen = work.histories.get(plan.patient_id), consent.estimate.frozen
    if form is not None and frozen is not None and form.at > frozen.at:
        yield "A history was signed after the letter was made: the plan's page says whether it changes anything."


# ------------------------------------------------------------------------------------------------------ running out


def endings(work: OpenWork, rows: Iterable[PlanRow]) -> tuple[Ending, ...]:
    """Estimates, price holds, consents, ages and benefit years that end soon, of whoever has something open."""
    estimates = list(
        Estimate.objects.filter(
            office=work.office, state__in=(State.CHECKED, State.SHOWN), valid_through__gte=work.day
        ).select_related("case__patient")
    )
    last = work.day + timedelta(days=ENDS_WITHIN["estimate"])
    soon = [one for one in estimates if one.valid_through is not None and one.valid_through <= last]
    known = summaries(one.frozen_id for one in soon if one.frozen_id)
    found = [
        Ending(
            one.public_id,
            "estimate",
            one.case.patient.name,
            one.valid_through,
            known[one.frozen_id].value(one),
            f"estimate {one} is valid through {one.valid_through.isoformat()}",
        )
        for one in soon
        if one.valid_through is not None and one.frozen_id
    ]
    found += _of_plans(rows)
    people = {plan.patient_id: plan.patient for plan in work.plans}
    people |= {one.case.patient_id: one.case.patient for one in estimates}
    return (*found, *_of_age(people.values(), work), *_benefit_years(people, work))


def _of_plans(rows: Iterable[PlanRow]) -> Iterable[Ending]:
    for row in rows:
        if row.held_through is not None:
            words = f"{row.option}: prices are held through {row.held_through.isoformat()}"
            yield Ending(row.key, "prices", row.patient, row.held_through, row.to_earn_cents, words)
        if row.consent_through is not None:
            words = f"{row.option}: the consent holds through {row.consent_through.isoformat()} without a start"
            yield Ending(row.key, "consent", row.patient, row.consent_through, None, words)


def _of_age(people: Iterable[Patient], work: OpenWork) -> Iterable[Ending]:
    setting = work.book.legal_on(MAJORITY, work.day)
    if setting is None or not setting.value.isdecimal():
        return
    leap = work.book.legal_on(LEAP_BIRTHDAY, work.day)
    later, adult = LEAP_DAYS.get(leap.value, True) if leap else True, int(setting.value)
    within = timedelta(days=ENDS_WITHIN["comes of age"])
    visits = {
        plan.patient_id: min((_day(one.starts, work) for one in _coming(plan, work)), default=None)
        for plan in work.plans
    }
    for person in people:
        if (
            age_on(person.birth_date, work.day, later) >= adult
            or age_on(person.birth_date, work.day + within, later) < adult
        ):
            continue
        on = next(
            day
            for day in (work.day + timedelta(days=ahead) for ahead in range(within.days + 1))
            if age_on(person.birth_date, day, later) >= adult
        )
        visit = visits.get(person.pk)
        words = f"comes of age on {on.isoformat()}"
        if visit is not None and visit >= on:
            words += f", before the visit on {visit.isoformat()}: the own signature is wanted"
        yield Ending(person.public_id, "comes of age", person.name, on, None, words)


def _benefit_years(people: Mapping[int, Patient], work: OpenWork) -> Iterable[Ending]:
    newest: dict[str, CoverVersion] = {}
    for cover in CoverVersion.objects.filter(patient__in=people).select_related("plan").order_by("number", "pk"):
        newest[cover.series] = cover
    for cover in newest.values():
        plan = BenefitPlan.model_validate_json(cover.plan.data)
        ends = plan.next_year(work.day) - timedelta(days=1)
        person = people[cover.patient_id]
        words = f"{plan.payer}: the benefit year ends on {ends.isoformat()}"
        yield Ending(person.public_id, "benefit year", person.name, ends, None, words)
