"""Keeping photographs and X-rays: adding, reading, handing out the original, setting aside, erasing what was set aside.

What a picture shows is never part of it: that is a reading by a named reader, added when somebody has read it.
"""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from planner.patients.facts import picture_values
from planner.patients.files import refuse_closed
from planner.patients.images import arrived
from planner.patients.models import Patient, PictureContent, PictureFile, PictureReading, PictureSetAside
from planner.patients.services import check_text
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import today
from planner.practice.fields import day_words
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import Picture
from planner.rules.results import sha256
from planner.trail.errors import Refused
from planner.trail.services import hold_chain, record

XRAYS = ("small film", "panoramic", "small 3-D")
"""Kinds whose shown picture loses nothing of the original's dots."""
PHOTOGRAPHS = ("photo", "scan")


def add_picture(
    *,
    patient: Patient,
    content: bytes,
    kind: str,
    on: date,
    about: Mapping[str, Any] | None = None,
    actor: Staff,
    now: datetime,
) -> PictureFile:
    """Keep a picture taken ``on`` a day. ``about`` holds taken_by, shows, with_scale and mirrored, as far as known.

    Raises Refused for a file that is no whole picture, a day that cannot be, and the same file twice.
    """
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.PICTURES, subject=patient)
    refuse_closed(patient)
    if kind not in XRAYS + PHOTOGRAPHS:
        raise Refused(f'"{kind}" is no kind of picture: choose one of the list.', field="kind")
    _check_day(patient, on, now)
    made = arrived(content, lossless=kind in XRAYS)
    digest = sha256(content)
    with transaction.atomic():
        hold_chain()  # two uploads of one file at the same instant
        _refuse_twice(patient, digest)
        picture = PictureFile.objects.create(
            office=patient.office,
            patient=patient,
            kind=kind,
            on=on,
            format=made.format,
            width=made.width,
            height=made.height,
            size=len(content),
            sha256=digest,
            shown_sha256=sha256(made.shown),
            shown_type=made.shown_type,
            entered_by=actor,
            at=now,
            **(about or {}),
        )
        PictureContent.objects.create(
            office=patient.office, file=picture, original=content, shown=made.shown, small=made.small
        )
        said = {"patient": patient.public_id, "kind": kind, "on": on.isoformat(), "sha256": digest}
        record(actor=actor, act="picture.add", subject=picture, content=said, at=now)
    return picture


def record_picture(
    *,
    patient: Patient,
    facts: Picture,
    corrects: PictureReading | None = None,
    file: PictureFile | None = None,
    actor: Staff,
    now: datetime,
) -> PictureReading:
    """Add what a named reader saw in a picture, here (``file``) or elsewhere.

    Raises Refused for a day in the future, and for a reading that does not belong to its picture.
    """
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.PICTURES, subject=patient)
    _check_day(patient, facts.on, now, born=False)
    if file is not None:
        _check_file(patient, file, facts)
    check_text(facts)
    with transaction.atomic():
        picture = PictureReading.objects.create(
            office=patient.office,
            patient=patient,
            corrects=corrects,
            file=file,
            entered_by=actor,
            at=now,
            **picture_values(facts),
        )
        content = {"picture": picture.public_id, "kind": picture.kind, "on": picture.on.isoformat()}
        if file is not None:
            content |= {"file": file.public_id, "sha256": file.sha256}
        record(actor=actor, act="picture.read", subject=patient, content=content, at=now)
    return picture


def original_of(*, picture: PictureFile, actor: Staff, now: datetime) -> bytes:
    """The bytes as they came, for somebody who takes them out of the house; that is recorded.

    Raises Refused when they are not what they were, and NotAllowed.
    """
    require_own(actor, picture)
    require(actor, Act.VIEW, Thing.LARGE_PICTURES, subject=picture)
    content = bytes(PictureContent.objects.only("original").get(file=picture).original)
    if sha256(content) != picture.sha256:
        raise Refused("The stored picture is not the one that was taken in: its hash differs. Call the system keeper.")
    with transaction.atomic():
        said = {"patient": picture.patient.public_id, "sha256": picture.sha256}
        record(actor=actor, act="picture.original", subject=picture, content=said, at=now)
    return content


def set_aside(*, picture: PictureFile, reason: str, actor: Staff, now: datetime) -> PictureSetAside:
    """Let a picture count no more: it is shown to nobody from now on. Raises Refused without a reason or twice."""
    require_own(actor, picture)
    require(actor, Act.CREATE, Thing.PICTURES, subject=picture)
    if not reason.strip():
        raise Refused("Setting a picture aside needs a reason, such as whose it is.", field="reason")
    with transaction.atomic():
        hold_chain()
        before = PictureSetAside.objects.filter(file=picture).select_related("by").first()
        if before is not None:
            who = done_by("set aside", before.by, before.at, picture.office)
            raise Refused(f"This picture was set aside before: {who} (“{before.reason}”).")
        row = PictureSetAside.objects.create(
            office=picture.office, file=picture, reason=reason.strip(), by=actor, at=now
        )
        record(actor=actor, act="picture.set_aside", subject=picture, reason=reason.strip(), at=now)
    return row


def erase_picture(*, picture: PictureFile, reason: str, actor: Staff, now: datetime) -> None:
    """Erase the bytes of a picture that was set aside; that it was there, and its hash, stay.

    Raises Refused without a reason, for a picture that is not set aside or erased already, and for whoever set it aside
    where the office has another owner dentist to look at it; an office of one would never get rid of it.
    """
    require_own(actor, picture)
    require(actor, Act.RUN, Thing.ERASURE, subject=picture)
    if not reason.strip():
        raise Refused("Erasing needs a reason, such as the request it answers and its date.", field="reason")
    with transaction.atomic():
        aside = PictureSetAside.objects.filter(file=picture).first()
        if aside is None:
            raise Refused("Only a picture that was set aside is erased: set it aside first, with a reason.")
        if aside.by_id == actor.pk and _other_owner(actor):
            raise Refused("It was you who set this picture aside: another owner dentist erases it.")
        if not PictureContent.objects.filter(file=picture).delete()[0]:
            raise Refused("The bytes of this picture were erased before.")
        record(
            actor=actor,
            act="picture.erase",
            subject=picture,
            content={"sha256": picture.sha256},
            reason=reason.strip(),
            at=now,
        )


def _other_owner(actor: Staff) -> bool:
    owners = Staff.objects.filter(office=actor.office, is_active=True, role_rows__role=Role.OWNER)
    return owners.exclude(pk=actor.pk).exists()


def _check_day(patient: Patient, on: date, now: datetime, *, born: bool = True) -> None:
    day = today(patient.office, now)
    if on > day:
        raise Refused(f"{on.isoformat()} lies in the future: today is {day.isoformat()}.", field="on")
    if born and on < patient.birth_date:
        raise Refused(
            f"{day_words(on)} lies before the birth date, {day_words(patient.birth_date)}. One of the two is a slip.",
            field="on",
        )


def _check_file(patient: Patient, file: PictureFile, facts: Picture) -> None:
    if file.patient_id != patient.pk:
        raise Refused("This picture lies in another person's file.")
    if (file.kind, file.on) != (facts.kind, facts.on):
        raise Refused(
            f"The picture is a {file.kind} of {file.on.isoformat()}, the reading says {facts.kind} of "
            f"{facts.on.isoformat()}: one of the two is a slip.",
            field="on",
        )
    if PictureSetAside.objects.filter(file=file).exists():
        raise Refused("This picture was set aside and counts no more: read another one.")


def _refuse_twice(patient: Patient, digest: str) -> None:
    same = PictureFile.objects.filter(office=patient.office, sha256=digest, set_aside=None).first()
    if same is None:
        return
    if same.patient_id == patient.pk:
        raise Refused(f"This very file is here already, as {same.kind} of {day_words(same.on)}.", field="file")
    raise Refused(
        "This very file lies in another person's file. Find out whose mouth it shows; if it is wrong there, set it "
        "aside there first.",
        field="file",
    )
