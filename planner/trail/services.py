"""Writing the trail, checking it, and erasing content from beside it.

Services of the floors above call :func:`record` inside their own transaction, so that an act and its entry are saved
together or not at all.
"""

import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Protocol

from django.db import connection, transaction
from django.db.models import Model

from planner.trail.canonical import canonical_json, sha256
from planner.trail.errors import Refused
from planner.trail.models import TrailDetail, TrailEntry

# Any number that nothing else in the database uses as an advisory lock.
_CHAIN_LOCK = 0x1EA57
_BATCH = 2000


class Actor(Protocol):
    """Who acts, as far as the trail needs it. ``practice.Staff`` is one."""

    @property
    def pk(self) -> Any: ...
    @property
    def office_id(self) -> Any: ...
    @property
    def full_name(self) -> str: ...
    @property
    def role_words(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Subject:
    """What an act was done to: the kind of thing and its public id."""

    kind: str
    public_id: str


def subject_of(thing: Model | Subject | None) -> Subject:
    """The subject that stands for a row with a public id; empty for None."""
    if thing is None:
        return Subject("", "")
    if isinstance(thing, Subject):
        return thing
    return Subject(thing._meta.label_lower, str(getattr(thing, "public_id")))  # noqa: B009


def record(
    *,
    actor: Actor | None,
    act: str,
    subject: Model | Subject | None = None,
    content: Mapping[str, Any] | None = None,
    reason: str = "",
    at: datetime,
    office_id: Any = None,
) -> TrailEntry:
    """Add one entry to the chain, inside the caller's transaction.

    ``act`` is dotted, such as ``patient.view``; ``content`` is plain data without floats; ``at`` an aware instant. The
    head of the chain stays locked until the transaction ends, so call this as late in it as can be. Raises
    RuntimeError outside a transaction and ValueError for an instant without a zone.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("the trail is written inside the transaction of the act it records")
    if at.tzinfo is None:
        raise ValueError("the trail keeps instants in UTC: give it an aware datetime")
    hold_chain()
    head = TrailEntry.objects.order_by("-sequence").values_list("sequence", "hash").first() or (0, "")
    text = None if content is None else canonical_json(dict(content)).decode()
    salt = secrets.token_hex(16)
    named = subject_of(subject)
    entry = TrailEntry(
        sequence=head[0] + 1,
        office_id=office_id if actor is None or actor.office_id is None else actor.office_id,
        at=at.astimezone(UTC),
        actor_id=None if actor is None else actor.pk,
        actor_name="" if actor is None else actor.full_name,
        role="" if actor is None else actor.role_words,
        act=act,
        subject_kind=named.kind,
        subject_id=named.public_id,
        reason=reason,
        digest="" if text is None else _digest(salt, text),
        previous=head[1],
    )
    entry.hash = chain_hash(entry)
    entry.save(force_insert=True)
    if text is not None:
        TrailDetail.objects.create(entry=entry, office_id=entry.office_id, salt=salt, content=text)
    return entry


def record_refusal(
    *,
    actor: Actor | None,
    act: str,
    subject: Model | Subject | None = None,
    content: Mapping[str, Any] | None = None,
    reason: str,
    at: datetime,
    office_id: Any = None,
) -> TrailEntry:
    """Record that ``act`` was refused, in a transaction of its own, so that it stays when the act is rolled back.

    Raises RuntimeError when called inside another transaction.
    """
    with transaction.atomic(durable=True):
        return record(
            actor=actor,
            act=f"refused.{act}",
            subject=subject,
            content=content,
            reason=reason,
            at=at,
            office_id=office_id,
        )


def chain_hash(entry: TrailEntry) -> str:
    """The hash that ties ``entry`` to all before it: over every column but the hash itself."""
    columns = {
        "sequence": entry.sequence,
        "office": entry.office_id,
        "at": entry.at.astimezone(UTC).isoformat(timespec="microseconds"),
        "actor": entry.actor_id,
        "actor_name": entry.actor_name,
        "role": entry.role,
        "act": entry.act,
        "subject_kind": entry.subject_kind,
        "subject_id": entry.subject_id,
        "reason": entry.reason,
        "digest": entry.digest,
        "previous": entry.previous,
    }
    return sha256(canonical_json(columns))


@dataclass(frozen=True, slots=True)
class ChainReport:
    """What checking the chain came to. ``faults`` are sentences; none means that it holds."""

    entries: int
    head: str
    erased: int
    faults: tuple[str, ...]


def verify_chain(*, known: Mapping[int, str] | None = None) -> ChainReport:
    """Read the whole chain and report every fault.

    A chain cut off at the end still verifies by itself; ``known`` holds hashes noted down elsewhere by sequence
    number, and an entry that is missing or differs from them is a fault.
    """
    faults: list[str] = []
    previous, expected, erased = "", 1, 0
    noted = dict(known or {})
    for entry, detail, said in _entries_with_details():
        if entry.sequence != expected:
            faults.append(f"Entry {expected} is missing: entry {entry.sequence} follows {expected - 1}.")
        if entry.previous != previous:
            faults.append(f"Entry {entry.sequence} does not follow from the entry before it.")
        if chain_hash(entry) != entry.hash:
            faults.append(f"Entry {entry.sequence} was changed: its hash does not fit what it says.")
        if noted.pop(entry.sequence, entry.hash) != entry.hash:
            faults.append(f"Entry {entry.sequence} is not the one noted down elsewhere.")
        if detail is not None:
            if _digest(detail.salt, detail.content) != entry.digest:
                faults.append(f"The content beside entry {entry.sequence} was changed.")
        elif entry.digest and said:
            erased += 1
        elif entry.digest:
            faults.append(f"The content beside entry {entry.sequence} is gone and no entry says that it was erased.")
        previous, expected = entry.hash, entry.sequence + 1
    faults.extend(f"Entry {sequence} was noted down elsewhere and is not here." for sequence in sorted(noted))
    return ChainReport(entries=expected - 1, head=previous, erased=erased, faults=tuple(faults))


def erase_details(*, entries: Iterable[TrailEntry], actor: Actor | None, reason: str, now: datetime) -> int:
    """Erase the content and salt beside ``entries``; digest and reason stay, and each erasing is itself an entry.

    Returns how many were erased. Raises Refused without a reason. The caller has checked that ``actor`` may; None is
    for what is done again after a restore.
    """
    if not reason.strip():
        raise Refused("Erasing needs a reason, such as the request it answers and its date.", field="reason")
    with transaction.atomic():
        details = list(TrailDetail.objects.filter(entry__in=list(entries)).order_by("entry_id"))
        for detail in details:
            record(
                actor=actor,
                act="trail.erase",
                subject=Subject("trail.trailentry", str(detail.entry_id)),
                reason=reason,
                at=now,
                office_id=detail.office_id,
            )
            detail.delete()
    return len(details)


def hold_chain() -> None:
    """Wait for the head of the chain and keep it until the transaction ends: also a lock for "only one of these".

    SQLite needs nothing here: transactions are immediate, so that whoever writes is alone from BEGIN on.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_CHAIN_LOCK])


def _digest(salt: str, text: str) -> str:
    return sha256(f"{salt}\n{text}".encode())


def _entries_with_details() -> Iterable[tuple[TrailEntry, TrailDetail | None, bool]]:
    """Every entry in order, with its content if it is there, and whether an entry says that it was erased."""
    after = 0
    while batch := list(TrailEntry.objects.filter(sequence__gt=after).order_by("sequence")[:_BATCH]):
        numbers = [entry.sequence for entry in batch]
        details = TrailDetail.objects.filter(entry_id__gte=numbers[0], entry_id__lte=numbers[-1]).in_bulk()
        gone = [str(entry.sequence) for entry in batch if entry.digest and entry.sequence not in details]
        said = set(
            TrailEntry.objects.filter(
                act="trail.erase", subject_kind="trail.trailentry", subject_id__in=gone[:_BATCH]
            ).values_list("subject_id", flat=True)
        )
        for entry in batch:
            yield entry, details.get(entry.sequence), str(entry.sequence) in said
        after = numbers[-1]
