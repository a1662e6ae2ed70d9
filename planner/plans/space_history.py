"""What was fixed and let go around the spaces of a case, as the trail holds it: nothing of it can be changed."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from planner.patients.stored import from_json
from planner.plans.models import Case
from planner.plans.space_locks import change_words
from planner.rules.choices import Lock
from planner.rules.teeth import Numbering
from planner.trail.models import TrailEntry
from planner.trail.services import subject_of

MOST = 60
"""Entries shown, the newest first; the whole of them is in the trail."""


@dataclass(frozen=True, slots=True)
class Decided:
    """One decision: what was fixed otherwise, by whom, when and why."""

    words: str
    by: str
    at: datetime
    reason: str


def decisions(case: Case) -> tuple[Decided, ...]:
    """Every lock that was set or let go, the newest first. One query."""
    named = subject_of(case)
    entries = (
        TrailEntry.objects.filter(
            office=case.office_id,
            subject_kind=named.kind,
            subject_id=named.public_id,
            act__in=("case.lock", "case.unlock"),
        )
        .select_related("detail")
        .order_by("-sequence")[:MOST]
    )
    numbering = Numbering(case.numbering)
    return tuple(Decided(_words(entry, numbering), entry.actor_name, entry.at, entry.reason) for entry in entries)


def _words(entry: TrailEntry, numbering: Numbering) -> str:
    detail = getattr(entry, "detail", None)
    if detail is None:
        return _("erased")
    content: dict[str, Any] = json.loads(detail.content)
    before = [from_json(Lock, lock) for lock in content.get("before", ())]
    after = from_json(Lock, content["after"]) if "after" in content else None
    return change_words(before[0] if before else None, after, numbering)
