"""Handing out copies: a patient's own, by whoever may; the whole office's by three steps, of which two are two people.

A copy is made first and recorded with its hash before anybody gets it: what the trail does not know was not taken.
"""

from datetime import datetime, timedelta
from typing import Final

from django.db import transaction

from planner.patients.models import Patient
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import answered_already
from planner.practice.models import Staff
from planner.records import fhir
from planner.records.models import OfficeCopy
from planner.records.writing import Copy, one_moment, write_copy
from planner.rules.fhir import written
from planner.rules.results import sha256
from planner.trail.errors import Refused, StaleEdit
from planner.trail.fields import save_seen
from planner.trail.services import record

GOOD_FOR: Final = timedelta(days=7)
"""How long an allowed copy of the office may be taken. Common practice, no source: the shorter, the better."""


def patient_copy(*, patient: Patient, reason: str, actor: Staff, now: datetime) -> Copy:
    """Everything of one person as a zip; the trail tells who took it, why, and its hash. The caller closes the file."""
    require_own(actor, patient)
    require(actor, Act.RUN, Thing.COPY, subject=patient)
    _reasoned(reason, "A copy of somebody's file")
    copy = write_copy(office=patient.office, patient=patient, now=now)
    with transaction.atomic():
        content = {"sha256": copy.sha256, "bytes": copy.bytes, "files": len(copy.entries), "form": "zip"}
        record(actor=actor, act="records.patient", subject=patient, content=content, reason=reason.strip(), at=now)
    return copy


def patient_fhir(*, patient: Patient, reason: str, actor: Staff, now: datetime) -> bytes:
    """One person's FHIR resources alone, as JSON; recorded like the whole copy."""
    require_own(actor, patient)
    require(actor, Act.RUN, Thing.COPY, subject=patient)
    _reasoned(reason, "A copy of somebody's file")
    with one_moment():
        found = written(fhir.bundle_of(patient, now)).encode() + b"\n"
    with transaction.atomic():
        content = {"sha256": sha256(found), "bytes": len(found), "files": 1, "form": "fhir"}
        record(actor=actor, act="records.patient", subject=patient, content=content, reason=reason.strip(), at=now)
    return found


def ask_copy(*, reason: str, actor: Staff, now: datetime) -> OfficeCopy:
    """The first step: somebody asks for a copy of the whole office. Raises Refused without a reason."""
    require(actor, Act.CREATE, Thing.RECORDS, subject=actor.office)
    _reasoned(reason, "A copy of the whole office")
    with transaction.atomic():
        row = OfficeCopy.objects.create(office=actor.office, reason=reason.strip(), asked_by=actor, at=now)
        record(actor=actor, act="records.ask", subject=row, reason=row.reason, at=now)
    return row


def answer_copy(*, copy: OfficeCopy, agrees: bool, reason: str, actor: Staff, now: datetime) -> OfficeCopy:
    """The second step, by another person: allow it or decline it. Raises Refused when it was answered before."""
    require_own(actor, copy)
    require(actor, Act.APPROVE, Thing.RECORDS, subject=copy)
    if copy.outcome:
        raise Refused(answered_already(copy.outcome, copy.answered_by, copy.answered_at, copy.office))
    if copy.asked_by_id == actor.pk:
        raise Refused("Nobody allows what they asked for themselves: a second person answers this.")
    if not agrees:
        _reasoned(reason, "Declining")
    outcome = "allowed" if agrees else "declined"
    values = {"outcome": outcome, "answered_by": actor, "answered_at": now, "answer": reason.strip()}
    with transaction.atomic():
        try:
            saved = save_seen(copy, seen=copy.version, what="The wish for a copy", values=values)
        except StaleEdit as stale:  # a second owner answered at the same instant
            row: OfficeCopy = stale.row
            raise Refused(answered_already(row.outcome, row.answered_by, row.answered_at, row.office)) from None
        record(actor=actor, act=f"records.{outcome}", subject=saved, reason=reason.strip() or copy.reason, at=now)
    return saved


def why_not_taken(copy: OfficeCopy, now: datetime) -> str:
    """Why a copy cannot be taken now, in a sentence; empty where it can."""
    if copy.outcome != "allowed" or copy.answered_at is None:
        return f"This copy is {copy.outcome or 'not allowed yet'}: it cannot be taken."
    until = copy.answered_at + GOOD_FOR
    if now > until:
        day = until.astimezone(copy.office.zone).date().isoformat()
        return f"It was allowed through {day}: ask for it anew."
    return ""


def office_copy(*, copy: OfficeCopy, actor: Staff, now: datetime) -> Copy:
    """The third step: whoever keeps the system takes it. Raises Refused when it is not, or no longer, allowed."""
    require_own(actor, copy)
    require(actor, Act.RUN, Thing.RECORDS, subject=copy)
    if why := why_not_taken(copy, now):
        raise Refused(why)
    made = write_copy(office=copy.office, patient=None, now=now)
    with transaction.atomic():
        content = {"sha256": made.sha256, "bytes": made.bytes, "files": len(made.entries), "faults": list(made.faults)}
        record(actor=actor, act="records.office", subject=copy, content=content, reason=copy.reason, at=now)
    return made


def _reasoned(reason: str, what: str) -> None:
    if not reason.strip():
        raise Refused(f"{what} needs a reason, such as who asked for it and when.", field="reason")
    if len(reason.strip()) > 500:
        raise Refused("The reason is longer than 500 signs.", field="reason")
