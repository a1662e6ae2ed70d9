"""Pages of the record: the office's trail, the story of one file, who opened it, and answers after a complaint."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from planner.patients.files import files_of, of_person
from planner.patients.models import Patient
from planner.patients.services import viewed
from planner.plans.models import Case
from planner.practice.access import Act, Thing, may
from planner.practice.again import ask_again
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.story.access import Scope, load_story, trail_scope
from planner.story.answers import answers
from planner.story.file_rows import entries_of_file
from planner.story.forms import AskForm
from planner.story.ground import Ground
from planner.story.opened import who_opened
from planner.story.paper import print_page
from planner.story.shown import as_data, shown_rows
from planner.trail.errors import Refused
from planner.trail.models import TrailEntry
from planner.trail.reading import page_of

PRINTED_AT_MOST = 1000
"""Entries on one printed story; the paper says so when there are more."""


def trail(request: HttpRequest) -> HttpResponse:
    """The office's trail, newest first: all of it, all of it without words, or one's own acts."""
    actor = actor_of(request)
    scope = trail_scope(actor)
    entries = TrailEntry.objects.filter(office=actor.office)
    people = _people(actor) if scope is not Scope.OWN else [actor]
    if scope is Scope.OWN:
        entries = entries.filter(actor=actor)
    form = AskForm(request.GET, people=people)
    page = page_of(entries, form.asked(actor.office.zone), with_content=scope is not Scope.BARE)
    context = {"form": form, "page": page, "rows": shown_rows(page.rows, linked=scope is not Scope.BARE)}
    context |= {"scope": scope.value, "zone": actor.office.time_zone, "further": _further(request, page.before)}
    return render(request, "story/trail.html", context)


def file(request: HttpRequest, public_id: str) -> HttpResponse:
    """Everything that was done in one file, newest first."""
    actor, now = actor_of(request), timezone.now()
    patient = load_story(actor=actor, public_id=public_id, now=now)
    form = AskForm(request.GET, people=_people(actor))
    page = page_of(entries_of_file(patient), form.asked(patient.office.zone))
    context = {"patient": patient, "form": form, "page": page, "rows": shown_rows(page.rows)}
    context |= {"zone": patient.office.time_zone, "further": _further(request, page.before)}
    context |= {"may_print": may(actor, Act.RUN, Thing.STORY), "query": request.GET.urlencode()}
    answer = render(request, "story/file.html", context)
    viewed(patient=patient, actor=actor, now=now, reason="story of the file")
    return answer


@require_POST
def file_print(request: HttpRequest, public_id: str) -> HttpResponse:
    """The story of one file as a PDF: what the page was narrowed to, oldest first."""
    actor, now = actor_of(request), timezone.now()
    patient = load_story(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    form = AskForm(request.GET, people=_people(actor))
    if asks := _asks(request, patient, "file", _("Take the story of this file out as a PDF.")):
        return asks
    page = page_of(entries_of_file(patient), form.asked(patient.office.zone), size=PRINTED_AT_MOST)
    rows = shown_rows(tuple(reversed(page.rows)))
    context = {"rows": rows, "more": bool(page.before), "most": PRINTED_AT_MOST, "title": "Story of the file"}
    return _paper(request, patient, "story/file_paper.html", "story of the file", context, as_data(rows))


def opened(request: HttpRequest, public_id: str) -> HttpResponse:
    """Who opened the file, by day and person: what a patient may ask for."""
    actor, now = actor_of(request), timezone.now()
    patient = load_story(actor=actor, public_id=public_id, now=now)
    context = {"patient": patient, "found": who_opened(patient), "zone": patient.office.time_zone}
    context["may_print"] = may(actor, Act.RUN, Thing.STORY)
    answer = render(request, "story/opened.html", context)
    viewed(patient=patient, actor=actor, now=now, reason="who opened the file")
    return answer


@require_POST
def opened_print(request: HttpRequest, public_id: str) -> HttpResponse:
    """The list as a paper for the patient, in the patient's language and print size."""
    actor, now = actor_of(request), timezone.now()
    patient = load_story(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    if asks := _asks(request, patient, "opened", _("Take the list of who opened this file out as a PDF.")):
        return asks
    found = who_opened(patient)
    data = [
        {"on": row.on, "who": row.who, "role": row.role, "first": row.first, "last": row.last, "acts": row.acts}
        for row in found.rows
    ]
    template, what = "story/opened_paper.html", "who opened the file"
    own = {"language": patient.language, "points": patient.print_points}
    return _paper(request, patient, template, what, {"found": found, "said": found.said}, {"opened": data}, **own)


def complaint(request: HttpRequest, public_id: str) -> HttpResponse:
    """Twenty questions that are asked after a complaint, about one case, each answered from what is stored."""
    actor, now = actor_of(request), timezone.now()
    patient = load_story(actor=actor, public_id=public_id, now=now)
    cases, case = _cases(patient, request.GET.get("case", ""))
    context: dict[str, Any] = {"patient": patient, "cases": cases, "case": case, "zone": patient.office.time_zone}
    if case is not None:
        ground = Ground(patient, case, now)
        context |= {"answers": answers(ground), "problems": ground.problems}
    context["may_print"] = may(actor, Act.RUN, Thing.STORY)
    answer = render(request, "story/complaint.html", context)
    for each in files_of(patient):
        viewed(patient=each, actor=actor, now=now, reason="after a complaint")
    return answer


@require_POST
def complaint_print(request: HttpRequest, public_id: str) -> HttpResponse:
    """The twenty answers as a PDF."""
    actor, now = actor_of(request), timezone.now()
    patient = load_story(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    _all, case = _cases(patient, request.POST.get("case", ""))
    if case is None:
        messages.error(request, _("No case was opened in this file: there is nothing to answer from."))
        return redirect("story:complaint", public_id)
    if asks := _asks(request, patient, "complaint", _("Take the answers after a complaint out as a PDF.")):
        return asks
    told = answers(Ground(patient, case, now))
    data = {"case": case.public_id, "answers": [[one.question, [line.words for line in one.lines]] for one in told]}
    context = {"answers": told, "case": case, "title": "After a complaint"}
    return _paper(request, patient, "story/complaint_paper.html", "after a complaint", context, data)


def _asks(request: HttpRequest, patient: Patient, page: str, lead: str) -> HttpResponse | None:
    """The page that asks for the password once more before a paper about the file goes out; None where it was said."""
    return ask_again(request, lead=lead, back=reverse(f"story:{page}", args=[patient.public_id]), file=True)


def _paper(
    request: HttpRequest,
    patient: Patient,
    template: str,
    what: str,
    context: Mapping[str, Any],
    data: Mapping[str, Any],
    **own: Any,
) -> HttpResponse:
    actor, now = actor_of(request), timezone.now()
    try:
        content = print_page(
            template=template, what=what, patient=patient, context=context, data=data, actor=actor, now=now, **own
        )
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("story:file", patient.public_id)
    answer = HttpResponse(content, content_type="application/pdf")
    name = f"{what.replace(' ', '-')}-{date_format(timezone.localdate(now), 'Y-m-d')}.pdf"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _people(actor: Staff) -> list[Staff]:
    return list(Staff.objects.filter(office=actor.office).order_by("full_name", "id"))


def _cases(patient: Patient, wanted: str) -> tuple[list[Case], Case | None]:
    cases = list(Case.objects.filter(of_person(patient)).order_by("-id"))
    return cases, next((one for one in cases if one.public_id == wanted), cases[0] if cases else None)


def _further(request: HttpRequest, before: int) -> str:
    """The query of the next page; empty on the last one."""
    if not before:
        return ""
    asked = request.GET.copy()
    asked["before"] = str(before)
    return asked.urlencode()
