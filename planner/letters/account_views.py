"""Pages that print what is said about an account, from the place where the row stands."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.letters.account_papers import make_account_paper, papers_about
from planner.letters.forms import PrintForm
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.access import load_accepted
from planner.plans.account_told import estimate_of, receipt_told, refund_told, shortfall_told, statement_told
from planner.plans.estimates import read_frozen
from planner.plans.models import Case, Estimate, FrozenPlan
from planner.plans.payer_models import PayerPaid
from planner.practice import books
from planner.practice.access import Act, Thing, load
from planner.practice.acting import act_on
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused


def receipt(request: HttpRequest, public_id: str, row: str) -> HttpResponse:
    """Print the receipt of what came in."""
    plan = _plan(request, public_id, Thing.RECEIPT)
    found = plan.payments.select_related("plan__frozen", "plan__book", "by").filter(public_id=row).first()
    if found is None:
        raise Http404
    return _of_plan(request, plan, lambda: receipt_told(found), _("Print the receipt"))


def statement(request: HttpRequest, public_id: str) -> HttpResponse:
    """Print the account as it stands today."""
    plan = _plan(request, public_id, Thing.RECEIPT)
    day = books.today(plan.office, timezone.now())
    return _of_plan(request, plan, lambda: statement_told(plan, day), _("Print a statement of account"))


def refund(request: HttpRequest, public_id: str, row: str) -> HttpResponse:
    """Print the letter that goes with money that went back."""
    plan = _plan(request, public_id, Thing.REFUND)
    beside = ("plan__frozen", "plan__book", "payment", "receipt", "asked_by", "allowed_by", "closed_by")
    found = plan.refunds.select_related(*beside).filter(public_id=row).first()
    if found is None:
        raise Http404
    return _of_plan(request, plan, lambda: refund_told(found), _("Print the letter about the refund"))


def shortfall(request: HttpRequest, public_id: str) -> HttpResponse:
    """Print what the patient is told when a payer paid less than was guessed."""
    actor, now = actor_of(request), timezone.now()
    rows = PayerPaid.objects.select_related("office", "guess__estimate__case__patient__office", "entered_by")
    rows = rows.select_related("guess__estimate__frozen", "guess__estimate__checked_by")
    row = load(rows, public_id, actor=actor, act=Act.CREATE, thing=Thing.PAYER, now=now)
    estimate: Estimate = row.guess.estimate
    assert estimate.frozen is not None  # a guess stands beside a frozen plan
    back = reverse("plans:payers", args=[estimate.public_id])
    heading = _("Print the letter about what the payer did not pay")
    return _page(request, lambda: shortfall_told(row), estimate.frozen, estimate, estimate.case, back, heading)


def _plan(request: HttpRequest, public_id: str, thing: Thing) -> AcceptedPlan:
    return load_accepted(actor=actor_of(request), public_id=public_id, act=Act.CREATE, thing=thing, now=timezone.now())


def _of_plan(
    request: HttpRequest, plan: AcceptedPlan, tell: Callable[[], dict[str, Any]], heading: str
) -> HttpResponse:
    back = reverse("plans:accepted", args=[plan.public_id])
    return _page(request, tell, plan.frozen, estimate_of(plan), plan.case, back, heading)


def _page(
    request: HttpRequest,
    tell: Callable[[], dict[str, Any]],
    frozen: FrozenPlan,
    estimate: Estimate | None,
    case: Case,
    back: str,
    heading: str,
) -> HttpResponse:
    """A form for the print size; then the paper. What cannot be printed is said instead."""
    actor: Staff = actor_of(request)
    context: dict[str, Any] = {"case": case, "patient": case.patient, "back": back, "heading": heading}
    try:
        told = tell()
    except Refused as refusal:
        return render(request, "letters/account_paper.html", context | {"refused": refusal.sentence})
    form = PrintForm(posted(request), initial={"points": read_frozen(frozen).print_points, "paper": "A4"})

    def save(data: dict[str, Any]) -> Any:
        return make_account_paper(told=told, frozen=frozen, estimate=estimate, actor=actor, now=timezone.now(), **data)

    outcome = act_on(form, save)
    if outcome.done:
        messages.success(request, _("The paper is made and kept."))
        return redirect("letters:document", outcome.made.public_id)
    context |= {"form": form, "documents": papers_about(told, frozen)}
    return render(request, "letters/account_paper.html", context)
