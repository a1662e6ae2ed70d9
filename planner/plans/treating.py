"""Who treats a case: the dentist who checked its first estimate, until another takes it over.

Before anything was checked a case is nobody's, and every dentist may decide. From then on a second dentist may look at
all of it, and edits, decides, changes the accepted plan or marks its work done only after taking it over. What cannot
wait stays open to whoever is there: step sheets, chair notes, histories, measurements, problems, stopping a plan.
"""

from django.db.models import Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from planner.plans.models import Case, Estimate
from planner.plans.takeover_models import TakeOver
from planner.practice.access import Act, Thing, may
from planner.practice.models import Staff
from planner.trail.errors import Refused


def dentist_of(case: Case) -> Staff | None:
    """The dentist who treats the case; None before an estimate of it was checked. One query."""
    taken = TakeOver.objects.filter(case=case).order_by("-pk").values("by")[:1]
    checked = Estimate.objects.filter(case=case, checked_by__isnull=False).order_by("pk").values("checked_by")[:1]
    return Staff.objects.filter(pk=Coalesce(Subquery(taken), Subquery(checked))).first()


def refuse_before_take_over(case: Case, actor: Staff) -> None:
    """Raise Refused when ``actor`` is a dentist and another one treats the case. Two queries at most."""
    if not may(actor, Act.APPROVE, Thing.OPTIONS):
        return
    treating = dentist_of(case)
    if treating is not None and treating.pk != actor.pk:
        raise Refused(
            _(
                "%(name)s treats this case. You may look at all of it, and at the chair make safe and note what cannot "
                "wait; to change or decide anything, take it over first."
            )
            % {"name": treating.full_name}
        )
