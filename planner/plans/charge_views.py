"""Pages of what is charged on an accepted plan beside its work."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.plans import charges
from planner.plans.accepted_acts import act_page, row_of
from planner.plans.accepted_forms import WhyForm
from planner.plans.access import load_accepted
from planner.practice.access import Act, Thing
from planner.practice.requests import actor_of, posted


def waive_charge(request: HttpRequest, public_id: str, charge: str) -> HttpResponse:
    """Ask for a charge no more."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.RECEIPT, now=now)
    row = row_of(plan.charges.all(), charge)

    def save(data: dict[str, Any]) -> None:
        charges.waive_charge(charge=row, actor=actor, now=now, **data)

    form, more = WhyForm(posted(request)), {"about": row.words}
    return act_page(request, plan, form, save, _("Waive this charge"), _("The charge is waived."), more=more)
