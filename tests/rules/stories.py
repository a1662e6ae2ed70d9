"""The people of the invented office as case files, each planned on the day it was shown.

Every story leaves facts out; those stand in the files as asked and unremarkable, so that no verdict rests on a blank
that nobody meant.
"""

import copy
from collections.abc import Mapping
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from planner.rules import plan
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from planner.rules.options import Judged
from tests.rules.books import DAY_ZERO, tern_row

CASES = Path(__file__).parents[2] / "fixtures" / "cases"
PLANNED = {
    "lead": -6,
    "zhenya": -27,
    "cormac": -38,
    "linnea": -10,
    "lisbet": -54,
    "marguerite": -88,
    "rafael": -70,
    "ottoline": 0,
    "nikhil": -30,
    "petra": -62,
    "hamish": -10,
    "wanjiru": -30,
}
"""Each file with the day it is planned on, in days from day zero."""


def planned_on(name: str) -> date:
    """The day on which a story is planned."""
    return DAY_ZERO + timedelta(days=PLANNED[name])


@cache
def _written(name: str) -> Any:
    return resolve_days(parse_case((CASES / f"{name}.json").read_bytes()), DAY_ZERO)


def written(name: str) -> dict[str, Any]:
    """A story's case file as JSON values, each call its own copy."""
    data = copy.deepcopy(_written(name))
    assert isinstance(data, dict)
    return data


def facts_of(name: str, changes: Mapping[str, Any] | None = None) -> CaseFacts:
    """A story's facts, some of them changed; None leaves an entry out.

    Paths are such as ``history.latex``, ``examination.teeth[21].dark`` (a tooth by its number, or by its place in the
    list), ``examination.gaps[11-21].width``, ``examination.empty_places[12].root_distance``.
    """
    data = written(name)
    for path, value in (changes or {}).items():
        set_at(data, path, value)
    return validate_case(data, planned_on(name))


def set_at(data: dict[str, Any], path: str, value: Any) -> None:
    """Set one entry of JSON values by a path; a list item by its place or by the tooth or gap it is about."""
    place: Any = data
    *way, last = path.replace("[", ".[").split(".")
    for step in way:
        place = _item(place, step[1:-1]) if step.startswith("[") else place.setdefault(step, {})
    if last.startswith("["):
        place.remove(_item(place, last[1:-1]))
    elif value is None:
        place.pop(last, None)
    else:
        place[last] = value


def _item(items: list[Any], which: str) -> Any:
    if not items or (which.isdecimal() and int(which) < len(items)):
        return items[int(which)]
    for item in items:
        named = item.get("tooth") or item.get("place") or "-".join(item.get("between", ()))
        if named == which:
            return item
    raise KeyError(which)


def verdicts_of(name: str, changes: Mapping[str, Any] | None = None) -> dict[str, Judged]:
    """The verdict on every course of a story, some facts changed."""
    return plan.verdicts(facts_of(name, changes), tern_row(), planned_on(name))


@cache
def told(name: str) -> dict[str, Judged]:
    """What is said of one person's courses, as the file stands."""
    return verdicts_of(name)


def verdict_of(name: str, option: str, changes: Mapping[str, Any] | None = None) -> Judged | None:
    """The verdict on one option of a story, some facts changed; None where it is no option then."""
    return plan.verdicts(facts_of(name, changes), tern_row(), planned_on(name), only=option).get(option)
