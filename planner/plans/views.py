"""Pages about cases: those of one person, one with its options, its wishes and limits, and case files in and out."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients.access import load_patient
from planner.patients.files import of_person
from planner.patients.models import Examination, Patient
from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.casefiles import export_case_file, import_case_file
from planner.plans.cases import change_case, open_case
from planner.plans.checking import standing_of
from planner.plans.choice_words import choice_words, target_words
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_facts, facts_at
from planner.plans.forms import AboutForm, CaseFileForm, CheckForm, OpenCaseForm, WishesForm
from planner.plans.models import Case
from planner.plans.queries import accepted_of, cases_of
from planner.plans.shown import (
    limits_words,
    matters_words,
    shown_options,
    strip_of,
    what_must_change,
)
from planner.plans.treating import dentist_of
from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.again import ask_again
from planner.practice.both import lay_side_by_side
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules.casefile import CaseFileError, read_case, write_case
from planner.rules.contradictions import doubts
from planner.rules.identities import case_doubts
from planner.rules.mouth import CaseFacts
from planner.rules.results import CasePlan, sha256
from planner.trail.errors import Refused, StaleEdit
from planner.trail.reading import values_at

MOST_EXAMINATIONS = 20


def of_patient(request: HttpRequest, public_id: str) -> HttpResponse:
    """The cases of one person; as a part of the person's own page, or as a page."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, now=now)
    require(actor, Act.VIEW, Thing.CASE, subject=patient)
    context = {
        "patient": patient,
        "cases": cases_of(patient),
        "accepted": accepted_of(patient) if may(actor, Act.VIEW, Thing.ACCEPTED) else [],
        "may_open": may(actor, Act.CREATE, Thing.CASE),
        "may_import": may(actor, Act.RUN, Thing.CASE_FILE),
    }
    template = "plans/part_cases.html" if request.headers.get("HX-Request") else "plans/of_patient.html"
    return render(request, template, context)


def create(request: HttpRequest, public_id: str) -> HttpResponse:
    """Open a case on one of the person's sets of measurements."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.CASE, now=now)
    known = list(Examination.objects.filter(of_person(patient)).order_by("-on", "-id")[:MOST_EXAMINATIONS])
    book = books.current_book(patient.office, books.today(patient.office, now))
    first: dict[str, str] = {"numbering": book.numbering}
    if known:
        first["examination"] = known[0].public_id
    form = OpenCaseForm(posted(request), examinations=known, initial=first)
    if known and form.is_valid():
        try:
            case = open_case(
                patient=patient,
                examination=form.examination_chosen(),
                name=form.cleaned_data["name"],
                numbering=form.cleaned_data["numbering"],
                actor=actor,
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The case is open. Now write down what the patient wishes."))
            return redirect("plans:wishes", case.public_id)
    return render(request, "plans/create.html", {"patient": patient, "form": form, "known": known})


def case(request: HttpRequest, public_id: str) -> HttpResponse:
    """One case as of today: wishes, limits, what the dentist decided, and every option, gentlest first."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, thing=Thing.OPTIONS, now=now)
    context: dict[str, Any] = {
        "case": shown,
        "patient": shown.patient,
        "may": _may(actor),
        "treating": dentist_of(shown),
    }
    facts = case_facts(shown, books.today(shown.office, now))
    try:
        plan, book = compute_plan(shown, now)
    except Refused as refusal:
        context |= {"refused": refusal.sentence} | _about(facts, {}, "")
    else:
        context |= _planned(shown, facts, plan, show_private=may(actor, Act.VIEW, Thing.FLAGS))
        context |= {"standing": standing_of(shown, plan, now), "book_number": book.number}
        replaces = context["standing"].estimate is not None and context["standing"].draft is None
        context["check"] = CheckForm(initial={"plan": sha256(plan.to_json())}, replaces=replaces)
    answer = render(request, "plans/case.html", context)
    viewed(patient=shown.patient, actor=actor, now=now, reason=f"case {shown.name}")
    return answer


def wishes(request: HttpRequest, public_id: str) -> HttpResponse:
    """What the patient wishes and what limits the patient set. Who saves second sees both versions."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    facts = case_facts(shown)
    form = WishesForm(posted(request), facts=facts, seen=shown.version)
    context: dict[str, Any] = {"case": shown, "patient": shown.patient, "form": form}
    if form.is_valid():
        try:
            change_case(
                case=shown,
                seen=form.cleaned_data["seen"],
                wishes=form.wishes,
                limits=form.limits(),
                actor=actor,
                now=now,
            )
        except StaleEdit as refusal:
            context |= lay_side_by_side(
                form,
                WishesForm(facts=facts, seen=refusal.version),
                refusal,
                was=WishesForm(facts=facts_at(shown, facts, refusal.seen), seen=refusal.seen),
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("Wishes and limits are saved; the options below answer them."))
            return redirect("plans:case", public_id)
    return render(request, "plans/wishes.html", context)


def about(request: HttpRequest, public_id: str) -> HttpResponse:
    """The case's name, its numbering, and notes."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    saved = {"name": shown.name, "numbering": shown.numbering, "notes": shown.notes, "seen": shown.version}
    form = AboutForm(posted(request), initial=saved)
    context: dict[str, Any] = {"case": shown, "patient": shown.patient, "form": form}
    if form.is_valid():
        try:
            change_case(case=shown, actor=actor, now=now, **form.cleaned_data)
        except StaleEdit as refusal:
            context |= lay_side_by_side(
                form,
                AboutForm(initial=saved),
                refusal,
                was=AboutForm(initial=saved | values_at(shown, refusal.seen)),
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("Saved."))
            return redirect("plans:case", public_id)
    return render(request, "plans/about.html", context)


def take_in(request: HttpRequest, public_id: str = "") -> HttpResponse:
    """Take a case file in, for the person it names or for the one whose file is open; all of it, or nothing."""
    actor, now = actor_of(request), timezone.now()
    patient: Patient | None = None
    if public_id:
        patient = load_patient(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.CASE_FILE, now=now)
    require(actor, Act.RUN, Thing.CASE_FILE, subject=patient)
    form = CaseFileForm(posted(request), request.FILES)
    context: dict[str, Any] = {"form": form, "patient": patient}
    if form.is_valid():
        try:
            facts = read_case(form.cleaned_data["file"], books.today(actor.office, now))
            taken = import_case_file(facts=facts, patient=patient, actor=actor, now=now)
        except CaseFileError as error:
            context["wrong"] = [(fault.path, fault.sentence) for fault in error.faults]
        except StaleEdit as refusal:
            form.refuse("file", refusal.sentence)
        except Refused as refusal:
            context["wrong"] = refusal.faults or [("", refusal.sentence)]
        else:
            _tell_taken(request, taken.new_patient, taken.new_case, facts)
            return redirect("plans:case", taken.case.public_id)
    return render(request, "plans/take_in.html", context)


def export(request: HttpRequest, public_id: str) -> HttpResponse:
    """The case as a case file; that it was taken out is recorded."""
    actor, now = actor_of(request), timezone.now()
    shown = load_case(actor=actor, public_id=public_id, thing=Thing.CASE_FILE, now=now)
    lead = _("Take the whole case out as a file, with the patient's history and measurements.")
    if asks := ask_again(request, lead=lead, back=reverse("plans:case", args=[public_id]), file=True):
        return asks
    content = write_case(export_case_file(case=shown, actor=actor, now=now))
    response = HttpResponse(content, content_type="application/json")
    response["Content-Disposition"] = f'attachment; filename="case-{shown.public_id}.json"'
    return response


def _may(actor: Staff) -> dict[str, bool]:
    """What the case page offers to whom."""
    return {
        "edit": may(actor, Act.EDIT, Thing.CASE),
        "decide": may(actor, Act.APPROVE, Thing.OPTIONS),
        "override": may(actor, Act.CREATE, Thing.FINDINGS),
        "tax": may(actor, Act.EDIT, Thing.ESTIMATE),
        "check": may(actor, Act.APPROVE, Thing.RELEASE),
        "draft": may(actor, Act.CREATE, Thing.ESTIMATE),
        "estimate": may(actor, Act.VIEW, Thing.ESTIMATE),
        "export": may(actor, Act.VIEW, Thing.CASE_FILE),
        "measurements": may(actor, Act.VIEW, Thing.MEASUREMENTS),
        "spaces": may(actor, Act.VIEW, Thing.LOCKS),
    }


def _planned(case: Case, facts: CaseFacts, plan: CasePlan, *, show_private: bool) -> dict[str, Any]:
    first, rest = shown_options(plan, show_private=show_private)
    names = {option.key: option.name for option in plan.options}
    return {
        "plan": plan,
        "first": first,
        "rest": rest,
        "recommended": next((one for one in (*first, *rest) if one.recommended), None),
        "must_change": what_must_change(plan, show_private=show_private),
        "doubts": [sentence for _path, sentence in (*doubts(facts.examination), *case_doubts(facts))],
        "strip": strip_of(plan, facts),
    } | _about(facts, names, plan.currency)


def _about(facts: CaseFacts, names: dict[str, str], currency: str) -> dict[str, Any]:
    ranked = sorted(facts.wishes, key=lambda wish: wish.rank)
    return {
        "wishes": [(wish, [target_words(one, facts.numbering) for one in wish.targets]) for wish in ranked],
        "limits": limits_words(facts, currency),
        "matters": matters_words(facts.matters),
        "choices": choice_words(facts.choices, facts.numbering, names),
        "numbering": facts.numbering.printed,
    }


def _tell_taken(request: HttpRequest, new_patient: bool, new_case: bool, facts: CaseFacts) -> None:
    said = _("The case file is taken in.")
    if new_patient:
        said += " " + _("A file was opened for %(name)s.") % {"name": facts.patient.name}
    elif not new_case:
        said += " " + _("The case was on file; what differed was added.")
    messages.success(request, said)
