"""The doors to people's files: a view gets a patient or an examination from here and from nowhere else."""

from datetime import datetime

from planner.patients.examinations import with_lines
from planner.patients.models import Examination, Patient, PictureFile
from planner.practice.access import Act, Thing, load
from planner.practice.models import Staff


def load_patient(
    *, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.IDENTITY, now: datetime
) -> Patient:
    """The patient, if ``actor`` may do ``act`` to ``thing`` in that file. Raises Http404 or NotAllowed, recorded."""
    rows = Patient.objects.select_related("office")
    return load(rows, public_id, actor=actor, act=act, thing=thing, now=now)


def load_examination(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> Examination:
    """The set of measurements with its lines. Raises Http404 or NotAllowed, recorded."""
    return load(with_lines(), public_id, actor=actor, act=act, thing=Thing.MEASUREMENTS, now=now)


def load_picture(
    *, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.PICTURES, now: datetime
) -> PictureFile:
    """The picture without its bytes. Raises Http404 or NotAllowed, recorded."""
    rows = PictureFile.objects.select_related("patient", "office", "entered_by", "set_aside__by")
    return load(rows, public_id, actor=actor, act=act, thing=thing, now=now)
