"""Work that a laboratory makes: ordered, sent out, received, its label read before anybody uses it."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from planner.plans.accepted_models import AcceptedPlan
from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Staff
from planner.rules.calendar_days import OpenDays
from planner.rules.moves import may_move
from planner.rules.teeth import Numbering, Tooth
from planner.rules.visit_states import LABORATORY, LaboratoryFacts, LaboratoryState, label_faults
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record
from planner.visits.models import LaboratoryCase, LaboratoryMove

_WHAT = "The laboratory work"


def order_work(
    *,
    plan: AcceptedPlan,
    words: str,
    laboratory: str,
    teeth: Sequence[Tooth],
    visit_key: str = "",
    sketch: str = "",
    actor: Staff,
    now: datetime,
) -> LaboratoryCase:
    """Order a piece of work. Its label is set here: the patient's name and both numbers of every tooth.

    Raises Refused when it is not said what is made, or by whom; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.LABORATORY, subject=plan)
    if not words.strip():
        raise Refused("Say what is to be made.", field="words")
    if not laboratory.strip():
        raise Refused("Say which laboratory makes it.", field="laboratory")
    with transaction.atomic():
        case = LaboratoryCase.objects.create(
            office=plan.office,
            patient=plan.patient,
            plan=plan,
            visit_key=visit_key,
            words=words.strip(),
            laboratory=laboratory.strip(),
            teeth=[tooth.key for tooth in teeth],
            label_name=plan.patient.name,
            label_iso=", ".join(tooth.written(Numbering.ISO) for tooth in teeth),
            label_universal=", ".join(tooth.written(Numbering.UNIVERSAL) for tooth in teeth),
            sketch=sketch.strip(),
            state=LaboratoryState.ORDERED.value,
            by=actor,
            at=now,
        )
        _write(case, "", case.state, None, "", actor, now)
        content = {"words": case.words, "laboratory": case.laboratory, "teeth": case.teeth}
        record(actor=actor, act="laboratory.order", subject=case, content=content, at=now)
    return case


def usual_due(case: LaboratoryCase, sent_on: date) -> date:
    """When work sent out that day is usually back: after the office's laboratory days, on an open day."""
    book = books.current_book(case.office, sent_on)
    return OpenDays.of(book).add_open_days(sent_on, book.laboratory_days)


def move_work(
    *,
    case: LaboratoryCase,
    seen: int,
    to: LaboratoryState,
    due: date | None = None,
    note: str = "",
    actor: Staff,
    now: datetime,
) -> LaboratoryCase:
    """Move the work on: sent out, received, sent back, not needed. The label is read with :func:`check_label`.

    ``due`` is the day on which it is to be back; it stays once it is received. Raises Refused, StaleEdit, NotAllowed.
    """
    facts = LaboratoryFacts(day=books.today(case.office, now), due=due, reason=note)
    return _move(case, seen, to, facts, note, actor, now)


def check_label(
    *,
    case: LaboratoryCase,
    seen: int,
    read_name: str,
    read_iso: str,
    read_universal: str,
    actor: Staff,
    now: datetime,
) -> LaboratoryCase:
    """Compare what stands on the box with what was ordered. Raises Refused with every difference, StaleEdit."""
    teeth = teeth_of(case)
    faults = label_faults(
        name=case.label_name, teeth=teeth, read_name=read_name, read_iso=read_iso, read_universal=read_universal
    )
    facts = LaboratoryFacts(day=books.today(case.office, now), due=case.due, label_faults=faults)
    note = f"read: {read_name.strip()}; {read_iso.strip()}; {read_universal.strip()}"
    return _move(case, seen, LaboratoryState.CHECKED, facts, note, actor, now)


def teeth_of(case: LaboratoryCase) -> tuple[Tooth, ...]:
    """The teeth the work is for."""
    return tuple(Tooth.from_key(key) for key in case.teeth)


def _move(
    case: LaboratoryCase,
    seen: int,
    to: LaboratoryState,
    facts: LaboratoryFacts,
    note: str,
    actor: Staff,
    now: datetime,
) -> LaboratoryCase:
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.LABORATORY, subject=case)
    with transaction.atomic():
        current = LaboratoryCase.objects.select_for_update().get(pk=case.pk)
        if refused := may_move(LABORATORY, current.state, to, facts):
            raise Refused(" ".join(refused))
        saved = save_seen(case, seen=seen, what=_WHAT, values={"state": to.value, "due": facts.due or current.due})
        _write(saved, current.state, to.value, facts.due, note.strip(), actor, now)
        content = {"before": current.state, "after": to.value, "due": saved.due.isoformat() if saved.due else None}
        record(actor=actor, act="laboratory.move", subject=saved, content=content, reason=note.strip(), at=now)
    return saved


def _write(
    case: LaboratoryCase, before: str, after: str, due: date | None, note: str, actor: Staff, now: datetime
) -> None:
    LaboratoryMove.objects.create(
        office_id=case.office_id,
        case=case,
        sequence=1 + LaboratoryMove.objects.filter(case=case).count(),
        before=before,
        after=after,
        due=due,
        note=note,
        by=actor,
        at=now,
    )
