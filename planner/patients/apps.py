"""The patients' app."""

from django.apps import AppConfig

from planner.trail.triggers import Guard

_OPEN = "(SELECT status FROM patients_examination WHERE id = {row}.examination_id) <> 'used'"

_SET_ASIDE = "EXISTS (SELECT 1 FROM patients_picturesetaside WHERE file_id = OLD.file_id)"


def _line_of_examination(model: str) -> Guard:
    """Lines of a set that a frozen plan rests on are closed, and none is added to it."""
    new, old = _OPEN.format(row="NEW"), _OPEN.format(row="OLD")
    return Guard(model, insert_if=new, update_if=f"{old} AND {new}", delete_if=old)


class PatientsConfig(AppConfig):
    name = "planner.patients"
    label = "patients"
    erased_as = "Patient"
    append_only = (
        "HistoryForm",
        "AnyChange",
        "PictureReading",
        "PictureFile",
        "PictureSetAside",
        "PayerPlan",
        "CoverVersion",
        "BenefitUsed",
        "PayerQuestion",
        "PayerAnswer",
        Guard("JoinedFile", update_if="OLD.declined_at IS NULL AND OLD.apart_at IS NULL"),
        # What was set aside may be erased; that it was there, and its hash, stay.
        Guard("PictureContent", delete_if=_SET_ASIDE),
        Guard("Examination", update_if="OLD.status <> 'used'", delete_if="OLD.status <> 'used'"),
        _line_of_examination("ToothReading"),
        _line_of_examination("GapReading"),
        _line_of_examination("AbsentReading"),
        _line_of_examination("PlaceReading"),
    )
