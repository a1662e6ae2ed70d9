"""What may stand together: on one tooth, in one place, at one visit, in which order; by ``data/together.toml``.

:func:`clashes` holds a finished course against them; composing never makes one that clashes, and a test sweeps every
option of many mouths to show it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import combinations as pairs_of

from pydantic import TypeAdapter

from planner.rules.courses import Course
from planner.rules.evidence import DATA, Knowledge, read_toml
from planner.rules.treatments import Combination, Treatment, WorksOn


class PlaceRule(Knowledge):
    """Fillings of which a place takes one as final; what may stand in before it."""

    final: tuple[str, ...]
    interim: tuple[str, ...]
    words: str


class VisitRule(Knowledge):
    """Two flags of the catalogue that never belong to one visit."""

    never: tuple[str, str]
    words: str


class OrderRule(Knowledge):
    """What is worked on first, in one course."""

    first: WorksOn
    then: WorksOn
    words: str


@dataclass(frozen=True, slots=True)
class Rules:
    """Everything ``data/together.toml`` holds."""

    places: tuple[PlaceRule, ...]
    same_visit: tuple[VisitRule, ...]
    order: tuple[OrderRule, ...]


@cache
def rules() -> Rules:
    """The shipped rules, read once."""
    tables = read_toml(DATA / "together.toml")
    return Rules(
        TypeAdapter(tuple[PlaceRule, ...]).validate_python(tables["places"]),
        TypeAdapter(tuple[VisitRule, ...]).validate_python(tables["same_visit"]),
        TypeAdapter(tuple[OrderRule, ...]).validate_python(tables["order"]),
    )


@dataclass(frozen=True, slots=True)
class Clash:
    """Why two treatments cannot be together, one sentence each; empty where they can."""

    tooth: str
    visit: str


def clash(one: Treatment, two: Treatment) -> Clash:
    """What keeps two treatments off the same tooth, and off the same visit."""
    excluded = two.key in one.not_on_same_tooth or one.key in two.not_on_same_tooth
    tooth = f"“{one.name}” and “{two.name}” cannot stand on the same tooth." if excluded else ""
    visit = next(
        (
            rule.words
            for rule in rules().same_visit
            for a, b in (rule.never, rule.never[::-1])
            if a in one.flags and b in two.flags
        ),
        "",
    )
    return Clash(tooth, visit)


def fill_words(one: str, two: str) -> str:
    """Why two treatments cannot both fill one place for good; empty where one may stand in before the other."""
    for rule in rules().places:
        if one in rule.final and two in rule.final and not {one, two} & set(rule.interim):
            return rule.words
    return ""


def clashes(course: Course, treatments: Mapping[str, Treatment], combination: Combination | None) -> tuple[str, ...]:
    """Everything in ``course`` that contradicts itself, one sentence each; empty for a course that can be done."""
    parts = tuple(treatments[key] for key in course.treatments)
    found = (*_teeth(course, treatments), *_places(course), *_visits(combination, treatments), *_order(parts))
    return tuple(dict.fromkeys(found))


def _teeth(course: Course, treatments: Mapping[str, Treatment]) -> Iterator[str]:
    on: dict[object, list[str]] = {}
    for work in course.work:
        if work.tooth is not None:
            on.setdefault((work.tooth, work.fills_place), []).append(work.treatment)
            if work.fills_place and (work.tooth, False) in on:
                yield f"The {work.tooth.name} is worked on and replaced at once."
    for keys in on.values():
        for one, two in pairs_of(keys, 2):
            if one == two:
                yield f"“{treatments[one].name}” stands twice on one tooth."
            elif words := clash(treatments[one], treatments[two]).tooth:
                yield words


def _places(course: Course) -> Iterator[str]:
    filled: dict[object, list[str]] = {}
    for work in course.work:
        if work.fills_place:
            filled.setdefault(work.tooth, []).append(work.treatment)
    for keys in filled.values():
        for rule in rules().places:
            final = [key for key in keys if key in rule.final and not (key in rule.interim and key != keys[-1])]
            if len(final) > 1:
                yield rule.words
    taken_out = {work.tooth for work in course.work if work.extracted}
    for pair in course.gaps_closed:
        if set(pair) & set(course.places_filled) - taken_out:
            yield "A place is closed and filled in one course."


def _visits(combination: Combination | None, treatments: Mapping[str, Treatment]) -> Iterator[str]:
    for one, two in combination.same_visit if combination else ():
        if words := clash(treatments[one], treatments[two]).visit:
            yield words


def _order(parts: tuple[Treatment, ...]) -> Iterator[str]:
    if parts and parts[-1].works_on == "gum line":
        yield "The gum line is moved before other work, never by itself."
    for earlier, later in pairs_of(parts, 2):
        for rule in rules().order:
            if earlier.works_on == rule.then and later.works_on == rule.first:
                yield rule.words
