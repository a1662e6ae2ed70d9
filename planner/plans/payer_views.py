"""Pages about the guess beside an estimate: the figures, how each came about, and what was paid in the end."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.services import viewed
from planner.plans import estimates, payer_guesses
from planner.plans.access import load_estimate
from planner.plans.models import State
from planner.plans.payer_forms import ClaimForm, PaidForm
from planner.plans.payer_models import PayerPaid
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.requests import actor_of, posted
from planner.rules.benefit_sheets import SAID
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused


def guess(request: HttpRequest, public_id: str) -> HttpResponse:
    """The guess that holds, test by test; a post makes it anew."""
    actor, now = actor_of(request), timezone.now()
    act = Act.CREATE if request.method == "POST" else Act.VIEW
    shown = load_estimate(actor=actor, public_id=public_id, act=act, thing=Thing.PAYER, now=now)
    if shown.frozen is None:
        raise Http404
    plan = estimates.read_frozen(shown.frozen)
    is_open = shown.state in (State.CHECKED, State.SHOWN)
    form = ClaimForm(posted(request), numbering=Numbering(plan.numbering))
    if form.is_valid():
        try:
            payer_guesses.make_guess(estimate=shown, plan=plan, claim=form.claim(), actor=actor, now=now)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The guess is made and kept; no price has changed."))
            return redirect("plans:payers", public_id)
    row = payer_guesses.latest_guess(shown)
    context = {"estimate": shown, "case": shown.case, "patient": shown.case.patient, "said": SAID, "form": form}
    context |= {"row": row, "sheet": payer_guesses.read_guess(row) if row else None}
    context["paid"] = list(PayerPaid.objects.filter(guess__estimate=shown).order_by("pk"))
    may_make = may(actor, Act.CREATE, Thing.PAYER)
    context |= {"may_make": is_open and may_make, "may_pay": row is not None and may_make}
    answer = render(request, "plans/payers.html", context)
    viewed(patient=shown.case.patient, actor=actor, now=now, reason=f"payers of estimate {shown}")
    return answer


def paid(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down a payer's final answer."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.PAYER, now=now)
    row = payer_guesses.latest_guess(shown)
    if row is None:
        raise Http404
    first = {"on": books.today(shown.office, now), "option": shown.answered_option}
    form = PaidForm(posted(request), sheet=payer_guesses.read_guess(row), initial=first)
    if form.is_valid():
        data = form.cleaned_data
        try:
            _row, short = payer_guesses.record_paid(
                guess=row,
                option=data["option"],
                paid_cents=data["paid"],
                signed_if_nothing=data["signed"],
                reason=data["reason"],
                on=data["on"],
                actor=actor,
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, short.words)
            return redirect("plans:payers", public_id)
    context = {"estimate": shown, "case": shown.case, "patient": shown.case.patient, "form": form}
    return render(request, "plans/payer_paid.html", context)
