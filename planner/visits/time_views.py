"""Pages about who works when, absences, and time that something else takes."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice import books
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import last_words
from planner.practice.drafts import weekday_name
from planner.practice.fields import PlainForm
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused
from planner.visits import diary
from planner.visits.access import load_absence, load_block
from planner.visits.forms import AbsenceForm, BlockForm, SeenForm, WeekForm
from planner.visits.models import Absence, BlockedTime, WorkWeek
from planner.visits.reading import clinicians


def times(request: HttpRequest) -> HttpResponse:
    """Who works on which weekdays, who is absent, and what else takes time, from today on."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.VIEW, Thing.DIARY)
    office, today = actor.office, books.today(actor.office, now)
    absences = Absence.objects.filter(office=office, last__gte=today, taken_back_at=None).select_related("clinician")
    blocks = BlockedTime.objects.filter(office=office, ends__gt=now, taken_back_at=None)
    context = {
        "weeks": _weeks(actor),
        "absences": list(absences.order_by("first", "id")),
        "blocks": list(blocks.select_related("clinician", "chair").order_by("starts", "id")[:200]),
        "zone": office.time_zone,
        "may_set": may(actor, Act.CREATE, Thing.DIARY),
        "may_block": may(actor, Act.CREATE, Thing.VISIT),
    }
    return render(request, "visits/times.html", context)


def absence(request: HttpRequest) -> HttpResponse:
    """Enter days on which somebody is not there."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.DIARY)
    form = AbsenceForm(posted(request), clinicians=clinicians(actor.office))

    def save(data: dict[str, Any]) -> str:
        _made, visits = diary.add_absence(actor=actor, now=now, **data)
        if not visits:
            return _("The absence is entered.")
        return _("The absence is entered. Visits booked on these days want another time: %(n)d.") % {"n": len(visits)}

    return _act(request, form, save, actor, _("Enter an absence"))


def work_week(request: HttpRequest) -> HttpResponse:
    """Say on which weekdays somebody works from a day on."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.DIARY)
    first = {"effective": books.today(actor.office, now)}
    form = WeekForm(posted(request), clinicians=clinicians(actor.office), initial=first)

    def save(data: dict[str, Any]) -> str:
        diary.set_work_week(actor=actor, now=now, **data)
        return _("It is entered.")

    return _act(request, form, save, actor, _("Set somebody's weekdays"))


def block(request: HttpRequest) -> HttpResponse:
    """Take time for something else than a visit."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.VISIT)
    office = actor.office
    chairs = books.current_book(office, books.today(office, now)).chairs
    form = BlockForm(posted(request), clinicians=clinicians(office), chairs=chairs)

    def save(data: dict[str, Any]) -> str:
        diary.block_time(office=office, actor=actor, now=now, **data)
        return _("The time is taken.")

    return _act(request, form, save, actor, _("Take time for something else"))


def absence_back(request: HttpRequest, public_id: str) -> HttpResponse:
    """An absence is not so after all."""
    row = load_absence(actor=actor_of(request), public_id=public_id, now=timezone.now())
    return _back(request, row)


def block_back(request: HttpRequest, public_id: str) -> HttpResponse:
    """Time that was taken is free after all."""
    row = load_block(actor=actor_of(request), public_id=public_id, now=timezone.now())
    return _back(request, row)


def _back(request: HttpRequest, row: Absence | BlockedTime) -> HttpResponse:
    form = SeenForm(posted(request))
    if form.is_valid():
        try:
            diary.take_back(row=row, seen=form.cleaned_data["seen"], actor=actor_of(request), now=timezone.now())
        except Refused as refusal:
            messages.error(request, f"{refusal.sentence} {last_words(row)}")
        else:
            messages.success(request, _("It is taken back."))
    return redirect("visits:times")


def _act(request: HttpRequest, form: PlainForm, save: Any, actor: Staff, heading: str) -> HttpResponse:
    if form.is_valid():
        data = dict(form.cleaned_data)
        if "clinician" in data:
            data["clinician"] = diary.clinician_of(actor.office, data["clinician"])
        try:
            said = save(data)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, said)
            return redirect("visits:times")
    return render(request, "visits/time_act.html", {"form": form, "heading": heading})


def _weeks(actor: Staff) -> list[tuple[Staff, list[tuple[WorkWeek, str]]]]:
    """Everybody who treats, with the weekdays set for them, the newest first."""
    rows = list(WorkWeek.objects.filter(office=actor.office).order_by("-effective", "-id")[:200])
    return [
        (
            staff,
            [
                (row, ", ".join(weekday_name(number) for number in row.weekdays))
                for row in rows
                if row.clinician_id == staff.pk
            ],
        )
        for staff in clinicians(actor.office)
    ]
