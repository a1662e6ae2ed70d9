"""Closed rows of the record's floor."""

from django.db.models import Model

from planner.patients.models import Patient
from planner.patients.services import register_patient
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.practice.services import add_staff
from planner.story.models import EmergencyOpening, OpeningSeen, Problem
from planner.story.services import note_step, open_in_emergency, opening_seen, tell_problem
from tests.closed_rows import Ground, Maker
from tests.support import NOW, PASSWORD, TODAY


def patient_of(owner: Staff) -> Patient:
    """Somebody with a file."""
    return register_patient(name="Ada Byron", birth_date=TODAY.replace(year=1980), actor=owner, now=NOW)


def _opening(ground: Ground) -> EmergencyOpening:
    desk = add_staff(
        username="ina", full_name="Ina Desk", password=PASSWORD, roles=[Role.FRONT_DESK], actor=ground.owner, now=NOW
    )
    return open_in_emergency(patient=patient_of(ground.owner), reason="Fainted at the desk.", actor=desk, now=NOW)


def _seen(ground: Ground) -> OpeningSeen:
    return opening_seen(opening=_opening(ground), words="Asked her: right so.", actor=ground.owner, now=NOW)


def _problem(ground: Ground) -> Problem:
    told = {"told_at": NOW, "told_by": "Ada Byron", "how": "by telephone", "words": "It hurts when I bite."}
    return tell_problem(patient=patient_of(ground.owner), **told, actor=ground.owner, now=NOW)  # type: ignore[arg-type]


def _step(ground: Ground) -> Model:
    return note_step(problem=_problem(ground), done_at=NOW, words="Asked to come today.", actor=ground.owner, now=NOW)


CLOSED_ROWS: dict[str, Maker] = {
    "story.emergencyopening": _opening,
    "story.openingseen": _seen,
    "story.problem": _problem,
    "story.problemstep": _step,
}
