"""Pages about people: finding them, opening a file, the file itself, and correcting it."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients import services
from planner.patients.access import load_patient
from planner.patients.files import joins_of, of_person
from planner.patients.forms import (
    PATIENT_FIELDS,
    ChangePatientForm,
    NewPatientForm,
    SearchForm,
    StopForm,
    patient_initial,
)
from planner.patients.models import AnyChange, Examination, HistoryForm, Patient
from planner.patients.names import sort_key
from planner.patients.queries import possible_twins, search
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.both import lay_side_by_side
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.trail.errors import Refused, StaleEdit
from planner.trail.reading import values_at

MOST_EXAMINATIONS = 20


def patient_list(request: HttpRequest) -> HttpResponse:
    """People of the office, or those a search finds. A search is posted, so that no name stands in an address."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.IDENTITY)
    form = SearchForm(request.POST if request.method == "POST" else {"q": "", "after": request.GET.get("after", "")})
    page = search(actor.office, **form.query())
    context = {"form": form, "page": page, "may_add": may(actor, Act.CREATE, Thing.IDENTITY)}
    context["may_see_payers"] = may(actor, Act.VIEW, Thing.PAYER)
    template = "patients/part_found.html" if request.headers.get("HX-Request") else "patients/list.html"
    return render(request, template, context)


def create(request: HttpRequest) -> HttpResponse:
    """Open a file for somebody, unless somebody so alike is on file that it could be the same person."""
    actor = actor_of(request)
    require(actor, Act.CREATE, Thing.IDENTITY)
    form = NewPatientForm(request.POST or None, initial={"language": "en", "print_points": 11})
    twins: tuple[Patient, ...] = ()
    if form.is_valid():
        values = form.values()
        name, born = values["name"], values["birth_date"]
        twins = possible_twins(actor.office, name=name, birth_date=born)
        if twins and not form.cleaned_data["another"]:
            form.add_error("another", _("Somebody like this is on file: look at the names above, then tick this."))
        else:
            try:
                patient = _register(values, actor)
            except Refused as refusal:
                form.refuse(refusal.field, refusal.sentence)
            else:
                messages.success(request, _("The file of %(name)s is open.") % {"name": patient.name})
                return redirect("patients:patient", patient.public_id)
    return render(request, "patients/create.html", {"form": form, "twins": twins})


def look(request: HttpRequest) -> HttpResponse:
    """Before a file is opened: how the name would be sorted, and who on file could be taken for this person."""
    actor = actor_of(request)
    require(actor, Act.CREATE, Thing.IDENTITY)
    if request.method != "POST":
        return redirect("patients:create")
    form = NewPatientForm(request.POST)
    form.is_valid()
    name, born = form.cleaned_data.get("name", ""), form.cleaned_data.get("birth_date")
    twins = possible_twins(actor.office, name=name, birth_date=born) if name and born else ()
    context = {"form": form, "twins": twins, "proposed": sort_key(name), "looked": True}
    partial = bool(request.headers.get("HX-Request"))
    return render(request, "patients/part_looked.html" if partial else "patients/create.html", context)


def patient(request: HttpRequest, public_id: str) -> HttpResponse:
    """The file of one person; opening it is recorded."""
    actor, now = actor_of(request), timezone.now()
    shown = load_patient(actor=actor, public_id=public_id, now=now)
    context: dict[str, Any] = {
        "patient": shown,
        "twins": possible_twins(shown.office, name=shown.name, birth_date=shown.birth_date, besides=shown),
        "joins": joins_of(shown),
        "may_see_joins": may(actor, Act.VIEW, Thing.JOIN),
        "may_join": may(actor, Act.CREATE, Thing.JOIN),
        "may_edit": may(actor, Act.EDIT, Thing.IDENTITY),
        "may_enter_history": may(actor, Act.CREATE, Thing.FLAGS),
        "may_examine": may(actor, Act.CREATE, Thing.MEASUREMENTS),
        "may_plan": may(actor, Act.VIEW, Thing.OPTIONS),
        "may_see_payers": may(actor, Act.VIEW, Thing.PAYER),
        "may_copy": may(actor, Act.RUN, Thing.COPY),
        "may_read_story": may(actor, Act.VIEW, Thing.STORY),
        "may_open_in_emergency": may(actor, Act.RUN, Thing.EMERGENCY) and not may(actor, Act.VIEW, Thing.FLAGS),
        "may_tell_problem": may(actor, Act.CREATE, Thing.PROBLEM),
        "may_keep": may(actor, Act.VIEW, Thing.ERASURE),
        "stop": StopForm(initial=_stop_initial(shown)),
    }
    # Whether and when a history was signed is for everybody; what it says is not.
    history = HistoryForm.objects.filter(of_person(shown)).order_by("-id").first()
    asked = AnyChange.objects.filter(form=history).order_by("-id").first() if history else None
    context |= {"history": history, "asked": asked, "may_see_history": may(actor, Act.VIEW, Thing.FLAGS)}
    if may(actor, Act.VIEW, Thing.MEASUREMENTS):
        context["examinations"] = _examinations(shown)[:MOST_EXAMINATIONS]
    answer = render(request, "patients/patient.html", context)
    services.viewed(patient=shown, actor=actor, now=now)
    return answer


def change(request: HttpRequest, public_id: str) -> HttpResponse:
    """Correct what stands in a file. Who saves second sees both versions side by side."""
    actor, now = actor_of(request), timezone.now()
    shown = load_patient(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = ChangePatientForm(request.POST or None, initial=patient_initial(shown))
    context: dict[str, Any] = {"patient": shown, "form": form}
    if form.is_valid():
        try:
            services.change_patient(
                patient=shown, seen=form.cleaned_data["seen"], changes=form.values(), actor=actor, now=now
            )
        except StaleEdit as refusal:
            context |= _both(form, shown, refusal)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The file is corrected."))
            return redirect("patients:patient", public_id)
    return render(request, "patients/change.html", context)


def stop(request: HttpRequest, public_id: str) -> HttpResponse:
    """Stop every reminder and call to somebody at once, or allow them again."""
    actor, now = actor_of(request), timezone.now()
    shown = load_patient(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    form = StopForm(request.POST or None, initial=_stop_initial(shown))

    def save(data: dict[str, Any]) -> Patient:
        wanted = data.pop("to") == "stop"
        if wanted == shown.stop_all:  # never the other way round because somebody else was quicker
            raise Refused(_("Contact is stopped already.") if wanted else _("Contact is allowed already."))
        return services.set_stop_all(patient=shown, stop=wanted, actor=actor, now=now, **data)

    outcome = act_on(form, save, row=shown)
    if outcome.done:
        said = _("Nobody is contacted any more.") if outcome.made.stop_all else _("Contact is allowed again.")
        messages.success(request, said)
        return redirect("patients:patient", public_id)
    return render(request, "patients/stop.html", {"patient": shown, "form": form, "outcome": outcome})


def _stop_initial(shown: Patient) -> dict[str, Any]:
    return {"to": "allow" if shown.stop_all else "stop", "seen": shown.version}


def _register(values: Mapping[str, Any], actor: Staff) -> Patient:
    about = {name: value for name, value in values.items() if name not in _NAMED}
    return services.register_patient(
        name=values["name"],
        birth_date=values["birth_date"],
        phone=values["phone"],
        contact_consent=values["contact_consent"],
        sorted_by=values.get("sort_key", ""),
        about=about,
        actor=actor,
        now=timezone.now(),
    )


_NAMED = ("name", "birth_date", "phone", "contact_consent", "sort_key")


def _examinations(shown: Patient) -> QuerySet[Examination]:
    return Examination.objects.filter(of_person(shown)).order_by("-on", "-id")


def _both(form: ChangePatientForm, shown: Patient, refusal: StaleEdit) -> dict[str, Any]:
    """What it was, theirs and yours where they differ; the form goes on from the version that is saved now."""
    held = {name: value for name, value in values_at(shown, refusal.seen).items() if name in PATIENT_FIELDS}
    if "birth_date" in held:
        held["birth_date"] = date.fromisoformat(held["birth_date"])
    saved = patient_initial(Patient.objects.get(pk=shown.pk))
    theirs, was = ChangePatientForm(initial=saved), ChangePatientForm(initial=saved | held)
    return lay_side_by_side(form, theirs, refusal, was=was)
