"""What may be done to one tooth: every edge it may get with given shares, and what each costs.

Nothing here knows of gaps or of the other side. A table follows from the facts it is built with alone, so searches for
segments that differ elsewhere share it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Kind, Role, SpaceTooth
from planner.rules.space_results import Rule
from planner.rules.space_task import Choice, Task, Weights, tie_of

Measures: TypeAlias = tuple[int, ...]
"""The measures of a tooth that another one is compared with."""
Seen: TypeAlias = tuple[Measures, Measures]
"""What a tooth's twin is compared with, and what its outer neighbour is compared with."""
Variant: TypeAlias = tuple[Seen, int, Choice, int]
"""One edge of a tooth: what is seen of it, its cost, what is done, its length afterwards."""
Edged: TypeAlias = tuple[tuple[Seen, int, Choice], ...]
"""With some shares: the cheapest edge for every different thing that is seen."""


@dataclass(frozen=True, slots=True)
class EdgeFacts:
    """Everything that the edges of one tooth follow from, beside limits and task."""

    tooth: SpaceTooth
    shortened: bool
    """This is the one tooth that may be shortened."""
    additive_only: bool
    woman: bool | None
    longest_shown: int
    """The longest length that any tooth or lock shows; only read where lengthening has no cap."""
    twin_measures: int
    """How many of (width, length) the twin on the other side is compared with."""
    shows: str
    """What the outer neighbour is compared with: "central", "lateral" or "" for nothing."""
    reach: int | None
    """Where a length only bounds that of the outer neighbour: the length beyond which it bounds nothing."""
    central_today: int | None
    """The width of the central beside a lateral, where the two are outside their proportion's bounds today."""


class EdgeTable:
    """The edges of one tooth, worked out as they are asked for and kept."""

    def __init__(self, facts: EdgeFacts, limits: SpaceLimits, task: Task, weights: Weights) -> None:
        self.facts, self.limits, self.task, self.weights = facts, limits, task, weights
        self.known: dict[tuple[int, int], list[Variant]] = {}
        self.edged_known: dict[tuple[tuple[int, int], Measures], Edged] = {}
        self.least_known: dict[tuple[int, int, int], tuple[int | None, int | None]] = {}
        self.steps: dict[int, int] = {}

    def _edges(self, width: int, shared: bool) -> Iterator[tuple[int, int, int]]:
        """Every (lengthening, shortening, length afterwards) allowed at this width."""
        tooth, limits, dropped = self.facts.tooth, self.limits, self.task.dropped
        locks, pairs = tooth.locks, [(0, 0)]
        edge_locked = locks.length is not None or locks.lengthening is not None
        if not tooth.untouchable and (shared or tooth.kind is Kind.CENTRAL or edge_locked):
            most = bands.lengthen_cap(limits, tooth)
            if Rule.LENGTHEN_CAP in dropped:
                most = self._longest(width) - tooth.length
            if self.task.comfortable and tooth.undersized:
                most = min(most, limits.lengthen_comfort)
            pairs += [(e, 0) for e in range(limits.lengthen_min, most + 1)]
        if not tooth.untouchable and self.facts.shortened and not self.facts.additive_only:
            pairs += [(0, s) for s in range(limits.shorten_min, bands.shorten_room(limits, tooth) + 1)]
        for e, s in pairs:
            length = tooth.length + e - s
            if locks.length not in (None, length) or locks.lengthening not in (None, e):
                continue
            if locks.shortening not in (None, s) or length <= 0:
                continue
            touched = shared or e or s or tooth.locks.slendering
            if touched and Rule.SHAPE not in dropped and not bands.shape_holds(limits, tooth, width, length):
                continue
            yield e, s, length

    def _longest(self, width: int) -> int:
        # Without the cap, a length is worth trying only up to the shape floor, or to the longest length that any tooth
        # or lock shows: nothing but a lock or a twin could ask for more.
        by_shape = bands.longest_by_shape(self.limits, self.facts.tooth, width)
        if by_shape is not None and Rule.SHAPE not in self.task.dropped:
            return by_shape
        return self.facts.longest_shown + self.limits.lengthen_min

    def variants(self, right: int, left: int) -> list[Variant]:
        """Every edge of the tooth with these shares, with all costs that need no other tooth."""
        known = self.known.get((right, left))
        if known is None:
            known = self.known[right, left] = self._variants(right, left)
        return known

    def _variants(self, right: int, left: int) -> list[Variant]:
        tooth, shared = self.facts.tooth, bool(right or left)
        width = tooth.bare_width + right + left
        found: list[Variant] = []
        if tooth.locks.width not in (None, width):
            return found
        if tooth.locks.build_up and max(right, left) < self.limits.share_min:
            return found
        for e, s, length in self._edges(width, shared):
            choice = Choice(right, left, e, s)
            touched = any(choice) or tooth.locks.slendering > 0
            seen = (width, length)[: self.facts.twin_measures], self._shown(width, length, touched)
            found.append((seen, self.weights.tooth(tooth, choice), choice, length))
        if self.weights.misfit or tooth.role is not Role.LATERAL:
            return found
        # Without misfit a longer edge of a lateral is worth nothing by itself: of those seen alike, keep what is
        # cheaper than every shorter one.
        found.sort(key=lambda variant: variant[3])
        least: dict[tuple[Seen, bool], int] = {}
        kept = []
        for variant in found:
            key = variant[0], any(variant[2])
            if key not in least or variant[1] < least[key]:
                least[key] = variant[1]
                kept.append(variant)
        return kept

    def _shown(self, width: int, length: int, touched: bool) -> Measures:
        """The measures of the tooth that its outer neighbour is compared with."""
        if self.facts.shows == "central":
            return width, length if self.facts.reach is None else min(length, self.facts.reach), int(touched)
        return (width,) if self.facts.shows == "lateral" else ()

    def edged(self, right: int, left: int, beside: Measures) -> Edged:
        """With these shares, beside an inner neighbour of these measures: the cheapest edge for everything seen."""
        key = ((right, left), beside)
        known = self.edged_known.get(key)
        if known is None:
            known = self.edged_known[key] = self._edged(right, left, beside)
        return known

    def _edged(self, right: int, left: int, beside: Measures) -> Edged:
        variants = self.variants(right, left)
        more = 0
        if len(beside) == 3:
            variants = self._beside_central(variants, beside)
        elif len(beside) == 1 and variants:
            width = self.facts.tooth.bare_width + right + left
            more = self.weights.misfit * bands.points(
                self.limits, bands.player_outside(self.limits, width, beside[0])[1:]
            )
        best: dict[Seen, tuple[int, Choice]] = {}
        for seen, cost, choice, _ in variants:
            held = best.get(seen)
            if held is None or (cost + more, tie_of(choice)) < (held[0], tie_of(held[1])):
                best[seen] = cost + more, choice
        return tuple((seen, cost, choice) for seen, (cost, choice) in best.items())

    def _beside_central(self, variants: list[Variant], beside: Measures) -> list[Variant]:
        """Those edges of a lateral that go with its central's (width, length, touched), their misfit added."""
        central_width, central_length, central_touched = beside
        ratios: dict[bool, int | None] = {}
        found = []
        for seen, cost, choice, length in variants:
            if choice.lengthening and length > central_length:
                continue
            touched = any(choice) or self.facts.tooth.locks.slendering > 0
            if touched not in ratios:
                width = self.facts.tooth.bare_width + choice.share_right + choice.share_left
                ratios[touched] = self._by_ratio(width, touched, central_width, bool(central_touched))
            by_ratio = ratios[touched]
            if by_ratio is not None:
                found.append((seen, cost + by_ratio + self._by_step(central_length - length), choice, length))
        return found

    def _by_ratio(self, width: int, touched: bool, central_width: int, central_touched: bool) -> int | None:
        """The misfit of a lateral's width beside its central's, or None where the proportion forbids it."""
        if Rule.PROPORTION not in self.task.dropped and not bands.proportion_keeps(
            self.limits,
            (self.facts.tooth, width, touched),
            (self.facts.central_today, central_width, central_touched),
        ):
            return None
        outside = (("band_ratio", bands.ratio_outside(self.limits, width, central_width)),)
        return self.weights.misfit * bands.points(self.limits, outside)

    def _by_step(self, step: int) -> int:
        """The misfit of the step from the central's edge up to the lateral's."""
        known = self.steps.get(step)
        if known is None:
            outside = (("band_edge", bands.edge_outside(self.limits, self.facts.woman, step)),)
            known = self.steps[step] = self.weights.misfit * bands.points(self.limits, outside)
        return known

    def least_beside(self, right: int, left: int, beside: Measures) -> int | None:
        """The least cost of any edge of a lateral with these shares beside such a central, whatever is seen of it."""
        central_width, central_length, central_touched = beside
        key = right, left, central_length
        known = self.least_known.get(key)
        if known is None:
            known = self.least_known[key] = self._least_by_step(right, left, central_length)
        best: int | None = None
        width = self.facts.tooth.bare_width + right + left
        for touched, cost in zip((False, True), known, strict=True):
            if cost is None:
                continue
            by_ratio = self._by_ratio(width, touched, central_width, bool(central_touched))
            if by_ratio is not None and (best is None or cost + by_ratio < best):
                best = cost + by_ratio
        return best

    def _least_by_step(self, right: int, left: int, central_length: int) -> tuple[int | None, int | None]:
        # The proportion asks only whether the lateral is touched, so the least edge is found for either apart.
        least: list[int | None] = [None, None]
        for _, cost, choice, length in self.variants(right, left):
            if choice.lengthening and length > central_length:
                continue
            touched = any(choice) or self.facts.tooth.locks.slendering > 0
            total, held = cost + self._by_step(central_length - length), least[touched]
            if held is None or total < held:
                least[touched] = total
        return least[0], least[1]
