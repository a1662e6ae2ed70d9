"""Shown estimates of people, without working a plan out: what calls and figures read of them."""

import json
from datetime import date, timedelta

from planner.patients.models import Examination, Patient
from planner.patients.services import register_patient
from planner.plans.models import Case, Estimate, FrozenPlan, Showing, State
from planner.practice import books
from planner.practice.models import Staff
from planner.rules.results import sha256
from tests.support import NOW, TODAY


def patient_of(owner: Staff, name: str = "Ada Byron", *, consent: bool | None = True) -> Patient:
    """Somebody in the office's files."""
    return register_patient(
        name=name, birth_date=date(1980, 5, 4), contact_consent=consent, actor=owner, now=NOW - timedelta(days=200)
    )


def shown_estimate(
    owner: Staff,
    patient: Patient,
    *,
    on: date = TODAY - timedelta(days=6),
    options: tuple[tuple[str, int], ...] = (("bonding", 57000),),
    recommended: str = "bonding",
    by: Staff | None = None,
    replaces: Estimate | None = None,
) -> Estimate:
    """An estimate with these options, shown on a day."""
    plan = {
        "recommended": recommended,
        "options": [
            {"key": "none", "name": "Nothing", "verdict": "offer", "treatments": ["none"], "estimate": {"lines": []}},
            *(
                {
                    "key": key,
                    "name": key.title(),
                    "verdict": "offer",
                    "treatments": [key],
                    "estimate": {"lines": [{"total_cents": cents}]},
                }
                for key, cents in options
            ),
        ],
    }
    content = json.dumps(plan).encode()
    book = books.latest_version(owner.office)
    at = NOW - timedelta(days=(TODAY - on).days)
    case = (
        replaces.case
        if replaces
        else Case.objects.create(
            office=owner.office,
            patient=patient,
            examination=Examination.objects.create(
                office=owner.office,
                patient=patient,
                on=on,
                confirmed_by="D",
                status="confirmed",
                entered_by=owner,
                at=at,
            ),
            name=f"case of {on}",
            at=at,
        )
    )
    frozen = FrozenPlan.objects.create(
        office=owner.office,
        case=case,
        examination=case.examination,
        book=book,
        content=content,
        sha256=sha256(content + str(case.pk).encode() + str(on).encode()),
        facts_sha256="0" * 64,
        deciding_sha256="0" * 64,
        rules_sha256="0" * 64,
        frozen_by=owner,
        at=at,
    )
    estimate = Estimate.objects.create(
        office=owner.office,
        case=case,
        number=replaces.number if replaces else 1 + Estimate.objects.count(),
        issue=replaces.issue + 1 if replaces else 1,
        replaces=replaces,
        state=State.SHOWN,
        options=["none", *(key for key, _ in options)],
        frozen=frozen,
        book=book,
        checked_by=by or owner,
        checked_at=at,
        valid_through=on + timedelta(days=90),
        shown_on=on,
        created_by=owner,
        at=at,
    )
    Showing.objects.create(
        office=owner.office,
        estimate=estimate,
        on=on,
        to=patient.name,
        channel="in person",
        sha256=frozen.sha256,
        shown_by=by or owner,
        at=at,
    )
    return estimate
