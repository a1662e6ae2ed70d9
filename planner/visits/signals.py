"""What happens to visits when something happens to people."""

from datetime import datetime
from typing import Any

from planner.patients.models import Patient
from planner.practice.models import Staff
from planner.visits.services import cancel_coming_visits


def on_contact_stopped(*, patient: Patient, reason: str, actor: Staff, now: datetime, **_kwargs: Any) -> None:
    """Cancel the coming visits of somebody whom nobody may contact any more."""
    cancel_coming_visits(patient=patient, reason=reason, actor=actor, now=now)
