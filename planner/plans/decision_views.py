"""Pages on which a dentist decides around the computation: every decision with a reason and a name."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.plans import cases
from planner.plans.access import load_case
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_choices, case_facts
from planner.plans.forms import DecisionForm, LineClassForm, OverrideForm, SurfacesForm
from planner.plans.models import Case
from planner.plans.stale import choices_side_by_side
from planner.plans.years_changes import set_figures
from planner.plans.years_forms import FiguresForm
from planner.practice import books
from planner.practice.access import Act, Thing
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.rules.choices import Override, SurfaceChoice
from planner.rules.gates import override_fault
from planner.rules.results import OptionShape
from planner.rules.teeth import Numbering, Tooth
from planner.rules.verdicts import Reason
from planner.trail.errors import Refused, StaleEdit


def strike(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Strike an option with a reason; it stays in the list."""
    case, option = _load(request, public_id, key, Act.APPROVE, Thing.OPTIONS)
    form = DecisionForm(posted(request), initial={"seen": case.version})

    def save(data: dict[str, Any]) -> None:
        cases.strike_option(case=case, option=key, actor=actor_of(request), now=timezone.now(), **data)

    words = {"heading": _("Strike this option"), "button": _("Strike it"), "said": _("The option is struck.")}
    return _decide(request, case, form, save, words, option=option)


def restore(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Take a striking back."""
    case, option = _load(request, public_id, key, Act.APPROVE, Thing.OPTIONS)
    form = DecisionForm(posted(request), initial={"seen": case.version})

    def save(data: dict[str, Any]) -> None:
        cases.restore_option(case=case, option=key, actor=actor_of(request), now=timezone.now(), **data)

    words = {
        "heading": _("Take the striking back"),
        "button": _("Take it back"),
        "said": _("The option is in the list again."),
    }
    return _decide(request, case, form, save, words, option=option)


def recommend(request: HttpRequest, public_id: str, key: str) -> HttpResponse:
    """Recommend an option, in one's own name."""
    case, option = _load(request, public_id, key, Act.APPROVE, Thing.OPTIONS)
    form = DecisionForm(posted(request), initial={"seen": case.version})

    def save(data: dict[str, Any]) -> None:
        cases.recommend_option(case=case, option=key, actor=actor_of(request), now=timezone.now(), **data)

    words = {
        "heading": _("Recommend this option"),
        "button": _("Recommend it"),
        "said": _("The option is recommended, in your name."),
    }
    return _decide(request, case, form, save, words, option=option)


def override(request: HttpRequest, public_id: str, key: str, gate: str) -> HttpResponse:
    """Decide against a verdict, unless nobody can."""
    case, option = _load(request, public_id, key, Act.CREATE, Thing.FINDINGS)
    reasons = _reasons(option, gate)
    second = any(reason.second_dentist for reason in reasons)
    form = OverrideForm(posted(request), second=second, initial={"seen": case.version})

    def save(data: dict[str, Any]) -> None:
        actor, now = actor_of(request), timezone.now()
        seen = data.pop("seen")
        made = Override(option=key, gate=gate, by=actor.full_name, on=books.today(case.office, now), **data)
        for fault in (override_fault(reason, made) for reason in reasons):
            if fault:
                raise Refused(fault)
        cases.override_gate(case=case, seen=seen, override=made, actor=actor, now=now)

    words = {
        "heading": _("Decide against this verdict"),
        "button": _("Decide so, in my name"),
        "said": _("The verdict is overridden; it stays visible wherever the option is shown."),
    }
    fixed = _nobody_can(reasons)
    return _decide(request, case, form, save, words, option=option, reasons=reasons, fixed=fixed)


def withdraw(request: HttpRequest, public_id: str, key: str, gate: str) -> HttpResponse:
    """Let a verdict hold again."""
    case, option = _load(request, public_id, key, Act.CREATE, Thing.FINDINGS)
    form = DecisionForm(posted(request), initial={"seen": case.version})

    def save(data: dict[str, Any]) -> None:
        cases.withdraw_override(case=case, option=key, gate=gate, actor=actor_of(request), now=timezone.now(), **data)

    words = {
        "heading": _("Let the verdict hold again"),
        "button": _("Let it hold"),
        "said": _("The verdict holds again."),
    }
    return _decide(request, case, form, save, words, option=option, reasons=_reasons(option, gate))


def surfaces(request: HttpRequest, public_id: str) -> HttpResponse:
    """Count the addition on one tooth as so many surfaces."""
    case = load_case(
        actor=actor_of(request), public_id=public_id, act=Act.CREATE, thing=Thing.FINDINGS, now=timezone.now()
    )
    numbering = Numbering(case.numbering)
    teeth = [(found.tooth.key, found.tooth.label(numbering)) for found in case_facts(case).examination.teeth]
    form = SurfacesForm(posted(request), teeth=teeth, initial={"seen": case.version})

    def save(data: dict[str, Any]) -> None:
        choice = SurfaceChoice(tooth=Tooth.from_key(data["tooth"]), surfaces=data["surfaces"], reason=data["reason"])
        cases.set_surfaces(case=case, seen=data["seen"], choice=choice, actor=actor_of(request), now=timezone.now())

    words = {
        "heading": _("Surfaces of an addition"),
        "button": _("Count it so"),
        "said": _("Saved; the fee follows."),
        "lead": _("Left alone, an addition counts the sides it touches, and the edge. One is a small addition."),
    }
    return _decide(request, case, form, save, words)


def line_class(request: HttpRequest, public_id: str) -> HttpResponse:
    """Say whether additions are reconstructive or for looks only, which decides the tax."""
    case = load_case(
        actor=actor_of(request), public_id=public_id, act=Act.EDIT, thing=Thing.ESTIMATE, now=timezone.now()
    )
    chosen = case_choices(case)
    first = {"seen": case.version, "reconstructive": "yes" if chosen.reconstructive else "no"}
    form = LineClassForm(posted(request), initial=first | {"reason": chosen.tax_reason})

    def save(data: dict[str, Any]) -> None:
        cases.set_line_class(case=case, actor=actor_of(request), now=timezone.now(), **data)

    words = {
        "heading": _("Tax class of additions"),
        "button": _("Save"),
        "said": _("Saved; the tax follows."),
        "lead": _("It stands on every line of the estimate, with your reason."),
    }
    return _decide(request, case, form, save, words)


def figures(request: HttpRequest, public_id: str) -> HttpResponse:
    """Whose figures the years ahead of a case are reckoned with."""
    case = load_case(
        actor=actor_of(request), public_id=public_id, act=Act.APPROVE, thing=Thing.OPTIONS, now=timezone.now()
    )
    chosen = case_choices(case).figures
    first: dict[str, Any] = {"seen": case.version}
    if chosen is not None:
        worn = {True: "yes", False: "no", None: ""}[chosen.worn]
        first |= {"counted_in": chosen.counted_in or "", "worn": worn, "reason": chosen.reason}
    form = FiguresForm(posted(request), initial={"counted_in": "", "worn": ""} | first)

    def save(data: dict[str, Any]) -> None:
        set_figures(case=case, actor=actor_of(request), now=timezone.now(), **data)

    words = {
        "heading": _("Whose figures hold"),
        "button": _("Reckon with these"),
        "said": _("Saved; upkeep and curves follow."),
        "lead": _(
            "How long things last depends on who places them and on how worn a mouth is; sources differ by that."
        ),
    }
    return _decide(request, case, form, save, words)


def _load(request: HttpRequest, public_id: str, key: str, act: Act, thing: Thing) -> tuple[Case, OptionShape]:
    """The case, and the option as computed now. Raises Http404 where the plan has none, or there is no plan today."""
    now = timezone.now()
    case = load_case(actor=actor_of(request), public_id=public_id, act=act, thing=thing, now=now)
    try:
        plan, _book = compute_plan(case, now)
        return case, plan.option(key)
    except (Refused, KeyError):
        raise Http404 from None


def _reasons(option: OptionShape, gate: str) -> tuple[Reason, ...]:
    found = tuple(reason for reason in option.reasons if reason.gate == gate)
    if not found:
        raise Http404
    return found


def _nobody_can(reasons: tuple[Reason, ...]) -> str:
    """Why no dentist can set these aside, whatever is typed; empty when one can."""
    trial = Override.model_construct(
        option="", gate="", by="?", second_dentist="??", reason="", on=timezone.now().date()
    )
    return next(filter(None, (override_fault(reason, trial) for reason in reasons)), "")


def _decide(
    request: HttpRequest,
    case: Case,
    form: PlainForm,
    save: Callable[[dict[str, Any]], None],
    words: dict[str, str],
    **more: Any,
) -> HttpResponse:
    """Save a valid form and go back to the case, or show the form with what is wrong."""
    context: dict[str, Any] = {"case": case, "patient": case.patient, "form": form} | words | more
    if form.is_valid():
        try:
            save(dict(form.cleaned_data))
        except StaleEdit as refusal:
            context |= choices_side_by_side(form, refusal, Numbering(case.numbering))
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, words["said"])
            return redirect("plans:case", case.public_id)
    return render(request, "plans/decision.html", context)
