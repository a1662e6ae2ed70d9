"""Two files of one person: what the joined file says where they differ, and how that is taken apart again.

Where health is concerned the stricter of two answers holds until the person signs a new form. Common practice, no
source.
"""

from collections.abc import Collection, Mapping
from datetime import date
from typing import Any, Final

from planner.rules.mouth import Allergy, History

CHOSEN: Final = ("name", "birth_date", "phone", "language", "print_points", "sex")
"""What a person chooses between; the name takes with it what it is sorted by."""
DECIDES: Final = ("can_decide_alone", "decision_maker", "own_agreement")

_CONTACT: Final = (True, None, False)
_ALONE: Final = (True, None, False)
_ALLERGY: Final = (None, Allergy.NO, Allergy.SUSPECTED, Allergy.POSITIVE)
_BONE: Final = (None, "none", "osteoporosis dose", "other", "cancer dose")
_RADIATION: Final = (None, "none", "under 50 Gy", "dose unknown", "50 Gy or more")
_MOST: Final = ("bone_drug_years", "nicotine_per_day", "smile_treatments_disliked")


def joined_values(kept: Mapping[str, Any], other: Mapping[str, Any], take: Collection[str]) -> dict[str, Any]:
    """What changes in the kept file: of ``other`` those of :data:`CHOSEN` named in ``take``; of contact and of who
    decides, the stricter.
    """
    named = {name: other[name] for name in CHOSEN if name in take}
    if "name" in take:
        named["sort_key"] = other["sort_key"]
    if _CONTACT.index(other["contact_consent"]) > _CONTACT.index(kept["contact_consent"]):
        named["contact_consent"] = other["contact_consent"]
    if _ALONE.index(other["can_decide_alone"]) > _ALONE.index(kept["can_decide_alone"]):
        named |= {name: other[name] for name in DECIDES}
    return {name: value for name, value in named.items() if value != kept[name]}


def apart_values(before: Mapping[str, Any], after: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, Any]:
    """What is put back when files are taken apart: whatever still stands as the joining set it. What was corrected
    since stays corrected.
    """
    return {name: before[name] for name, value in after.items() if now[name] == value}


def stricter(newer: History, older: History) -> History:
    """One history of two forms: of every answer the one that speaks more against treatment; what only one form
    answers counts. Days of signing are the newer form's.
    """
    one, two = newer.model_dump(), older.model_dump()
    found = {name: _stricter(name, value, two[name]) for name, value in one.items()}
    found |= {"signed_on": newer.signed_on, "any_change_asked_on": newer.any_change_asked_on}
    # A measured value goes with its day: the later counts, and of the same day the higher.
    measured = [(form.hba1c_on or date.min, form.hba1c_tenths) for form in (newer, older)]
    known = [(day, tenths) for day, tenths in measured if tenths is not None]
    if known:
        day, tenths = max(known)
        found |= {"hba1c_tenths": tenths, "hba1c_on": None if day == date.min else day}
    return History.model_validate(found)


def _stricter(name: str, one: Any, two: Any) -> Any:
    order: tuple[Any, ...] | None = {
        "methacrylate": _ALLERGY, "bone_drug": _BONE, "jaw_radiation": _RADIATION
    }.get(name)  # fmt: skip
    if order is not None:
        return max(one, two, key=order.index)
    if one is None or two is None:
        return two if one is None else one
    if name in _MOST:
        return max(one, two)
    if name == "weight_kg":
        return min(one, two)  # the dose of what is injected goes by it
    return one or two if isinstance(one, bool) else one
