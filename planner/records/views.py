"""Pages on which copies are asked for, allowed and taken. Every file goes out only after the password once more."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients.access import load_patient
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.again import ask_again
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of
from planner.records import services
from planner.records.access import copies_of, load_copy, taken
from planner.records.writing import Copy


class WhyForm(PlainForm):
    """Why a copy is wanted."""

    reason = forms.CharField(
        label=_("Reason"), max_length=500, help_text=_("Who asked for it, and when. It stays in the record.")
    )


class PatientForm(WhyForm):
    """Which form of somebody's records, and why."""

    field_order = ("form", "reason")

    form = forms.ChoiceField(
        label=_("What"),
        choices=[
            ("zip", _("Everything: tables, papers, pictures and FHIR, in one zip")),
            ("fhir", _("Only the FHIR resources, as one JSON file for another program")),
        ],
        initial="zip",
        widget=forms.RadioSelect,
    )


class AnswerForm(PlainForm):
    """Allow or decline, and why."""

    reason = forms.CharField(label=_("Reason"), max_length=500, required=False, help_text=_("Wanted when declining."))


def patient(request: HttpRequest, public_id: str) -> HttpResponseBase:
    """A person's own copy of everything the office keeps about them."""
    actor, now = actor_of(request), timezone.now()
    shown = load_patient(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.COPY, now=now)
    form = PatientForm(request.POST or None)
    if form.is_valid():
        lead = _now("A copy of everything kept about %(name)s goes out. Your browser saves the file.") % {
            "name": shown.name
        }
        if asks := ask_again(request, lead=lead, back=request.path):
            return asks
        reason = form.cleaned_data["reason"]
        stem = f"records-{shown.public_id}"
        if form.cleaned_data["form"] == "fhir":
            content = services.patient_fhir(patient=shown, reason=reason, actor=actor, now=now)
            return _named(HttpResponse(content, content_type="application/fhir+json"), f"{stem}.fhir.json")
        return _sent(services.patient_copy(patient=shown, reason=reason, actor=actor, now=now), f"{stem}.zip")
    context = {"patient": shown, "form": form, "taken": taken("records.patient", [shown])[shown.public_id]}
    return render(request, "records/patient.html", context)


def office(request: HttpRequest) -> HttpResponse:
    """Copies of the whole office: those that were asked for, and the form to ask for one."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE if request.method == "POST" else Act.VIEW, Thing.RECORDS)
    form = WhyForm(request.POST or None)
    if act_on(form, lambda data: services.ask_copy(actor=actor, now=now, **data)).done:
        messages.success(request, _now("The copy is asked for: the owner dentist allows it or declines it."))
        return redirect("records:office")
    asked = list(copies_of(actor.office))
    known = taken("records.office", asked)
    rows = [{"row": row, "taken": known[row.public_id], "why_not": services.why_not_taken(row, now)} for row in asked]
    context: dict[str, Any] = {"form": form, "rows": rows, "may_ask": may(actor, Act.CREATE, Thing.RECORDS)}
    context |= {"may_allow": may(actor, Act.APPROVE, Thing.RECORDS), "may_take": may(actor, Act.RUN, Thing.RECORDS)}
    return render(request, "records/office.html", context)


def answer(request: HttpRequest, public_id: str) -> HttpResponse:
    """Allow a copy of the office, or decline it: a second person does."""
    actor, now = actor_of(request), timezone.now()
    asked = load_copy(actor=actor, public_id=public_id, act=Act.APPROVE, now=now)
    form = AnswerForm(request.POST or None)
    agrees = request.POST.get("action") == "allow"
    if form.is_valid() and (asks := ask_again(request, lead=_now("A copy of everything the office keeps."))):
        return asks
    if act_on(form, lambda data: services.answer_copy(copy=asked, agrees=agrees, actor=actor, now=now, **data)).done:
        said = _now("The copy is allowed.") if agrees else _now("The copy is declined.")
        messages.success(request, said)
        return redirect("records:office")
    return render(request, "records/answer.html", {"asked": asked, "form": form})


def take(request: HttpRequest, public_id: str) -> HttpResponseBase:
    """Take an allowed copy of the office out of the house."""
    actor, now = actor_of(request), timezone.now()
    asked = load_copy(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    form = PlainForm(request.POST or None)
    if request.method == "POST":
        lead = _now("Everything the office keeps goes out in one file. Your browser saves it.")
        if asks := ask_again(request, lead=lead, back=request.path):
            return asks
        made = act_on(form, lambda data: services.office_copy(copy=asked, actor=actor, now=now))
        if made.done:
            return _sent(made.made, f"records-of-the-office-{asked.public_id}.zip")
    context = {"asked": asked, "form": form, "why_not": services.why_not_taken(asked, now)}
    return render(request, "records/take.html", context)


def _sent(copy: Copy, name: str) -> FileResponse:
    """The zip, read from its temporary file block by block; it is gone when the answer is."""
    return FileResponse(copy.file, as_attachment=True, filename=name, content_type="application/zip")


def _named(response: HttpResponse, name: str) -> HttpResponse:
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
