"""Pages of accepted plans: where one stands, and the acts that are allowed now."""

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.services import viewed
from planner.plans import accepted, accepting, account, amending, carrying
from planner.plans.accepted_acts import act_page, frame, row_of
from planner.plans.accepted_forms import (
    AgreeForm,
    CallForm,
    CarryForm,
    DeclineForm,
    FinishForm,
    ReceiptForm,
    RefundForm,
    RestForm,
    SeenForm,
    StopForm,
    WhyForm,
    first_receipt,
)
from planner.plans.accepted_models import AcceptedPlan, Cause, Route
from planner.plans.accepted_shown import receipts_of, shown_plan
from planner.plans.access import load_accepted
from planner.plans.amend_form import amend_form
from planner.plans.estimates import read_frozen
from planner.plans.repair_forms import RepairForm
from planner.plans.still_holds import against
from planner.practice import books
from planner.practice.access import Act, Thing
from planner.practice.requests import actor_of, posted
from planner.rules.frozen import facts_in
from planner.rules.plan_states import OPEN_PLAN
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused


def accepted_plan(request: HttpRequest, public_id: str) -> HttpResponse:
    """One accepted plan: items with their state, money, changes, and what may be done now."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, now=now)
    context = frame(plan) | shown_plan(plan, actor, books.today(plan.office, now))
    if plan.state in OPEN_PLAN:
        context["against"] = against(plan, now)
    answer = render(request, "plans/accepted.html", context)
    viewed(patient=plan.patient, actor=actor, now=now, reason=f"accepted plan {plan}")
    return answer


def pay(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write a receipt."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.RECEIPT, now=now)
    due = account.account_of(plan).deposit_due_cents
    form = ReceiptForm(posted(request), initial=first_receipt(books.today(plan.office, now), plan.patient.name, due))

    def save(data: dict[str, Any]) -> None:
        account.receive(plan=plan, actor=actor, now=now, **data | {"route": Route(data["route"])})

    return act_page(request, plan, form, save, _("Write a receipt"), _("The receipt is written."))


def waive(request: HttpRequest, public_id: str) -> HttpResponse:
    """Let work begin without the deposit."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.RECEIPT, now=now)

    def save(data: dict[str, Any]) -> None:
        account.waive_deposit(plan=plan, actor=actor, now=now, **data)

    return act_page(request, plan, WhyForm(posted(request)), save, _("Waive the deposit"), _("The deposit is waived."))


def void(request: HttpRequest, public_id: str, receipt: str) -> HttpResponse:
    """Take back a receipt that was written by mistake."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.RECEIPT, now=now)
    row = row_of(plan.payments.all(), receipt)

    def save(data: dict[str, Any]) -> None:
        account.void_receipt(receipt=row, actor=actor, now=now, **data)

    heading = _("Take a receipt back that was written by mistake")
    return act_page(request, plan, WhyForm(posted(request)), save, heading, _("The receipt is taken back."))


def carry(request: HttpRequest, public_id: str) -> HttpResponse:
    """Carry what is held on a replaced plan forward to the plan that took its place."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.RECEIPT, now=now)
    form = CarryForm(posted(request), initial={"cents": carrying.can_carry_cents(plan)})
    more = {"carries": carrying.successor(plan)}

    def save(data: dict[str, Any]) -> None:
        carrying.carry_forward(plan=plan, actor=actor, now=now, **data)

    heading = _("Carry forward what is held")
    return act_page(request, plan, form, save, heading, _("It is carried forward; both accounts say so."), more=more)


def refund(request: HttpRequest, public_id: str) -> HttpResponse:
    """Ask that money goes back to the one who paid it."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.REFUND, now=now)
    receipts = receipts_of(plan)
    first = {"cents": account.account_of(plan).held_cents, "receipt": receipts[0][0].public_id if receipts else ""}
    form = RefundForm(posted(request), receipts=receipts, initial=first)

    def save(_data: dict[str, Any]) -> None:
        account.ask_refund(plan=plan, actor=actor, now=now, **form.chosen())

    return act_page(request, plan, form, save, _("Ask for a refund"), _("It is asked; two people decide and pay."))


def refund_act(request: HttpRequest, public_id: str, refund: str, act: str) -> HttpResponse:
    """Allow, pay or decline a refund."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, thing=Thing.REFUND, now=now)
    row = row_of(plan.refunds.all(), refund)
    who: dict[str, Any] = {"refund": row, "actor": actor, "now": now}
    first = {"seen": row.version}
    words = {"allow": _("Allow the refund"), "pay": _("Pay the refund"), "decline": _("Decline the refund")}[act]
    form = (DeclineForm if act == "decline" else SeenForm)(posted(request), initial=first)
    services: dict[str, Callable[..., object]] = {
        "allow": account.allow_refund,
        "pay": account.pay_refund,
        "decline": account.decline_refund,
    }

    def save(data: dict[str, Any]) -> None:
        services[act](**who, **data)

    return act_page(request, plan, form, save, words, _("It is recorded."), row=row)


def amend(request: HttpRequest, public_id: str) -> HttpResponse:
    """Drop, add or swap lines while the plan runs."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.APPROVE, thing=Thing.AMENDMENT, now=now)
    form = amend_form(posted(request), plan)
    context: dict[str, Any] = {}
    if form.is_valid() and "look" in request.POST:
        try:
            change = {key: value for key, value in form.chosen().items() if key != "reason"}
            context["preview"] = found = amending.preview(plan=plan, **change)
            if change["added"] and (wanted := found.change.new_signature):
                context["asks"] = amending.not_before(plan, change["added"], found.after.total_cents, wanted) or "-"
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        return render(request, "plans/accepted_act.html", frame(plan) | _amend_words() | context | {"form": form})

    def save(_data: dict[str, Any]) -> None:
        amending.amend(plan=plan, actor=actor, now=now, **form.chosen())

    return act_page(request, plan, form, save, _("Change the plan"), _("The change is recorded."), more=_amend_words())


def agree(request: HttpRequest, public_id: str, number: int) -> HttpResponse:
    """Record the yes to a change."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.ACCEPTED, now=now)
    change = next((one for one in plan.amendments.all() if one.number == number), None)
    if change is None:
        raise Http404
    form = AgreeForm(posted(request), initial={"by": plan.accepted_by, "capacity": plan.accepted_as, "how": "signed"})

    def save(data: dict[str, Any]) -> None:
        amending.agree(amendment=change, actor=actor, now=now, **data)

    return act_page(request, plan, form, save, _("Record the yes to this change"), _("It is recorded."))


def rest(request: HttpRequest, public_id: str) -> HttpResponse:
    """Put the plan to rest."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = RestForm(posted(request), initial={"seen": plan.version})

    def save(data: dict[str, Any]) -> None:
        accepted.rest_plan(plan=plan, actor=actor, now=now, **data)

    return act_page(request, plan, form, save, _("Let the plan rest"), _("The plan rests."))


def resume(request: HttpRequest, public_id: str) -> HttpResponse:
    """Take the plan up again."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = SeenForm(posted(request), initial={"seen": plan.version})

    def save(data: dict[str, Any]) -> None:
        accepted.resume_plan(plan=plan, actor=actor, now=now, **data)

    return act_page(request, plan, form, save, _("Take the plan up again"), _("The plan goes on."))


def stop(request: HttpRequest, public_id: str) -> HttpResponse:
    """Stop the plan early."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = StopForm(posted(request), initial={"seen": plan.version})
    more = {"settled": account.account_of(plan), "altered": accepted.teeth_altered(plan)}

    def save(data: dict[str, Any]) -> None:
        accepted.stop_plan(plan=plan, actor=actor, now=now, **data | {"because": Cause(data["because"])})

    return act_page(request, plan, form, save, _("Stop the plan"), _("The plan is stopped."), more=more)


def finish(request: HttpRequest, public_id: str) -> HttpResponse:
    """Everything is done or dropped, and reviewed."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.APPROVE, thing=Thing.ITEM, now=now)
    form = FinishForm(posted(request), initial={"seen": plan.version})

    def save(data: dict[str, Any]) -> None:
        accepted.finish_plan(plan=plan, actor=actor, now=now, **data)

    return act_page(request, plan, form, save, _("Finish the plan"), _("The plan is finished."))


def repair(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record the yes to a repair of finished work, which is a small plan of its own."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.APPROVE, thing=Thing.AMENDMENT, now=now)
    day = books.today(plan.office, now)
    form = RepairForm(
        posted(request),
        services=books.read_book(books.version_in_force(plan.office, day).data).price_list_on(day).services,
        teeth=[tooth.tooth for tooth in facts_in(read_frozen(plan.frozen)).examination.teeth],
        numbering=Numbering(plan.case.numbering),
        initial={"by": plan.accepted_by, "capacity": plan.accepted_as},
    )

    def save(_data: dict[str, Any]) -> AcceptedPlan:
        return accepting.accept_repair(plan=plan, actor=actor, now=now, **form.chosen())

    return act_page(request, plan, form, save, _("Repair finished work"), _("The repair is a plan of its own."))


def hold(request: HttpRequest, public_id: str) -> HttpResponse:
    """Hold the accepted prices for another term."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.ESTIMATE, now=now)

    def save(data: dict[str, Any]) -> None:
        accepted.confirm_prices(plan=plan, actor=actor, now=now, **data)

    return act_page(
        request, plan, WhyForm(posted(request)), save, _("Hold the prices on"), _("The prices are held on.")
    )


def call(request: HttpRequest, public_id: str) -> HttpResponse:
    """The manager's call about a balance due."""
    actor, now = actor_of(request), timezone.now()
    plan = load_accepted(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.BALANCE, now=now)
    if not hasattr(plan, "balance_sheet"):
        raise Http404

    def save(data: dict[str, Any]) -> None:
        accepted.record_balance_call(sheet=plan.balance_sheet, actor=actor, now=now, **data)

    form = CallForm(posted(request), initial={"spoke_with": plan.patient.name})
    return act_page(request, plan, form, save, _("Record the call about the balance"), _("The call is recorded."))


def _amend_words() -> dict[str, Any]:
    return {"heading": _("Change the plan"), "look": True}
