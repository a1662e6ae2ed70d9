"""The step sheet of a visit: what is done in which order, by whom, with what, for how long, where work may stop.

The order is that of the treatments' graphs (:mod:`planner.rules.step_order`), the minutes those that were booked
(:mod:`planner.rules.visit_minutes`), the shares those of the plan that was accepted. A step names its materials; the
amount is that of the whole visit. Whoever treats decides: a maker's instructions and what is found go before the sheet.
"""

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from planner.rules.cents import half_up
from planner.rules.courses import Course, Work
from planner.rules.curing import cure_time
from planner.rules.materials import Need
from planner.rules.mouth import Allergy, CaseFacts, History
from planner.rules.results import GapShape
from planner.rules.settings import read_settings
from planner.rules.step_order import key_of, steps_of_visit
from planner.rules.stopping import StopPoint
from planner.rules.teeth import Tooth
from planner.rules.tooth_sizes import target_size
from planner.rules.treatment_parts import Step
from planner.rules.treatments import Treatment
from planner.rules.visit_minutes import StepTime, VisitMinutes


@dataclass(frozen=True, slots=True)
class SheetTooth:
    """One tooth of the visit, millimetres in tenths; in the order in which the teeth are worked."""

    tooth: Tooth
    mesial: int
    distal: int
    edge: int
    """Added to the edge; below zero where it is shortened."""
    width: int
    width_after: int
    length: int
    length_after: int
    tape: tuple[Tooth, ...]
    """Neighbours that a clear strip or tape shields."""
    surfaces: int
    built: bool
    """Done in the steps that go tooth by tooth."""
    may_stop: bool | None = None
    """Whether work may stop once it is finished; None where it is not one of several."""
    why_not: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Use:
    """A material used in a step, with the amount for the whole visit; its lot number is written down."""

    material: str
    words: str
    amount: str


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One step, once for everything it is done to."""

    key: str
    """``bonding.A12``."""
    words: str
    short: str
    who: str
    times: int
    seconds: int
    """Usual seconds for all of it together, as booked; of a step under a finding, not in any sum."""
    timers: tuple[str, ...]
    checks: tuple[str, ...]
    record: str
    why: str
    only_if: str
    uses: tuple[Use, ...]
    tooth_by_tooth: bool
    per_surface: bool
    block: str
    """The office's block of minutes that it lies in, as its clock names it: ``bonding.bonding.per-tooth``."""
    source: str
    certainty: str
    """Of the minutes."""


@dataclass(frozen=True, slots=True)
class StepSheet:
    """Everything a step sheet says. :func:`runs` lays it out tooth by tooth."""

    visit: str
    """Key of the visit of the course."""
    words: str
    cautions: tuple[str, ...]
    teeth: tuple[SheetTooth, ...]
    gaps_open: tuple[tuple[Tooth, Tooth, int], ...]
    """Gaps at the teeth of this visit that stay open on purpose: between which, and how wide."""
    steps: tuple[SheetStep, ...]
    minutes: int
    """Usual minutes of the whole visit."""
    eight_in_ten: int
    light_seconds: int
    """Of all cures at the shortest."""
    light: tuple[tuple[int, int], ...]
    """Lamp outputs in mW/cm² with the seconds that one portion needs at each, through a sleeve; none without a cure."""


def step_sheet(
    visit: VisitMinutes,
    course: Course,
    parts: Mapping[str, Treatment],
    facts: CaseFacts,
    needs: Sequence[Need],
    gaps: Sequence[GapShape] = (),
) -> StepSheet:
    """The step sheet of ``visit``, a visit of ``course``.

    ``parts`` are the treatments by key, ``needs`` what the visit takes from the shelf, ``gaps`` those of the plan for
    sharing the space that the course carries out. Raises ValueError for a visit of which no steps are known.
    """
    if not visit.steps:
        raise ValueError(f"“{visit.words}” has no steps: they stand in the files of the treatments")
    done = _done(visit, parts)
    order = {key_of(named): named[1] for named in steps_of_visit(done)}
    used = _uses(order, needs)
    steps = tuple(_step(each, order[f"{each.of}.{each.id}"], used) for each in visit.steps)
    teeth = tuple(_teeth(visit, course, parts, facts, gaps))
    mine = {row.tooth for row in teeth}
    return StepSheet(
        visit.key,
        visit.words,
        cautions(facts.history),
        teeth,
        tuple(
            (gap.right_tooth, gap.left_tooth, gap.left_open_tenths)
            for gap in gaps
            if gap.left_open_tenths and mine & {gap.right_tooth, gap.left_tooth}
        ),
        steps,
        half_up(Fraction(visit.time.usual)),
        visit.time.eight_in_ten,
        visit.light_seconds,
        _light() if visit.light_seconds else (),
    )


def _light() -> tuple[tuple[int, int], ...]:
    outputs: list[int] = read_settings("step_sheet.toml")["lamp_outputs"].value
    return tuple((output, cure_time(output, barrier=True).seconds or 0) for output in outputs)


def cautions(history: History) -> tuple[str, ...]:
    """What everybody at the chair is told of allergies, and of what nobody asked about."""
    found = []
    for row in read_settings("step_sheet.toml")["cautions"].value:
        said = getattr(history, row["fact"])
        words = row["yes"] if said else row["unknown"] if said is None else ""
        if words:
            found.append(words)
    return tuple(found)


def forbidden(history: History, parts: Sequence[Treatment]) -> tuple[tuple[str, str], ...]:
    """Why no sheet is printed for ``parts`` with this history, each with what settles it; empty where one may be.

    An allergy to something that is used, or one that is only suspected. The gates say the same of the whole option;
    here it is asked of what is done at one visit, whatever was overridden. Common practice, no source.
    """
    found = []
    flags = {flag for part in parts for flag in part.flags}
    names = " and ".join(part.name for part in parts)
    if flags & {"resin", "acrylic"}:
        if history.methacrylate == Allergy.POSITIVE:
            found.append(
                (
                    f"An allergy to methacrylate is on record, and {names} brings it into the mouth.",
                    "A dermatologist or allergist writes otherwise, or another option is chosen.",
                )
            )
        if history.methacrylate == Allergy.SUSPECTED:
            found.append(
                (
                    f"An allergy to methacrylate is suspected, and {names} brings it into the mouth.",
                    "A patch test; its answer is entered in the history.",
                )
            )
    if "peroxide" in flags and history.peroxide:
        found.append(
            (f"An allergy to peroxide is on record, and {names} uses it.", "Whitening is dropped from the plan.")
        )
    return tuple(found)


# ------------------------------------------------------------------------------------------------------- one by one


@dataclass(frozen=True, slots=True)
class Run:
    """One thing to tick: a step, or a step at one tooth."""

    key: str
    """``bonding.A12`` or ``bonding.A12@21``: of the step, and of the tooth where it goes tooth by tooth."""
    step: SheetStep
    tooth: Tooth | None
    seconds: int
    """Usual seconds, as booked."""
    stop_after: SheetTooth | None = None
    """The tooth that is finished by it, where work may stop or must not."""


def runs(sheet: StepSheet) -> tuple[Run, ...]:
    """Every step in working order, those that go tooth by tooth once for each tooth, one tooth after the other."""
    found: list[Run] = []
    teeth = [row for row in sheet.teeth if row.built]
    place = 0
    while place < len(sheet.steps):
        step = sheet.steps[place]
        if not step.tooth_by_tooth or not teeth:
            found.append(Run(step.key, step, None, step.seconds))
            place += 1
            continue
        end = place
        while end < len(sheet.steps) and sheet.steps[end].tooth_by_tooth:
            end += 1
        for number, row in enumerate(teeth):
            for each in sheet.steps[place:end]:
                last = each is sheet.steps[end - 1] and row.may_stop is not None
                seconds = _share(each, teeth, number)
                found.append(Run(f"{each.key}@{row.tooth.key}", each, row.tooth, seconds, row if last else None))
        place = end
    return tuple(found)


def _share(step: SheetStep, teeth: Sequence[SheetTooth], number: int) -> int:
    """A tooth's part of the seconds of a step: by its surfaces where those are counted; all parts make up the whole."""
    weights = [row.surfaces if step.per_surface else 1 for row in teeth]
    before, whole = sum(weights[:number]), sum(weights)
    return half_up(Fraction(step.seconds * (before + weights[number]), whole)) - half_up(
        Fraction(step.seconds * before, whole)
    )


# ------------------------------------------------------------------------------------------------------------ parts


def _done(visit: VisitMinutes, parts: Mapping[str, Treatment]) -> list[tuple[Treatment, str]]:
    """The treatments done at the visit with the keys of their own visits, the visit's own last."""
    own = visit.key.partition("#")[0].partition(".")[0]
    keys = dict.fromkeys(step.of for step in visit.steps)
    ordered = [key for key in keys if key != own] + [own]
    found = []
    for key in ordered:
        ids = {step.id for step in visit.steps if step.of == key}
        of_visit = dict.fromkeys(step.visit for step in parts[key].steps if step.id in ids)
        found += [(parts[key], name) for name in of_visit]
    return found


def _uses(order: Mapping[str, Step], needs: Sequence[Need]) -> dict[str, tuple[Use, ...]]:
    """For each step its materials; the amount of the whole visit stands at the first step that uses one."""
    instead: dict[str, str] = read_settings("materials.toml")["latex_free_instead"].value
    known = {need.material: need for need in needs}
    swapped = {without: known[with_latex] for with_latex, without in instead.items() if with_latex in known}
    said: set[str] = set()
    found: dict[str, tuple[Use, ...]] = {}
    for key, step in order.items():
        uses = []
        for material in step.uses:
            need = known.get(material) or swapped.get(material)
            if need is None:
                continue
            uses.append(Use(need.material, need.words, "" if need.material in said else need.said))
            said.add(need.material)
        found[key] = tuple(uses)
    return found


def _step(time: StepTime, step: Step, used: Mapping[str, tuple[Use, ...]]) -> SheetStep:
    key = f"{time.of}.{time.id}"
    return SheetStep(
        key=key,
        words=step.words,
        short=step.short or step.words,
        who=step.who,
        times=time.times,
        seconds=half_up(Fraction(time.span.usual) * 60),
        timers=tuple(timer.said for timer in step.timers),
        checks=step.checks,
        record=step.record,
        why=step.why,
        only_if=step.only_if,
        uses=used[key],
        tooth_by_tooth=step.tooth_by_tooth,
        per_surface=step.block == "per surface",
        block=f"{time.of}.{step.visit}.{'per-tooth' if step.block.startswith('per ') else step.block}",
        source=step.source,
        certainty=step.certainty,
    )


def _teeth(
    visit: VisitMinutes,
    course: Course,
    parts: Mapping[str, Treatment],
    facts: CaseFacts,
    gaps: Sequence[GapShape],
) -> Iterator[SheetTooth]:
    """The teeth of the visit: those built in the order that leaves most places to stop, then those only cut."""
    stops = {stop.done[-1]: stop for stop in visit.stops}
    built = tuple(stops) or visit.teeth
    treatments = {step.of for step in visit.steps}
    edges = {key for key in treatments if parts[key].works_on == "edges"}
    others = [
        line.tooth
        for line in course.work
        if line.treatment in edges and line.tooth is not None and line.tooth not in built and line.removal
    ]
    for tooth in dict.fromkeys((*built, *others)):
        lines = [line for line in course.work if line.tooth == tooth and line.treatment in treatments]
        yield _tooth(tooth, lines, edges, facts, gaps, stops.get(tooth), tooth in built)


def _tooth(
    tooth: Tooth,
    lines: Sequence[Work],
    edges: Container[str],
    facts: CaseFacts,
    gaps: Sequence[GapShape],
    stop: StopPoint | None,
    built: bool,
) -> SheetTooth:
    size = target_size(tooth, lines, edges, facts)
    beside = [gap.left_tooth if gap.right_tooth == tooth else gap.right_tooth for gap in gaps if _at(gap, tooth)]
    return SheetTooth(
        tooth=tooth,
        mesial=size.mesial,
        distal=size.distal,
        edge=size.edge,
        width=size.width,
        width_after=size.width_after,
        length=size.length,
        length_after=size.length_after,
        tape=tuple(beside) if built and (size.mesial or size.distal or size.edge > 0) else (),
        surfaces=max(1, sum(line.surfaces for line in lines)),
        built=built,
        may_stop=stop.safe if stop is not None else None,
        why_not=stop.why_not if stop is not None else (),
    )


def _at(gap: GapShape, tooth: Tooth) -> bool:
    return tooth in (gap.right_tooth, gap.left_tooth)


def sheet_of(data: Mapping[str, Any]) -> StepSheet:
    """A step sheet read back from its frozen JSON. Raises KeyError and ValueError for what is none."""
    return StepSheet(
        data["visit"],
        data["words"],
        tuple(data["cautions"]),
        tuple(
            SheetTooth(
                **(
                    row
                    | {
                        "tooth": Tooth.from_key(row["tooth"]),
                        "tape": tuple(map(Tooth.from_key, row["tape"])),
                        "why_not": tuple(row["why_not"]),
                    }
                )
            )
            for row in data["teeth"]
        ),
        tuple((Tooth.from_key(right), Tooth.from_key(left), open_) for right, left, open_ in data["gaps_open"]),
        tuple(
            SheetStep(
                **(
                    row
                    | {name: tuple(row[name]) for name in ("timers", "checks")}
                    | {"uses": tuple(Use(**use) for use in row["uses"])}
                )
            )
            for row in data["steps"]
        ),
        data["minutes"],
        data["eight_in_ten"],
        data["light_seconds"],
        tuple((output, seconds) for output, seconds in data["light"]),
    )
