"""One person with a bit of everything, and the people of an office who may and may not take it out."""

import io
from typing import Any

from PIL import Image

from planner.patients.models import Patient
from planner.patients.pictures import add_picture, set_aside
from planner.plans.casefiles import import_case_file
from planner.plans.models import Estimate
from planner.practice import services
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from tests.letters.consents import shown_estimate
from tests.payers import desk_of, with_payer
from tests.support import NOW, PASSWORD, TODAY


def person(owner: Staff, name: str, role: Role) -> Staff:
    """Somebody of the owner's office."""
    username = name.split()[0].lower()
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    return services.add_staff(username=username, full_name=name, password=PASSWORD, roles=[role], **who)


def dots(shade: int) -> bytes:
    """A small picture; another shade is another picture."""
    out = io.BytesIO()
    Image.new("L", (64, 64), shade).save(out, "PNG")
    return out.getvalue()


def estimate_with_payer(owner: Staff, lead_case: CaseFacts) -> Estimate:
    """The lead case, shown, with a payer's guess beside it, one picture that counts and one that was set aside."""
    patient = import_case_file(facts=lead_case, actor=owner, now=NOW).case.patient
    with_payer(patient, desk_of(owner))
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    add_picture(patient=patient, content=dots(40), kind="photo", on=TODAY, **who)
    wrong = add_picture(patient=patient, content=dots(200), kind="photo", on=TODAY, **who)
    set_aside(picture=wrong, reason="Shows somebody else.", **who)
    return shown_estimate(owner, lead_case)


def patient_of(estimate: Estimate) -> Patient:
    """Whose estimate it is."""
    return estimate.case.patient
