"""Pages about the medical history: entering a signed form, reading it, and asking "any change?"."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients import services
from planner.patients.access import load_patient
from planner.patients.facts import form_facts, history_facts
from planner.patients.files import of_person
from planner.patients.forms import AnyChangeForm
from planner.patients.history_form import HistoryForm, answers, history_initial
from planner.patients.models import AnyChange
from planner.patients.models import HistoryForm as SignedForm
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.requests import actor_of
from planner.trail.errors import Refused


def history(request: HttpRequest, public_id: str, form_id: str = "") -> HttpResponse:
    """A signed history with every answer, the newest or an earlier one; opening it is recorded."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, thing=Thing.FLAGS, now=now)
    forms = list(SignedForm.objects.filter(of_person(patient)).select_related("entered_by").order_by("-id"))
    shown = next((form for form in forms if form.public_id == form_id), None) if form_id else next(iter(forms), None)
    if form_id and shown is None:
        raise Http404
    asked = list(AnyChange.objects.filter(form=shown).select_related("asked_by").order_by("-id")) if shown else []
    context = {
        "patient": patient,
        "shown": shown,
        "forms": forms,
        "asked": asked,
        "newest": bool(forms) and shown == forms[0],
        "parts": list(answers(form_facts(shown, asked))),
        "may_enter": may(actor, Act.CREATE, Thing.FLAGS),
    }
    answer = render(request, "patients/history.html", context)
    services.viewed(patient=patient, actor=actor, now=now, reason="medical history")
    return answer


def history_new(request: HttpRequest, public_id: str) -> HttpResponse:
    """Enter a medical history as signed. Who may not read the last one begins with an empty form."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.FLAGS, now=now)
    today = books.today(patient.office, now)
    may_read = may(actor, Act.VIEW, Thing.FLAGS)
    initial = history_initial(history_facts(patient)) if may_read and request.method != "POST" else {}
    form = HistoryForm(request.POST or None, today=today, initial=initial | {"signed_on": today})
    if form.is_valid():
        try:
            services.record_history(
                patient=patient,
                facts=form.facts(),
                signed_by=form.cleaned_data["signed_by"],
                actor=actor,
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The medical history is on file."))
            return redirect("patients:patient", public_id)
    context = {"patient": patient, "form": form, "carried_over": any(initial.values())}
    return render(request, "patients/history_new.html", context)


def any_change(request: HttpRequest, public_id: str) -> HttpResponse:
    """Ask "any change?" on a day of treatment, and keep the answer."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.FLAGS, now=now)
    form = AnyChangeForm(request.POST or None, initial={"asked_on": books.today(patient.office, now)})
    if form.is_valid():
        data = form.cleaned_data
        try:
            services.answer_any_change(
                patient=patient,
                asked_on=data["asked_on"],
                changed=data["changed"],
                note=data["note"],
                actor=actor,
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            if data["changed"]:
                messages.warning(request, _("Something has changed: let the person fill in a new form now."))
                return redirect("patients:history_new", public_id)
            messages.success(request, _("No change: the history holds for today."))
            return redirect("patients:patient", public_id)
    return render(request, "patients/any_change.html", {"patient": patient, "form": form})
