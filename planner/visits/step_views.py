"""Pages of the step sheet: looking at it, printing it, and working by it on a tablet."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from planner.letters.pdf import Paper
from planner.patients.services import viewed
from planner.plans.agreed_before import pieces_agreed
from planner.plans.amend_form import amend_form
from planner.plans.estimates import read_frozen
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on
from planner.practice.books import today
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.practice.stock_models import StockLot
from planner.rules.frozen import facts_in
from planner.rules.step_sheet import StepSheet
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused
from planner.visits import care, step_drawing, stepping
from planner.visits.access import load_note, load_sheet_visit, load_visit
from planner.visits.amounts import planned_of
from planner.visits.leads import url_of
from planner.visits.models import Visit
from planner.visits.step_forms import CloseForm, NoChangeForm, NoteForm
from planner.visits.step_models import ChairNote, StampKind, StepSheetCopy, StepStamp
from planner.visits.views import visit_frame


def steps(request: HttpRequest, public_id: str) -> HttpResponse:
    """The step sheet of a visit: what stands against it, what is done in which order, and how far it is."""
    actor, now = actor_of(request), timezone.now()
    visit = load_visit(actor=actor, public_id=public_id, now=now)
    answer = render(request, "visits/steps.html", _frame(visit, actor, now))
    viewed(patient=visit.patient, actor=actor, now=now, reason=f"step sheet of {visit.words}")
    return answer


@require_POST
def print_sheet(request: HttpRequest, public_id: str) -> HttpResponse:
    """Print the step sheet, once nothing stands against it."""
    actor, now = actor_of(request), timezone.now()
    visit = load_sheet_visit(actor=actor, public_id=public_id, now=now)
    paper: Paper = "Letter" if request.POST.get("paper") == "Letter" else "A4"
    try:
        document = step_drawing.print_sheet(visit=visit, actor=actor, now=now, paper=paper)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("visits:steps", visit.public_id)
    return redirect("letters:document", document.public_id)


@require_POST
def print_care(request: HttpRequest, public_id: str) -> HttpResponse:
    """Print what the patient takes home after the visit."""
    actor, now = actor_of(request), timezone.now()
    visit = load_visit(actor=actor, public_id=public_id, now=now)
    try:
        document = care.print_care(visit=visit, actor=actor, now=now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("visits:visit", visit.public_id)
    return redirect("letters:document", document.public_id)


@require_POST
def begin(request: HttpRequest, public_id: str) -> HttpResponse:
    """Begin to work by the sheet."""
    return _stamped(request, public_id, begins=True)


@require_POST
def stamp(request: HttpRequest, public_id: str) -> HttpResponse:
    """Stamp one step: done, left out, or back."""
    return _stamped(request, public_id)


@require_POST
def lot(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down which lot was opened at a step."""
    actor, now = actor_of(request), timezone.now()
    visit = load_sheet_visit(actor=actor, public_id=public_id, now=now)
    chosen = StockLot.objects.filter(office=visit.office, public_id=request.POST.get("lot", "")).first()
    fault = ""
    try:
        if chosen is None:
            raise Refused(_("Choose the lot that was opened."), field="lot")
        run = request.POST.get("run", "")[:90]
        stepping.note_lot(copy=_copy(visit), run=run, lot=chosen, actor=actor, now=now)
    except Refused as refusal:
        fault = refusal.sentence
    return _answer(request, visit, actor, fault)


def found(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down what was found, done instead or left out."""
    actor, now = actor_of(request), timezone.now()
    visit = load_sheet_visit(actor=actor, public_id=public_id, now=now)
    copy = _copy(visit)
    sheet, agreed = step_drawing.read_copy(copy), step_drawing.agreed_list(visit)
    form = NoteForm(
        posted(request),
        teeth=[row.tooth for row in sheet.teeth],
        agreed=agreed,
        numbering=Numbering(visit.plan.case.numbering),
        initial={"run": request.GET.get("run", "")[:90], "kind": "found"},
    )
    outcome = act_on(form, lambda _data: stepping.note(copy=copy, actor=actor, now=now, **form.said()))
    if outcome.done:
        messages.success(request, _said_of(outcome.made))
        return redirect("visits:steps", visit.public_id)
    context = visit_frame(visit) | {"form": form, "agreed": agreed}
    return render(request, "visits/step_found.html", context)


def settle(request: HttpRequest, public_id: str) -> HttpResponse:
    """Make a change of the accepted plan from a chair note, or say why the plan does not change."""
    actor, now = actor_of(request), timezone.now()
    note = load_note(actor=actor, public_id=public_id, now=now)
    visit, none = note.sheet.visit, "no_change" in request.POST
    change = amend_form(None if none else posted(request), visit.plan, **_first(note))
    stays = NoChangeForm(posted(request) if none else None)

    def save(_data: dict[str, Any]) -> Any:
        if none:
            return stepping.settle(note=note, words=stays.cleaned_data["words"], actor=actor, now=now)
        return stepping.amend_from(note=note, change=change.chosen(), actor=actor, now=now)

    outcome = act_on(stays if none else change, save)
    if outcome.done:
        messages.success(request, _("It is recorded."))
        return redirect("plans:accepted", visit.plan.public_id)
    context = visit_frame(visit) | {"note": note, "form": stays if none else change, "change": change, "stays": stays}
    return render(request, "visits/step_settle.html", context)


def close(request: HttpRequest, public_id: str) -> HttpResponse:
    """End working by the sheet; its minutes go to the office's own clock."""
    actor, now = actor_of(request), timezone.now()
    visit = load_sheet_visit(actor=actor, public_id=public_id, now=now)
    copy = _copy(visit)
    form = CloseForm(posted(request), planned=planned_of(step_drawing.read_copy(copy)))
    outcome = act_on(form, lambda _data: stepping.close(copy=copy, actor=actor, now=now, **form.said()))
    if outcome.done:
        messages.success(request, _("The visit is closed; its minutes are kept."))
        return redirect("visits:steps", visit.public_id)
    words = {"heading": _("End of this visit"), "button": _("Close it")}
    return render(request, "visits/act.html", visit_frame(visit) | {"form": form} | words)


# ------------------------------------------------------------------------------------------------------------- parts


def _stamped(request: HttpRequest, public_id: str, *, begins: bool = False) -> HttpResponse:
    actor, now = actor_of(request), timezone.now()
    visit = load_sheet_visit(actor=actor, public_id=public_id, now=now)
    fault = ""
    try:
        if begins:
            made = stepping.begin(visit=visit, actor=actor, now=now).stamps.select_related("by").first()
        else:
            asked = request.POST.get("kind", "")
            kind = StampKind(asked) if asked in StampKind.values else StampKind.DONE
            made = stepping.stamp(
                copy=_copy(visit),
                run=request.POST.get("run", "")[:90],
                kind=kind,
                reason=request.POST.get("reason", "")[:300],
                actor=actor,
                now=now,
            )
        if made is not None and (made.by_id, made.at) != (actor.pk, now):
            fault = _stamped_before(made)
    except Refused as refusal:
        fault = refusal.sentence
    return _answer(request, visit, actor, fault)


def _stamped_before(stamp: StepStamp) -> str:
    """What whoever taps second is told: the stamp that stands already, whose it is, and its instant."""
    said = {"what": stamp.kind, "who": stamp.by.full_name}
    said["at"] = stamp.at.astimezone(stamp.office.zone).strftime("%H:%M:%S")
    return _("Nothing is stamped twice: “%(what)s” stands since %(at)s, by %(who)s.") % said


def _answer(request: HttpRequest, visit: Visit, actor: Staff, fault: str) -> HttpResponse:
    if request.headers.get("HX-Request"):
        context = _frame(visit, actor, timezone.now()) | {"fault": fault, "typed": request.POST.get("reason", "")}
        return render(request, "visits/steps_part.html", context)
    if fault:
        messages.error(request, fault)
    return redirect("visits:steps", visit.public_id)


def _copy(visit: Visit) -> StepSheetCopy:
    copy = stepping.latest_copy(visit)
    if copy is None:
        raise Http404
    return copy


def _frame(visit: Visit, actor: Staff, now: Any) -> dict[str, Any]:
    copy = stepping.latest_copy(visit)
    under_way = copy is not None and copy.stamps.exists()
    stops = () if under_way else step_drawing.stops_of(visit, now)
    context = visit_frame(visit) | {
        "stops": [(stop, url_of(stop.where, visit)) for stop in stops],
        "may_work": may(actor, Act.CREATE, Thing.STEPS),
        "may_settle": may(actor, Act.APPROVE, Thing.AMENDMENT),
        "numbering": Numbering(visit.plan.case.numbering),
        "now": now,
        "other_day": visit.starts.astimezone(visit.office.zone).date() != today(visit.office, now),
        "fault": "",
        "typed": "",
    }
    if under_way and copy is not None:
        shown = stepping.progress_of(copy)
        lots = stepping.lots_for(copy, now)
        line = shown.next
        uses = [(use, lots.get(use.material, [])) for use in line.run.step.uses] if line else []
        return context | {"progress": shown, "sheet": shown.sheet, "uses": uses, "withdrawn": stepping.withdrawn(visit)}
    sheet: StepSheet | None = None
    try:
        sheet = step_drawing.draw(visit, now)
    except Refused as refusal:
        context["no_sheet"] = refusal.sentence
    return context | {"progress": None, "sheet": sheet}


def _said_of(note: ChairNote) -> str:
    if note.agreed and any(piece.words == note.agreed for piece in pieces_agreed(note.sheet.visit.plan)):
        return _("Noted; it was agreed before. A dentist writes the change afterwards.")
    if note.agreed:
        return _("Noted. This line is a sentence alone and covers no work: whatever is added is signed for first.")
    return _("Noted. It is not on the list agreed before: if it cannot wait, make safe, else stop and ask.")


def _first(note: ChairNote) -> dict[str, Any]:
    """What the form of a change begins with, from a note: the items of its tooth, or the piece that was agreed."""
    plan = note.sheet.visit.plan
    first: dict[str, Any] = {"cause": "finding", "reason": f"{note.kind}: {note.words or note.agreed}"}
    if note.kind == "left out" and note.tooth:
        first["drop"] = [item.public_id for item in plan.items.all() if item.teeth == [note.tooth]]
    agreed: Any = next(
        (one for one in facts_in(read_frozen(plan.frozen)).choices.if_then if note.agreed and str(one) == note.agreed),
        None,
    )
    if getattr(agreed, "service", ""):
        teeth = [tooth.key for tooth in agreed.teeth]
        first |= {
            "service": agreed.service,
            "quantity": 1 if note.tooth in teeth else agreed.quantity,
            "teeth": [note.tooth] if note.tooth in teeth else teeth,
        }
    elif note.tooth:
        first["teeth"] = [note.tooth]
    return first
