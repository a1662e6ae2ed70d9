"""The lead case of the demo as facts, an office's legal settings, and courses, for tests that flip one fact at a time.

Invented. Everything the story leaves out is unremarkable: asked and no, pockets of 3 mm, recent dates.
"""

import copy
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from planner.rules.book import OfficeBook
from planner.rules.courses import Course, Work
from planner.rules.gates import judge
from planner.rules.mouth import CaseFacts
from planner.rules.teeth import Numbering, Tooth
from planner.rules.treatments import all_treatments
from planner.rules.verdicts import Reason

TODAY = date(2026, 3, 2)


def day(offset: int) -> date:
    """So many days from the day the tests live on."""
    return TODAY + timedelta(days=offset)


def iso(number: str) -> Tooth:
    """A tooth by its ISO number."""
    return Tooth.from_iso(number)


_SOUND: dict[str, Any] = {
    "restored": False,
    "crowned": False,
    "root_treated": False,
    "crown_lost_percent": 0,
    "decay": False,
    "pocket": 3,
    "pocket_bleeds": False,
    "papilla_bleeds": False,
    "mobility": 0,
    "nerve": "responds",
    "dark": False,
    "gum_lump": False,
    "trauma": False,
    "sensitivity": 0,
    "wear": 0,
    "dentine_visible": False,
    "edge_thickness": "2.0",
    "guides_bite": False,
    "enamel_percent": 100,
    "root_short": False,
    "exposed_neck": "0.0",
}
_TEETH: dict[str, dict[str, Any]] = {
    "53": {"place": "13", "width": "6.4", "length": "6.3", "mobility": 1, "not_to_be_touched": True},
    "13": {"place": "12", "width": "7.8", "length": "10.1"},
    "11": {"width": "8.3", "length": "10.5"},
    "21": {"width": "8.4", "length": "10.6"},
    "22": {"width": "5.5", "length": "8.3", "undersized": True, "infolding_checked": True},
    "23": {"width": "7.9", "length": "10.4"},
}
_GAPS = {"53-13": "0.5", "13-11": "0.3", "11-21": "0.8", "21-22": "0.7", "22-23": "0.9"}
_LEAD: dict[str, Any] = {
    "case": "lead",
    "patient": {"name": "Anselm Brightwater", "sex": "man", "birth_date": "1978-10-20", "can_decide_alone": True},
    "history": {
        "signed_on": str(day(-20)),
        "urgent_problem": False,
        "methacrylate": "no",
        **dict.fromkeys(
            (
                *("latex", "nickel", "peroxide", "chlorhexidine", "sulphite", "antibiotics", "pregnant"),
                *("breast_feeding", "earlier_jaw_death", "diabetes", "highest_risk_heart", "bleeding_or_thinner"),
                *("steroid_or_low_immunity", "asthma", "epilepsy", "untreated_reflux", "looks_worry"),
                *("jaw_pain", "anxious"),
            ),
            False,
        ),
        "bone_drug": "none",
        "jaw_radiation": "none",
        "nicotine_per_day": 0,
        "smile_treatments_disliked": 0,
        "weight_kg": 84,
    },
    "limits": {"removal": "0.5", "teeth_reduced": 1, "wish_by": str(day(110)), "wish_by_words": "a wedding"},
    "examination": {
        "on": str(day(-20)),
        "by": "Chair 1",
        "teeth": [{"tooth": number, **_SOUND, **facts} for number, facts in _TEETH.items()],
        "gaps": [
            {"between": pair.split("-"), "width": width, "new_or_growing": False, "contact_to_bone": "4.5"}
            for pair, width in _GAPS.items()
        ],
        "absent": [{"tooth": "12", "cause": "never formed"}],
        "midline_offset": "0.5",
        "gums": {
            "probed_whole_mouth": True,
            "deepest_pocket": 3,
            "deepest_bleeds": False,
            "bleeding_percent": 9,
            "plaque_percent": 18,
            "ever_treated_for_gum_disease": False,
            "cleaned_on": str(day(-20)),
            "gum_thickness": "thick",
            "firm_gum": "4.0",
        },
        "decay": {"open_lesions": 0, "risk": "low", "leaking_fillings": False},
        "bite": {
            "overjet": "2.5",
            "overbite": "3.0",
            "overbite_percent": 35,
            "grinding": "suspected",
            "guard_agreed": True,
            "guard_nights_per_week": 7,
            "mouth_opening": 46,
            "smile_line": "medium",
            "long_face": False,
            "frenum_checked": True,
            "habit_checked": True,
            "extra_tooth_checked": True,
            "can_be_kept_dry": True,
            "crossbite": False,
        },
        "colour": {"shade": "A2", "grey_bands": False, "white_spots": False, "cracks": False},
        "orthodontics": {"state": "none"},
    },
    "pictures": [
        {
            "kind": "panoramic",
            "on": str(day(-20)),
            "reader": "Dr Imke Sorrel",
            "absent": ["12"],
            "roots_of": list(_TEETH),
        }
    ],
}


def lead_data() -> dict[str, Any]:
    """The lead case as JSON values, each call its own copy."""
    return copy.deepcopy(_LEAD)


def lead_facts(changes: Mapping[str, Any] | None = None) -> CaseFacts:
    """The lead case with some facts changed.

    A key is a path such as ``history.latex``; ``tooth.22.decay`` and ``gap.21-22.width`` reach into the lists, and
    ``tooth.22`` or ``gap.21-22`` with None leaves that one out.
    """
    data = lead_data()
    for path, value in (changes or {}).items():
        change(data, path, value)
    return CaseFacts.model_validate(data, context={"numbering": Numbering.ISO})


def change(data: dict[str, Any], path: str, value: Any) -> None:
    """Change one fact of a case given as JSON values, by the paths of :func:`lead_facts`."""
    head, *rest = path.split(".")
    if head in ("tooth", "gap"):
        items = data["examination"]["teeth" if head == "tooth" else "gaps"]
        which = [rest[0]] if head == "tooth" else rest[0].split("-")
        found = next((item for item in items if item.get("tooth", item.get("between")) in (rest[0], which)), None)
        if len(rest) == 1 and value is None:
            items.remove(found)
            return
        if found is None:
            found = {"tooth": rest[0], **_SOUND} if head == "tooth" else {"between": which, "width": "0.0"}
            items.append(found)
        if len(rest) == 1:
            found.update(value)
        else:
            found[rest[1]] = value
        return
    for part in (head, *rest)[:-1]:
        data = data.setdefault(part, {})
    data[(head, *rest)[-1]] = value


def office(legal: Mapping[str, str] | None = None, numbering: str = "iso") -> OfficeBook:
    """An office without prices, with an age of own consent and of majority of 18 unless ``legal`` says otherwise."""
    settings = {"age-of-own-consent": "18", "age-of-majority": "18"} if legal is None else legal
    return OfficeBook.model_validate(
        {
            "office": "Tern Row Dental",
            "place": "Wexcombe Harbour",
            "currency": "CAD",
            "time_zone": "UTC",
            "numbering": numbering,
            "price_lists": [{"version": 1, "effective": "2020-01-01", "services": []}],
            "legal": [
                {"key": key, "value": value, "effective": "2020-01-01", "set_by": "manager", "reason": "local law"}
                for key, value in settings.items()
            ],
        }
    )


_BONDED = (
    Work("bonding", iso("11"), mesial=3, distal=3),
    Work("bonding", iso("21"), mesial=5),
    Work("bonding", iso("22"), mesial=7, distal=9, lengthening=13),
)
_RESHAPED = Work("reshaping", iso("13"), removal=5, irreversible=True)
_CLOSED = ((iso("13"), iso("11")), (iso("11"), iso("21")), (iso("21"), iso("22")), (iso("22"), iso("23")))
_PLACE = iso("12")
COURSES = {
    "none": Course("none", ("none",), ()),
    "reshaping": Course("reshaping", ("reshaping",), (_RESHAPED,)),
    "whitening": Course("whitening", ("whitening",), (Work("whitening"),)),
    "bonding": Course("bonding", ("bonding",), _BONDED, gaps_closed=_CLOSED),
    "reshape-then-bond": Course(
        "reshape-then-bond", ("reshaping", "bonding"), (_RESHAPED, *_BONDED), gaps_closed=_CLOSED
    ),
    "ceramic-veneer": Course(
        "ceramic-veneer",
        ("ceramic-veneer",),
        tuple(
            Work("ceramic-veneer", iso(number), removal=5, crown_percent=(10, 30), irreversible=True)
            for number in ("13", "11", "21", "22")
        ),
    ),
    "wing-bridge": Course("wing-bridge", ("wing-bridge",), ()),
    "braces-then-bonding": Course(
        "braces-then-bonding", ("braces", "bonding"), (Work("braces"), Work("bonding", iso("22"), surfaces=2))
    ),
    "braces-then-wing-bridge": Course(
        "braces-then-wing-bridge",
        ("braces", "wing-bridge"),
        (
            Work("braces"),
            Work("braces", iso("53"), irreversible=True, extracted=True),
            Work("wing-bridge", _PLACE, fills_place=True),
            Work("wing-bridge", iso("11"), removal=5),
        ),
        places_filled=(_PLACE,),
    ),
    "braces-then-implant-crown": Course(
        "braces-then-implant-crown",
        ("braces", "implant-crown"),
        (
            Work("braces"),
            Work("braces", iso("53"), irreversible=True, extracted=True),
            Work("implant-crown", _PLACE, fills_place=True),
        ),
        places_filled=(_PLACE,),
    ),
}
"""The lead case's courses as the composer makes them, by key."""


def reasons(course: str | Course, changes: Mapping[str, Any] | None = None, **more: Any) -> tuple[Reason, ...]:
    """What stands against a course of the lead case with some facts changed."""
    chosen = COURSES[course] if isinstance(course, str) else course
    book = more.pop("book", office())
    return judge(chosen, lead_facts(changes), book, more.pop("today", TODAY), all_treatments(), **more)


def found(gate: str, against: tuple[Reason, ...]) -> Reason | None:
    """The most severe reason of one gate."""
    return next((reason for reason in against if reason.gate == gate), None)


def the(gate: str, against: tuple[Reason, ...]) -> Reason:
    """The most severe reason of one gate, which must be there."""
    reason = found(gate, against)
    assert reason is not None, f"{gate} said nothing"
    return reason
