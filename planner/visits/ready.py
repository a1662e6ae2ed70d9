"""Whether booked visits are ready: the facts of each, read for :mod:`planner.rules.readiness`."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from planner.letters.consent_standing import stands_against
from planner.plans.account import deposit_due
from planner.plans.facts import case_facts
from planner.practice import books
from planner.practice.catalogue import in_force
from planner.practice.models import Office
from planner.rules.item_states import ItemState
from planner.rules.readiness import ReadyFacts, ReadyRow, days_before, readiness
from planner.rules.visit_states import LaboratoryState, VisitState
from planner.visits.models import LaboratoryCase, Visit
from planner.visits.stock_need import StockNeed, stock_need

_WHITENING = "whitening"


@dataclass(frozen=True, slots=True)
class Ready:
    """One visit with every row that was looked at."""

    visit: Visit
    rows: tuple[ReadyRow, ...]

    @property
    def lacks(self) -> tuple[str, ...]:
        """What it lacks, one sentence each."""
        return tuple(row.lack for row in self.rows if row.lack)


def coming(office: Office, now: datetime) -> tuple[Visit, ...]:
    """Booked visits of today and the days in which readiness is looked at, soonest first. One query."""
    last = books.today(office, now) + timedelta(days=days_before() + 1)
    rows = Visit.objects.filter(
        office=office,
        state=VisitState.BOOKED.value,
        ends__gt=now,
        starts__lt=datetime.combine(last, time(0), office.zone),
    )
    return tuple(rows.select_related("patient", "clinician", "chair", "plan").order_by("starts", "id")[:200])


def ready_of(visit: Visit, now: datetime, *, need: StockNeed | None = None) -> Ready:
    """Whether ``visit`` is ready. ``need`` is the office's shelf against its visits, read once for many visits."""
    return Ready(visit, readiness(facts_of(visit, now, need=need)))


def facts_of(visit: Visit, now: datetime, *, need: StockNeed | None = None) -> ReadyFacts:
    """The facts of ``visit`` that readiness goes by."""
    plan, on = visit.plan, visit.starts.astimezone(visit.office.zone).date()
    day = books.today(visit.office, now)
    known = case_facts(plan.case, day)
    last_night = known.examination.colour.last_whitening_night
    lab = newest_laboratory(visit, plan.laboratory_cases.all())
    booked = [line.item for line in visit.visit_items.select_related("item")]
    return ReadyFacts(
        on=on,
        consent=stands_against(plan, now, on=on),
        deposit_due_cents=deposit_due(plan),
        laboratory=lab is not None or needs_laboratory(visit),
        laboratory_state=LaboratoryState(lab.state) if lab is not None else None,
        laboratory_due=lab.due if lab is not None else None,
        too_early=tuple(
            (item.words, item.earliest, item.waiting_for)
            for item in booked
            if item.earliest is not None and item.earliest > on
        ),
        after_whitening=_bonds_resin(visit) and (last_night is not None or _whitens(visit)),
        last_night=last_night,
        history_signed_on=known.history.signed_on,
        short=_short(visit, need or stock_need(visit.office, now)),
    )


def newest_laboratory(visit: Visit, cases: Iterable[LaboratoryCase]) -> LaboratoryCase | None:
    """The laboratory work that was last ordered for the visit and not dropped, among the ``cases`` of its plan."""
    of_it = [one for one in cases if visit.key and one.visit_key == visit.key and one.state != LaboratoryState.DROPPED]
    return max(of_it, key=lambda one: one.pk, default=None)


def needs_laboratory(visit: Visit) -> bool:
    """Whether the visit of the course wants laboratory work; of one that was split, only the first does."""
    bare, _, number = visit.key.partition("#")
    treatment, _, key = bare.partition(".")
    part = in_force().catalogue.treatments.get(treatment)
    if part is None or number not in ("", "1"):
        return False
    return any(each.key == key and each.laboratory for each in part.visits)


def _bonds_resin(visit: Visit) -> bool:
    known = in_force().catalogue.treatments
    keys = {line.item.treatment for line in visit.visit_items.select_related("item")}
    return any("resin" in known[key].flags for key in keys if key in known)


def _whitens(visit: Visit) -> bool:
    """Whether the plan whitens: then nobody bonds before the last night is known."""
    return visit.plan.items.filter(treatment=_WHITENING).exclude(state=str(ItemState.DROPPED)).exists()


def _short(visit: Visit, need: StockNeed) -> tuple[str, ...]:
    return next((short for each, short in need.rows if each.visit.pk == visit.pk), ())
