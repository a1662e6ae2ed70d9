"""From a case and what it rests on to the typed facts of :mod:`planner.rules.mouth`, and their hashes."""

from datetime import date
from typing import Any

from planner.patients.examinations import with_lines
from planner.patients.facts import examination_facts, history_facts, person_facts, pictures_facts
from planner.patients.files import kept_file, of_person
from planner.patients.models import Examination, Status
from planner.patients.stored import from_json, list_from_json
from planner.plans.models import Case
from planner.rules.casefile import case_data
from planner.rules.choices import Choices, DiscountChoice
from planner.rules.mouth import CaseFacts, Limits, Matters, Wish
from planner.rules.results import sha256, stable_json
from planner.rules.teeth import Numbering
from planner.trail.reading import values_at

# What may change without changing any verdict, length or price.
_NOT_DECIDING = {
    "case": None,
    "notes": None,
    "matters": None,
    "patient": ("language", "print_points"),
    "history": ("any_change_asked_on",),
}


_CONFIRMED = (Status.CONFIRMED, Status.USED)
_NO_FINDINGS = {"on", "by", "instrument", "confirmed_by"}


def case_facts(case: Case, on: date | None = None) -> CaseFacts:
    """Everything that is known about ``case``, or was known on the day ``on``.

    Nine queries, whatever the number of teeth. History and pictures are those of that day; measurements are the set
    that the case names.
    """
    pictures = [line.picture for line in case.case_pictures.select_related("picture").order_by("position")]
    if on is not None:
        pictures = [picture for picture in pictures if picture.on <= on]
    return CaseFacts(
        numbering=Numbering(case.numbering),
        case=case.name,
        patient=person_facts(kept_file(case.patient)),
        history=history_facts(case.patient, on),
        wishes=list_from_json(Wish, case.wishes),
        limits=from_json(Limits, case.limits),
        matters=from_json(Matters, case.matters),
        examination=examination_facts(with_lines().get(pk=case.examination_id)),
        pictures=pictures_facts(pictures),
        choices=case_choices(case),
        notes=case.notes,
    )


def facts_at(case: Case, facts: CaseFacts, version: int) -> CaseFacts:
    """``facts`` with the wishes, limits and what matters as they stood at an earlier ``version`` of ``case``."""
    held = values_at(case, version)
    then: dict[str, Any] = {}
    if "wishes" in held:
        then["wishes"] = list_from_json(Wish, held["wishes"])
    if "limits" in held:
        then["limits"] = from_json(Limits, held["limits"])
    if "matters" in held:
        then["matters"] = from_json(Matters, held["matters"])
    return facts.model_copy(update=then)


def measured_otherwise(case: Case) -> Examination | None:
    """The newest confirmed set of measurements of the person, if it is later than the one ``case`` rests on and says
    another thing about the mouth: an extra tooth found, an edge chipped since. One query where there is none later.

    Who measured, with what and on which day is no finding.
    """
    later = with_lines().filter(
        of_person(case.patient_id), pk__gt=case.examination_id, on__gte=case.examination.on, status__in=_CONFIRMED
    )
    newest = later.order_by("-on", "-pk").first()
    if newest is None:
        return None
    old, new = (
        examination_facts(one).model_dump(exclude=_NO_FINDINGS)
        for one in (with_lines().get(pk=case.examination_id), newest)
    )
    return newest if old != new else None


def case_choices(case: Case) -> Choices:
    """What the dentist decided around the computation."""
    return from_json(Choices, case.choices)


def facts_hash(facts: CaseFacts) -> str:
    """The SHA-256 over the facts, the same that a case plan computed from them names."""
    return sha256(stable_json(case_data(facts)))


def deciding_hash(data: dict[str, Any]) -> str:
    """The SHA-256 over those facts of a case file that can change a verdict, a length or a price.

    Asking "any change?" once more, or printing larger, does not make an estimate stale; a new finding, wish or lock
    does.
    """
    kept = dict(data)
    for name, parts in _NOT_DECIDING.items():
        if parts is None:
            kept.pop(name, None)
        elif name in kept:
            kept[name] = {part: value for part, value in kept[name].items() if part not in parts}
    if discounts := kept.get("choices", {}).get("discounts"):
        # One that still waits for somebody changes no price; a checked estimate stands until it is allowed.
        given = [one for one in discounts if DiscountChoice.model_validate(one).given]
        choices = {part: value for part, value in kept["choices"].items() if part != "discounts"}
        kept["choices"] = choices | ({"discounts": given} if given else {})
    return sha256(stable_json({name: value for name, value in kept.items() if value != {}}))
