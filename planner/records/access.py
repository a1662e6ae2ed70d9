"""The door to copies of the office, and what the record tells of copies that were taken."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import QuerySet

from planner.practice.access import Act, Thing, load
from planner.practice.models import Office, Staff
from planner.records.models import OfficeCopy
from planner.trail.fields import Public
from planner.trail.models import TrailEntry
from planner.trail.services import subject_of

MOST = 20
"""So many copies are shown, the newest."""


def load_copy(*, actor: Staff, public_id: str, act: Act, now: datetime) -> OfficeCopy:
    """The wish for a copy. Raises Http404 or NotAllowed, recorded."""
    rows = OfficeCopy.objects.select_related("office", "asked_by", "answered_by")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.RECORDS, now=now)


def copies_of(office: Office) -> QuerySet[OfficeCopy]:
    """The newest copies that were asked for."""
    return OfficeCopy.objects.filter(office=office).select_related("office", "asked_by", "answered_by")[:MOST]


def taken(act: str, rows: Sequence[Public]) -> dict[str, list[TrailEntry]]:
    """Who took copies of ``rows`` and when, the newest first, by public id: one query."""
    found: dict[str, list[TrailEntry]] = {row.public_id: [] for row in rows}
    if found:
        kind = subject_of(rows[0]).kind
        entries = TrailEntry.objects.filter(act=act, subject_kind=kind, subject_id__in=list(found))
        for entry in entries.order_by("-sequence"):
            found[entry.subject_id].append(entry)
    return found
