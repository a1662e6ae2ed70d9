"""The catalogue of treatments: what each is, takes away, asks of the patient, may do, costs in work and may come to.

One TOML file per treatment lies in ``data/treatments``; a file more is a treatment more, without a line of code. Every
clinical number in it is the key of an evidence row (:mod:`planner.rules.evidence`). Minutes are starting values that an
office replaces by its own. Courses made of several treatments (``braces-then-bonding``) are described in
``data/combinations.toml`` and composed elsewhere.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from planner.rules.clock import order_steps
from planner.rules.evidence import (
    DATA,
    DataFault,
    Evidence,
    EvidenceRef,
    Key,
    Knowledge,
    Line,
    all_evidence,
    load_evidence,
    read_toml,
    told,
)
from planner.rules.gate_rules import Condition
from planner.rules.treatment_parts import (
    AfterCare,
    Benefit,
    CareLine,
    Charge,
    Flag,
    Harm,
    Months,
    Removal,
    Renewal,
    Risk,
    Step,
    Upkeep,
    Visit,
)

WorksOn = Literal["nothing", "edges", "spaces", "faces", "crowns", "places", "whole mouth", "teeth moved", "gum line"]
"""What a treatment works on, and so which findings propose it. ``nothing`` is the choice of no treatment; ``edges`` are
those a dentist wants shorter; ``spaces`` are shared by adding; ``faces`` cover the teeth that the shared spaces touch,
or that are to be larger; ``crowns`` do too, or go on teeth that are mostly gone or carry a leaking crown; ``places``
are empty places; ``teeth moved`` is proposed where adding cannot share the spaces, or before other work; ``gum line``
is only ever part of a combination."""


class Treatment(Knowledge):
    """One treatment as the catalogue knows it."""

    key: Key
    name: str
    name_es: str
    plain: Line
    """What happens, in plain words."""
    does: tuple[Line, ...] = ()
    does_not: tuple[Line, ...] = ()
    fits: tuple[Line, ...] = ()
    undo: Literal[0, 1, 2]
    """0 fully, 1 nearly, 2 no."""
    undo_words: Line
    flags: tuple[Flag, ...] = ()
    works_on: WorksOn
    """What gives it something to do; :mod:`planner.rules.compose` makes courses of it by this."""
    carried_by: Literal["", "one neighbour", "both neighbours"] = ""
    """Who carries a false tooth that stands on no root of its own."""
    interim: bool = False
    """Only for the time until something else can be made: never recommended by itself."""
    suggested_when: tuple[Condition, ...] = ()
    """Proposed only where one of these facts of the case file holds; left out for a treatment for everybody."""
    both_arches: bool = False
    """Made for both arches; everything else is for the upper one."""
    removal: Removal = Removal()
    removal_words: Line
    repair: Line
    life: Line
    """How long it lasts, in words."""
    you_must: tuple[Line, ...] = ()
    later: tuple[Line, ...] = ()
    """What it means for later choices."""
    after: tuple[AfterCare, ...] = ()
    care: tuple[CareLine, ...] = ()
    """What the patient takes home after its visits."""
    not_on_same_tooth: tuple[Key, ...] = ()
    months: Months | None = None
    visits: tuple[Visit, ...] = ()
    steps: tuple[Step, ...] = ()
    materials: tuple[Key, ...] = ()
    """Keys into the office book."""
    charges: tuple[Charge, ...] = ()
    benefits: tuple[Benefit, ...] = ()
    risks: tuple[Risk, ...] = ()
    lasting_harm: tuple[Harm, ...] = ()
    upkeep: Upkeep = Upkeep()
    renewal: Renewal | None = None
    gates: tuple[Mapping[str, Any], ...] = ()
    """Raw tables; :mod:`planner.rules.gates` reads them."""

    @property
    def fills_place(self) -> bool:
        """Whether a false tooth or an implant crown comes to stand in an empty place."""
        return self.works_on == "places"

    @property
    def adds(self) -> bool:
        """Whether it makes teeth larger by adding alone, so that sharing the space has a say in it."""
        return self.works_on == "spaces" or (self.works_on == "faces" and self.removal.planned == "least")

    @property
    def covers(self) -> bool:
        """Whether it covers whole teeth, the ones that the spaces ask for among them."""
        return self.works_on in ("faces", "crowns")

    @property
    def surgery(self) -> bool:
        """Whether it is an operation."""
        return "surgery" in self.flags

    def named(self, language: str = "en") -> str:
        """The name in ``language``."""
        return self.name_es if language == "es" else self.name

    def visit(self, key: str) -> Visit:
        """The visit called ``key``. Raises LookupError when there is none."""
        for visit in self.visits:
            if visit.key == key:
                return visit
        raise LookupError(f'"{self.key}" has no visit called "{key}"')

    def steps_in_order(self, visit: str | None = None) -> tuple[Step, ...]:
        """The steps so that each stands after all it waits for, else as written in the file; of one visit or of all."""
        return tuple(step for step in _in_order(self.steps) if visit in (None, step.visit))

    def lasting_harm_of_100(self, teeth: int, places: int) -> Decimal:
        """Lasting harms expected among 100 people who have it done on ``teeth`` teeth and ``places`` places."""
        times = {"tooth": teeth, "place": places, "person": 1}
        return sum((harm.of_100 * times[harm.per] for harm in self.lasting_harm), Decimal(0))

    @model_validator(mode="after")
    def _carried(self) -> Self:
        if self.carried_by and not self.fills_place:
            raise ValueError('carried_by belongs to works_on = "places": only a false tooth is carried')
        return self

    @model_validator(mode="after")
    def _whole(self) -> Self:
        visits = [visit.key for visit in self.visits]
        ids = [step.id for step in self.steps]
        for name, found in (("visit", visits), ("step", ids)):
            if len(set(found)) != len(found):
                raise ValueError(f"two {name}s have the same key")
        for visit in self.visits:
            if visit.counted_from and visit.counted_from not in visits:
                raise ValueError(f'visit "{visit.key}" counts from "{visit.counted_from}", which is not there')
        for line in self.care:
            for visit_key in line.visits:
                if visit_key not in visits:
                    raise ValueError(f'a line of after-care belongs to the visit "{visit_key}", which is not there')
        for step in self.steps:
            if step.visit not in visits:
                raise ValueError(f'step {step.id} belongs to the visit "{step.visit}", which is not there')
            for before in step.after:
                if before not in ids:
                    raise ValueError(f"step {step.id} comes after {before}, which is not there")
        if self.renewal is not None:
            try:
                self.upkeep.curve(self.renewal.follows)
            except LookupError as fault:
                raise ValueError(str(fault)) from None
        _in_order(self.steps)
        return self


def _in_order(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """The steps so that each stands after all it waits for. Raises ValueError for a circle."""
    known = {step.id: step for step in steps}
    return tuple(known[key] for key in order_steps([(step.id, step.after) for step in steps]))


class Wait(Line):
    """A wait between two treatments of a combination."""

    after: Key
    before: Key
    days: EvidenceRef
    """Days from the end of the one to the start of the other, with low and high where there are."""
    least: EvidenceRef | None = None
    """A shorter wait that a dentist may allow by name and reason."""


class Combination(Knowledge):
    """Several treatments as one course, in order, with the waits between them."""

    key: Key
    name: str
    name_es: str
    plain: Line
    treatments: Annotated[tuple[Key, ...], Field(min_length=1)]
    """In calendar order."""
    later: tuple[Key, ...] = ()
    """What follows years later: named and priced beside the course, but not part of it and judged anew then."""
    below_age: EvidenceRef | None = None
    """Proposed only to those younger than this, in whole years."""
    does_not: tuple[Line, ...] = ()
    """What the whole course does not do: what one part cannot do another may, so the parts' own are not joined."""
    benefits: tuple[Benefit, ...] = ()
    """The good sides of the whole course; left out, those of its parts."""
    waits: tuple[Wait, ...] = ()
    same_visit: tuple[tuple[Key, Key], ...] = ()
    """Pairs done at one visit, the first before the second."""
    charges: tuple[Charge, ...] = ()
    """Lines that only the combination asks for."""
    months: Months | None = None

    @model_validator(mode="after")
    def _of_its_treatments(self) -> Self:
        if len(self.treatments) + len(self.later) < 2:
            raise ValueError("a combination joins at least two treatments, those that come later included")
        named = {key for wait in self.waits for key in (wait.after, wait.before)}
        named |= {key for pair in self.same_visit for key in pair}
        for key in sorted(named - set(self.treatments)):
            raise ValueError(f'"{key}" has a wait or a visit here but is not one of the treatments')
        return self


def load_treatments(folder: Path, rows: Mapping[str, Evidence] | None = None) -> Mapping[str, Treatment]:
    """Every treatment of ``folder/*.toml`` by key, sorted.

    ``rows`` are the evidence rows to use; the shipped ones by default, together with ``folder/evidence`` where that
    exists. Raises DataFault with file, field and reason for a file that is wrong or whose name is not the key.
    """
    known = dict(all_evidence() if rows is None else rows)
    known |= load_evidence(folder / "evidence")
    found: dict[str, Treatment] = {}
    for path in sorted(folder.glob("*.toml")):
        try:
            treatment = Treatment.model_validate(read_toml(path), context={"evidence": known})
        except ValidationError as fault:
            raise told(path, fault) from None
        if treatment.key != path.stem:
            raise DataFault(f'{path.name}: the treatment calls itself "{treatment.key}": key and file name must agree')
        found[treatment.key] = treatment
    return MappingProxyType(found)


def load_combinations(path: Path, treatments: Iterable[str]) -> Mapping[str, Combination]:
    """Every combination of the file by key. Raises DataFault for a wrong table or an unknown treatment."""
    known = set(treatments)
    found: dict[str, Combination] = {}
    for table in read_toml(path).get("combinations", []):
        try:
            combination = Combination.model_validate(table)
        except ValidationError as fault:
            raise told(path, fault) from None
        unknown = sorted({*combination.treatments, *combination.later} - known)
        if unknown or combination.key in found:
            why = f'knows no treatment "{unknown[0]}"' if unknown else "stands twice"
            raise DataFault(f'{path.name}: the combination "{combination.key}" {why}')
        found[combination.key] = combination
    return MappingProxyType(found)


@cache
def all_treatments() -> Mapping[str, Treatment]:
    """Every shipped treatment by key."""
    return load_treatments(DATA / "treatments")


@cache
def all_combinations() -> Mapping[str, Combination]:
    """Every shipped combination by key."""
    return load_combinations(DATA / "combinations.toml", all_treatments())


def treatment(key: str) -> Treatment:
    """The shipped treatment called ``key``. Raises LookupError with a sentence when there is none."""
    try:
        return all_treatments()[key]
    except KeyError:
        known = ", ".join(all_treatments())
        raise LookupError(f'no treatment is called "{key}"; there are: {known}') from None
