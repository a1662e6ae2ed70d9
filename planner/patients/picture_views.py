"""Pages of pictures: what is there, taking one in, looking at it, reading it, handing out the original."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.patients import pictures as keeping
from planner.patients import services
from planner.patients.access import load_patient, load_picture
from planner.patients.examination_forms import NumberingForm
from planner.patients.examination_parts import initial_of
from planner.patients.examination_table import said
from planner.patients.facts import picture_facts
from planner.patients.files import of_person
from planner.patients.models import Patient, PictureContent, PictureFile, PictureReading
from planner.patients.picture_forms import KINDS, PictureFileForm, PictureForm, SetAsideForm
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.again import ask_again
from planner.practice.fields import day_words
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.rules import mouth
from planner.rules.teeth import Numbering
from planner.trail.errors import Refused


@dataclass(frozen=True, slots=True)
class ShownReading:
    """One reading and what it says, label by label."""

    row: PictureReading
    lines: tuple[tuple[Any, str], ...]
    corrected: bool


@dataclass(frozen=True, slots=True)
class ShownPicture:
    """One picture with its readings."""

    row: PictureFile
    kind: Any
    readings: tuple[ShownReading, ...]

    @property
    def is_set_aside(self) -> bool:
        """Whether it counts no more."""
        return hasattr(self.row, "set_aside")


def pictures(request: HttpRequest, public_id: str) -> HttpResponse:
    """Somebody's films, scans and photographs, and what was read in them; opening it is recorded."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, thing=Thing.PICTURES, now=now)
    readings = _readings(patient, _numbering(patient, now))
    files = PictureFile.objects.filter(of_person(patient)).select_related("entered_by", "set_aside__by")
    context = {
        "patient": patient,
        "pictures": [_shown(file, readings) for file in files],
        "elsewhere": [reading for reading in readings if reading.row.file_id is None],
        "may_add": may(actor, Act.CREATE, Thing.PICTURES),
    }
    answer = render(request, "patients/pictures.html", context)
    services.viewed(patient=patient, actor=actor, now=now, reason="pictures")
    return answer


def picture(request: HttpRequest, public_id: str) -> HttpResponse:
    """One picture, as large as its reader may see it, with its readings; opening it is recorded."""
    actor, now = actor_of(request), timezone.now()
    file = load_picture(actor=actor, public_id=public_id, now=now)
    context = {
        "patient": file.patient,
        "picture": _shown(file, _readings(file.patient, _numbering(file.patient, now))),
        "large": may(actor, Act.VIEW, Thing.LARGE_PICTURES),
        "may_add": may(actor, Act.CREATE, Thing.PICTURES),
        "may_erase": may(actor, Act.RUN, Thing.ERASURE),
        "is_erased": not PictureContent.objects.filter(file=file).exists(),
    }
    answer = render(request, "patients/picture.html", context)
    services.viewed(patient=file.patient, actor=actor, now=now, reason="picture")
    return answer


def picture_image(request: HttpRequest, public_id: str, size: str) -> HttpResponse:
    """The dots that are shown: ``large`` or ``small``; nothing of a picture that was set aside."""
    actor, now = actor_of(request), timezone.now()
    thing = Thing.LARGE_PICTURES if size == "large" else Thing.PICTURES
    file = load_picture(actor=actor, public_id=public_id, thing=thing, now=now)
    column = {"large": "shown", "small": "small"}[size]
    content = PictureContent.objects.filter(file=file, file__set_aside=None).values_list(column, flat=True).first()
    if content is None:
        raise Http404
    return HttpResponse(bytes(content), content_type=file.shown_type)


def picture_original(request: HttpRequest, public_id: str) -> HttpResponse:
    """The picture as it came, byte for byte; that it was taken is recorded."""
    actor, now = actor_of(request), timezone.now()
    file = load_picture(actor=actor, public_id=public_id, thing=Thing.LARGE_PICTURES, now=now)
    if hasattr(file, "set_aside"):
        raise Http404
    lead = _("Take the picture out as it came; it may name the person inside.")
    if asks := ask_again(request, lead=lead, back=reverse("patients:picture", args=[public_id]), file=True):
        return asks
    try:
        content = keeping.original_of(picture=file, actor=actor, now=now)
    except Refused as refusal:
        messages.warning(request, refusal.sentence)
        return redirect("patients:picture", public_id)
    kind = {"JPEG": "jpg", "PNG": "png", "TIFF": "tif"}[file.format]
    answer = HttpResponse(content, content_type=f"image/{file.format.lower()}")
    answer["Content-Disposition"] = f'attachment; filename="picture-{file.public_id}.{kind}"'
    return answer


def picture_take_in(request: HttpRequest, public_id: str) -> HttpResponse:
    """Take in a photograph or X-ray."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.PICTURES, now=now)
    form = PictureFileForm(posted(request), request.FILES or None, initial={"taken_by": actor.full_name})
    if form.is_valid():
        data = form.cleaned_data
        try:
            file = keeping.add_picture(
                patient=patient,
                content=data["file"].read(),
                kind=data["kind"],
                on=data["on"],
                about=form.about(),
                actor=actor,
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("The picture is on file. What it shows is written down as a reading."))
            return redirect("patients:picture", file.public_id)
    return render(request, "patients/picture_take_in.html", {"patient": patient, "form": form})


def picture_set_aside(request: HttpRequest, public_id: str) -> HttpResponse:
    """Let a picture count no more, with a reason."""
    actor, now = actor_of(request), timezone.now()
    file = load_picture(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    return _with_reason(request, file, keeping.set_aside, _("The picture is set aside."), actor, now)


def picture_erase(request: HttpRequest, public_id: str) -> HttpResponse:
    """Erase the bytes of a picture that was set aside, with a reason."""
    actor, now = actor_of(request), timezone.now()
    file = load_picture(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.ERASURE, now=now)
    return _with_reason(request, file, keeping.erase_picture, _("The picture is erased."), actor, now)


def _with_reason(
    request: HttpRequest, file: PictureFile, act: Any, done: str, actor: Staff, now: datetime
) -> HttpResponse:
    form = SetAsideForm(posted(request))
    if form.is_valid():
        try:
            act(picture=file, reason=form.cleaned_data["reason"], actor=actor, now=now)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, done)
            return redirect("patients:pictures", file.patient.public_id)
    context = {"patient": file.patient, "picture": file, "form": form, "erases": act is keeping.erase_picture}
    return render(request, "patients/picture_set_aside.html", context)


def picture_add(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down what a picture shows: one that is kept here (``of``), or correcting an earlier reading (``from``)."""
    actor, now = actor_of(request), timezone.now()
    patient = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.PICTURES, now=now)
    corrects = _named(PictureReading, request.GET.get("from", ""), patient)
    file = _named(PictureFile, request.GET.get("of", ""), patient) or (corrects.file if corrects else None)
    numbering = _numbering(patient, now)
    system = NumberingForm(posted(request), initial={"numbering": numbering.value})
    chosen = system.cleaned_data["numbering"] if system.is_valid() else ("" if system.is_bound else numbering.value)
    initial = initial_of(picture_facts(corrects)) if corrects else {"reader": actor.full_name}
    form = PictureForm(posted(request), initial=initial, numbering=Numbering(chosen) if chosen else None)
    if file is not None:
        form.belong_to(file)
    if form.is_valid() and form.cleaned_data["on"] < patient.birth_date:
        sentence = _("This day lies before the birth date, %(day)s. One of the two is a slip.")
        form.add_error("on", sentence % {"day": day_words(patient.birth_date)})
    if all([form.is_valid(), system.is_valid()]):
        try:
            facts = mouth.Picture.model_validate(form.values())
            keeping.record_picture(patient=patient, facts=facts, corrects=corrects, file=file, actor=actor, now=now)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("What the picture shows is on file."))
            return redirect("patients:pictures", public_id)
    context = {"patient": patient, "form": form, "system": system, "corrects": corrects, "file": file}
    context["large"] = may(actor, Act.VIEW, Thing.LARGE_PICTURES)
    return render(request, "patients/picture_add.html", context)


def _named(kind: Any, public_id: str, patient: Patient) -> Any:
    """The row that the address names, of this patient; None where it names none. Raises Http404 for a wrong one."""
    if not public_id:
        return None
    found = kind.objects.filter(patient=patient, public_id=public_id).first()
    if found is None:
        raise Http404
    return found


def _numbering(patient: Patient, now: datetime) -> Numbering:
    """How the office writes teeth."""
    return Numbering(books.current_book(patient.office, books.today(patient.office, now)).numbering)


def _readings(patient: Patient, numbering: Numbering) -> list[ShownReading]:
    rows = list(PictureReading.objects.filter(of_person(patient)).select_related("entered_by").order_by("-on", "-id"))
    corrected = {row.corrects_id for row in rows}
    found = []
    for row in rows:
        form = PictureForm(initial=initial_of(picture_facts(row)), numbering=numbering)
        # Kind and day stand above a picture that is kept here.
        told = form if row.file_id is None else [field for field in form if field.name not in ("kind", "on")]
        lines = tuple((field.label, said(field)) for field in told if said(field))
        found.append(ShownReading(row, lines, row.pk in corrected))
    return found


def _shown(file: PictureFile, readings: Iterable[ShownReading]) -> ShownPicture:
    own = tuple(reading for reading in readings if reading.row.file_id == file.pk)
    return ShownPicture(file, dict(KINDS)[file.kind], own)
