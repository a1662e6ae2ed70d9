"""Pages about estimates: begun at the desk, checked by a dentist, shown, answered, issued anew; all from the frozen
copy.
"""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.services import viewed
from planner.plans import estimates
from planner.plans.access import load_case, load_estimate
from planner.plans.arranging import latest_arrangement
from planner.plans.checking import check_case, stale_words, to_hand_over
from planner.plans.choice_words import discount_words
from planner.plans.facts import case_choices
from planner.plans.forms import AnswerForm, CheckForm, DraftOptionsForm, OptionsForm, ReasonForm, ShowForm
from planner.plans.models import Answer, Estimate, State
from planner.plans.payer_guesses import latest_guess, read_guess
from planner.plans.price_requests import latest_request
from planner.plans.queries import estimates as list_of_estimates
from planner.plans.shown import shown_options
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.again import ask_again
from planner.practice.before import done_by
from planner.practice.fields import PlainForm
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.benefit_sheets import SAID
from planner.rules.results import CasePlan
from planner.trail.errors import Refused

OPEN = (State.CHECKED, State.SHOWN)


def estimate_list(request: HttpRequest) -> HttpResponse:
    """The office's estimates, newest first, fifty to a page."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.ESTIMATE)
    asked = request.GET.get("state", "")
    state = State(asked) if asked in State.values else None
    page = list_of_estimates(actor.office, state=state, after=request.GET.get("after", ""))
    context = {
        "page": page,
        "states": State.choices,
        "state": asked,
        "day": books.today(actor.office, timezone.now()),
        "may_import": may(actor, Act.RUN, Thing.CASE_FILE),
    }
    return render(request, "plans/estimates.html", context)


def check(request: HttpRequest, public_id: str) -> HttpResponse:
    """Freeze and number the plan on the screen."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.APPROVE, thing=Thing.RELEASE, now=now)
    if request.method != "POST":
        return redirect("plans:case", public_id)
    form = CheckForm(request.POST)
    reason = request.POST.get("reason", "")[:2000]
    try:
        if not form.is_valid():
            raise Refused(_("The plan on the screen was not named: open the case again."))
        made = check_case(case=case, seen_plan=form.cleaned_data["plan"], reason=reason, actor=actor, now=now)
    except Refused as refusal:
        messages.error(request, _("Nothing was frozen. %(why)s") % {"why": refusal.sentence})
        return redirect("plans:case", public_id)
    if (made.checked_by_id, made.checked_at) != (actor.pk, now):
        who = done_by(_("checked"), made.checked_by, made.checked_at, made.office)
        messages.info(
            request, _("This very plan is frozen already: estimate %(n)s, %(who)s.") % {"n": made, "who": who}
        )
    else:
        messages.success(request, _("Estimate %(n)s is checked and frozen.") % {"n": made})
    return redirect("plans:estimate", made.public_id)


def draft(request: HttpRequest, public_id: str) -> HttpResponse:
    """Begin an estimate: choose which options it hands over."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.ESTIMATE, now=now)
    try:
        plan, _book = estimates.compute_plan(case, now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("plans:case", public_id)
    form = OptionsForm(posted(request), plan=plan, initial={"options": to_hand_over(plan)})
    if form.is_valid():
        chosen = tuple(form.cleaned_data["options"])
        begun = estimates.draft_estimate(case=case, options=chosen, actor=actor, now=now)
        messages.success(request, _("Estimate %(n)s is begun; a dentist checks it before it is shown.") % {"n": begun})
        return redirect("plans:estimate", begun.public_id)
    return render(request, "plans/draft.html", {"case": case, "patient": case.patient, "form": form, "plan": plan})


def estimate(request: HttpRequest, public_id: str) -> HttpResponse:
    """One estimate: where it stands, what it says, what has changed since."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, now=now)
    context = _frame(shown, actor)
    plan = _plan_of(shown)
    context |= {
        "noted": latest_request(shown),
        "agreed": latest_arrangement(shown),
        "waiting": [discount_words(one, {}) for one in case_choices(shown.case).discounts if not one.given],
    }
    if plan is not None:
        first, rest = shown_options(plan, show_private=may(actor, Act.VIEW, Thing.FLAGS))
        context |= {
            "plan": plan,
            "handed": [one for one in (*first, *rest) if one.option.key in shown.options],
            "priced": [one for one in (*first, *rest) if one.option.key in shown.options and one.can_be_had],
            "accepted": list(shown.accepted_plans.all()) if may(actor, Act.VIEW, Thing.ACCEPTED) else [],
            "stale": stale_words(shown, now) if shown.state in OPEN else (),
            "showings": list(shown.showings.select_related("shown_by").order_by("pk")),
            **_payers(shown, actor),
        }
    answer = render(request, "plans/estimate.html", context)
    viewed(patient=shown.case.patient, actor=actor, now=now, reason=f"estimate {shown}")
    return answer


def show(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record that the estimate was put before somebody."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.RELEASE, now=now)
    first = {"to": shown.case.patient.name, "on": books.today(shown.office, now), "seen": shown.version}
    form = ShowForm(posted(request), initial=first)

    def save(data: dict[str, Any]) -> None:
        estimates.show_estimate(estimate=shown, actor=actor, now=now, **data)

    words = {"heading": _("Record that it was shown"), "button": _("Record it"), "said": _("It is recorded.")}
    return _act(request, shown, actor, form, save, words)


def answer(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record what the patient said, other than yes."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = AnswerForm(posted(request), initial={"by": shown.case.patient.name, "seen": shown.version})

    def save(data: dict[str, Any]) -> None:
        said = Answer(data.pop("answer"))
        estimates.answer_estimate(estimate=shown, answer=said, actor=actor, now=now, **data)

    words = {
        "heading": _("Record another answer than yes"),
        "button": _("Record it"),
        "said": _("The answer is recorded."),
    }
    return _act(request, shown, actor, form, save, words)


def reissue(request: HttpRequest, public_id: str) -> HttpResponse:
    """Begin the next issue under the same number."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    form = ReasonForm(posted(request))

    def save(data: dict[str, Any]) -> Estimate:
        return estimates.reissue_estimate(estimate=shown, actor=actor, now=now, **data)

    words = {
        "heading": _("Begin a new issue"),
        "button": _("Begin it"),
        "said": _("A new issue is begun; this one holds until a dentist has checked the new one."),
    }
    return _act(request, shown, actor, form, save, words)


def discard(request: HttpRequest, public_id: str) -> HttpResponse:
    """Throw a draft away."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = ReasonForm(posted(request))

    def save(data: dict[str, Any]) -> None:
        estimates.discard_draft(estimate=shown, actor=actor, now=now, **data)

    words = {"heading": _("Throw this draft away"), "button": _("Throw it away"), "said": _("The draft is gone.")}
    return _act(request, shown, actor, form, save, words, gone=True)


def options(request: HttpRequest, public_id: str) -> HttpResponse:
    """Change which options a draft hands over."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    if shown.state != State.DRAFT and request.method != "POST":
        raise Http404
    try:
        plan, _book = estimates.compute_plan(shown.case, now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("plans:estimate", public_id)

    def form_of(held: Estimate, data: Any = None) -> DraftOptionsForm:
        first = {"options": held.options or to_hand_over(plan), "seen": held.version}
        return DraftOptionsForm(data, plan=plan, initial=first)

    def save(data: dict[str, Any]) -> None:
        estimates.choose_options(
            estimate=shown, seen=data["seen"], options=tuple(data["options"]), actor=actor, now=now
        )

    words = {"heading": _("Options on this estimate"), "button": _("Save"), "said": _("Saved.")}
    form = form_of(shown, posted(request))
    return _act(request, shown, actor, form, save, words, theirs=lambda: form_of(Estimate.objects.get(pk=shown.pk)))


def plan_json(request: HttpRequest, public_id: str) -> HttpResponse:
    """The frozen plan, byte for byte, for those who may take a case file out."""
    actor, now = actor_of(request), timezone.now()
    shown = load_estimate(actor=actor, public_id=public_id, thing=Thing.CASE_FILE, now=now)
    if shown.frozen is None:
        raise Http404
    lead = _("Take the frozen plan out as a file, with the patient's history and measurements.")
    if asks := ask_again(request, lead=lead, back=reverse("plans:estimate", args=[public_id]), file=True):
        return asks
    response = HttpResponse(bytes(shown.frozen.content), content_type="application/json")
    response["Content-Disposition"] = f'attachment; filename="plan-{shown.public_id}.json"'
    viewed(patient=shown.case.patient, actor=actor, now=now, reason=f"frozen plan of estimate {shown}")
    return response


def _payers(shown: Estimate, actor: Staff) -> dict[str, Any]:
    """The guess beside the estimate, for those who may see one."""
    if not may(actor, Act.VIEW, Thing.PAYER):
        return {}
    row = latest_guess(shown)
    return {"sheet": read_guess(row) if row is not None else None, "said": SAID, "may_see_payers": True}


def _plan_of(shown: Estimate) -> CasePlan | None:
    return None if shown.frozen is None else estimates.read_frozen(shown.frozen)


def _frame(shown: Estimate, actor: Staff) -> dict[str, Any]:
    is_open, release = shown.state in OPEN, Thing.RELEASE
    return {
        "estimate": shown,
        "case": shown.case,
        "patient": shown.case.patient,
        "may": {
            "check": shown.state == State.DRAFT and may(actor, Act.APPROVE, release),
            "present": shown.frozen is not None and shown.state != State.REPLACED,
            "call": may(actor, Act.VIEW, Thing.CALL),
            "show": is_open and may(actor, Act.RUN, release),
            "accept": shown.state == State.SHOWN and may(actor, Act.CREATE, Thing.ACCEPTED),
            "answer": shown.state == State.SHOWN and may(actor, Act.EDIT, Thing.ESTIMATE),
            "reissue": is_open and may(actor, Act.CREATE, Thing.ESTIMATE),
            "change": shown.state == State.DRAFT and may(actor, Act.EDIT, Thing.ESTIMATE),
            "export": may(actor, Act.VIEW, Thing.CASE_FILE),
            "discount": may(actor, Act.EDIT, Thing.ESTIMATE),
            "arrange": may(actor, Act.CREATE, Thing.ACCEPTED),
            "note": may(actor, Act.CREATE, Thing.ESTIMATE),
        },
    }


def _act(
    request: HttpRequest,
    shown: Estimate,
    actor: Staff,
    form: PlainForm,
    save: Any,
    words: dict[str, str],
    *,
    gone: bool = False,
    theirs: Callable[[], PlainForm] | None = None,
) -> HttpResponse:
    """Do what a valid form asks and go on to the estimate it came to, or show the form with what is wrong."""
    context: dict[str, Any] = _frame(shown, actor) | {"form": form} | words
    outcome = act_on(form, save, row=shown, theirs=theirs)
    if outcome.done:
        messages.success(request, words["said"])
        if gone:
            return redirect("plans:case", shown.case.public_id)
        return redirect("plans:estimate", getattr(outcome.made, "public_id", shown.public_id))
    return render(request, "plans/estimate_act.html", context | {"outcome": outcome})
