"""The exact search: one best way to share a segment, for one order of goals.

The arch is folded at the midline. A level is the pair of teeth of one role (centrals, laterals, canines, premolars).
What couples teeth is a gap or a comparison between neighbours on a side, and a comparison between twins. So between
two levels of one side only this matters: the share that the next tooth must take toward the midline, and the width and
length of the tooth it is compared with. Each side alone gives a lower bound, because a comparison between twins can
only add misfit or forbid; the pairs are then searched best-first under that bound and every answer is kept.

A whole lexicographic order, tie rule included, is packed into one integer: each quantity gets its own bits, so that
comparing two integers compares the quantities one after another. All arithmetic is on integers; the same input gives
the same plan.
"""

from collections import defaultdict
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, TypeAlias

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Film, Kind, Role, Segment, SpaceTooth, mesial_is_left
from planner.rules.space_results import Rule


class Quantity(StrEnum):
    """What an order of goals may list."""

    REMOVED = "mm removed beyond the locks"
    COMFORT = "comfort count"
    TOUCHING = "cost of touching"
    MISFIT = "misfit"
    MATERIAL = "material"
    GAPS_LEFT = "gaps left open"
    LEFT_TOTAL = "sum of gaps left open"
    MOVED = "sum of movements"
    GAPS_MOVED = "gaps that change by movement"
    MOVED_NEAR = "how near the midline the moved gaps lie"
    MOVED_LATE = "how late in arch order the moved gaps lie"


_BITS = {
    Quantity.REMOVED: 8,
    Quantity.COMFORT: 6,
    Quantity.TOUCHING: 9,
    Quantity.MISFIT: 24,
    Quantity.MATERIAL: 12,
    Quantity.GAPS_LEFT: 5,
    Quantity.LEFT_TOTAL: 13,
    Quantity.MOVED: 14,
    Quantity.GAPS_MOVED: 4,
    Quantity.MOVED_NEAR: 7,
    Quantity.MOVED_LATE: 7,
}
_DIGIT = 10
"""Bits of each number in the tie rule: sum of shares, right share, lengthening, shortening."""


class Gaps(StrEnum):
    """How gaps may behave in a search."""

    AS_MEASURED = "as measured"
    PART = "any may stay open"
    MOVED = "teeth may be moved"


@dataclass(frozen=True)
class Task:
    """What one search is asked."""

    order: tuple[Quantity, ...] = ()
    """Most important first; empty asks only whether anything fits."""
    ties: bool = False
    dropped: frozenset[Rule] = frozenset()
    gaps: Gaps = Gaps.AS_MEASURED
    movable: frozenset[int] | None = None
    """With ``Gaps.MOVED``: the gaps that may change; None is all."""
    largest_share: int | None = None
    comfortable: bool = False
    """Only shares and edges within comfort."""


class Choice(NamedTuple):
    """What a search does to one tooth. 0.1 mm."""

    share_right: int
    share_left: int
    lengthening: int
    shortening: int


@dataclass(frozen=True)
class Found:
    """The best answer to a task. 0.1 mm."""

    cost: int
    choices: tuple[Choice, ...]
    gaps_left: tuple[int, ...]
    moves: tuple[int, ...]


def search(segment: Segment, limits: SpaceLimits, task: Task) -> Found | None:
    """The best answer, or None when nothing fits. A gap of 0.1 or 0.2 mm gets a film only where that is allowed."""
    best: Found | None = None
    for index in _shortened_candidates(segment):
        found = _Ladder(segment, limits, task, index).run(best.cost if best else None)
        best = found or best
    return best


def _shortened_candidates(segment: Segment) -> list[int | None]:
    # At most one tooth is shortened: one search for each that may be, and one without where no lock asks for it.
    locked = [index for index, tooth in enumerate(segment.teeth) if tooth.locks.removal(tooth.length)]
    if len(locked) > 1:
        return []
    if locked:
        return [locked[0]]
    return [None, *(index for index, tooth in enumerate(segment.teeth) if tooth.may_shorten)]


Face: TypeAlias = tuple[int, tuple[int, ...]] | None
"""What an outer tooth must know: its share toward the midline, its inner neighbour's compared measures; None = end."""
Way: TypeAlias = tuple[int, int, int, int]
"""One use of a gap, seen from its inner tooth: outer tooth's share, gap left, movement, packed cost."""
Made: TypeAlias = tuple[int, Choice, Way | None]
"""Which tooth, what is done to it, and how the gap beyond it is used."""
Row: TypeAlias = tuple[int, int, tuple[int, ...], Face, Made | None]
"""One choice for a tooth: this side's bound from here outward, own cost, compared measures, next face, what is done."""


class _Ladder:
    """One search with at most one given tooth shortened."""

    def __init__(self, segment: Segment, limits: SpaceLimits, task: Task, shortened: int | None) -> None:
        self.segment, self.limits, self.task, self.shortened = segment, limits, task, shortened
        self.teeth = segment.teeth
        self.weights, self.tie_weights, self.unbounded = self._pack()
        right = segment.right_count
        self.sides = (
            {self._level(index): index for index in range(right - 1, -1, -1)},
            {self._level(index): index for index in range(right, len(self.teeth))},
        )
        self.levels = 1 + max(max(side, default=0) for side in self.sides)
        self.outward = [self._outward(index) for index in range(len(self.teeth))]
        self.edge_memo: dict[tuple[int, int, bool], tuple[tuple[int, int, int], ...]] = {}
        self.cost_memo: dict[tuple[int, Choice], int] = {}
        self.beside_memo: dict[tuple[int, tuple[int, int, bool, bool], tuple[int, ...]], int | None] = {}
        self.row_memo: dict[tuple[int, int, Face], list[Row]] = {}
        self.pair_memo: dict[tuple[int, tuple[int, ...], tuple[int, ...]], int | None] = {}
        self.best_memo: dict[tuple[int, Face, Face], tuple[int, Row | None, Row | None]] = {}
        self.pairs = [self._pair(level) for level in range(self.levels)]

    # -------------------------------------------------------------------------------------------- packing

    def _pack(self) -> tuple[dict[Quantity, int], list[tuple[int, int, int, int]], int]:
        # Least important first: the tie digits of the last tooth, ..., of the first, then the quantities from the last.
        scale = 1
        ties = [(0, 0, 0, 0)] * len(self.teeth)
        if self.task.ties:
            ranked = sorted(range(len(self.teeth)), key=lambda index: (self.teeth[index].width, index))
            for index in reversed(ranked):
                digits = tuple(scale << (_DIGIT * place) for place in range(4))
                ties[index] = (digits[3], digits[2], digits[1], digits[0])
                scale <<= 4 * _DIGIT
        weights = dict.fromkeys(Quantity, 0)
        for quantity in reversed(self.task.order):
            weights[quantity] = scale
            scale <<= _BITS[quantity]
        return weights, ties, scale << 8

    def _tooth_cost(self, index: int, choice: Choice) -> int:
        """Everything about one tooth that needs no other tooth."""
        key = (index, choice)
        if key not in self.cost_memo:
            self.cost_memo[key] = self._tooth_cost_anew(self.teeth[index], index, choice)
        return self.cost_memo[key]

    def _tooth_cost_anew(self, tooth: SpaceTooth, index: int, choice: Choice) -> int:
        weights, (right, left, e, s) = self.weights, choice
        outside: tuple[bands.Outside, ...] = (("band_lengthening", e),)
        if bands.is_player(tooth):
            outside += bands.player_outside(self.limits, tooth.width + right + left, None)
        cost = weights[Quantity.MISFIT] * bands.points(self.limits, outside)
        if right or left or e or s:
            cost += weights[Quantity.TOUCHING] * bands.touch_cost(self.limits, tooth)
            cost += weights[Quantity.MATERIAL] * (right + left + e)
            cost += weights[Quantity.REMOVED] * (s - tooth.locks.removal(tooth.length))
            cost += weights[Quantity.COMFORT] * len(bands.comfort_breaches(self.limits, tooth, (right, left), e))
            by_sum, by_right, by_lengthening, by_shortening = self.tie_weights[index]
            cost += by_lengthening * e + by_shortening * s - by_sum * (right + left) - by_right * right
        return cost

    # -------------------------------------------------------------------------------------------- gaps

    def _shares(self, index: int, left: bool, film: bool) -> tuple[int, ...]:
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

    def _gap_ways(self, gap: int) -> list[tuple[int, int, int, int]]:
        """Every use of one gap: share of its right tooth, share of its left tooth, gap left, movement."""
        width = self.segment.gaps[gap]
        filmed = self.segment.films[gap] is Film.ALLOWED and 0 < width <= self.limits.film_max
        ways: set[tuple[int, int, int, int]] = set()
        if filmed:
            shut_in = self.teeth[gap].untouchable and self.teeth[gap + 1].untouchable
            for right in self._shares(gap, left=True, film=True):
                for left in self._shares(gap + 1, left=False, film=True):
                    if right + left <= self.limits.film_max:
                        ways.add((right, left, 0, right + left - width))
            if shut_in:
                ways.add((0, 0, width, 0))
        if not filmed or self.task.gaps is Gaps.MOVED:
            for right in self._shares(gap, left=True, film=False):
                for left in self._shares(gap + 1, left=False, film=False):
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
        if not self.segment.ticks[gap] and self.task.gaps is not Gaps.PART:
            return ()
        return (max(rest, least),)

    def _may_move(self, gap: int, move: int) -> bool:
        if not move:
            return True
        return self.task.gaps is Gaps.MOVED and (self.task.movable is None or gap in self.task.movable)

    def _gap_cost(self, gap: int, stay: int, move: int) -> int:
        weights, cost = self.weights, 0
        if stay:
            cost += weights[Quantity.GAPS_LEFT] + weights[Quantity.LEFT_TOTAL] * stay
        if move:
            from_midline = abs(gap - (self.segment.right_count - 1))
            cost += weights[Quantity.MOVED] * abs(move) + weights[Quantity.GAPS_MOVED]
            cost += weights[Quantity.MOVED_NEAR] * (len(self.teeth) - from_midline)
            cost += weights[Quantity.MOVED_LATE] * gap
        return cost

    def _outward(self, index: int) -> dict[int, list[Way | None]]:
        """For one tooth: what its share away from the midline leaves for the gap and for the tooth beyond."""
        outer = self._outer(index)
        if outer is None:
            return {0: [None]} if self._locked_share(index, outer_side=True) in (None, 0) else {}
        gap = min(index, outer)
        found: dict[int, list[Way | None]] = defaultdict(list)
        for right, left, stay, move in self._gap_ways(gap):
            own, other = (right, left) if gap == index else (left, right)
            found[own].append((other, stay, move, self._gap_cost(gap, stay, move)))
        return found

    def _outer(self, index: int) -> int | None:
        step = -1 if mesial_is_left(self.teeth[index]) else 1
        return index + step if 0 <= index + step < len(self.teeth) else None

    def _locked_share(self, index: int, outer_side: bool) -> int | None:
        tooth = self.teeth[index]
        left = mesial_is_left(tooth) != outer_side
        return tooth.locks.share_left if left else tooth.locks.share_right

    # -------------------------------------------------------------------------------------------- one tooth

    def _level(self, index: int) -> int:
        tooth = self.teeth[index]
        level = (Role.CENTRAL, Role.LATERAL, Role.CANINE, Role.PREMOLAR).index(tooth.role)
        inward = 1 if mesial_is_left(tooth) else -1
        inner = index + inward
        while 0 <= inner < len(self.teeth) and self.teeth[inner].role is Role.PREMOLAR is tooth.role:
            level, inner = level + 1, inner + inward
        return level

    def _edges(self, index: int, width: int, shared: bool) -> tuple[tuple[int, int, int], ...]:
        """Every (lengthening, shortening, length afterwards) allowed at this width."""
        key = (index, width, shared)
        if key not in self.edge_memo:
            self.edge_memo[key] = tuple(self._edges_anew(self.teeth[index], index, width, shared))
        return self.edge_memo[key]

    def _edges_anew(self, tooth: SpaceTooth, index: int, width: int, shared: bool) -> list[tuple[int, int, int]]:
        limits, locks, dropped = self.limits, tooth.locks, self.task.dropped
        pairs = [(0, 0)]
        edge_locked = locks.length is not None or locks.lengthening is not None
        if not tooth.untouchable and (shared or tooth.kind is Kind.CENTRAL or edge_locked):
            most = bands.lengthen_cap(limits, tooth)
            if Rule.LENGTHEN_CAP in dropped:
                most = self._longest(tooth, width) - tooth.length
            if self.task.comfortable and tooth.undersized:
                most = min(most, limits.lengthen_comfort)
            pairs += [(e, 0) for e in range(limits.lengthen_min, most + 1)]
        if not tooth.untouchable and index == self.shortened:
            pairs += [(0, s) for s in range(limits.shorten_min, bands.shorten_room(limits, tooth) + 1)]
        found = []
        for e, s in pairs:
            length = tooth.length + e - s
            if locks.length not in (None, length) or locks.lengthening not in (None, e):
                continue
            if locks.shortening not in (None, s) or length <= 0:
                continue
            touched = shared or e or s
            if touched and Rule.SHAPE not in dropped and not bands.shape_holds(limits, tooth, width, length):
                continue
            found.append((e, s, length))
        return found

    def _longest(self, tooth: SpaceTooth, width: int) -> int:
        # Without the cap, a length is worth trying only up to the shape floor, or to the longest length that any tooth
        # or lock shows: nothing but a lock or a twin could ask for more.
        by_shape = bands.longest_by_shape(self.limits, tooth, width)
        if by_shape is not None and Rule.SHAPE not in self.task.dropped:
            return by_shape
        shown = (max(other.length + (other.locks.lengthening or 0), other.locks.length or 0) for other in self.teeth)
        return max(shown) + self.limits.lengthen_min

    def _rows(self, side: int, level: int, face: Face) -> list[Row]:
        """Every choice for the tooth of one side and level, best bound first; no row means nothing fits outward."""
        key = (side, level, face)
        rows = self.row_memo.get(key)
        if rows is None:
            rows = self.row_memo[key] = self._rows_anew(side, level, face)
        return rows

    def _bound(self, side: int, level: int, face: Face) -> int | None:
        if level == self.levels or face is None:
            return 0
        rows = self._rows(side, level, face)
        return rows[0][0] if rows else None

    def _rows_anew(self, side: int, level: int, face: Face) -> list[Row]:
        index = self.sides[side].get(level)
        if index is None or face is None:
            bound = self._bound(side, level + 1, face)
            return [] if bound is None else [(bound, 0, (), face, None)]
        tooth, (mesial, beside) = self.teeth[index], face
        kept: dict[tuple[tuple[int, ...], Face], tuple[int, Made]] = {}
        for distal, ways in self.outward[index].items():
            width, shared = tooth.width + mesial + distal, bool(mesial or distal)
            if tooth.locks.width not in (None, width):
                continue
            if tooth.locks.build_up and max(mesial, distal) < self.limits.share_min:
                continue
            right, left = (distal, mesial) if mesial_is_left(tooth) else (mesial, distal)
            for (measures, shown), (cost, choice) in self._edged(index, level, (right, left), beside).items():
                for way in ways:
                    onward: Face = None if way is None else (way[0], shown)
                    total = cost + (way[3] if way else 0)
                    held = kept.get((measures, onward))
                    if held is None or total < held[0]:
                        kept[measures, onward] = (total, (index, choice, way))
        rows: list[Row] = []
        for (measures, onward), (total, made) in kept.items():
            bound = self._bound(side, level + 1, onward)
            if bound is not None:
                rows.append((total + bound, total, measures, onward, made))
        rows.sort(key=lambda row: row[0])
        return rows

    def _edged(
        self, index: int, level: int, shares: tuple[int, int], beside: tuple[int, ...]
    ) -> dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[int, Choice]]:
        """With these shares: the cheapest edge for every different thing that its twin or its outer neighbour sees."""
        tooth, shared = self.teeth[index], shares != (0, 0)
        width = tooth.width + shares[0] + shares[1]
        best: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[int, Choice]] = {}
        for e, s, length in self._edges(index, width, shared):
            touched = shared or e > 0 or s > 0
            compared = self._beside(index, (width, length, touched, e > 0), beside)
            if compared is None:
                continue
            choice = Choice(*shares, e, s)
            cost = compared + self._tooth_cost(index, choice)
            key = self._measures(level, width, length), self._shown(index, width, length, touched)
            if key not in best or cost < best[key][0]:
                best[key] = cost, choice
        return best

    def _shown(self, index: int, width: int, length: int, touched: bool) -> tuple[int, ...]:
        """The measures of a tooth that its outer neighbour is compared with."""
        outer = self._outer(index)
        if outer is None:
            return ()
        tooth, beyond = self.teeth[index], self.teeth[outer]
        if tooth.role is Role.CENTRAL and beyond.role is Role.LATERAL:
            return width, length, int(touched)
        if tooth.role is Role.LATERAL and bands.is_player(beyond):
            return (width,)
        return ()

    def _beside(self, index: int, own: tuple[int, int, bool, bool], beside: tuple[int, ...]) -> int | None:
        """Packed misfit against the inner neighbour, or None where a hard limit between the two is broken.

        ``own`` is width, length, whether touched and whether lengthened.
        """
        if not beside:
            return 0
        key = (index, own, beside)
        if key not in self.beside_memo:
            self.beside_memo[key] = self._beside_anew(index, own, beside)
        return self.beside_memo[key]

    def _beside_anew(self, index: int, own: tuple[int, int, bool, bool], beside: tuple[int, ...]) -> int | None:
        tooth, limits = self.teeth[index], self.limits
        width, length, touched, lengthened = own
        if len(beside) == 1:
            outside = bands.player_outside(limits, width, beside[0])[1:]
        else:
            central = self.teeth[index + (1 if mesial_is_left(tooth) else -1)]
            if lengthened and length > beside[1]:
                return None
            pair = (tooth, width, touched), (central, beside[0], bool(beside[2]))
            if Rule.PROPORTION not in self.task.dropped and not bands.proportion_holds(limits, *pair):
                return None
            outside = bands.lateral_outside(limits, self.segment.woman, (width, length), (beside[0], beside[1]))
        return self.weights[Quantity.MISFIT] * bands.points(limits, outside)

    # -------------------------------------------------------------------------------------------- twins

    def _pair(self, level: int) -> tuple[SpaceTooth, SpaceTooth] | None:
        right, left = (side.get(level) for side in self.sides)
        if right is None or left is None or self.teeth[right].role is Role.PREMOLAR:
            return None
        return self.teeth[right], self.teeth[left]

    def _measures(self, level: int, width: int, length: int) -> tuple[int, ...]:
        if self.pairs[level] is None:
            return ()
        if level == 0 or (level == 1 and self.weights[Quantity.MISFIT]):
            return width, length
        return (width,)  # the lengths of laterals only cost misfit, those of canines nothing

    def _pair_cost(self, level: int, right: tuple[int, ...], left: tuple[int, ...]) -> int | None:
        key = (level, right, left)
        if key not in self.pair_memo:
            self.pair_memo[key] = self._pair_cost_anew(level, right, left)
        return self.pair_memo[key]

    def _pair_cost_anew(self, level: int, right: tuple[int, ...], left: tuple[int, ...]) -> int | None:
        pair = self.pairs[level]
        if pair is None:
            return 0
        if Rule.TWINS not in self.task.dropped:
            for bound, one, other in zip(bands.twin_bounds(self.limits, *pair), right, left, strict=False):
                if bound is not None and abs(one - other) > bound:
                    return None
        if not self.weights[Quantity.MISFIT]:
            return 0
        sizes = (right[0], right[-1]), (left[0], left[-1])
        outside = bands.pair_outside(self.limits, pair[0].role, *sizes)
        return self.weights[Quantity.MISFIT] * bands.points(self.limits, outside)

    # -------------------------------------------------------------------------------------------- both sides

    def _best(self, level: int, right: Face, left: Face, upper: int) -> int | None:
        """Least cost from this level outward on both sides if it is below ``upper``."""
        if level == self.levels or (right is None and left is None):
            return 0 if upper > 0 else None
        key = (level, right, left)
        known = self.best_memo.get(key)
        if known is not None and (known[1] is not None or known[0] >= upper):
            return known[0] if known[0] < upper else None
        rows_right, rows_left = self._rows(0, level, right), self._rows(1, level, left)
        best, arg_right, arg_left = upper, None, None
        if rows_right and rows_left:
            least_left = rows_left[0][0]
            for row_right in rows_right:
                if row_right[0] + least_left >= best:
                    break
                for row_left in rows_left:
                    bound = row_right[0] + row_left[0]
                    if bound >= best:
                        break
                    between = self._pair_cost(level, row_right[2], row_left[2])
                    if between is None or bound + between >= best:
                        continue
                    own = row_right[1] + row_left[1] + between
                    rest = self._best(level + 1, row_right[3], row_left[3], best - own)
                    if rest is not None:
                        best, arg_right, arg_left = own + rest, row_right, row_left
        self.best_memo[key] = (best, arg_right, arg_left)
        return None if arg_right is None else best

    def run(self, upper: int | None = None) -> Found | None:
        """The best answer whose packed cost is below ``upper``, or None."""
        starts: list[tuple[int, int, Face, Face, Way | None]] = []
        for cost, right, left, way in self._starts():
            bounds = self._bound(0, 0, right), self._bound(1, 0, left)
            if bounds[0] is not None and bounds[1] is not None:
                starts.append((cost + bounds[0] + bounds[1], cost, right, left, way))
        starts.sort(key=lambda start: start[0])
        best, chosen = self.unbounded if upper is None else upper, None
        for start in starts:
            if start[0] >= best:
                break
            rest = self._best(0, start[2], start[3], best - start[1])
            if rest is not None:
                best, chosen = start[1] + rest, start
        return None if chosen is None else self._told(best, chosen)

    def _starts(self) -> list[tuple[int, Face, Face, Way | None]]:
        """The uses of the gap across the midline, or the untouched inner side of a one-sided segment."""
        count = self.segment.right_count
        if count in (0, len(self.teeth)):
            inner = 0 if count == 0 else count - 1
            if self._locked_share(inner, outer_side=False) not in (None, 0):
                return []
            return [(0, None, (0, ()), None) if count == 0 else (0, (0, ()), None, None)]
        gap = count - 1
        between_centrals = bands.midline_gap(self.segment) == gap
        found: list[tuple[int, Face, Face, Way | None]] = []
        for right, left, stay, move in self._gap_ways(gap):
            cost, offset = self._gap_cost(gap, stay, move), self.segment.midline_offset
            if between_centrals:
                if Rule.MIDLINE not in self.task.dropped and not bands.midline_holds(self.limits, offset, right - left):
                    continue
                outside = (("band_midline", bands.midline_outside(offset, right - left)),)
                cost += self.weights[Quantity.MISFIT] * bands.points(self.limits, outside)
            found.append((cost, (right, ()), (left, ()), (left, stay, move, cost)))
        return found

    def _told(self, cost: int, start: tuple[int, int, Face, Face, Way | None]) -> Found:
        choices = [Choice(0, 0, 0, 0)] * len(self.teeth)
        left_open, moves = [0] * len(self.segment.gaps), [0] * len(self.segment.gaps)
        faces, level = (start[2], start[3]), 0
        if start[4] is not None:
            _, left_open[self.segment.right_count - 1], moves[self.segment.right_count - 1], _ = start[4]
        while level < self.levels and faces != (None, None):
            _, *rows = self.best_memo[level, faces[0], faces[1]]
            for row in rows:
                assert row is not None  # only a known best is told
                if row[4] is not None:
                    index, choices[index], way = row[4]
                    if way is not None:
                        outer = self._outer(index)
                        assert outer is not None
                        _, left_open[min(index, outer)], moves[min(index, outer)], _ = way
            faces, level = (rows[0][3], rows[1][3]), level + 1  # type: ignore[index]
        return Found(cost, tuple(choices), tuple(left_open), tuple(moves))
