"""Where the gum will lie: papilla under a contact, height of the contacts, steps of the gum line.

Lengths are whole tenths of a millimetre, finer results Decimal millimetres. Numbers: data/proportions.toml.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from planner.rules.settings import read_settings
from planner.rules.teeth import Kind, Tooth
from planner.rules.units import positive_tenths


def _value(name: str) -> Any:
    return read_settings("proportions.toml")[name].value


@dataclass(frozen=True, slots=True)
class PapillaFill:
    """How often the papilla fills the space under a contact at this distance (0.1 mm) from the bone."""

    contact_to_bone: int
    of_100: int | None
    """None where the source prints words only."""
    words: str
    dark_triangle_likely: bool


def papilla_fill(contact_to_bone: int) -> PapillaFill:
    """The published chance of a full papilla by the distance (0.1 mm) from the contact down to the bone.

    Printed for 5, 6 and 7 mm; in between, the worse one. Raises ValueError unless above 0: an unknown distance is for
    the caller to ask about.
    """
    positive_tenths("contact to bone", contact_to_bone)
    row = next(row for row in _value("papilla_fill") if contact_to_bone <= row.get("up_to", contact_to_bone))
    return PapillaFill(contact_to_bone, row.get("of_100"), row["words"], contact_to_bone > _value("papilla_reach"))


def contact_lowering(contact_to_bone: int) -> int:
    """How far (0.1 mm) the lower end of the contact must come toward the gum for the papilla to fill reliably."""
    reach: int = _value("papilla_reach")
    return max(0, positive_tenths("contact to bone", contact_to_bone) - reach)


@dataclass(frozen=True, slots=True)
class Connectors:
    """Heights (mm) over which two crowns seem to touch."""

    central_central: Decimal
    central_lateral: Decimal
    lateral_canine: Decimal


def connector_heights(central_length: int, *, measured: bool = False) -> Connectors:
    """Connector heights for a central of this length (0.1 mm): the taught 50, 40 and 30 %, or the measured ones."""
    positive_tenths("central length", central_length)
    shares = _value("connector_percent_measured" if measured else "connector_percent")
    return Connectors(**{name: Decimal(central_length * share) / 1000 for name, share in shares.items()})


@dataclass(frozen=True, slots=True)
class GumStep:
    """The gum line step to expect, in millimetres toward the edge, and whether one that was measured is as expected."""

    low: Decimal
    mean: Decimal
    high: Decimal
    as_expected: bool
    source: str = field(compare=False)


def gum_step(standing: Tooth, step: int) -> GumStep:
    """Judge a gum line: ``step`` (0.1 mm) toward the edge is as expected within one standard deviation of the mean.

    For an upper lateral below the line from central to canine; for an upper premolar standing in the canine's place
    below the canine's line. Raises ValueError for a tooth without a published step.
    """
    name = {
        (Kind.LATERAL, 2): "lateral",
        (Kind.PREMOLAR, 4): "first_premolar",
        (Kind.PREMOLAR, 5): "second_premolar",
    }.get((standing.kind, standing.position))
    if name is None or not standing.upper:
        raise ValueError(f"tooth is the {standing.name}: gum steps are known for upper laterals and premolars only")
    return gum_step_of(name, step)


def gum_step_of(name: str, step: int, deviations: int | None = None) -> GumStep:
    """The same for what must look like a ``lateral``, or for a ``first_premolar`` or ``second_premolar`` as canine.

    As expected within so many ``deviations`` of the mean, by default the set number. Raises KeyError for another name.
    """
    setting = read_settings("proportions.toml")[f"gum_step_{name}"]
    many = _value("gum_step_width") if deviations is None else deviations
    mean, spread = Decimal(setting.value["mean"]), Decimal(setting.value["sd"]) * many
    low, high = mean - spread, mean + spread
    return GumStep(low, mean, high, low <= Decimal(step) / 10 <= high, setting.source)
