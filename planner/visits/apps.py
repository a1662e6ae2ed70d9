"""The visits' app."""

from django.apps import AppConfig

from planner.trail.triggers import Guard


def _same(columns: str) -> str:
    return " AND ".join(f"NEW.{column} = OLD.{column}" for column in columns.split())


# The last wall: bookings wait for each other at the rows of chair, clinician and patient before they come here.
_FREE = """NEW.state <> 'booked' OR NOT EXISTS (
    SELECT 1 FROM visits_visit other WHERE other.state = 'booked'
    AND (other.chair_id = NEW.chair_id OR other.clinician_id = NEW.clinician_id OR other.patient_id = NEW.patient_id)
    AND other.starts < NEW.ends AND NEW.starts < other.ends
)"""
_VISIT = "office_id patient_id plan_id clinician_id chair_id starts ends minutes kind words sequence by_id at"
_CASE = "office_id patient_id plan_id visit_key words laboratory teeth label_name label_iso label_universal by_id at"
_TAKEN_BACK_ONCE = "OLD.taken_back_at IS NULL AND NEW.taken_back_at IS NOT NULL"


class VisitsConfig(AppConfig):
    name = "planner.visits"
    label = "visits"
    append_only = (
        # When and where a visit was booked stays readable; its state moves on once, and an end is an end.
        Guard("Visit", update_if=f"OLD.state = 'booked' AND {_same(_VISIT)}", insert_if=_FREE),
        "VisitMove",
        "VisitItem",
        "LateFee",
        "Chair",
        "WorkWeek",
        Guard("Absence", update_if=f"{_TAKEN_BACK_ONCE} AND {_same('office_id clinician_id first last by_id at')}"),
        Guard("BlockedTime", update_if=f"{_TAKEN_BACK_ONCE} AND {_same('office_id starts ends words by_id at')}"),
        Guard("LaboratoryCase", update_if=f"OLD.state <> 'not needed' AND {_same(_CASE)}"),
        "LaboratoryMove",
        "StepSheetCopy",
        "StepStamp",
        "StepLot",
        "StepAmount",
        "ChairNote",
        "NoteSettled",
        "StepsClosed",
    )

    def ready(self) -> None:
        """Cancel coming visits of whoever may not be contacted any more; hold slips to papers; tell the next visit."""
        from planner.letters.sealed import CHECKS
        from planner.letters.signals import typed_papers, what_comes_next
        from planner.patients.signals import contact_stopped
        from planner.visits.appointments import next_visit_of
        from planner.visits.sealed import step_sheets
        from planner.visits.signals import on_contact_stopped
        from planner.visits.slips import slips_of

        CHECKS["step sheets"] = step_sheets
        typed_papers.connect(slips_of, dispatch_uid="visits.slips")
        what_comes_next.connect(next_visit_of, dispatch_uid="visits.next")
        contact_stopped.connect(on_contact_stopped, dispatch_uid="visits.contact_stopped")
