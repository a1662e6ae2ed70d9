"""Pages that act on one item of an accepted plan: it waits, is done, reaches a stage or a month, its bill comes."""

from datetime import date, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.plans import earning, items
from planner.plans.accepted_acts import act_page, row_of
from planner.plans.accepted_forms import BillForm, DoneForm, MonthForm, SeenForm, StageForm, WaitForm
from planner.plans.accepted_models import AcceptedPlan, Item, Waiting
from planner.plans.accepted_shown import item_words
from planner.plans.access import load_accepted
from planner.plans.still_holds import blocks_of, teeth_gone
from planner.practice import books
from planner.practice.access import Act, Thing
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.rules.teeth import Numbering


def item_act(request: HttpRequest, public_id: str, item: str, act: str) -> HttpResponse:
    """Let an item wait, free it, mark it done, or write what it has earned."""
    actor, now = actor_of(request), timezone.now()
    right = (Act.CREATE, Thing.RECEIPT) if act == "bill" else (Act.EDIT, Thing.ITEM)
    plan = load_accepted(actor=actor, public_id=public_id, act=right[0], thing=right[1], now=now)
    row = row_of(plan.items.all(), item)
    who: dict[str, Any] = {"item": row, "actor": actor, "now": now}
    form, heading = _form(request, plan, row, act, books.today(plan.office, now))

    def save(data: dict[str, Any]) -> None:
        _save(act, who, data, plan, now)

    more = {"about": item_words(row, Numbering(plan.case.numbering))}
    return act_page(request, plan, form, save, heading, _("It is recorded."), more=more, row=row)


def _save(act: str, who: dict[str, Any], data: dict[str, Any], plan: AcceptedPlan, now: datetime) -> None:
    if act == "wait":
        items.wait_item(**who, **data | {"waiting_for": Waiting(data["waiting_for"])})
    elif act == "free":
        items.free_item(**who, **data)
    elif act == "stage":
        earning.earn_stage(**who, **data)
    elif act == "month":
        earning.earn_month(**who, **data)
    elif act == "bill":
        earning.pass_bill(**who, **data)
    else:
        items.finish_item(**who, **data, blocks=blocks_of(who["item"], teeth_gone(plan, now)))


def _form(request: HttpRequest, plan: AcceptedPlan, row: Item, act: str, day: date) -> tuple[PlainForm, str]:
    data, first = posted(request), {"seen": row.version}
    earned = {one.stage for one in row.earned.all()}
    if act == "wait":
        return WaitForm(data, initial=first | {"earliest": row.earliest}), _("What it waits for")
    if act == "done":
        return DoneForm(data, initial=first | {"done_on": day}), _("Mark it done")
    if act == "stage":
        # What somebody else wrote meanwhile is read too: whoever comes second is told that, not that it is unknown.
        stages = [one.stage for one in earning.stages_of(plan) if data is not None or one.stage not in earned]
        return StageForm(data, stages=stages), _("A stage is reached")
    if act == "month":
        month = earning.months_earned(row) + 1
        words = _("Month %(month)s of %(months)s has passed") % {"month": month, "months": row.months}
        return MonthForm(data, initial={"month": month, "on": day}), words
    if act == "bill":
        return BillForm(data, initial={"on": day}), _("The bill that is passed on has come")
    return SeenForm(data, initial=first), _("It waits no longer")
