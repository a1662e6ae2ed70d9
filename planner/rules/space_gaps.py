"""What may become of each gap: the shares its two teeth may take, what may stay open, how far teeth may move.

All lengths in 0.1 mm. A use of a gap always balances: the two shares and the gap left add up to the gap as measured, or
as moved where the search lets teeth move.
"""

from collections import defaultdict
from typing import TypeAlias

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Film, Segment, mesial_is_left
from planner.rules.space_results import Rule
from planner.rules.space_task import Gaps, Packing, Task

Way: TypeAlias = tuple[int, int, int, int]
"""One use of a gap, seen from its inner tooth: outer tooth's share, gap left, movement, packed cost."""


class GapUses:
    """Every use of every gap that one task allows."""

    def __init__(self, segment: Segment, limits: SpaceLimits, task: Task, packing: Packing) -> None:
        self.segment, self.limits, self.task, self.packing = segment, limits, task, packing
        self.teeth, self.ticks = segment.teeth, segment.ticks

    def shares(self, index: int, left: bool, film: bool) -> tuple[int, ...]:
        """Shares that one side of a tooth may take, whole ones or, in a film gap, those of a film."""
        tooth, task, limits = self.teeth[index], self.task, self.limits
        if tooth.untouchable:
            allowed: tuple[int, ...] = (0,)
        else:
            most = max(self.segment.gaps) if task.gaps is not Gaps.MOVED else 10**6
            if Rule.SHARE_CAP not in task.dropped:
                most = min(most, bands.share_cap(limits, tooth, mesial=mesial_is_left(tooth) == left))
            if Rule.EMERGENCE not in task.dropped:
                most = min(most, limits.emergence_limit(tooth.contact_height))
            if task.largest_share is not None:
                most = min(most, task.largest_share)
            if task.comfortable:
                most = min(most, limits.comfort_limit(tooth.contact_height))
            allowed = (0, *range(1 if film else limits.share_min, min(most, limits.film_max if film else most) + 1))
        lock = tooth.locks.share_left if left else tooth.locks.share_right
        return allowed if lock is None else tuple(share for share in allowed if share == lock)

    def ways(self, gap: int) -> list[tuple[int, int, int, int]]:
        """Every use of one gap: share of its right tooth, share of its left tooth, gap left, movement."""
        width = self.segment.gaps[gap]
        if self.segment.places[gap]:
            wanted = (self.teeth[gap].locks.share_left, self.teeth[gap + 1].locks.share_right)
            return [] if any(wanted) else [(0, 0, width, 0)]
        filmed = self.segment.films[gap] is Film.ALLOWED and 0 < width <= self.limits.film_max
        ways: set[tuple[int, int, int, int]] = set()
        if filmed:
            shut_in = self.teeth[gap].untouchable and self.teeth[gap + 1].untouchable
            for right in self.shares(gap, left=True, film=True):
                for left in self.shares(gap + 1, left=False, film=True):
                    if right + left <= self.limits.film_max:
                        ways.add((right, left, 0, right + left - width))
            if shut_in:
                ways.add((0, 0, width, 0))
        if not filmed or self.task.gaps is Gaps.MOVED:
            for right in self.shares(gap, left=True, film=False):
                for left in self.shares(gap + 1, left=False, film=False):
                    rest = width - right - left
                    ways.add((right, left, 0, -rest))
                    for stay in self._stays(gap, rest):
                        ways.add((right, left, stay, stay - rest))
        lock = self.segment.locked_gaps[gap]
        return sorted(way for way in ways if (lock is None or way[2] == lock) and self._may_move(gap, way[3]))

    def _stays(self, gap: int, rest: int) -> tuple[int, ...]:
        """Gaps that may be left open when ``rest`` is what the shares leave of the measured one."""
        lock, least = self.segment.locked_gaps[gap], self.limits.gap_left_min
        if lock is not None:
            return (lock,) if lock >= least else ()
        if not self.ticks[gap] and self.task.gaps is not Gaps.PART:
            return ()
        return (max(rest, least),)

    def _may_move(self, gap: int, move: int) -> bool:
        if not move:
            return True
        if self.task.gaps is not Gaps.MOVED or abs(move) > (self.task.furthest or abs(move)):
            return False
        return self.task.movable is None or gap in self.task.movable

    def outward(self, index: int) -> dict[int, list[Way | None]]:
        """For one tooth: what its share away from the midline leaves for the gap and for the tooth beyond."""
        outer = self.outer(index)
        if outer is None:
            return {0: [None]} if self.end_is_free(index, outer_side=True) else {}
        gap = min(index, outer)
        found: dict[int, list[Way | None]] = defaultdict(list)
        for right, left, stay, move in self.ways(gap):
            own, other = (right, left) if gap == index else (left, right)
            found[own].append((other, stay, move, self.packing.gap(gap, stay, move)))
        return found

    def outer(self, index: int) -> int | None:
        """Index of the next tooth away from the midline."""
        step = -1 if mesial_is_left(self.teeth[index]) else 1
        return index + step if 0 <= index + step < len(self.teeth) else None

    def end_is_free(self, index: int, outer_side: bool) -> bool:
        """Whether no lock asks for a share on a side that lies at an end of the segment, where none is ever placed."""
        tooth = self.teeth[index]
        left = mesial_is_left(tooth) != outer_side
        return (tooth.locks.share_left if left else tooth.locks.share_right) in (None, 0)
