"""What tests of payers share: the desk, one plan of an invented payer, and somebody covered under it."""

from typing import Any

from planner.patients import payers
from planner.patients.models import Patient
from planner.patients.payer_models import CoverVersion, PayerPlan
from planner.practice import services
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.benefit_plans import Basis, BenefitPlan, Cover, Used
from tests.support import NOW, PASSWORD, TODAY

PHONE = Basis(told="phone", by="Ms Hale", on=TODAY)
YEAR = TODAY.replace(month=1, day=1)


def desk_of(owner: Staff, role: Role = Role.DESK_LEAD) -> Staff:
    """Somebody at the desk of the owner's office, made once."""
    known = Staff.objects.filter(username="rhea").first()
    return known or services.add_staff(
        username="rhea", full_name="Rhea Osgood", password=PASSWORD, roles=[role], actor=owner, now=NOW
    )


def bronze(**changes: Any) -> BenefitPlan:
    """A plan that pays 80 % of its own fee for build-ups and half of a wing bridge, after a deductible of 75."""
    said: dict[str, Any] = {
        "payer": "Harbour Mutual",
        "name": "Bronze",
        "currency": "CAD",
        "yearly_maximum_cents": 1000,
        "deductible_cents": 75,
        "looks_only_excluded": True,
        "missing_before_excluded": True,
        "coordination": "carve-out",
        "classes": [{"key": "basic", "percent": 80}, {"key": "major", "percent": 50}],
        "services": [
            {"service": "build-up", "benefit_class": "basic", "fee_cents": 318},
            {"service": "small-addition", "benefit_class": "basic", "fee_cents": 190},
            {"service": "reshape"},
            {"service": "wax-up"},
            {"service": "index"},
            {"service": "wing-bridge", "benefit_class": "major", "fee_cents": 2300},
        ],
        "basis": PHONE,
    }
    return BenefitPlan.model_validate(said | changes)


def cover(**changes: Any) -> Cover:
    """A member's cover for years, nothing paid before."""
    return Cover.model_validate({"begins": YEAR.replace(year=2020), "done_before": (), "basis": PHONE} | changes)


def used(**changes: Any) -> Used:
    """120 of the year's maximum are used, nothing of the deductible."""
    said = {"year_begins": YEAR, "maximum_cents": "120", "deductible_cents": "0", "basis": PHONE}
    return Used.model_validate(said | changes)


def plan_row(desk: Staff, **changes: Any) -> PayerPlan:
    """The plan written down."""
    given: dict[str, Any] = {"office": desk.office, "reason": "The booklet of 2026.", "actor": desk, "now": NOW}
    return payers.add_plan(plan=bronze(**changes), **given)


def with_payer(patient: Patient, desk: Staff) -> CoverVersion:
    """``patient`` covered under the plan, what is used told, and one question asked and answered."""
    who: dict[str, Any] = {"actor": desk, "now": NOW}
    held = payers.add_cover(patient=patient, plan=plan_row(desk), cover=cover(), reason="Card seen.", **who)
    payers.tell_used(cover=held, used=used(), **who)
    asked = payers.ask_payer(cover=held, words="Is a wing bridge paid?", due=TODAY, **who)
    payers.note_answer(question=asked, words="Half of 2,300.", told="phone", by="Ms Hale", on=TODAY, **who)
    return held
