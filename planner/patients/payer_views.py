"""Pages about payers: the office's list of their plans, and one person's cover, use, questions and answers."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients import payers, services
from planner.patients.access import load_cover, load_patient, load_payer_plan, load_payer_question
from planner.patients.models import Patient
from planner.patients.payer_forms import (
    AnswerForm,
    AskForm,
    CoverForm,
    PlanForm,
    UsedForm,
    cover_initial,
    plan_initial,
)
from planner.patients.payer_models import CoverVersion, PayerPlan, PayerQuestion
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.both import lay_side_by_side
from planner.practice.fields import PlainForm
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.benefit_plans import order_questions
from planner.rules.book import OfficeBook
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused, StaleEdit

MOST_VERSIONS = 50


def plan_list(request: HttpRequest) -> HttpResponse:
    """The payers' plans of the office, each in its newest version."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.PAYER)
    rows = [(row, payers.read_plan(row)) for row in payers.newest_plans(actor.office)]
    context = {"rows": rows, "may_add": may(actor, Act.CREATE, Thing.PAYER)}
    return render(request, "patients/payer_plans.html", context)


def plan(request: HttpRequest, public_id: str) -> HttpResponse:
    """One version of a plan as it was told, and the other versions of it."""
    actor, now = actor_of(request), timezone.now()
    row = load_payer_plan(actor=actor, public_id=public_id, now=now)
    versions = PayerPlan.objects.filter(office=row.office, series=row.series).select_related("set_by")
    newest = payers.newest_of(row)
    words = {one.key: one.words for one in _book(actor, now).price_list_on(books.today(row.office, now)).services}
    said = payers.read_plan(row)
    context = {
        "row": row,
        "plan": said,
        "services": [(words.get(one.service, one.service), one) for one in said.services],
        "words": words,
        "newest": newest,
        "versions": list(versions.order_by("-number")[:MOST_VERSIONS]),
        "may_edit": newest.pk == row.pk and may(actor, Act.EDIT, Thing.PAYER),
    }
    return render(request, "patients/payer_plan.html", context)


def plan_add(request: HttpRequest) -> HttpResponse:
    """Write down a payer's plan."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.PAYER)
    book, day = _book(actor, now), books.today(actor.office, now)
    first = {"told_on": day, "year_begins": day.replace(month=1, day=1)}
    form = PlanForm(posted(request), services=book.price_list_on(day).services, currency=book.currency, initial=first)

    def save(said: Any, reason: str) -> PayerPlan:
        return payers.add_plan(office=actor.office, plan=said, reason=reason, actor=actor, now=now)

    return _plan_form(request, form, save, {"heading": _("Write down a payer's plan"), "row": None})


def plan_change(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down the next version of a plan."""
    actor, now = actor_of(request), timezone.now()
    row = load_payer_plan(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    book, day = _book(actor, now), books.today(actor.office, now)
    priced = book.price_list_on(day).services
    opened = _goes_on_from(request, row, PayerPlan.objects.filter(office=row.office, series=row.series))

    def form_of(version: PayerPlan, data: Any = None) -> PlanForm:
        initial = plan_initial(payers.read_plan(version), priced) | {"seen": version.number}
        return PlanForm(data, services=priced, currency=book.currency, initial=initial)

    def save(said: Any, reason: str) -> PayerPlan:
        return payers.change_plan(row=opened, plan=said, reason=reason, actor=actor, now=now)

    def both(form: PlanForm, refusal: StaleEdit) -> dict[str, Any]:
        return _both(form, form_of(payers.newest_of(row)), refusal, form_of(opened))

    context = {"heading": _("Change %(plan)s") % {"plan": row.name}, "row": row}
    return _plan_form(request, form_of(opened, posted(request)), save, context, both)


def _goes_on_from(request: HttpRequest, row: Any, versions: Any) -> Any:
    # The version that was opened, or a later one, once both were seen side by side.
    seen = request.POST.get("seen", "")
    found = versions.filter(number=int(seen)).first() if seen.isdecimal() and len(seen) < 9 else None
    return found or row


def _both(form: PlainForm, theirs: PlainForm, refusal: StaleEdit, was: PlainForm) -> dict[str, Any]:
    # Why somebody changed it is theirs alone, and asked for anew.
    del theirs.fields["reason"]
    return lay_side_by_side(form, theirs, refusal, was)


def _plan_form(
    request: HttpRequest, form: PlanForm, save: Any, context: dict[str, Any], both: Any = None
) -> HttpResponse:
    if form.is_valid() and (said := form.plan()) is not None:
        try:
            row = save(said, form.cleaned_data["reason"])
        except StaleEdit as refusal:
            context |= both(form, refusal)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The plan is written down as version %(n)d.") % {"n": row.number})
            return redirect("patients:payer_plan", row.public_id)
    return render(request, "patients/payer_plan_form.html", context | {"form": form})


# ---------------------------------------------------------------- one person


def covers(request: HttpRequest, public_id: str) -> HttpResponse:
    """Who may pay for one person: covers, what is used, what was asked and answered. Opening it is recorded."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, thing=Thing.PAYER, now=now)
    held = payers.covers_of(patient)
    asked = PayerQuestion.objects.filter(patient=patient).select_related("answer", "cover__plan", "asked_by")
    earlier = CoverVersion.objects.filter(patient=patient).select_related("set_by", "plan").order_by("-id")
    newest = {one.cover.pk for one in held}
    context = {
        "patient": patient,
        "held": held,
        "order": order_questions([one.held for one in held], child=patient.can_decide_alone is False),
        "questions": list(asked[:MOST_VERSIONS]),
        "earlier": [row for row in earlier[: 2 * MOST_VERSIONS] if row.pk not in newest],
        "day": books.today(patient.office, now),
        "may_add": may(actor, Act.CREATE, Thing.PAYER),
        "may_edit": may(actor, Act.EDIT, Thing.PAYER),
    }
    answer = render(request, "patients/covers.html", context)
    services.viewed(patient=patient, actor=actor, now=now, reason="payers")
    return answer


def cover_add(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down that somebody is covered."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.PAYER, now=now)
    form = _cover_form(posted(request), actor, now, {"told_on": books.today(patient.office, now)})

    def save(said: Any, reason: str) -> None:
        given = {"cover": said, "reason": reason, "actor": actor, "now": now}
        payers.add_cover(patient=patient, plan=form.chosen_plan(), **given)

    return _cover_saved(request, patient, form, save, _("Write down a cover"))


def cover_change(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down the next version of a cover."""
    actor, now = actor_of(request), timezone.now()
    row = load_cover(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    versions = CoverVersion.objects.filter(patient=row.patient, series=row.series)
    opened = _goes_on_from(request, row, versions)

    def form_of(version: CoverVersion, data: Any = None) -> CoverForm:
        initial = cover_initial(payers.read_cover(version), version.plan.series) | {"seen": version.number}
        form = _cover_form(data, actor, now, initial)
        form.fields["plan"].disabled = True
        return form

    def save(said: Any, reason: str) -> None:
        payers.change_cover(row=opened, cover=said, reason=reason, actor=actor, now=now)

    def both(form: CoverForm, refusal: StaleEdit) -> dict[str, Any]:
        return _both(form, form_of(versions.latest("number")), refusal, form_of(opened))

    heading = _("Change the cover under %(plan)s") % {"plan": row.plan.name}
    return _cover_saved(request, row.patient, form_of(opened, posted(request)), save, heading, both)


def _cover_form(data: Any, actor: Staff, now: datetime, initial: dict[str, Any]) -> CoverForm:
    book, day = _book(actor, now), books.today(actor.office, now)
    return CoverForm(
        data,
        plans=payers.newest_plans(actor.office),
        services=book.price_list_on(day).services,
        numbering=Numbering(book.numbering),
        initial=initial,
    )


def _cover_saved(
    request: HttpRequest, patient: Patient, form: CoverForm, save: Any, heading: str, both: Any = None
) -> HttpResponse:
    context: dict[str, Any] = {"patient": patient, "form": form, "heading": heading}
    if form.is_valid() and (said := form.cover()) is not None:
        try:
            save(said, form.cleaned_data["reason"])
        except StaleEdit as refusal:
            context |= both(form, refusal)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The cover is written down."))
            return redirect("patients:covers", patient.public_id)
    return render(request, "patients/cover_form.html", context)


def cover_used(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down what is used of a benefit year."""
    actor, now = actor_of(request), timezone.now()
    cover = load_cover(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    day, said = books.today(cover.office, now), payers.read_plan(payers.newest_of(cover.plan))
    this_year = said.year_of(day)
    form = UsedForm(posted(request), years=[this_year, said.next_year(day)], initial={"told_on": day})

    def save(data: dict[str, Any]) -> None:
        used = form.used()
        if used is not None:
            payers.tell_used(cover=cover, used=used, actor=actor, now=now)

    words = {"heading": _("What is used of %(plan)s") % {"plan": cover.plan.name}, "done": _("It is written down.")}
    return _small(request, cover.patient, form, save, words)


def cover_ask(request: HttpRequest, public_id: str) -> HttpResponse:
    """Note a question to a payer."""
    actor, now = actor_of(request), timezone.now()
    cover = load_cover(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    form = AskForm(posted(request))

    def save(data: dict[str, Any]) -> None:
        payers.ask_payer(cover=cover, actor=actor, now=now, **data)

    words = {"heading": _("Ask %(plan)s") % {"plan": cover.plan.name}, "done": _("The question is noted.")}
    return _small(request, cover.patient, form, save, words)


def payer_answer(request: HttpRequest, public_id: str) -> HttpResponse:
    """Note what a payer answered."""
    actor, now = actor_of(request), timezone.now()
    question = load_payer_question(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    form = AnswerForm(posted(request), initial={"on": books.today(question.office, now)})

    def save(data: dict[str, Any]) -> None:
        payers.note_answer(question=question, actor=actor, now=now, **data)

    words = {"heading": _("The payer's answer"), "lead": question.words, "done": _("The answer is noted.")}
    return _small(request, question.patient, form, save, words)


def _small(request: HttpRequest, patient: Patient, form: PlainForm, save: Any, words: dict[str, str]) -> HttpResponse:
    if form.is_valid():
        try:
            save(dict(form.cleaned_data))
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        if form.is_valid():
            messages.success(request, words["done"])
            return redirect("patients:covers", patient.public_id)
    return render(request, "patients/payer_act.html", {"patient": patient, "form": form} | words)


def _book(actor: Staff, now: datetime) -> OfficeBook:
    return books.current_book(actor.office, books.today(actor.office, now))
