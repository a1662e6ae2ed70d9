"""Pages about laboratory work: what is due, ordering, and every move up to the label that was read."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.patients.services import viewed
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.rules.teeth import Numbering
from planner.rules.visit_states import LABORATORY, OPEN_LABORATORY, LaboratoryState
from planner.trail.errors import Refused
from planner.visits import laboratory
from planner.visits.access import load_case, load_plan
from planner.visits.forms import DueForm, LabelForm, NoteForm, OrderForm, SeenForm
from planner.visits.models import LaboratoryCase
from planner.visits.queries import laboratory_list
from planner.visits.reading import plan_visits

# The end of an address, the state it leads to, and the words of its button.
MOVES = {
    "sent": (LaboratoryState.SENT, DueForm, gettext_lazy("Send it out")),
    "received": (LaboratoryState.RECEIVED, SeenForm, gettext_lazy("It has come")),
    "back": (LaboratoryState.SENT_BACK, DueForm, gettext_lazy("Send it back")),
    "not-needed": (LaboratoryState.DROPPED, NoteForm, gettext_lazy("It is not needed")),
}


def cases(request: HttpRequest) -> HttpResponse:
    """Laboratory work that is not finished with, what is due soonest first."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.LABORATORY)
    today = books.today(actor.office, now)
    rows = [
        (case, case.state in OPEN_LABORATORY and case.due is not None and case.due < today)
        for case in laboratory_list(actor.office)
    ]
    return render(request, "visits/laboratory.html", {"rows": rows, "today": today})


def order(request: HttpRequest, public_id: str) -> HttpResponse:
    """Order work for an accepted plan."""
    actor, now = actor_of(request), timezone.now()
    plan = load_plan(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.LABORATORY, now=now)
    known = plan_visits(plan, None, now)
    step = known.step(request.GET.get("visit", ""))
    first = {"visit_key": step.key, "teeth": step.teeth} if step else {}
    visits = [(each.key, each.words) for each in known.steps if each.laboratory]
    form = OrderForm(posted(request), visits=visits, numbering=Numbering(plan.case.numbering), initial=first)
    if form.is_valid():
        try:
            made = laboratory.order_work(plan=plan, actor=actor, now=now, **form.cleaned_data)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("It is ordered; its label is below."))
            return redirect("visits:case", made.public_id)
    context = {"plan": plan, "patient": plan.patient, "form": form}
    return render(request, "visits/order.html", context)


def case(request: HttpRequest, public_id: str) -> HttpResponse:
    """One piece of laboratory work: its label, where it is, and every move."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, now=now)
    targets = LABORATORY.targets(shown.state)
    context = _frame(shown) | {
        "moves": list(shown.moves.select_related("by").order_by("sequence")),
        "overdue": shown.state in OPEN_LABORATORY and shown.due and shown.due < books.today(shown.office, now),
        "ways": [(slug, _words(slug, shown)) for slug, (to, _form, _name) in MOVES.items() if to in targets],
        "may_check": LaboratoryState.CHECKED in targets,
        "may_edit": may(actor, Act.EDIT, Thing.LABORATORY),
    }
    answer = render(request, "visits/case.html", context)
    viewed(patient=shown.patient, actor=actor, now=now, reason=f"laboratory work {shown.words}")
    return answer


def move(request: HttpRequest, public_id: str, to: str) -> HttpResponse:
    """Send it out, receive it, send it back, or say that it is not needed."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    if to not in MOVES:
        raise Http404
    state, kind, _name = MOVES[to]
    first: dict[str, Any] = {"seen": shown.version}
    if kind is DueForm:
        first["due"] = laboratory.usual_due(shown, books.today(shown.office, now))
    form = kind(posted(request), initial=first)

    def save(data: dict[str, Any]) -> None:
        laboratory.move_work(case=shown, to=state, actor=actor, now=now, **data)

    return _act(request, shown, form, save, _words(to, shown))


def label(request: HttpRequest, public_id: str) -> HttpResponse:
    """Read the label: name and both numbers, as they stand on the box."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = LabelForm(posted(request), initial={"seen": shown.version})

    def save(data: dict[str, Any]) -> None:
        laboratory.check_label(case=shown, actor=actor, now=now, **data)

    return _act(request, shown, form, save, _("Read the label"))


def _words(to: str, shown: LaboratoryCase) -> str:
    state, _form, words = MOVES[to]
    return _("Set another day") if shown.state == state else str(words)


def _frame(shown: LaboratoryCase) -> dict[str, Any]:
    teeth = laboratory.teeth_of(shown)
    return {
        "case": shown,
        "patient": shown.patient,
        "plan": shown.plan,
        "teeth": [(each.name, each.written(Numbering.ISO), each.written(Numbering.UNIVERSAL)) for each in teeth],
    }


def _act(request: HttpRequest, shown: LaboratoryCase, form: PlainForm, save: Any, heading: str) -> HttpResponse:
    context: dict[str, Any] = _frame(shown) | {"form": form, "heading": heading}
    outcome = act_on(form, save, row=shown)
    if outcome.done:
        messages.success(request, _("It is recorded."))
        return redirect("visits:case", shown.public_id)
    return render(request, "visits/case_act.html", context | {"outcome": outcome})
