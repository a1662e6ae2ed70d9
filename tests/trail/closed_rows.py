"""Closed rows of the trail."""

from planner.trail.models import Erasure, TrailDetail, TrailEntry
from planner.trail.services import record
from tests.closed_rows import Ground, Maker
from tests.support import NOW


def _entry(ground: Ground) -> TrailEntry:
    return record(actor=ground.owner, act="patient.view", content={"name": "Ann"}, at=NOW)


def _detail(ground: Ground) -> TrailDetail:
    return _entry(ground).detail


def _erasure(ground: Ground) -> Erasure:
    return Erasure.objects.create(office=ground.owner.office, subject_id="gone", reason="a letter", at=NOW)


CLOSED_ROWS: dict[str, Maker] = {
    "trail.trailentry": _entry,
    "trail.traildetail": _detail,
    "trail.erasure": _erasure,
}
