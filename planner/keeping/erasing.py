"""Erasing somebody's file: two people, content and salts gone, digests and the reason left, what law keeps kept.

Everything that belongs to the person goes, whichever table it lies in (:mod:`planner.trail.belonging`), and the content
beside every entry of the record that tells of it. What stays: the chain of the record with its digests and reasons, one
row that says that it was done and why, the hashes of the papers, and, while the law wants them, the amounts and days of
what was paid, without a name.
"""

import json
import re
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from functools import reduce
from operator import or_
from typing import Any

from django.contrib.sessions.models import Session
from django.db import IntegrityError, connection, transaction
from django.db.models import Model, Q

from planner.keeping.erased_list import note_erased
from planner.keeping.models import EraseRequest
from planner.keeping.past import Kept, files_of
from planner.letters.consent_models import Signature
from planner.letters.models import Document
from planner.patients.files import files_of as joined_files
from planner.patients.models import Patient, PeopleFile
from planner.plans.accepted_models import Payment
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import answered_already, done_by
from planner.practice.fields import day_words
from planner.practice.models import Staff
from planner.trail.belonging import deepest_first, paths_of
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.models import Erasure, TrailDetail, TrailEntry
from planner.trail.services import Subject, erase_details, hold_chain, record

SHORTEST_NAME = 4
"""Letters of a name that is looked for as it stands: a shorter one would be found in half of all words."""
_AT_ONCE = 500
AGAIN = "erased again after an older backup was restored"


def ask_to_erase(*, patient: Patient, ground: str, reason: str, actor: Staff, now: datetime) -> EraseRequest:
    """Ask that a file be erased. Raises Refused, with the day from which it may go, while anything is against it."""
    require_own(actor, patient)
    require(actor, Act.CREATE, Thing.ERASURE, subject=patient)
    _check_reason(reason, patient)
    refuse_held(patient, now)
    try:
        with transaction.atomic():
            asked = EraseRequest.objects.create(
                office=patient.office,
                subject_id=patient.public_id,
                ground=ground,
                reason=reason.strip(),
                asked_by=actor,
                at=now,
            )
            record(actor=actor, act="erase.ask", subject=patient, reason=reason.strip(), at=now)
    except IntegrityError:
        known = EraseRequest.objects.select_related("asked_by").get(subject_id=patient.public_id, outcome="")
        who = done_by("asked for", known.asked_by, known.at, patient.office)
        raise Refused(f"Somebody has asked for this already ({who}): the other person answers it.") from None
    return asked


def decline(*, asked: EraseRequest, seen: int, reason: str, actor: Staff, now: datetime) -> EraseRequest:
    """Leave the file as it is, with a reason."""
    require_own(actor, asked)
    require(actor, Act.APPROVE, Thing.ERASURE, subject=asked)
    if not reason.strip():
        raise Refused("Declining needs a reason.", field="reason")
    if (patient := Patient.objects.filter(office=asked.office, public_id=asked.subject_id).first()) is not None:
        _check_reason(reason, patient)
    with transaction.atomic():
        answered = _answered(asked, seen, "declined", reason, actor, now)
        subject = Subject(Patient._meta.label_lower, asked.subject_id)
        record(actor=actor, act="erase.decline", subject=subject, reason=reason.strip(), at=now)
    return answered


def erase(*, asked: EraseRequest, seen: int, actor: Staff, now: datetime) -> Erasure:
    """Erase the file that was asked about, for good. Nobody agrees to what they asked for themselves.

    Raises Refused while anything stands against it, StaleEdit when somebody else answered first.
    """
    require_own(actor, asked)
    require(actor, Act.APPROVE, Thing.ERASURE, subject=asked)
    if asked.asked_by_id == actor.pk:
        raise Refused("You asked for this yourself: somebody else has to agree. Two people stand behind an erasing.")
    with transaction.atomic():
        hold_chain()
        patient = Patient.objects.filter(office=asked.office, public_id=asked.subject_id).first()
        if patient is None:
            raise Refused("This file is not here any more.")
        refuse_held(patient, now)
        _answered(asked, seen, "erased", "", actor, now)
        # What was joined to it is the same person's, and would stand open again without it.
        others = [one for one in joined_files(patient) if one.pk != patient.pk]
        why: dict[str, Any] = {"reason": asked.reason, "asked_by": asked.asked_by, "actor": actor, "now": now}
        done = _erase(patient, **why)
        for one in others:
            _erase(one, **why)
    _leave_nothing_behind()
    return done


def erase_again(subject_ids: Iterable[str], *, now: datetime) -> int:
    """Erase again who was erased before and came back with an older backup; returns how many there were.

    Two people decided it then, so nothing is asked or held against it now.
    """
    count = 0
    for patient in Patient.objects.filter(public_id__in=set(subject_ids)).order_by("pk"):
        with transaction.atomic():
            hold_chain()
            _erase(patient, reason=AGAIN, asked_by=None, actor=None, now=now)
        count += 1
    if count:
        _leave_nothing_behind()
    return count


def refuse_held(patient: Patient, now: datetime) -> None:
    """Raises Refused, naming the day from which the file may go, while anything stands against erasing it or a file
    that is joined to it.
    """
    for kept in files_of(patient.office, now, list(joined_files(patient))):
        if (free := kept.retention.may_go_from) is not None:
            raise Refused(f"This file may not be erased before {day_words(free)}. {kept.retention.holds[0].words}")


def named_in_reasons(patient: Patient) -> list[TrailEntry]:
    """Entries of the record whose reason names this person. Reasons are sealed into the chain and stay."""
    find = _finder(patient)
    rows = TrailEntry.objects.filter(office=patient.office).exclude(reason="").order_by("sequence")
    return [one for one in rows.iterator() if find(one.reason)]


def _check_reason(reason: str, patient: Patient) -> None:
    if not reason.strip():
        raise Refused("Erasing needs a reason, such as the letter that asks for it and its date.", field="reason")
    if _finder(patient)(reason):
        raise Refused(
            "The reason stays when everything else goes, so it must not name the person: say the letter and its date.",
            field="reason",
        )


def _answered(asked: EraseRequest, seen: int, outcome: str, reason: str, actor: Staff, now: datetime) -> EraseRequest:
    if asked.outcome:
        raise Refused(answered_already(asked.outcome, asked.answered_by, asked.answered_at, asked.office))
    values = {"outcome": outcome, "answered_by": actor, "answered_at": now, "answer": reason.strip()}
    return save_seen(asked, seen=seen, what="The question", values=values)


def _erase(patient: Patient, *, reason: str, asked_by: Staff | None, actor: Staff | None, now: datetime) -> Erasure:
    """The act itself, inside the caller's transaction."""
    (kept,) = files_of(patient.office, now, [patient])
    rows = {model: list(_rows(model, patient)) for model in deepest_first()}
    ids = {str(one.public_id) for found in rows.values() for one in found if hasattr(one, "public_id")}
    done = Erasure.objects.create(
        office=patient.office,
        subject_id=patient.public_id,
        reason=reason,
        asked_by=asked_by,
        by=actor,
        at=now,
        papers=_hashes(patient),
        kept=_money(patient, kept),
    )
    entries = list(_told_of(patient, ids))
    if entries:
        erase_details(entries=entries, actor=actor, reason=reason, now=now)
    # A file of people that waits to be looked at may name anybody; whoever sent it sends it again.
    PeopleFile.objects.filter(office=patient.office).delete()
    for session in Session.objects.iterator():
        if _finder(patient)(json.dumps(session.get_decoded(), ensure_ascii=False, default=str)):
            session.delete()
    for model in deepest_first():
        keys = [one.pk for one in rows[model]]
        for start in range(0, len(keys), _AT_ONCE):
            model._default_manager.filter(pk__in=keys[start : start + _AT_ONCE])._raw_delete(connection.alias)
    content = {"rows": sum(len(found) for found in rows.values()), "papers": len(done.papers)}
    subject = Subject(Patient._meta.label_lower, done.subject_id)
    record(
        actor=actor, act="erase", subject=subject, content=content, reason=reason, at=now, office_id=patient.office_id
    )
    office = patient.office
    transaction.on_commit(lambda: note_erased([(done.subject_id, office.public_id, now)]))
    return done


def _rows(model: type[Model], patient: Patient) -> Iterator[Model]:
    """The rows of one table that are this person's."""
    names = {field.attname for field in model._meta.concrete_fields}
    paths = paths_of(model) or ("pk",)
    rows = model._default_manager.filter(reduce(or_, (Q(**{path: patient.pk}) for path in paths))).distinct()
    return (rows.only("public_id") if "public_id" in names else rows.only("pk")).order_by("pk").iterator()


def _hashes(patient: Patient) -> list[list[str]]:
    papers = Document.objects.filter(frozen__case__patient=patient).values_list("public_id", "sha256")
    signatures = Signature.objects.filter(consent__case__patient=patient).values_list("public_id", "sha256")
    return [list(pair) for pair in (*papers, *signatures)]


def _money(patient: Patient, kept: Kept) -> dict[str, Any]:
    """Amounts and days of what was paid, as long as law keeps them; neither payer nor words."""
    hold = kept.retention.money
    if hold is None:
        return {}
    rows = Payment.objects.filter(plan__patient=patient).order_by("on", "id")
    return {
        "why": hold.words,
        "through": hold.through.isoformat(),
        "payments": [[one.on.isoformat(), one.kind, one.cents, one.route] for one in rows],
    }


def _told_of(patient: Patient, ids: set[str]) -> Iterator[TrailEntry]:
    """Entries of the record with content that is about this person: by subject, by id in the content, or by name."""
    find = _finder(patient)
    told = TrailDetail.objects.filter(office=patient.office).select_related("entry").order_by("entry_id")
    for detail in told.iterator():
        # Ids are as long as each other and of these signs alone; nothing else in the content looks like them.
        words = set(re.findall(r"[A-Za-z0-9_-]{6,}", detail.content))
        if detail.entry.subject_id in ids or words & ids or find(detail.content):
            yield detail.entry


def _finder(patient: Patient) -> Any:
    """A function that says whether a text names this person: the name as it is written, or the whole phone number."""
    wanted = []
    if len(patient.name) >= SHORTEST_NAME:
        wanted.append(rf"(?<!\w){re.escape(patient.name)}(?!\w)")
    digits = re.sub(r"\D", "", patient.phone)
    if len(digits) >= 6:
        wanted.append(r"(?<!\d)" + r"[\s./()-]*".join(digits) + r"(?!\d)")
    if not wanted:
        return lambda _text: False
    pattern = re.compile("|".join(wanted), re.IGNORECASE)
    return lambda text: pattern.search(text) is not None


def _leave_nothing_behind() -> None:
    """On SQLite, bring the erasing into the file itself: until then older pages lie in the log beside it.

    Somebody else's reading may put it off; the next checkpoint does it then.
    """
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def last_day_of_money(done: Erasure) -> date | None:
    """Through which day what was paid is kept of an erased file; None where nothing is."""
    return date.fromisoformat(done.kept["through"]) if done.kept else None
