"""The data that a paper carries inside its file: all of the frozen plan, or as little as its readers need."""

import json
from collections.abc import Callable
from dataclasses import dataclass

from planner.rules.results import sha256, stable_json

PRIVATE_FACTS = ("history", "notes", "pictures", "choices")
"""Parts of the facts that a paper for other eyes does not carry."""
_SIZES = ("tooth", "place", "role", "width", "length", "contact_height")
"""What a workshop needs to know of a tooth."""


@dataclass(frozen=True, slots=True)
class Carried:
    """How the file inside a paper is called, and how it is made from the frozen plan."""

    name: str
    data: Callable[[bytes], bytes]


def whole_json(plan_json: bytes) -> bytes:
    """The frozen plan, byte for byte."""
    return plan_json


def public_json(plan_json: bytes) -> bytes:
    """The frozen plan for other eyes: no history, no private reasons; it names the hash of the whole."""
    plan = json.loads(plan_json)
    plan["facts"] = {key: value for key, value in plan["facts"].items() if key not in PRIVATE_FACTS}
    for option in plan["options"]:
        option["reasons"] = [reason for reason in option["reasons"] if not reason.get("private")]
        option["overrides"] = []
    plan["whole_plan_sha256"] = sha256(plan_json)
    return stable_json(plan)


def workshop_json(plan_json: bytes) -> bytes:
    """Sizes, gaps, shade and the ways of sharing the space; nobody's name, birth date, history or fees."""
    plan = json.loads(plan_json)
    examination = plan["facts"]["examination"]
    return stable_json(
        {
            "format": plan["format"],
            "version": plan["version"],
            "planned_on": plan["planned_on"],
            "numbering": plan["numbering"],
            "teeth": plan["teeth"],
            "sizes": [{key: tooth[key] for key in _SIZES if key in tooth} for tooth in examination["teeth"]],
            "gaps": [{key: gap[key] for key in ("between", "width")} for gap in examination.get("gaps", [])],
            "midline_offset": examination.get("midline_offset"),
            "shade": examination.get("colour", {}).get("shade", ""),
            "space_plans": plan["spaces"]["plans"],
            "whole_plan_sha256": sha256(plan_json),
        }
    )


def payer_json(plan_json: bytes) -> bytes:
    """Names and totals of the options and the hash of the whole plan; nothing of anybody's health."""
    plan = json.loads(plan_json)
    return stable_json(
        {
            "format": plan["format"],
            "version": plan["version"],
            "planned_on": plan["planned_on"],
            "currency": plan["currency"],
            "options": [
                {"key": option["key"], "name": option["name"], "total_cents": option["estimate"]["total_cents"]}
                for option in plan["options"]
            ],
            "whole_plan_sha256": sha256(plan_json),
        }
    )


def origin_json(plan_json: bytes) -> bytes:
    """From which plan a paper was made, and nothing of what that says."""
    plan = json.loads(plan_json)
    said = {key: plan[key] for key in ("format", "version", "planned_on", "currency")}
    return stable_json(said | {"whole_plan_sha256": sha256(plan_json)})


WHOLE = Carried("case-plan.json", whole_json)
FOR_OTHER_EYES = Carried("case-plan-without-history.json", public_json)
FOR_THE_WORKSHOP = Carried("target-sizes.json", workshop_json)
FOR_THE_PAYER = Carried("totals.json", payer_json)
ORIGIN_ALONE = Carried("made-from.json", origin_json)
