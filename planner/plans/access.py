"""The doors to cases and estimates: a view gets one from here and from nowhere else."""

from datetime import datetime

from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_rows import rows_for
from planner.plans.models import Case, Estimate, FrozenPlan
from planner.practice.access import Act, Thing, load
from planner.practice.models import Staff


def load_case(*, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.CASE, now: datetime) -> Case:
    """The case with its patient. Raises Http404 or NotAllowed, recorded."""
    rows = Case.objects.select_related("office", "patient__office", "examination")
    return load(rows, public_id, actor=actor, act=act, thing=thing, now=now)


def load_estimate(
    *, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.ESTIMATE, now: datetime
) -> Estimate:
    """The estimate with case, patient and frozen plan. Raises Http404 or NotAllowed, recorded."""
    rows = Estimate.objects.select_related("office", "case__patient__office", "frozen", "book")
    return load(rows, public_id, actor=actor, act=act, thing=thing, now=now)


def load_frozen(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> FrozenPlan:
    """The frozen plan. Raises Http404 or NotAllowed, recorded."""
    rows = FrozenPlan.objects.select_related("office", "case__patient", "book")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.ESTIMATE, now=now)


def load_accepted(
    *, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.ACCEPTED, now: datetime
) -> AcceptedPlan:
    """The accepted plan with all that its page reads. Raises Http404 or NotAllowed, recorded."""
    return load(rows_for(AcceptedPlan.objects), public_id, actor=actor, act=act, thing=thing, now=now)
