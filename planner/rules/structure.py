"""The account of tooth over a lifetime: what was taken before, what an option takes, and what renewing it will take.

Nothing here is a forecast for one tooth. Renewals are expected numbers read off the curves of
:mod:`planner.rules.survival`; each costs some tooth, and of 100 renewals some lead to a larger treatment. That chance
is applied to every option alike.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.rules.evidence import Evidence
from planner.rules.mouth import CaseFacts
from planner.rules.results import OptionShape
from planner.rules.survival import HUNDRED, unique
from planner.rules.teeth import Tooth
from planner.rules.treatment_parts import Renewal
from planner.rules.treatments import Treatment, treatment
from planner.rules.upkeep import Demand

AGES = (30, 50, 70)
"""The ages at which the account is drawn up, as far as they lie ahead."""

Range = tuple[Decimal, Decimal]
"""Low and high."""


@dataclass(frozen=True, slots=True)
class ToothLedger:
    """What one tooth has lost and would lose at the first placing, tenths of a millimetre and percent of the crown."""

    tooth: Tooth
    edge_before: int
    sides_before: int
    edge_now: int
    """Off the edge by reshaping."""
    face_now: int
    """Most at one point by any other treatment."""
    crown_percent: tuple[int, int]
    restored_before: bool | None
    """None where nobody noted it."""
    extracted: bool

    @property
    def edge_in_all(self) -> int:
        """Off the edge over the lifetime, tenths of a millimetre."""
        return self.edge_before + self.edge_now


@dataclass(frozen=True, slots=True)
class Renewals:
    """What renewing one treatment is expected to cost in tooth over a number of years."""

    treatment: str
    units: int
    """Teeth that carry it."""
    number: Decimal
    """Expected on all of them together, unrounded."""
    mm: Range
    """Lost with those renewals, on all teeth together."""
    step_ups: Decimal
    """Expected number of teeth that go on to a larger treatment."""
    next_larger: str
    extrapolated: bool
    """Some of the years lie beyond what was published."""
    rows: tuple[Evidence, ...]
    each_mm: Range
    """Lost with one renewal."""
    of_100: Decimal
    """Of 100 renewals, how many lead to a larger treatment."""


@dataclass(frozen=True, slots=True)
class AtAge:
    """The account at one age."""

    age: int
    years: int
    renewals: tuple[Renewals, ...]

    @property
    def number(self) -> Decimal:
        """Renewals expected by then."""
        return sum((each.number for each in self.renewals), Decimal(0))

    @property
    def mm(self) -> Range:
        """Lost with them, all teeth together."""
        low, high = (sum((each.mm[end] for each in self.renewals), Decimal(0)) for end in (0, 1))
        return low, high

    @property
    def step_ups(self) -> Decimal:
        """Teeth that go on to a larger treatment."""
        return sum((each.step_ups for each in self.renewals), Decimal(0))


@dataclass(frozen=True, slots=True)
class StructureAccount:
    """The account of one option."""

    teeth: tuple[ToothLedger, ...]
    at: tuple[AtAge, ...]
    edge_limit: int
    """Most that may come off an edge in a lifetime, tenths of a millimetre."""
    no_curve: tuple[str, ...]
    """Treatments that touch a tooth and whose renewals nobody has counted."""


def renewals(renewal: Renewal, demand: Demand, years: int) -> Renewals:
    """What the renewals that ``demand`` expects over ``years`` cost in tooth."""
    chances = (demand.chance(demand.hazards(year)) for year in range(1, years + 1))
    number, step_ups = expected(chances, demand.count, renewal.step_up.value)
    low, high = ends = _ends(renewal.removal)
    return Renewals(
        treatment=demand.treatment.key,
        units=demand.count,
        number=number,
        mm=(number * low, number * high),
        step_ups=step_ups,
        next_larger=renewal.next_larger,
        extrapolated=demand.extrapolated(years),
        rows=unique((*demand.rows(), renewal.removal, renewal.step_up)),
        each_mm=ends,
        of_100=renewal.step_up.value,
    )


def expected(chances: Iterable[Decimal], teeth: int, step_up_of_100: Decimal) -> tuple[Decimal, Decimal]:
    """Renewals and larger treatments expected on ``teeth`` teeth, from the yearly chances of a renewal.

    Expected renewals are the sum of the chances times the teeth (for a steady chance, teeth times years times chance,
    the mean of a binomial count); of 100 renewals ``step_up_of_100`` lead to a larger treatment.
    """
    number = teeth * sum(chances, Decimal(0))
    return number, number * step_up_of_100 / HUNDRED


def structure_account(
    option: OptionShape, asked: Sequence[Demand], treatments: Iterable[Treatment], facts: CaseFacts, age: int
) -> StructureAccount:
    """The account of ``option`` for somebody ``age`` years old; ``asked`` is its upkeep as it is counted."""
    parts = [part for part in treatments if part.key in option.treatments]
    lines = {part.key: _renewing(part, asked) for part in parts}
    return StructureAccount(
        teeth=tuple(_ledger(option, facts)),
        at=tuple(
            AtAge(
                at,
                at - age,
                tuple(
                    renewals(part.renewal, line, at - age)
                    for part in parts
                    if part.renewal is not None and (line := lines[part.key]) is not None
                ),
            )
            for at in AGES
            if at > age
        ),
        edge_limit=edge_limit(),
        no_curve=tuple(part.key for part in parts if part.renewal is None and _cuts(option, part)),
    )


def edge_limit() -> int:
    """Most that may come off an edge in a lifetime, tenths of a millimetre: what the gate of reshaping goes by."""
    gate = next(gate for gate in treatment("reshaping").gates if gate["id"] == "reshaping.limit")
    return int(gate["levels"][0]["above"] * 10)


def _renewing(part: Treatment, asked: Sequence[Demand]) -> Demand | None:
    """The upkeep line whose events are the renewals of ``part``: the one with the service of its renewal's curve."""
    if part.renewal is None:
        return None
    lines = [line for line in part.upkeep.lines if line.follows == part.renewal.follows and not line.less]
    # Where a share of the events are repairs, only the rest are renewals.
    service = next((line for line in lines if line.rest), lines[0]).service
    own = (each for each in asked if each.treatment.key == part.key and each.line.follows)
    return next((each for each in own if each.line.service == service), None)


def _cuts(option: OptionShape, part: Treatment) -> bool:
    return any(work.treatment == part.key and work.crown_percent_high for work in option.work)


def _ledger(option: OptionShape, facts: CaseFacts) -> Iterable[ToothLedger]:
    recorded = {found.tooth: found for found in facts.examination.teeth}
    before = {key for key, found in recorded.items() if found.edge_removed_before or found.sides_removed_before}
    for tooth in sorted({*option.teeth_touched, *before}):
        found = recorded.get(tooth)
        work = [line for line in option.work if line.tooth == tooth and not line.fills_place]
        yield ToothLedger(
            tooth=tooth,
            edge_before=found.edge_removed_before if found else 0,
            sides_before=found.sides_removed_before if found else 0,
            edge_now=sum(line.removal_tenths for line in work if line.treatment == "reshaping"),
            face_now=max((line.removal_tenths for line in work if line.treatment != "reshaping"), default=0),
            crown_percent=(
                max((line.crown_percent_low for line in work), default=0),
                max((line.crown_percent_high for line in work), default=0),
            ),
            restored_before=found.restored if found else None,
            extracted=any(line.extracted for line in work),
        )


def _ends(row: Evidence) -> Range:
    return (row.value if row.low is None else row.low, row.value if row.high is None else row.high)
