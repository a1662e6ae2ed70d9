"""Joining two files of one person, and taking them apart: each by two persons, with reason and trail.

No row of either file is moved or rewritten but name, contact and who decides in the file that is kept; papers that
were signed stay as they are, under the name they were signed with.
"""

from collections.abc import Collection
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from planner.patients.files import files_of
from planner.patients.join_models import REVERSIBLE, JoinedFile
from planner.patients.models import Patient
from planner.patients.services import rewrite_words
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import answered_already, done_by
from planner.practice.models import Staff
from planner.rules.joining import CHOSEN, DECIDES, apart_values, joined_values
from planner.trail.errors import Refused, StaleEdit
from planner.trail.fields import save_seen
from planner.trail.services import record

_READ = (*CHOSEN, "sort_key", "contact_consent", *DECIDES)
_WHAT = "The joining"


def ask_to_join(*, kept: Patient, joined: Patient, reason: str, actor: Staff, now: datetime) -> JoinedFile:
    """The first step: somebody asks for two files to be joined. Raises Refused, NotAllowed."""
    require_own(actor, kept)
    require_own(actor, joined)
    require(actor, Act.CREATE, Thing.JOIN, subject=kept)
    if not reason.strip():
        raise Refused("Say how you know that both are one person.", field="reason")
    _refuse_unfit(kept, joined)
    try:
        with transaction.atomic():
            row = JoinedFile.objects.create(
                office=kept.office, kept=kept, joined=joined, reason=reason.strip(), asked_by=actor, at=now
            )
            _record("join.ask", row, actor, now, row.reason)
    except IntegrityError:
        known = JoinedFile.objects.filter(joined=joined, declined_at=None, apart_at=None).select_related("asked_by")
        asked = done_by("asked for", known[0].asked_by, known[0].at, kept.office) if known else "asked for"
        raise Refused(f"Joining this file was asked for already: {asked}.", field="other") from None
    return row


def allow_joining(*, join: JoinedFile, take: Collection[str], actor: Staff, now: datetime) -> JoinedFile:
    """The second step: the manager or an owner chooses what holds where the two differ. Raises Refused, NotAllowed."""
    require_own(actor, join)
    require(actor, Act.APPROVE, Thing.JOIN, subject=join)
    if join.allowed_at is not None or join.is_over:
        raise Refused(_answered(join))
    if unknown := sorted(set(take) - set(CHOSEN)):
        raise Refused(f'"{unknown[0]}" is not chosen between two files.', field="take")
    values = {"allowed_by": actor, "allowed_at": now, "take": [name for name in CHOSEN if name in take]}
    return _save(join, values, "join.allow", actor, now, join.reason)


def decline_joining(*, join: JoinedFile, reason: str, actor: Staff, now: datetime) -> JoinedFile:
    """Whoever would allow it or carry it out says no, before it is done. Raises Refused, NotAllowed."""
    require_own(actor, join)
    require(actor, Act.RUN if join.allowed_at else Act.APPROVE, Thing.JOIN, subject=join)
    if join.done_at is not None or join.is_over:
        raise Refused(_answered(join))
    if not reason.strip():
        raise Refused("Say why the two files are not joined.", field="reason")
    values = {"declined_by": actor, "declined_at": now, "why_declined": reason.strip()}
    return _save(join, values, "join.decline", actor, now, reason.strip())


def carry_out(*, join: JoinedFile, actor: Staff, now: datetime) -> JoinedFile:
    """The third step, by a dentist who is not who allowed it: from now on both files are read as one.

    Raises Refused, NotAllowed.
    """
    require_own(actor, join)
    require(actor, Act.RUN, Thing.JOIN, subject=join)
    if join.done_at is not None or join.is_over:
        raise Refused(_answered(join))
    if join.allowed_at is None:
        raise Refused("Nobody has allowed it yet.")
    if join.allowed_by_id == actor.pk:
        raise Refused("Two persons join two files: somebody other than who allowed it carries it out.")
    with transaction.atomic():
        kept, joined = _held(join)
        _refuse_unfit(kept, joined)
        was = _read(kept)
        after = joined_values(was, _read(joined), join.take)
        before = {name: was[name] for name in after}
        _write(kept, after)
        values = {"done_by": actor, "done_at": now, "before": _plain(before), "after": _plain(after)}
        return _save(join, values, "join.done", actor, now, join.reason)


def ask_apart(*, join: JoinedFile, reason: str, actor: Staff, now: datetime) -> JoinedFile:
    """One of the two who join asks to take the files apart again. Raises Refused after 30 days, NotAllowed."""
    require_own(actor, join)
    require(actor, Act.APPROVE, Thing.JOIN, subject=join)
    _refuse_final(join, now)
    if join.apart_asked_at is not None:
        asked = done_by("asked for", join.apart_asked_by, join.apart_asked_at, join.office)
        raise Refused(f"Taking them apart was asked for already: {asked} (“{join.why_apart}”).")
    if not reason.strip():
        raise Refused("Say why they are two persons after all.", field="reason")
    values = {"apart_asked_by": actor, "apart_asked_at": now, "why_apart": reason.strip()}
    return _save(join, values, "join.apart_ask", actor, now, reason.strip())


def take_apart(*, join: JoinedFile, actor: Staff, now: datetime) -> JoinedFile:
    """A dentist other than who asked takes them apart: both files are as they were. Raises Refused, NotAllowed."""
    require_own(actor, join)
    require(actor, Act.RUN, Thing.JOIN, subject=join)
    _refuse_final(join, now)
    if join.apart_asked_by_id is None:
        raise Refused("Nobody has asked to take them apart.")
    if join.apart_asked_by_id == actor.pk:
        raise Refused("Two persons take two files apart: somebody other than who asked carries it out.")
    with transaction.atomic():
        kept, _joined = _held(join)
        _write(kept, _typed(apart_values(join.before, join.after, _plain(_read(kept)))))
        return _save(join, {"apart_by": actor, "apart_at": now}, "join.apart", actor, now, join.why_apart)


def differences(join: JoinedFile) -> dict[str, tuple[Any, Any]]:
    """What a person chooses between: value in the kept file and in the other, where they differ."""
    one, two = _read(join.kept), _read(join.joined)
    return {name: (one[name], two[name]) for name in CHOSEN if one[name] != two[name]}


def is_final(join: JoinedFile, now: datetime) -> bool:
    """Whether it can be taken apart no more."""
    return join.done_at is not None and now > join.done_at + REVERSIBLE


def _refuse_unfit(kept: Patient, joined: Patient) -> None:
    if kept.pk == joined.pk:
        raise Refused("Choose another file than this one.", field="other")
    if kept.office_id != joined.office_id:
        raise Refused("These files belong to two offices.", field="other")
    if JoinedFile.objects.filter(joined=kept, done_at__isnull=False, apart_at=None).exists():
        raise Refused("This file was joined to another: ask from that one.", field="other")
    if len(files_of(joined)) > 1:
        raise Refused("The other file is joined with a third: take that apart first, or keep that one.", field="other")
    if kept.stop_all != joined.stop_all:
        raise Refused(
            "In one of the two files all contact is stopped, and in the other it is not: set both alike first, "
            "with the reason.",
            field="other",
        )


def _answered(join: JoinedFile) -> str:
    """What became of a joining that waits no longer, by whom and when: the last of its steps."""
    steps = (
        ("taken apart", join.apart_by, join.apart_at),
        ("declined", join.declined_by, join.declined_at),
        ("asked to be taken apart", join.apart_asked_by, join.apart_asked_at),
        ("joined", join.done_by, join.done_at),
        ("allowed", join.allowed_by, join.allowed_at),
    )
    did, who, at = next(step for step in steps if step[2] is not None)
    return answered_already(did, who, at, join.office)


def _refuse_final(join: JoinedFile, now: datetime) -> None:
    if join.apart_at is not None:
        raise Refused(_answered(join))
    if not join.holds:
        raise Refused("These files are not joined.")
    if is_final(join, now):
        raise Refused(f"A joining is final after {REVERSIBLE.days} days.")


def _held(join: JoinedFile) -> tuple[Patient, Patient]:
    rows = Patient.objects.select_for_update().order_by("pk").in_bulk([join.kept_id, join.joined_id])
    return rows[join.kept_id], rows[join.joined_id]


def _read(patient: Patient) -> dict[str, Any]:
    return {name: getattr(patient, name) for name in _READ}


def _write(kept: Patient, values: dict[str, Any]) -> None:
    if values:
        rewrite_words(save_seen(kept, seen=kept.version, what="The patient's file", values=values))


def _plain(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in values.items()}


def _typed(values: dict[str, Any]) -> dict[str, Any]:
    return values | ({"birth_date": date.fromisoformat(values["birth_date"])} if "birth_date" in values else {})


def _save(join: JoinedFile, values: dict[str, Any], act: str, actor: Staff, now: datetime, reason: str) -> JoinedFile:
    with transaction.atomic():
        try:
            saved = save_seen(join, seen=join.version, what=_WHAT, values=values)
        except StaleEdit as stale:  # somebody else took a step at the same instant
            raise Refused(_answered(stale.row)) from None
        _record(act, saved, actor, now, reason)
    return saved


def _record(act: str, row: JoinedFile, actor: Staff, now: datetime, reason: str) -> None:
    content = {
        "join": row.public_id,
        "kept": row.kept.public_id,
        "joined": row.joined.public_id,
        "before": row.before,
        "after": row.after,
    }
    # In the story of both files.
    for subject in (row.kept, row.joined):
        record(actor=actor, act=act, subject=subject, content=content, reason=reason, at=now)
