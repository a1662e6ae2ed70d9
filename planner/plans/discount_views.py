"""Pages about discounts: asked for with a reason, allowed by who may, taken back; all in somebody's name."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from planner.plans import discounting
from planner.plans.access import load_case
from planner.plans.choice_words import discount_words
from planner.plans.discount_forms import DiscountForm
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_choices
from planner.plans.forms import DecisionForm
from planner.plans.models import Case
from planner.plans.stale import choices_side_by_side
from planner.practice.access import Act, Thing
from planner.practice.acting import last_words
from planner.practice.again import ask_again
from planner.practice.books import read_book
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.book import DiscountLimit
from planner.rules.choices import DiscountChoice
from planner.rules.results import CasePlan
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused, StaleEdit

_LEAD = gettext_lazy("A discount changes what somebody is asked to pay, and stands in your name.")


@dataclass(frozen=True, slots=True)
class ShownDiscount:
    """One discount with how far it is, and whether this reader may allow it."""

    key: str
    words: str
    given: bool
    waits_for: str
    may_allow: bool


def discounts(request: HttpRequest, public_id: str) -> HttpResponse:
    """The discounts of a case, and the form that asks for one."""
    actor, now = actor_of(request), timezone.now()
    case = _load(actor, public_id, now)
    try:
        plan, book = compute_plan(case, now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("plans:case", public_id)
    form = DiscountForm(posted(request), initial={"seen": case.version}, **_choices(plan))
    context: dict[str, Any] = {"case": case, "patient": case.patient, "form": form}
    if form.is_valid():
        if asks := ask_again(request, lead=str(_LEAD), back=request.path):
            return asks
        try:
            discounting.ask_discount(
                case=case, seen=form.cleaned_data["seen"], wanted=form.wanted, actor=actor, now=now
            )
        except StaleEdit as refusal:
            context |= choices_side_by_side(form, refusal, Numbering(case.numbering))
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("It is written down; the fee follows once it is allowed."))
            return redirect("plans:discounts", public_id)
    limits = read_book(book.data).discount_limits
    return render(request, "plans/discounts.html", context | _shown(case, plan, limits, actor))


@require_POST
def allow(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Allow a discount that waits, in one's own name."""
    actor, now = actor_of(request), timezone.now()
    case = _load(actor, public_id, now)
    if asks := ask_again(request, lead=str(_LEAD), back=reverse("plans:discounts", args=[public_id])):
        return asks
    try:
        seen = int(request.POST.get("seen", ""))
        discounting.allow_discount(case=case, seen=seen, key=key, actor=actor, now=now)
    except ValueError:
        messages.error(request, _("The page did not say which version it showed: look at it again."))
    except StaleEdit as refusal:
        messages.error(request, f"{refusal.sentence} {last_words(case)}")
    except Refused as refusal:
        messages.error(request, _("Not allowed. %(why)s") % {"why": refusal.sentence})
    else:
        messages.success(request, _("It is allowed in your name."))
    return redirect("plans:discounts", public_id)


def take_back(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Decline a discount or take it back, with a reason."""
    actor, now = actor_of(request), timezone.now()
    case = _load(actor, public_id, now)
    known = next((one for one in case_choices(case).discounts if one.key == key), None)
    if known is None and request.method == "POST":
        words = _("This discount is not there any more. %(who)s") % {"who": last_words(case)}
        messages.error(request, words.strip())
        return redirect("plans:discounts", public_id)
    if known is None:
        raise Http404
    form = DecisionForm(posted(request), initial={"seen": case.version})
    context: dict[str, Any] = {
        "case": case,
        "patient": case.patient,
        "form": form,
        "heading": _("Take this discount back"),
        "button": _("Take it back"),
        "lead": discount_words(known, {}),
    }
    if form.is_valid():
        if asks := ask_again(request, lead=str(_LEAD), back=reverse("plans:discounts", args=[public_id])):
            return asks
        try:
            discounting.take_back_discount(case=case, key=key, actor=actor, now=now, **form.cleaned_data)
        except StaleEdit as refusal:
            context |= choices_side_by_side(form, refusal, Numbering(case.numbering))
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("It is taken back; the fee follows."))
            return redirect("plans:discounts", public_id)
    return render(request, "plans/decision.html", context)


def _load(actor: Staff, public_id: str, now: datetime) -> Case:
    return load_case(actor=actor, public_id=public_id, act=Act.EDIT, thing=Thing.ESTIMATE, now=now)


def _choices(plan: CasePlan) -> dict[str, Any]:
    priced = [option for option in plan.options if option.estimate.lines]
    lines = dict(line for option in priced for line in discounting.line_choices(option))
    return {"options": [(option.key, option.name) for option in priced], "lines": list(lines.items())}


def _shown(case: Case, plan: CasePlan, limits: tuple[DiscountLimit, ...], actor: Staff) -> dict[str, Any]:
    names = {option.key: option.name for option in plan.options}
    return {
        "discounts": [
            ShownDiscount(one.key, discount_words(one, names), one.given, _waits_for(one), _may_allow(one, actor))
            for one in case_choices(case).discounts
        ],
        "limits": limits,
        "currency": plan.currency,
    }


def _waits_for(one: DiscountChoice) -> str:
    if one.given:
        return ""
    return _("a second person") if one.allowed_by else _("somebody who may allow it")


def _may_allow(one: DiscountChoice, actor: Staff) -> bool:
    """Whether the act is offered; whether it is allowed is decided when it is done."""
    return not one.given and actor.full_name not in (one.asked_by, one.allowed_by)
