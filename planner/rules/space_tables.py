"""One side of the arch as tables: for every tooth, its choices and the least that it and all teeth beyond it cost.

What couples a tooth with the next one inward is the share it must take toward the midline and the measures of that
neighbour it is compared with: its *face*. A table is kept under the facts it follows from, its own and those of the
table beyond it, so that a search for a segment that differs in one measurement builds anew only what lies inward of it.
"""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

from planner.rules.space_edges import EdgeFacts, EdgeTable, Measures
from planner.rules.space_gaps import GapFacts, Use, uses_of
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import SpaceTooth, mesial_is_left
from planner.rules.space_task import Choice, Task, Weights, tie_of

Face: TypeAlias = tuple[int, Measures] | None
"""What an outer tooth must know: its share toward the midline, its inner neighbour's compared measures; None = end."""
Made: TypeAlias = tuple[int, Choice, Use | None]
"""Which tooth, what is done to it, and how the gap beyond it is used."""
Row: TypeAlias = tuple[int, int, Measures, Face, Made | None]
"""One choice for a tooth: this side's bound from here outward, own cost, compared measures, next face, what is done."""


@dataclass(frozen=True, eq=False)
class Place:
    """One tooth of a side with the gap beyond it."""

    index: int
    edges: EdgeTable
    uses: tuple[Use, ...] | None
    """Of the gap beyond; None at the end of the segment."""


class SideTable:
    """The choices from one level outward on one side. A level without a tooth hands its face on."""

    def __init__(self, place: Place | None, beyond: "SideTable | None", upper: int) -> None:
        self.place, self.beyond, self.upper = place, beyond, upper
        self.known: dict[Face, list[Row]] = {}
        self.bounds: dict[Face, int | None] = {}
        self.outward: dict[int, list[tuple[int, int, Use] | None]] = {0: [None]}
        """For each own share away from the midline: the share of the tooth beyond, the cost, and the use of the gap."""
        if place is not None and place.uses is not None:
            self.outward = {}
            mesial_left = mesial_is_left(place.edges.facts.tooth)
            for use in place.uses:
                own, other = (use.left, use.right) if mesial_left else (use.right, use.left)
                self.outward.setdefault(own, []).append((other, use.cost, use))

    def onward(self, face: Face) -> int | None:
        """The least that the teeth beyond this one cost behind such a face, or None when nothing fits there."""
        return 0 if self.beyond is None or face is None else self.beyond.bound(face)

    def bound(self, face: Face) -> int | None:
        """The least that this tooth and those beyond cost behind a face, twins left out; None when nothing fits."""
        if face not in self.bounds:
            self.bounds[face] = self._bound(face)
        return self.bounds[face]

    def _bound(self, face: Face) -> int | None:
        if self.place is None or face is None:
            return self.onward(face)
        mesial, beside = face
        if len(beside) != 3 or self.place.edges.facts.shows == "central":
            rows = self.rows(face)
            return rows[0][0] if rows else None
        # A lateral shows at most its width outward, so its edge can be chosen before anything beyond it.
        edges, best = self.place.edges, self.upper
        for distal, ways in self.outward.items():
            right, left = self._shares(mesial, distal)
            own = edges.least_beside(right, left, beside)
            if own is None:
                continue
            shown = (edges.facts.tooth.bare_width + right + left,) if edges.facts.shows else ()
            for way in ways:
                rest = self.onward(None if way is None else (way[0], shown))
                if rest is not None:
                    best = min(best, own + rest + (way[1] if way else 0))
        return best if best < self.upper else None

    def _shares(self, mesial: int, distal: int) -> tuple[int, int]:
        assert self.place is not None
        return (distal, mesial) if mesial_is_left(self.place.edges.facts.tooth) else (mesial, distal)

    def rows(self, face: Face) -> list[Row]:
        """Every choice behind a face, best bound first."""
        known = self.known.get(face)
        if known is None:
            known = self.known[face] = self._rows(face)
        return known

    def _rows(self, face: Face) -> list[Row]:
        if self.place is None or face is None:
            bound = self.onward(face)
            return [] if bound is None else [(bound, 0, (), face, None)]
        mesial, beside = face
        index, edges = self.place.index, self.place.edges
        kept: dict[tuple[Measures, Face], tuple[int, Made]] = {}
        for distal, ways in self.outward.items():
            right, left = self._shares(mesial, distal)
            for (measures, shown), cost, choice in edges.edged(right, left, beside):
                for way in ways:
                    onward: Face = None if way is None else (way[0], shown)
                    total = cost + (way[1] if way else 0)
                    key = measures, onward
                    held = kept.get(key)
                    if held is None or total < held[0] or (total == held[0] and tie_of(choice) < tie_of(held[1][1])):
                        kept[key] = (total, (index, choice, way[2] if way else None))
        rows: list[Row] = []
        for (measures, onward), (total, made) in kept.items():
            bound = self.onward(onward)
            if bound is not None and total + bound < self.upper:
                rows.append((total + bound, total, measures, onward, made))
        rows.sort(key=lambda row: row[0])
        return rows


_Kept = TypeVar("_Kept")


class Tables:
    """Everything that searches under the same limits have worked out, by the facts it follows from.

    Handing the same object to several searches makes the later ones quicker and changes no answer. With a ``base`` it
    reads that one first and keeps only what is new, to be thrown away with it.
    """

    def __init__(self, limits: SpaceLimits, base: "Tables | None" = None) -> None:
        self.limits, self.base = limits, base
        self.kept: dict[Hashable, Any] = {}

    def once(self, key: Hashable, make: Callable[[], _Kept]) -> _Kept:
        """What is kept under a key, made the first time."""
        found: _Kept | None = self.kept.get(key)
        if found is None and self.base is not None:
            found = self.base.kept.get(key)
        if found is None:
            found = self.kept[key] = make()
        return found

    def weights(self, task: Task) -> Weights:
        """The weights of a task."""
        return self.once(task, lambda: Weights(self.limits, task))

    def edges(self, facts: EdgeFacts, task: Task) -> EdgeTable:
        """The edges of one tooth."""
        return self.once((facts, task), lambda: EdgeTable(facts, self.limits, task, self.weights(task)))

    def uses(self, gap: GapFacts, task: Task) -> tuple[Use, ...]:
        """The uses of one gap."""
        return self.once((gap, task), lambda: uses_of(gap, self.limits, task, self.weights(task)))

    def side(
        self, at: tuple[int, EdgeFacts, GapFacts | None] | None, beyond: SideTable | None, task: Task
    ) -> SideTable:
        """The table of one level: the tooth that stands there, if any, with its index and the gap beyond it."""

        def make() -> SideTable:
            place = None
            if at is not None:
                index, facts, gap = at
                place = Place(index, self.edges(facts, task), None if gap is None else self.uses(gap, task))
            return SideTable(place, beyond, self.weights(task).upper)

        return self.once((at, beyond, task), make)


def outer_of(teeth: tuple[SpaceTooth, ...], index: int) -> int | None:
    """Index of the next tooth away from the midline."""
    outer = index + (-1 if mesial_is_left(teeth[index]) else 1)
    return outer if 0 <= outer < len(teeth) else None
