"""The doors to people's files: a view gets a patient or an examination from here and from nowhere else."""

from datetime import datetime

from planner.patients.examinations import with_lines
from planner.patients.join_models import JoinedFile
from planner.patients.models import Examination, Patient, PictureFile
from planner.patients.payer_models import CoverVersion, PayerPlan, PayerQuestion
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


def load_joined(*, actor: Staff, public_id: str, now: datetime) -> JoinedFile:
    """A joining of two files. Raises Http404 or NotAllowed, recorded."""
    rows = JoinedFile.objects.select_related(
        "office", "kept", "joined", "asked_by", "allowed_by", "done_by", "declined_by", "apart_asked_by", "apart_by"
    )
    return load(rows, public_id, actor=actor, act=Act.VIEW, thing=Thing.JOIN, now=now)


def load_payer_plan(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> PayerPlan:
    """One version of a payer's plan. Raises Http404 or NotAllowed, recorded."""
    rows = PayerPlan.objects.select_related("office", "set_by")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.PAYER, now=now)


def load_cover(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> CoverVersion:
    """One version of somebody's cover. Raises Http404 or NotAllowed, recorded."""
    rows = CoverVersion.objects.select_related("office", "patient__office", "plan__office")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.PAYER, now=now)


def load_payer_question(*, actor: Staff, public_id: str, act: Act = Act.VIEW, now: datetime) -> PayerQuestion:
    """A question to a payer. Raises Http404 or NotAllowed, recorded."""
    rows = PayerQuestion.objects.select_related("office", "patient__office")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.PAYER, now=now)
