"""The door to an estimate that somebody is called about."""

from datetime import datetime

from planner.plans.models import Estimate
from planner.practice.access import Act, Thing, load
from planner.practice.models import Staff


def load_called(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> Estimate:
    """The estimate with case and patient. Raises Http404 or NotAllowed, recorded."""
    rows = Estimate.objects.select_related("office", "case__patient__office")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.CALL, now=now)
