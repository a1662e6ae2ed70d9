"""The limits, caps, bands and weights of the space-sharing model, read once from ``data/space_limits.toml``.

Every setting carries its source and how it is known. An office or a dentist may set one otherwise with
:func:`with_limits`; the settings in force are part of the result's meaning and belong in whatever stores it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from math import floor, radians, tan
from typing import Any

from planner.rules.settings import Setting, read_settings


@dataclass(frozen=True, slots=True)
class PerTooth:
    """One setting that differs by kind or role of tooth; None where there is no such limit."""

    central: int | None = None
    lateral: int | None = None
    canine: int | None = None
    premolar: int | None = None
    primary: int | None = None

    def of(self, name: str) -> int | None:
        """The value for a kind or role, by its word ("central", "lateral", "canine", "premolar", "primary")."""
        value: int | None = getattr(self, name)
        return value


@dataclass(frozen=True, slots=True)
class Band:
    """Where misfit starts and what every tenth of a millimetre outside costs; unused bounds are 0."""

    weight: int = 0
    over: int = 0
    target: int = 0
    least: int = 0
    most_woman: int = 0
    most_else: int = 0

    def most(self, woman: bool | None) -> int:
        """The upper bound: the women's, or the other one for men and where it is not stated."""
        return self.most_woman if woman else self.most_else


@dataclass(frozen=True, slots=True)
class SpaceLimits:
    """All settings of the model. Lengths in tenths of a millimetre, ratios in hundredths; names as in the data file."""

    share_min: int
    lengthen_min: int
    shorten_min: int
    gap_left_min: int
    film_max: int
    share_cap_mesial: PerTooth
    share_cap_distal: PerTooth
    share_cap_undersized: int
    share_comfort: int
    emergence_limit_degrees: int
    emergence_comfort_degrees: int
    shorten_cap: int
    shorten_lifetime: int
    slender_cap: int
    lengthen_cap: PerTooth
    lengthen_cap_undersized: int
    lengthen_cap_canine_checked: int
    lengthen_comfort: int
    shape_floor: PerTooth
    shape_ceiling: PerTooth
    proportion_floor: int
    proportion_ceiling: int
    proportion_ceiling_canine: int
    twin_width: PerTooth
    twin_length: PerTooth
    midline_shift: int
    midline_offset: int
    band_central_width: Band
    band_central_length: Band
    band_lateral_width: Band
    band_canine_width: Band
    band_ratio: Band
    band_edge: Band
    band_lateral_length: Band
    band_player_width: Band
    band_player_lateral: Band
    band_midline: Band
    band_lengthening: Band
    touch_cost: Mapping[str, int]
    smallest_shares_margin: int
    plans_differ_contact: int
    plans_differ_lengthening: int
    gap_error: int
    explain_up_to: int
    remeasure_steps: int
    edge_step_preferred: Band

    def emergence_limit(self, contact_height: int) -> int:
        """Largest share (0.1 mm) that the side wall from gum to contact allows."""
        return rise(contact_height, self.emergence_limit_degrees)

    def comfort_limit(self, contact_height: int) -> int:
        """Largest share (0.1 mm) that does not count as beyond comfort."""
        return min(self.share_comfort, rise(contact_height, self.emergence_comfort_degrees))


def rise(height: int, degrees: int) -> int:
    """How far a side wall of so many degrees stands out at a height (both 0.1 mm), rounded down."""
    # The angle's tangent is the one real number of the model; it is floored at once. The small addition keeps an exact
    # value (45 degrees) from falling to the whole number below.
    return floor(height * tan(radians(degrees)) + 1e-9)


def settings() -> Mapping[str, Setting]:
    """Every setting of the data file by name, with its source."""
    return read_settings("space_limits.toml")


@cache
def default_limits() -> SpaceLimits:
    """The shipped settings. Raises ValueError when data file and model do not name the same settings."""
    raw = {name: setting.value for name, setting in settings().items()}
    known = {field.name: field.type for field in fields(SpaceLimits)}
    if raw.keys() != known.keys():
        odd = ", ".join(sorted(raw.keys() ^ known.keys()))
        raise ValueError(f"space_limits.toml and the model differ in these settings: {odd}")
    built: dict[str, Any] = {}
    for name, value in raw.items():
        kind: Any = known[name]
        built[name] = kind(**value) if kind in (PerTooth, Band) and isinstance(value, Mapping) else value
    return SpaceLimits(**built)


def with_limits(limits: SpaceLimits, changes: Mapping[str, int]) -> SpaceLimits:
    """The same settings with some set otherwise, by their names in the data file.

    Parts follow a dot: ``share_cap_mesial.central``. Values are in the setting's own unit. Raises ValueError for a name
    the model does not know or a value below 0.
    """
    for name, value in changes.items():
        head, _, part = name.partition(".")
        current = getattr(limits, head, None)
        changed: Any
        if value < 0:
            raise ValueError(f'"{name}" is set to {value}: a limit is 0 or more')
        if isinstance(current, int) and not part:
            changed = value
        elif isinstance(current, (PerTooth, Band)) and part in {field.name for field in fields(current)}:
            parts: dict[str, Any] = {part: value}
            changed = replace(current, **parts)
        elif isinstance(current, Mapping) and part in current:
            changed = {**current, part: value}
        else:
            raise ValueError(f'"{name}" is no setting of the space model: take a name from space_limits.toml')
        heads: dict[str, Any] = {head: changed}
        limits = replace(limits, **heads)
    return limits
