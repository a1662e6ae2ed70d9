"""Whose file is past its time: the days that retention is counted from, read for a whole office at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Max

from planner.followup.models import MadeCall
from planner.letters.consent_models import Handing, Signature
from planner.patients.models import Examination, HistoryForm, Patient
from planner.plans.accepted_models import AcceptedPlan, Payment, StageEarned
from planner.plans.models import Case, Showing
from planner.practice import books
from planner.practice.models import Office
from planner.rules.retention import FileFacts, Retention, Terms, retention, terms_on
from planner.rules.visit_states import VisitState
from planner.visits.models import Visit


@dataclass(frozen=True, slots=True)
class Kept:
    """One file and what holds of it."""

    patient: Patient
    facts: FileFacts
    retention: Retention


def files_of(office: Office, now: datetime, patients: Iterable[Patient] | None = None) -> list[Kept]:
    """What holds of each file of the office, or of ``patients`` alone; those whose time is over the longest first."""
    day = books.today(office, now)
    terms = terms_of(office, day)
    chosen = list(patients if patients is not None else Patient.objects.filter(office=office))
    days = _Days(office, [one.pk for one in chosen])
    found = [Kept(one, facts := days.facts(one), retention(facts, terms, day)) for one in chosen]
    return sorted(found, key=lambda one: (one.retention.listed_from, one.patient.sort_key, one.patient.pk))


def past_of(office: Office, now: datetime) -> list[Kept]:
    """The files of the office whose time is over."""
    day = books.today(office, now)
    return [one for one in files_of(office, now) if one.retention.listed_from <= day and not one.retention.holds]


def terms_of(office: Office, day: date) -> Terms:
    """The years that hold for the office on ``day``."""
    return terms_on(books.current_book(office, day), day)


class _Days:
    """The last day of each kind, by patient."""

    def __init__(self, office: Office, patients: list[int]) -> None:
        self.zone = office.zone

        def last(model: Any, path: str, field: str, **only: Any) -> dict[int, Any]:
            rows = model.objects.filter(**{f"{path}__in": patients}, **only)
            # Without the model's own order, which would count row by row.
            return dict(rows.order_by().values_list(path).annotate(Max(field)))

        self.signed = last(Signature, "consent__case__patient", "signed_on")
        self.earned = last(StageEarned, "item__plan__patient", "on")
        self.kept = last(Visit, "patient", "ends", state=VisitState.KEPT.value)
        self.coming = last(Visit, "patient", "ends", state=VisitState.BOOKED.value)
        self.paid = last(Payment, "plan__patient", "on")
        self.used = [
            last(Examination, "patient", "on"),
            last(HistoryForm, "patient", "at"),
            last(Case, "patient", "at"),
            last(Showing, "estimate__case__patient", "on"),
            last(MadeCall, "estimate__case__patient", "at"),
            last(Handing, "consent__case__patient", "handed_at"),
            last(AcceptedPlan, "patient", "accepted_on"),
            self.paid,
            self.kept,
        ]

    def facts(self, patient: Patient) -> FileFacts:
        """The days of one file."""

        def day(found: Any) -> date | None:
            return found.astimezone(self.zone).date() if isinstance(found, datetime) else found

        def latest(*found: Any) -> date | None:
            return max((one for one in map(day, found) if one is not None), default=None)

        used = latest(patient.created_at, *(one.get(patient.pk) for one in self.used))
        return FileFacts(
            born=patient.birth_date,
            used=used or patient.created_at.date(),
            signed=day(self.signed.get(patient.pk)),
            treated=latest(self.earned.get(patient.pk), self.kept.get(patient.pk)),
            coming=day(self.coming.get(patient.pk)),
            paid=day(self.paid.get(patient.pk)),
        )
