"""The doors to visits, their plans and laboratory work: a view gets one from here and from nowhere else."""

from datetime import datetime

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.access import Act, Thing, load
from planner.practice.models import Staff
from planner.visits.models import Absence, BlockedTime, LaboratoryCase, Visit
from planner.visits.step_models import ChairNote

_VISIT = (
    "office", "patient__office", "plan__office", "plan__patient", "plan__frozen", "plan__case__patient",
    "plan__estimate", "plan__book", "clinician", "chair", "follows", "followed_by", "by",
)  # fmt: skip


def load_plan(
    *, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.VISIT, now: datetime
) -> AcceptedPlan:
    """The accepted plan whose visits are meant. Raises Http404 or NotAllowed, recorded."""
    rows = AcceptedPlan.objects.select_related("office", "patient__office", "case__patient", "frozen")
    return load(rows, public_id, actor=actor, act=act, thing=thing, now=now)


def load_visit(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> Visit:
    """The visit. Raises Http404 or NotAllowed, recorded."""
    rows = Visit.objects.select_related(*_VISIT)
    return load(rows, public_id, actor=actor, act=act, thing=Thing.VISIT, now=now)


def load_sheet_visit(*, actor: Staff, public_id: str, now: datetime) -> Visit:
    """The visit whose step sheet is printed or worked by. Raises Http404 or NotAllowed, recorded."""
    rows = Visit.objects.select_related(*_VISIT)
    return load(rows, public_id, actor=actor, act=Act.CREATE, thing=Thing.STEPS, now=now)


def load_note(*, actor: Staff, public_id: str, now: datetime) -> ChairNote:
    """A chair note, to be settled. Raises Http404 or NotAllowed, recorded."""
    rows = ChairNote.objects.select_related("office", *(f"sheet__visit__{name}" for name in _VISIT))
    return load(rows, public_id, actor=actor, act=Act.APPROVE, thing=Thing.AMENDMENT, now=now)


def load_case(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> LaboratoryCase:
    """The laboratory work. Raises Http404 or NotAllowed, recorded."""
    rows = LaboratoryCase.objects.select_related("office", "patient__office", "plan", "by")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.LABORATORY, now=now)


def load_absence(*, actor: Staff, public_id: str, now: datetime) -> Absence:
    """The absence, to be taken back. Raises Http404 or NotAllowed, recorded."""
    rows = Absence.objects.select_related("office", "clinician")
    return load(rows, public_id, actor=actor, act=Act.EDIT, thing=Thing.DIARY, now=now)


def load_block(*, actor: Staff, public_id: str, now: datetime) -> BlockedTime:
    """The time taken by something else, to be taken back. Raises Http404 or NotAllowed, recorded."""
    rows = BlockedTime.objects.select_related("office", "clinician", "chair")
    return load(rows, public_id, actor=actor, act=Act.EDIT, thing=Thing.VISIT, now=now)
