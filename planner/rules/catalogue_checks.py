"""What one file cannot know of itself: whether treatments, combinations and numbers fit together.

Each check gives what it is about (kind and key), where in its table, a text to look for where the place alone does not
lead there, and one sentence with what would be right.
"""

from collections.abc import Container, Iterable, Iterator, Mapping
from typing import Protocol

from planner.rules.evidence import Evidence
from planner.rules.together import clash
from planner.rules.treatment_parts import Charge, Step, UpkeepLine
from planner.rules.treatments import Combination, Treatment

Fault = tuple[str, str, tuple[str | int, ...], str, str]
"""Kind, key, position in its table, text to look for, sentence."""

_TEETH = frozenset({"teeth", "teeth with one surface", "teeth with two surfaces or more"})
COUNTED_FOR: Mapping[str, frozenset[str]] = {
    "per tooth": _TEETH | {"teeth worked", "places", "units"},
    "per surface": _TEETH,
    "per unit": frozenset({"teeth", "places", "units", "patient"}),
    "per arch": frozenset({"arches", "patient"}),
    "per patient": frozenset({"patient"}),
    "per contact": frozenset({"teeth"}),
    "first and further": frozenset({"teeth"}),
    "per visit": frozenset({"visits", "patient"}),
    "per time": frozenset({"visits", "patient"}),
    "pass-through": frozenset({"places", "teeth", "patient"}),
    "course": frozenset({"patient"}),
    "included": frozenset({"teeth", "places", "arches", "patient", "visits"}),
}
"""What the quantity of a charge may be, by the shape of the fee."""
ONE_OF_A_KIND = ("nothing", "edges", "spaces")
"""What exactly one treatment works on: sharing the space and the choice of no treatment are built around it."""


class HasAll(Protocol):
    """A catalogue; see :class:`planner.rules.catalogue.Catalogue`."""

    @property
    def treatments(self) -> Mapping[str, Treatment]: ...
    @property
    def combinations(self) -> Mapping[str, Combination]: ...
    @property
    def evidence(self) -> Mapping[str, Evidence]: ...


def faults_within(
    catalogue: HasAll,
    services: Mapping[str, str],
    own: Iterable[tuple[str, str]],
    failed: Container[str] = (),
) -> Iterator[Fault]:
    """Every fault of what is in ``own`` (kind and key); ``services`` are known by key, with their shape.

    ``failed`` are keys whose own tables are wrong already, so that naming them is no fault of its own.
    """
    wanted = sorted(own)
    for kind, key in wanted:
        match kind:
            case "evidence":
                yield from _of_row(catalogue.evidence[key], catalogue)
            case "treatment":
                yield from _of_treatment(catalogue.treatments[key], catalogue, services)
            case _:
                yield from _of_combination(catalogue.combinations[key], catalogue, services, failed)
    for what in ONE_OF_A_KIND:
        found = [each.key for each in catalogue.treatments.values() if each.works_on == what]
        for key in found if len(found) > 1 else ():
            if ("treatment", key) in wanted:
                words = f'works_on = "{what}": exactly one treatment does, and {", ".join(found)} do'
                yield "treatment", key, ("works_on",), "", words


def _of_row(row: Evidence, catalogue: HasAll) -> Iterator[Fault]:
    def fault(field: str, words: str) -> Fault:
        return "evidence", row.key, (field,), "", words

    if row.certainty in ("published", "abstract", "secondary") and not row.citation:
        yield fault("certainty", f'"{row.key}" is "{row.certainty}", but no source is named: add its citation')
    elif not (row.citation or row.note):
        yield fault("certainty", f'"{row.key}" has neither a source nor a note: say where the number comes from')
    if not row.unit:
        yield fault("unit", f'"{row.key}" has no unit: say what {row.value} is counted in')
    for other in row.conflicts:
        if other not in catalogue.evidence:
            yield fault("conflicts", f'"{row.key}" conflicts with "{other}", which is not there')


def _of_treatment(it: Treatment, catalogue: HasAll, services: Mapping[str, str]) -> Iterator[Fault]:
    def fault(where: tuple[str | int, ...], words: str) -> Fault:
        return "treatment", it.key, where, "", words

    for other in it.not_on_same_tooth:
        if words := _never_meets(it, other, catalogue):
            yield fault(("not_on_same_tooth",), words)
    asked: list[tuple[tuple[str | int, ...], Charge | UpkeepLine]] = [
        *((("charges", place), charge) for place, charge in enumerate(it.charges)),
        *((("upkeep", "lines", place), line) for place, line in enumerate(it.upkeep.lines)),
    ]
    for where, one in asked:
        for other in one.not_with:
            if words := _never_with(it, other, catalogue):
                yield fault((*where, "not_with"), words)
        if one.service not in services:
            yield fault((*where, "service"), _unknown_service(one.service))
    for place, charge in enumerate(it.charges):
        yield from (fault(("charges", place, *where), words) for where, words in _of_charge(charge, services))
    for place, care in enumerate(it.after):
        if care.service and care.service not in services:
            yield fault(("after", place, "service"), _unknown_service(care.service))
    for place, visit in enumerate(it.visits):
        if visit.wait is not None:
            yield from (fault(("visits", place, "wait"), words) for words in _not_in("days", visit.wait))
    for place, step in enumerate(it.steps):
        yield from (fault(("steps", place, *where), words) for where, words in _of_step(step, it, catalogue))
    for place, line in enumerate(it.upkeep.lines):
        if line.every_months is not None:
            spot = ("upkeep", "lines", place, "every_months")
            yield from (fault(spot, words) for words in _not_in("months", line.every_months))
    if it.months is not None:
        yield from (fault(("months", "evidence"), words) for words in _not_in("months", it.months.evidence))
    for name, row in (("thickness", it.removal.thickness), ("edge", it.removal.edge)):
        if row is not None:
            yield from (fault(("removal", name), words) for words in _not_in("mm", row))


def _of_step(step: Step, it: Treatment, catalogue: HasAll) -> Iterator[tuple[tuple[str | int, ...], str]]:
    for field in ("others_first", "others_then"):
        for other in getattr(step, field):
            treatment, _, name = other.partition(".")
            known = catalogue.treatments.get(treatment)
            # An office may take a shipped treatment away: a step of one that is not there orders nothing.
            if known is not None and all(each.id != name for each in known.steps):
                yield (field,), f'step {step.id} goes by "{other}", which "{treatment}" does not have'
    for place, timer in enumerate(step.timers):
        yield from ((("timers", place, "seconds"), words) for words in _not_in("s", timer.seconds))
    for material in step.uses:
        if material not in it.materials:
            yield ("uses",), f'step {step.id} uses "{material}", which is not among the materials of "{it.key}"'


def _of_combination(
    it: Combination, catalogue: HasAll, services: Mapping[str, str], failed: Container[str]
) -> Iterator[Fault]:
    def fault(where: tuple[str | int, ...], words: str) -> Fault:
        return "combination", it.key, where, "", words

    unknown = [key for key in it.treatments if key not in catalogue.treatments]
    for key in (each for each in unknown if each not in failed):
        yield fault(("treatments",), f'"{key}" is no treatment of the catalogue')
    for place, wait in enumerate(it.waits):
        for name, row in (("days", wait.days), ("least", wait.least)):
            if row is not None:
                yield from (fault(("waits", place, name), words) for words in _not_in("days", row))
    for place, charge in enumerate(it.charges):
        if charge.service not in services:
            yield fault(("charges", place, "service"), _unknown_service(charge.service))
        yield from (fault(("charges", place, *where), words) for where, words in _of_charge(charge, services))
    if unknown:
        return
    if catalogue.treatments[it.treatments[-1]].works_on == "gum line":
        yield fault(("treatments",), "the gum line is moved before other work, never as the last of a course")
    for one, two in it.same_visit:
        if words := clash(catalogue.treatments[one], catalogue.treatments[two]).visit:
            yield fault(("same_visit",), words)


def _of_charge(charge: Charge, services: Mapping[str, str]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if charge.one_arch and charge.one_arch not in services:
        yield ("one_arch",), _unknown_service(charge.one_arch)
    shape = services.get(charge.service)
    if shape is not None and charge.counted not in COUNTED_FOR.get(shape, frozenset()):
        right = " or ".join(sorted(COUNTED_FOR.get(shape, ())))
        yield ("counted",), f'"{charge.service}" is charged "{shape}": count {right}, not {charge.counted}'


def _unknown_service(service: str) -> str:
    return f'"{service}" is no service that price lists carry: add it to the price list first, or use another'


def _not_in(unit: str, row: Evidence) -> Iterator[str]:
    if row.unit != unit and (unit, row.unit) != ("days", "nights"):
        yield f'"{row.key}" is counted in {row.unit or "nothing"}, and {unit} are wanted here'


def _never_meets(it: Treatment, other: str, catalogue: HasAll) -> str:
    if other == it.key:
        return f'it excludes itself: leave "{other}" out'
    if other not in catalogue.treatments:
        return f'it excludes "{other}", which is no treatment of the catalogue'
    apart = ("nothing", "whole mouth", "teeth moved")
    for one in (it, catalogue.treatments[other]):
        if one.works_on in apart:
            return f'it excludes "{other}" on one tooth, but "{one.key}" works on no single tooth: they never meet'
    return ""


def _never_with(it: Treatment, other: str, catalogue: HasAll) -> str:
    if other not in catalogue.treatments:
        return f'it is left out together with "{other}", which is no treatment of the catalogue'
    if not any({it.key, other} <= set(each.treatments) for each in catalogue.combinations.values()):
        return f'it is left out together with "{other}", but no combination joins the two: they never meet'
    return ""
