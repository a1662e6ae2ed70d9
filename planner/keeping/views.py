"""Pages about keeping: whose file is past its time, what stands against erasing it, and the two people's act."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.keeping.erasing import ask_to_erase, decline, erase, named_in_reasons
from planner.keeping.forms import AnswerForm, AskForm
from planner.keeping.models import EraseRequest
from planner.keeping.past import files_of, past_of, terms_of
from planner.patients.models import Patient
from planner.patients.services import viewed
from planner.practice import books
from planner.practice.access import Act, Thing, load, may, require
from planner.practice.acting import act_on
from planner.practice.again import ask_again
from planner.practice.before import answered_already
from planner.practice.requests import actor_of, posted
from planner.trail.models import Erasure

MOST_LISTED = 100


def past(request: HttpRequest) -> HttpResponse:
    """Whose file is past its time, what is asked, what was erased, and the years that hold."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.ERASURE)
    found, day = past_of(actor.office, now), books.today(actor.office, now)
    asked = list(EraseRequest.objects.filter(office=actor.office, outcome="").select_related("asked_by"))
    names = Patient.objects.filter(office=actor.office, public_id__in=[one.subject_id for one in asked])
    known = {one.public_id: one for one in names}
    done = Erasure.objects.filter(office=actor.office).select_related("asked_by", "by").order_by("-id")
    context = {
        "past": found[:MOST_LISTED],
        "more": max(0, len(found) - MOST_LISTED),
        "asked": [(one, known.get(one.subject_id)) for one in asked],
        "done": done[:MOST_LISTED],
        "terms": terms_of(actor.office, day),
    }
    return render(request, "keeping/past.html", context)


def person(request: HttpRequest, public_id: str) -> HttpResponse:
    """What stands against erasing one file, and asking for it."""
    actor, now = actor_of(request), timezone.now()
    act = Act.CREATE if request.method == "POST" else Act.VIEW
    patient = load(
        Patient.objects.select_related("office"), public_id, actor=actor, act=act, thing=Thing.ERASURE, now=now
    )
    form = AskForm(posted(request))
    outcome = act_on(form, lambda data: ask_to_erase(patient=patient, actor=actor, now=now, **data))
    if outcome.done:
        messages.success(request, _("It is asked. Somebody else has to agree before anything goes."))
        return redirect("keeping:past")
    (kept,) = files_of(actor.office, now, [patient])
    context = {"patient": patient, "kept": kept, "form": form, "may_ask": may(actor, Act.CREATE, Thing.ERASURE)}
    context["asked"] = EraseRequest.objects.filter(subject_id=patient.public_id, outcome="").first()
    answer = render(request, "keeping/person.html", context)
    viewed(patient=patient, actor=actor, now=now, reason="what stands against erasing")
    return answer


def asked(request: HttpRequest, public_id: str) -> HttpResponse:
    """Agree to what somebody else asked for, with the password once more, or decline it."""
    actor, now = actor_of(request), timezone.now()
    rows = EraseRequest.objects.select_related("office", "asked_by", "answered_by")
    row = load(rows, public_id, actor=actor, act=Act.APPROVE, thing=Thing.ERASURE, now=now)
    patient = Patient.objects.filter(office=actor.office, public_id=row.subject_id).first()
    if row.outcome:
        messages.info(request, answered_already(row.outcome, row.answered_by, row.answered_at, row.office))
        return redirect("keeping:past")
    if patient is None:  # erased with a file it was joined to, while this waited
        messages.info(request, _("This file is not here any more."))
        return redirect("keeping:past")
    form = AnswerForm(posted(request), initial={"seen": row.version})
    if request.POST.get("action") == "erase":
        if form.is_valid() and (page := ask_again(request, lead=_("A file is erased for good."), back=request.path)):
            return page
        outcome = act_on(form, lambda data: erase(asked=row, seen=data["seen"], actor=actor, now=now), row=row)
    else:
        outcome = act_on(form, lambda data: decline(asked=row, actor=actor, now=now, **data), row=row)
    if outcome.done:
        done = isinstance(outcome.made, Erasure)
        messages.success(request, _("The file is erased.") if done else _("It is declined; the file stays."))
        return redirect("keeping:past")
    (kept,) = files_of(actor.office, now, [patient])
    context = {"row": row, "patient": patient, "kept": kept, "form": form, "outcome": outcome}
    context |= {"own": row.asked_by_id == actor.pk, "reasons": named_in_reasons(patient)}
    answer = render(request, "keeping/asked.html", context)
    viewed(patient=patient, actor=actor, now=now, reason="an erasing is decided")
    return answer
