"""Lists of cases and estimates. Every query stays inside one office."""

from dataclasses import dataclass

from django.db.models import Q

from planner.patients.files import of_person
from planner.patients.models import Patient
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.models import Case, Estimate, State
from planner.practice.models import Office

PAGE = 50


@dataclass(frozen=True, slots=True)
class Page:
    """One page of estimates. ``after`` is the public id to ask the next page with; empty on the last page."""

    estimates: tuple[Estimate, ...]
    after: str


def cases_of(patient: Patient) -> tuple[Case, ...]:
    """The cases of one person, newest first, each with its set of measurements: one query."""
    return tuple(Case.objects.filter(of_person(patient)).select_related("examination").order_by("-id"))


def accepted_of(patient: Patient) -> tuple[AcceptedPlan, ...]:
    """The accepted plans of one person, newest first: one query."""
    return tuple(AcceptedPlan.objects.filter(of_person(patient)).order_by("-at", "-id"))


def estimates(office: Office, *, state: State | None = None, after: str = "", size: int = PAGE) -> Page:
    """The office's estimates, newest first, with case and patient: two queries at most."""
    found = Estimate.objects.filter(office=office).select_related("case__patient")
    if state is not None:
        found = found.filter(state=state)
    last = Estimate.objects.filter(office=office, public_id=after).first() if after else None
    if last is not None:
        # The first bound is redundant and is what lets both databases start reading in the middle of the index.
        found = found.filter(Q(at__lte=last.at) & (Q(at__lt=last.at) | Q(id__lt=last.pk)))
    rows = tuple(found.order_by("-at", "-id")[: size + 1])
    return Page(rows[:size], rows[size - 1].public_id if len(rows) > size else "")
