"""Sets of measurements: taken, changed while open, confirmed by a dentist, and closed once a plan rests on them."""

from collections.abc import Iterator
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from planner.patients.facts import LINES, examination_lines, examination_values, person_facts
from planner.patients.files import refuse_closed
from planner.patients.models import (
    LONGEST,
    LONGEST_STRIP,
    PLACE_LENGTHS,
    TOOTH_LENGTHS,
    AbsentReading,
    Examination,
    GapReading,
    Patient,
    PlaceReading,
    Status,
    ToothReading,
)
from planner.patients.services import check_text
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules import mouth
from planner.rules.contradictions import contradictions
from planner.rules.units import format_mm
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record


def store_examination(
    *,
    patient: Patient,
    facts: mouth.Examination,
    corrects: Examination | None = None,
    actor: Staff,
    now: datetime,
) -> Examination:
    """Keep a new set of measurements: a draft, or confirmed when the facts say by whom.

    Raises Refused with every contradiction in it, NotAllowed when somebody who may not confirm hands in a confirmed
    set.
    """
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.MEASUREMENTS, subject=patient)
    refuse_closed(patient)
    status = _status(facts, actor, patient)
    _check(facts, patient, now)
    with transaction.atomic():
        examination = Examination.objects.create(
            office=patient.office,
            patient=patient,
            corrects=corrects,
            status=status,
            entered_by=actor,
            at=now,
            **examination_values(facts),
        )
        _write_lines(facts, examination)
        content = {"on": facts.on.isoformat(), "status": str(status), "corrects": getattr(corrects, "public_id", "")}
        record(actor=actor, act="examination.store", subject=examination, content=content, at=now)
    return examination


def change_examination(
    *, examination: Examination, seen: int, facts: mouth.Examination, actor: Staff, now: datetime
) -> Examination:
    """Replace an open set by ``facts``. A set without a confirming name is a draft again.

    Raises Refused for a closed set (a correction is a new set) and for contradictions, StaleEdit when somebody saved
    first.
    """
    require_own(actor, examination)
    require(actor, Act.CREATE, Thing.MEASUREMENTS, subject=examination)
    status = _status(facts, actor, examination.patient)
    _check(facts, examination.patient, now)
    with transaction.atomic():
        _refuse_closed(examination)
        values = examination_values(facts) | {"status": status}
        saved = save_seen(examination, seen=seen, what="This set of measurements", values=values)
        for kind in (ToothReading, GapReading, AbsentReading, PlaceReading):
            kind.objects.filter(examination=saved).delete()
        _write_lines(facts, saved)
        content = {"on": facts.on.isoformat(), "status": str(status), "version": saved.version}
        record(actor=actor, act="examination.change", subject=saved, content=content, at=now)
    return saved


def confirm_examination(*, examination: Examination, seen: int, actor: Staff, now: datetime) -> Examination:
    """Confirm a draft in the name of the dentist who does it. Raises Refused when it is closed, StaleEdit,
    NotAllowed.
    """
    require_own(actor, examination)
    require(actor, Act.APPROVE, Thing.MEASUREMENTS, subject=examination)
    with transaction.atomic():
        _refuse_closed(examination)
        values = {"status": Status.CONFIRMED, "confirmed_by": actor.full_name}
        saved = save_seen(examination, seen=seen, what="This set of measurements", values=values)
        record(actor=actor, act="examination.confirm", subject=saved, at=now)
    return saved


def close_examination(*, examination: Examination, actor: Staff, now: datetime) -> Examination:
    """Close a confirmed set because a frozen plan rests on it; closing it again changes nothing. Raises Refused for a
    draft.

    Called by the freezing of a plan, inside its transaction.
    """
    current = with_lines().get(pk=examination.pk)
    if current.status == Status.DRAFT:
        raise Refused(
            f"The measurements of {current.on.isoformat()} are not confirmed: a dentist confirms them before a plan "
            "that rests on them is checked."
        )
    if current.status == Status.USED:
        return current
    saved = save_seen(current, seen=current.version, what="This set of measurements", values={"status": Status.USED})
    record(actor=actor, act="examination.close", subject=saved, at=now)
    return saved


def with_lines() -> QuerySet[Examination]:
    """Examinations together with their lines, for :func:`planner.patients.facts.examination_facts`."""
    return Examination.objects.select_related("patient", "office").prefetch_related(*LINES)


def _refuse_closed(examination: Examination) -> None:
    current = Examination.objects.select_for_update().get(pk=examination.pk)
    if current.status == Status.USED:
        raise Refused(
            f"A plan rests on the measurements of {current.on.isoformat()}, so they are closed: "
            "a correction is a new set."
        )


def _status(facts: mouth.Examination, actor: Staff, patient: Patient) -> Status:
    if not facts.confirmed_by:
        return Status.DRAFT
    require(actor, Act.APPROVE, Thing.MEASUREMENTS, subject=patient)
    return Status.CONFIRMED


def _write_lines(facts: mouth.Examination, examination: Examination) -> None:
    teeth, gaps, absent, places = examination_lines(facts, examination)
    ToothReading.objects.bulk_create(teeth)
    GapReading.objects.bulk_create(gaps)
    AbsentReading.objects.bulk_create(absent)
    PlaceReading.objects.bulk_create(places)


def _check(facts: mouth.Examination, patient: Patient, now: datetime) -> None:
    check_text(facts)
    case = mouth.CaseFacts(case="examination", patient=person_facts(patient), examination=facts)
    faults = [
        (path, sentence)
        for path, sentence in contradictions(case, today(patient.office, now))
        if path.startswith(("examination", "patient"))
    ]
    faults += _out_of_range(facts)
    if faults:
        raise Refused(" ".join(sentence for _path, sentence in faults), faults=faults)


def _out_of_range(facts: mouth.Examination) -> Iterator[tuple[str, str]]:
    """Lengths that no mouth has, which the database would refuse without a word that helps."""
    lengths: list[tuple[str, int | None]] = [("examination.strip_length", facts.strip_length)]
    if facts.midline_offset is not None:
        lengths.append(("examination.midline_offset", abs(facts.midline_offset)))
    for index, line in enumerate(facts.teeth):
        lengths += [(f"examination.teeth[{index}].{name}", getattr(line, name)) for name in TOOTH_LENGTHS]
    for index, gap in enumerate(facts.gaps):
        names = ("width", "width_again", "contact_to_bone", "connector_height")
        lengths += [(f"examination.gaps[{index}].{name}", getattr(gap, name)) for name in names]
    for index, place in enumerate(facts.empty_places):
        lengths += [(f"examination.empty_places[{index}].{name}", getattr(place, name)) for name in PLACE_LENGTHS]
    for path, length in lengths:
        most = LONGEST_STRIP if path.endswith("strip_length") else LONGEST
        if length is not None and not 0 <= length <= most:
            yield (
                path,
                f"{format_mm(length)} mm is not in a mouth: a length lies between 0 and {format_mm(most)} mm.",
            )
