"""The doors of this floor: a file as the record tells it, and how much of the office's record somebody may read."""

from datetime import datetime
from enum import Enum

from planner.patients.models import Patient
from planner.practice.access import Act, Thing, load, may, require
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.story.models import EmergencyOpening, Problem


class Scope(Enum):
    """How much of the office's trail somebody reads."""

    ALL = "all"
    BARE = "bare"
    """Every entry, without reasons, values or whose file: what a system keeper needs and no more."""
    OWN = "own"
    """One's own acts."""


def trail_scope(actor: Staff) -> Scope:
    """How much of the trail ``actor`` may read. Raises NotAllowed for nothing at all."""
    require(actor, Act.VIEW, Thing.TRAIL)
    if may(actor, Act.VIEW, Thing.STORY):
        return Scope.ALL
    return Scope.BARE if Role.KEEPER in actor.roles else Scope.OWN


def load_story(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> Patient:
    """The patient whose file's record is read or printed. Raises Http404 or NotAllowed, recorded."""
    rows = Patient.objects.select_related("office")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.STORY, now=now)


def load_for_emergency(*, actor: Staff, public_id: str, now: datetime) -> Patient:
    """The patient whose file is opened in an emergency. Raises Http404 or NotAllowed, recorded."""
    rows = Patient.objects.select_related("office")
    return load(rows, public_id, actor=actor, act=Act.RUN, thing=Thing.EMERGENCY, now=now)


def load_opening(*, actor: Staff, public_id: str, now: datetime) -> EmergencyOpening:
    """An emergency opening that a manager or owner looks at. Raises Http404 or NotAllowed, recorded."""
    rows = EmergencyOpening.objects.select_related("office", "patient", "by")
    return load(rows, public_id, actor=actor, act=Act.APPROVE, thing=Thing.EMERGENCY, now=now)


def load_for_problem(*, actor: Staff, public_id: str, now: datetime) -> Patient:
    """The patient who told of a problem. Raises Http404 or NotAllowed, recorded."""
    rows = Patient.objects.select_related("office")
    return load(rows, public_id, actor=actor, act=Act.CREATE, thing=Thing.PROBLEM, now=now)


def load_problem(*, actor: Staff, public_id: str, now: datetime) -> Problem:
    """A problem about which something was done. Raises Http404 or NotAllowed, recorded."""
    rows = Problem.objects.select_related("office", "patient__office", "by")
    return load(rows, public_id, actor=actor, act=Act.CREATE, thing=Thing.PROBLEM, now=now)
