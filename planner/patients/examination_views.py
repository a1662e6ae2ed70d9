"""Pages of examinations: taking the measurements at the chair, reading them, and confirming them as a dentist."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from planner.patients import examination_table as table
from planner.patients import services
from planner.patients.access import load_examination, load_patient
from planner.patients.examination_forms import Sheet
from planner.patients.examination_layout import more, swapped
from planner.patients.examinations import change_examination, confirm_examination, store_examination
from planner.patients.facts import examination_facts, person_facts
from planner.patients.models import Examination, Patient, Status
from planner.patients.tooth_fields import spoken
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.acting import last_words
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.rules import mouth
from planner.rules.contradictions import doubts
from planner.rules.strip import Words, plan_of_today
from planner.rules.strip_svg import SCREEN, strip_svg
from planner.rules.teeth import Numbering
from planner.rules.units import parse_mm
from planner.trail.errors import Refused, StaleEdit

# What a button may ask for besides saving; each only lays the form out anew and stores nothing.
_REDRAW = ("redraw", "swap", "more")


@dataclass(frozen=True)
class Work:
    """What the form is about: a new set, a correction of an earlier one, or a draft that goes on."""

    patient: Patient
    actor: Staff
    now: datetime
    facts: mouth.Examination
    draft: Examination | None = None
    corrects: Examination | None = None

    @property
    def day(self) -> date:
        """The office's day."""
        return books.today(self.patient.office, self.now)

    @property
    def numbering(self) -> Numbering:
        """How the office writes teeth."""
        return Numbering(books.current_book(self.patient.office, self.day).numbering)

    def sheet(self, data: QueryDict | None) -> Sheet:
        """The form, bound to what was sent or showing what is known."""
        new = self.draft is None and self.corrects is None
        return Sheet(data, numbering=self.numbering, facts=self.facts, new=new)


def examination_add(request: HttpRequest, public_id: str) -> HttpResponse:
    """Take a new set of measurements; with ``from`` in the address it starts as a copy, as a correction does."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.MEASUREMENTS, now=now)
    corrects = _to_correct(request, patient, actor, now)
    if corrects is None:
        facts = mouth.Examination(on=books.today(patient.office, now), by=actor.full_name)
    else:
        facts = examination_facts(corrects).model_copy(update={"confirmed_by": ""})
    return _work(request, Work(patient, actor, now, facts, corrects=corrects))


def examination_edit(request: HttpRequest, public_id: str) -> HttpResponse:
    """Go on with a draft. A set that is confirmed or used is corrected by a new one that starts as its copy."""
    actor, now = actor_of(request), timezone.now()
    draft = load_examination(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    if draft.status != Status.DRAFT and request.method == "POST":
        return _closed_meanwhile(request, draft, actor, now)
    if draft.status != Status.DRAFT:
        messages.info(request, _("This set is closed: a correction is a new set that starts as a copy of it."))
        return redirect("patients:examination", public_id)
    return _work(request, Work(draft.patient, actor, now, examination_facts(draft), draft=draft))


def _closed_meanwhile(request: HttpRequest, draft: Examination, actor: Staff, now: datetime) -> HttpResponse:
    """Somebody confirmed the set while it was edited here: what was typed goes on as a correction of it."""
    work = Work(draft.patient, actor, now, examination_facts(draft), corrects=draft)
    sheet = work.sheet(request.POST)
    sheet.check(person_facts(work.patient), work.day)
    theirs = work.sheet(None)
    sentence = _(
        "These measurements were confirmed by %(name)s while you were editing them, so they are closed. Nothing of "
        "yours was saved: compare the two, and save yours as a new set that corrects this one."
    ) % {"name": draft.confirmed_by}
    address = f"{reverse('patients:examination_add', args=[draft.patient.public_id])}?from={draft.public_id}"
    context = {"stale": sentence, "differences": list(table.differences(sheet, theirs)), "address": address}
    return _form(request, work, sheet, **context)


def _to_correct(request: HttpRequest, patient: Patient, actor: Staff, now: datetime) -> Examination | None:
    public_id = request.GET.get("from", "")
    if not public_id:
        return None
    corrects = load_examination(actor=actor, public_id=public_id, now=now)
    if corrects.patient_id != patient.pk:
        raise Http404
    return corrects


def _work(request: HttpRequest, work: Work) -> HttpResponse:
    """Show the form, lay it out anew, or save what was typed."""
    action = request.POST.get("action", "").partition(":")
    if request.method != "POST":
        return _form(request, work, work.sheet(None))
    if action[0] in _REDRAW:
        return _redraw(request, work, action[0], action[2])
    sheet = work.sheet(request.POST)
    seen = request.POST.get("seen", "")
    try:
        if sheet.check(person_facts(work.patient), work.day) and sheet.facts is not None:
            saved = _save(work, sheet.facts, int(seen) if seen.isdigit() else 0, confirm=action[0] == "confirm")
            messages.success(request, _said_after(saved))
            return redirect("patients:examination", saved.public_id)
    except StaleEdit as refusal:
        return _form(request, work, sheet, **_both(work, sheet, refusal))
    except Refused as refusal:
        for path, sentence in refusal.faults or ((refusal.field, refusal.sentence),):
            sheet.refuse(path, sentence)
    return _form(request, work, sheet)


def _save(work: Work, facts: mouth.Examination, seen: int, *, confirm: bool) -> Examination:
    facts = facts.model_copy(update={"confirmed_by": work.actor.full_name if confirm else ""})
    if work.draft is None:
        return store_examination(
            patient=work.patient, facts=facts, corrects=work.corrects, actor=work.actor, now=work.now
        )
    return change_examination(examination=work.draft, seen=seen, facts=facts, actor=work.actor, now=work.now)


def _said_after(saved: Examination) -> str:
    if saved.status == Status.DRAFT:
        return _("The measurements are stored as a draft. A dentist confirms them before a plan rests on them.")
    return _("The measurements are stored and confirmed.")


def _redraw(request: HttpRequest, work: Work, action: str, what: str) -> HttpResponse:
    data: QueryDict = request.POST
    if action == "swap":
        data = swapped(data)
        messages.info(request, _("Teeth and gaps of the two sides are exchanged here. Nothing is stored yet."))
    elif action == "more":
        data = more(data, what)
    sheet = work.sheet(data)
    return _form(request, work, sheet, opened=what, seen=request.POST.get("seen", ""))


def _form(request: HttpRequest, work: Work, sheet: Sheet, **context: Any) -> HttpResponse:
    opened = context.pop("opened", "")
    given = {
        "patient": work.patient,
        "draft": work.draft,
        "corrects": work.corrects,
        "sheet": sheet,
        "seen": work.draft.version if work.draft else "",
        "head": table.head_lines(sheet),
        "tables": table.measuring_tables(sheet),
        "groups": list(table.groups(sheet, opened)),
        "faults": list(table.faults(sheet)) if request.method == "POST" and "opened" not in context else [],
        "not_recorded": [sheet.both(tooth) for tooth in sheet.not_recorded()],
        "may_confirm": may(work.actor, Act.APPROVE, Thing.MEASUREMENTS),
        "address": request.get_full_path(),
    }
    template = "patients/examination_form.html"
    if request.headers.get("HX-Request"):
        template = "patients/examination_form_part.html"
    return render(request, template, given | context)


def _both(work: Work, sheet: Sheet, refusal: StaleEdit) -> dict[str, Any]:
    """Both versions where they differ; the form goes on from the version that is saved now."""
    assert work.draft is not None
    saved = load_examination(actor=work.actor, public_id=work.draft.public_id, now=work.now)
    theirs = replace(work, facts=examination_facts(saved)).sheet(None)
    return {
        "stale": refusal.sentence,
        "differences": list(table.differences(sheet, theirs)),
        "seen": refusal.version,
    }


def examination_look(request: HttpRequest, public_id: str) -> HttpResponse:
    """Read the value just typed back in words, with all that looks like a slip so far. Stores nothing."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.MEASUREMENTS, now=now)
    facts = mouth.Examination(on=books.today(patient.office, now), by=actor.full_name)
    work = Work(patient, actor, now, facts)
    sheet = work.sheet(request.POST)
    sheet.check(person_facts(patient), work.day)
    name = request.POST.get("look", "")
    form = next((one for one in sheet.every_form() if name in map(one.add_prefix, one.fields)), None)
    field = None if form is None else form[name.removeprefix(f"{form.prefix}-")]
    context = {
        "field": field,
        "spoken": "" if field is None else _spoken(field.value()),
        "faults": list(table.measuring_faults(sheet)),
        "questions": sheet.open_questions,
    }
    return render(request, "patients/examination_read_back.html", context)


def _spoken(value: Any) -> str:
    try:
        return spoken(parse_mm(value))
    except ValueError:
        return ""


def examination(request: HttpRequest, public_id: str) -> HttpResponse:
    """One set of measurements, to be read; opening it is recorded."""
    actor, now = actor_of(request), timezone.now()
    shown = load_examination(actor=actor, public_id=public_id, now=now)
    patient, facts = shown.patient, examination_facts(shown)
    sheet = Work(patient, actor, now, facts, draft=shown).sheet(None)
    newer = Examination.objects.filter(corrects=shown).order_by("-id").first()
    context = {
        "patient": patient,
        "examination": shown,
        "facts": facts,
        "newer": newer,
        "strip": _strip(facts, sheet.shown),
        "tables": table.measuring_tables(sheet),
        "groups": [group for group in table.groups(sheet) if group.answered],
        "head": table.head_lines(sheet),
        "doubts": [words for _path, words in doubts(facts)],
        "is_draft": shown.status == Status.DRAFT,
        "may_measure": may(actor, Act.CREATE, Thing.MEASUREMENTS),
        "may_confirm": may(actor, Act.APPROVE, Thing.MEASUREMENTS),
        "may_see_pictures": may(actor, Act.VIEW, Thing.PICTURES),
    }
    answer = render(request, "patients/examination.html", context)
    services.viewed(patient=patient, actor=actor, now=now, reason="measurements")
    return answer


def _strip(facts: mouth.Examination, numbering: Numbering) -> str:
    """The upper teeth to true scale; empty before any is measured."""
    upper = [tooth for tooth in facts.teeth if tooth.tooth.upper and not tooth.tooth.is_extra and tooth.width]
    if not upper:
        return ""
    places = {tooth.tooth: tooth.place for tooth in upper if tooth.place is not None}
    today, words = plan_of_today(upper, facts.gaps), Words({}, numbering, places)
    drawn = strip_svg(today, words, "today", scale=SCREEN, midline_offset=facts.midline_offset)
    return mark_safe(drawn)  # noqa: S308 - drawn from numbers by our own code, its texts escaped there


def examination_confirm(request: HttpRequest, public_id: str) -> HttpResponse:
    """Confirm a draft in one's own name."""
    actor, now = actor_of(request), timezone.now()
    draft = load_examination(actor=actor, public_id=public_id, act=Act.APPROVE, now=now)
    if request.method == "POST":
        seen = request.POST.get("seen", "")
        try:
            confirm_examination(examination=draft, seen=int(seen) if seen.isdigit() else 0, actor=actor, now=now)
        except StaleEdit:
            words = _("Somebody changed these measurements while you read them: read them again, then confirm.")
            messages.warning(request, f"{words} {last_words(draft)}")
        except Refused as refusal:
            messages.warning(request, refusal.sentence)
        else:
            messages.success(request, _("The measurements are confirmed in your name."))
    return redirect("patients:examination", public_id)
