"""Pages on which a dentist puts an option together, from nothing or from one that was worked out."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.plans.access import load_case
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_facts
from planner.plans.models import Case
from planner.plans.own_forms import OwnOptionForm, works_of
from planner.plans.own_options import keep_own_option
from planner.plans.stale import choices_side_by_side
from planner.practice.access import Act, Thing
from planner.practice.requests import actor_of, posted
from planner.rules.choices import OwnWork
from planner.rules.mouth import CaseFacts
from planner.trail.errors import Refused, StaleEdit


def put_together(request: HttpRequest, public_id: str, key: str = "") -> HttpResponse:
    """A new option; with ``key`` one changed from that option, or that option itself where it is the dentist's own."""
    now = timezone.now()
    case = load_case(actor=actor_of(request), public_id=public_id, act=Act.APPROVE, thing=Thing.OPTIONS, now=now)
    facts = case_facts(case)
    works, own_key, name = _start(case, facts, key)
    form = OwnOptionForm(posted(request), facts=facts, works=works, initial={"seen": case.version})
    context: dict[str, Any] = {"case": case, "patient": case.patient, "form": form, "name": name, "own": own_key}
    if form.is_valid():
        try:
            keep_own_option(
                case=case,
                seen=form.cleaned_data["seen"],
                work=form.works,
                key=own_key,
                changed_from="" if own_key else key,
                reason=form.cleaned_data["reason"],
                actor=actor_of(request),
                now=now,
            )
        except StaleEdit as refusal:
            context |= choices_side_by_side(form, refusal, facts.numbering)
        except Refused as refusal:
            for _path, sentence in refusal.faults or [("", refusal.sentence)]:
                form.refuse(refusal.field, sentence)
        else:
            messages.success(request, _("The option is put together; the gates and the price list have judged it."))
            return redirect("plans:case", public_id)
    return render(request, "plans/own_option.html", context)


def _start(case: Case, facts: CaseFacts, key: str) -> tuple[tuple[OwnWork, ...], str, str]:
    """What the form starts from, the key of the own option that is changed, and the name of what it started from."""
    if not key:
        return (), "", ""
    try:
        option = compute_plan(case, timezone.now())[0].option(key)
    except (Refused, KeyError):
        raise Http404 from None
    own = next((one for one in facts.choices.own_options if one.key == key), None)
    return own.work if own else works_of(option), key if own else "", option.name
