"""One course of treatment as plain work: which teeth are touched, how, and in which order.

A course is what gates, minutes, materials, fees and upkeep all read. It is composed in :mod:`planner.rules.compose`
from the findings, the wishes and the shared spaces; nothing in it is a verdict or a price.
"""

from dataclasses import dataclass

from planner.rules.teeth import Tooth


@dataclass(frozen=True, slots=True)
class Work:
    """What one treatment does to one tooth, one place, one arch or the whole mouth."""

    treatment: str
    """Key of the treatment, the name of its data file, such as ``bonding``."""
    tooth: Tooth | None = None
    """The tooth worked on, or the place filled; None for arch- and mouth-wide work."""
    surfaces: int = 0
    """For additions: touched sides plus the edge, unless the dentist set otherwise."""
    mesial: int = 0
    distal: int = 0
    """Resin added on each side, tenths of a millimetre."""
    lengthening: int = 0
    removal: int = 0
    """Most that is taken off this tooth at one point, tenths of a millimetre."""
    narrower: bool = False
    """What is removed comes off a side, not off the edge."""
    crown_percent: tuple[int, int] = (0, 0)
    """Share of the crown removed, low and high, percent."""
    fills_place: bool = False
    """A false tooth or implant crown comes to stand here."""
    irreversible: bool = False
    """The tooth itself is reduced or lost, beyond what can be added back."""
    extracted: bool = False
    """The tooth is taken out."""


@dataclass(frozen=True, slots=True)
class Course:
    """One possible course of treatment, alone or combined."""

    key: str
    treatments: tuple[str, ...]
    """Keys of the treatments in calendar order."""
    work: tuple[Work, ...]
    gaps_closed: tuple[tuple[Tooth, Tooth], ...] = ()
    gaps_left: tuple[tuple[Tooth, Tooth, int], ...] = ()
    places_filled: tuple[Tooth, ...] = ()
    space_plan: str = ""
    """Which of the space plans it carries out, if any."""

    def teeth(self, treatment: str | None = None) -> tuple[Tooth, ...]:
        """The teeth worked on (by one treatment, or by any), each once, in the order of the work."""
        found: dict[Tooth, None] = {}
        for item in self.work:
            if item.tooth is not None and not item.fills_place and treatment in (None, item.treatment):
                found[item.tooth] = None
        return tuple(found)

    def removal(self) -> dict[Tooth, int]:
        """What comes off each tooth that is worked on, tenths of a millimetre, 0 included."""
        taken: dict[Tooth, int] = {}
        for item in self.work:
            if item.tooth is not None and not item.fills_place:
                taken[item.tooth] = taken.get(item.tooth, 0) + item.removal
        return taken

    def reduced(self) -> tuple[Tooth, ...]:
        """The teeth that are reduced for good. A baby tooth that only makes way is not a reduced tooth."""
        found: dict[Tooth, None] = {}
        for item in self.work:
            if item.tooth is None or item.fills_place:
                continue
            cut = item.removal > 0 or item.crown_percent[1] > 0
            if cut or (item.irreversible and not item.tooth.is_primary):
                found[item.tooth] = None
        return tuple(found)
