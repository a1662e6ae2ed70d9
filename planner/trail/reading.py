"""Reading the trail back: a page of entries, newest first, with what each changed, in words.

One query reads a page, however long the trail is; the next page begins below a sequence number.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Model, Q, QuerySet

from planner.trail.acts import Kind, act_words, entries_of_kind, kind_of_act
from planner.trail.fields import Versioned
from planner.trail.models import TrailEntry
from planner.trail.services import subject_of

PAGE: Final = 50
_LONGEST: Final = 240
"""Signs of one value that are shown; the whole of it stands with the thing itself."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a reader asks for; what is left out does not narrow."""

    kind: Kind | None = None
    actor_id: int | None = None
    since: datetime | None = None
    until: datetime | None = None
    """Not included."""
    before: int | None = None
    """Entries below this sequence number."""


@dataclass(frozen=True, slots=True)
class Changed:
    """One value before and after."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Row:
    """One entry as it is shown."""

    entry: TrailEntry
    words: str
    kind: Kind
    reason: str
    changed: tuple[Changed, ...]
    said: tuple[tuple[str, str], ...]
    """What else was recorded with it: name and value."""


@dataclass(frozen=True, slots=True)
class Page:
    """Rows, newest first, and the sequence number below which the next page begins; 0 on the last one."""

    rows: tuple[Row, ...]
    before: int


def narrowed(entries: QuerySet[TrailEntry], asked: Asked) -> QuerySet[TrailEntry]:
    """``entries`` that ``asked`` asks for, without a bound on how many."""
    if asked.kind is not None:
        entries = entries.filter(entries_of_kind(asked.kind))
    if asked.actor_id is not None:
        entries = entries.filter(actor_id=asked.actor_id)
    if asked.since is not None:
        entries = entries.filter(at__gte=asked.since)
    if asked.until is not None:
        entries = entries.filter(at__lt=asked.until)
    if asked.before is not None:
        entries = entries.filter(sequence__lt=asked.before)
    return entries


def page_of(entries: QuerySet[TrailEntry], asked: Asked, *, with_content: bool = True, size: int = PAGE) -> Page:
    """The newest ``size`` of ``entries`` that were asked for. One query.

    ``with_content=False`` leaves out reasons and all that was recorded with an entry: for who may know that something
    was done and not what it says.
    """
    found = narrowed(entries, asked).order_by("-sequence")
    if with_content:
        found = found.select_related("detail")
    rows = list(found[: size + 1])
    shown = tuple(row_of(entry, with_content=with_content) for entry in rows[:size])
    return Page(shown, rows[size - 1].sequence if len(rows) > size else 0)


def row_of(entry: TrailEntry, *, with_content: bool = True) -> Row:
    """One entry in words."""
    changed, said = _in_words(content_of(entry)) if with_content else ((), ())
    reason = entry.reason if with_content else ""
    return Row(entry, act_words(entry.act), kind_of_act(entry.act), reason, changed, said)


def content_of(entry: TrailEntry) -> dict[str, Any]:
    """What was recorded with an entry; empty where nothing was, or where it was erased."""
    try:
        found = json.loads(entry.detail.content)
    except ObjectDoesNotExist:
        return {}
    return found if isinstance(found, dict) else {}


def values_at(row: Versioned, version: int) -> dict[str, Any]:
    """What the columns that were changed since ``version`` of ``row`` held then, as plain data. One query.

    Read from what each change recorded as "before", the earliest of them last; only columns that the record names.
    """
    about = subject_of(row)
    entries = TrailEntry.objects.filter(subject_kind=about.kind, subject_id=about.public_id, detail__isnull=False)
    found: dict[str, Any] = {}
    for entry in entries.select_related("detail").order_by("-sequence")[:PAGE]:
        content = content_of(entry)
        before, reached = content.get("before"), content.get("version")
        if not isinstance(before, dict) or not isinstance(reached, int):
            continue
        if reached <= version:
            break
        found |= before
    return found


def last_act(*rows: Model) -> TrailEntry | None:
    """The newest act about any of ``rows`` that was done, not refused or only looked at. One query."""
    about = Q()
    for row in rows:
        subject = subject_of(row)
        about |= Q(subject_kind=subject.kind, subject_id=subject.public_id)
    done = TrailEntry.objects.filter(about).filter(entries_of_kind(Kind.CHANGE))
    return done.select_related("actor").order_by("-sequence").first()


def _in_words(content: Mapping[str, Any]) -> tuple[tuple[Changed, ...], tuple[tuple[str, str], ...]]:
    before, after = content.get("before"), content.get("after")
    changed: tuple[Changed, ...] = ()
    if isinstance(before, dict) and isinstance(after, dict):
        names = list(dict.fromkeys([*before, *after]))
        changed = tuple(
            Changed(_name(name), _value(before.get(name)), _value(after.get(name)))
            for name in names
            if before.get(name) != after.get(name)
        )
    elif before is not None or after is not None:
        changed = (Changed("", _value(before), _value(after)),)
    said = tuple((_name(key), _value(value)) for key, value in content.items() if key not in ("before", "after"))
    return changed, said


def _name(key: str) -> str:
    return key.replace("_", " ").replace("sha256", "SHA-256")


def _value(value: Any) -> str:
    if value is None or value == "" or value == [] or value == {}:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (dict, list)):
        value = json.dumps(value, ensure_ascii=False, sort_keys=True)
    words = str(value)
    return words if len(words) <= _LONGEST else f"{words[:_LONGEST]}…"
