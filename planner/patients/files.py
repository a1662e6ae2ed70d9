"""Which files are one person's: a file alone, or with those that were joined."""

from collections.abc import Collection

from django.db.models import Q

from planner.patients.join_models import JoinedFile
from planner.patients.models import Patient
from planner.trail.errors import Refused


def of_person(patient: Patient | int, path: str = "patient") -> Q:
    """The condition that a row, whose patient stands at ``path``, belongs to the same person as the file. No query of
    its own.
    """
    own = patient if isinstance(patient, int) else patient.pk
    live = JoinedFile.objects.filter(done_at__isnull=False, apart_at__isnull=True).order_by()
    kept = live.filter(joined=own).values("kept")
    key = path if path == "pk" else f"{path}_id" if "__" not in path else path
    return (
        Q(**{key: own})
        | Q(**{f"{key}__in": kept})
        | Q(**{f"{key}__in": live.filter(kept=own).values("joined")})
        | Q(**{f"{key}__in": live.filter(kept__in=kept).values("joined")})
    )


def files_of(patient: Patient | int) -> tuple[Patient, ...]:
    """Every file of the same person, this one too. One query."""
    return tuple(Patient.objects.filter(of_person(patient, "pk")).order_by("pk"))


def kept_files(patients: Collection[int]) -> dict[int, Patient]:
    """Of files that were joined to another: that other one, by the key of the closed file. One query.

    What is so now of the person, such as whether they may be called, stands in the file that was kept.
    """
    live = JoinedFile.objects.filter(joined__in=set(patients), done_at__isnull=False, apart_at=None).order_by()
    return {row.joined_id: row.kept for row in live.select_related("kept")}


def kept_file(patient: Patient) -> Patient:
    """The file in which this person goes on: this one, or the one it was joined to. One query."""
    return kept_files([patient.pk]).get(patient.pk, patient)


def joins_of(patient: Patient) -> tuple[JoinedFile, ...]:
    """Joinings of this file that are asked for or hold, whichever of the two it is. One query."""
    rows = JoinedFile.objects.filter(Q(kept=patient) | Q(joined=patient), apart_at=None, declined_at=None)
    return tuple(rows.select_related("kept", "joined", "allowed_by", "done_by", "asked_by").order_by("pk"))


def refuse_closed(patient: Patient) -> None:
    """Raise Refused when the file was joined to another: what is new is written down in that one."""
    row = JoinedFile.objects.filter(joined=patient, done_at__isnull=False, apart_at=None).select_related("kept").first()
    if row is not None:
        raise Refused(f"This file was joined to that of {row.kept.name}: go on in that one, nothing new is begun here.")
