"""Where something is settled that stands against a visit: one address for each kind."""

from django.urls import reverse

from planner.letters.consent_standing import consent_of
from planner.visits.models import Visit


def url_of(where: str, visit: Visit) -> str:
    """The page on which what stands against ``visit`` is settled; see :class:`planner.visits.step_drawing.Stop`."""
    plan, patient = visit.plan, visit.patient
    if where == "letter":
        consent = consent_of(plan)
        if consent is not None:
            return reverse("letters:consent", args=[consent.public_id])
        return reverse("letters:consents", args=[plan.case.public_id])
    if where == "laboratory" and (case := plan.laboratory_cases.filter(visit_key=visit.key).last()) is not None:
        return reverse("visits:case", args=[case.public_id])
    return {
        "history": reverse("patients:history", args=[patient.public_id]),
        "any change": reverse("patients:any_change", args=[patient.public_id]),
        "case": reverse("plans:case", args=[plan.case.public_id]),
        "account": reverse("plans:accepted", args=[plan.public_id]),
        "shelf": reverse("visits:stock_need"),
        "visit": reverse("visits:visit", args=[visit.public_id]),
        "laboratory": reverse("visits:order", args=[plan.public_id]),
    }.get(where, reverse("visits:plan", args=[plan.public_id]))
