"""The exact search: one best way to share a segment, for one order of goals.

The arch is folded at the midline. A level is the pair of teeth of one role (centrals, laterals, canines, premolars).
What couples teeth is a gap or a comparison between neighbours on a side, and a comparison between twins. So between
two levels of one side only this matters: the share that the next tooth must take toward the midline, and the width and
length of the tooth it is compared with. Each side alone gives a lower bound, because a comparison between twins can
only add misfit or forbid; the pairs are then searched best-first under that bound and every answer is kept. All
arithmetic is on integers; the same input gives the same plan.
"""

from typing import TypeAlias

from planner.rules import space_bands as bands
from planner.rules.space_gaps import GapUses, Way
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Kind, Role, Segment, SpaceTooth, mesial_is_left
from planner.rules.space_results import Rule
from planner.rules.space_task import Choice, Found, Packing, Task


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
Made: TypeAlias = tuple[int, Choice, Way | None]
"""Which tooth, what is done to it, and how the gap beyond it is used."""
Seen: TypeAlias = tuple[tuple[int, ...], tuple[int, ...]]
"""What a tooth's twin is compared with, and what its outer neighbour is compared with."""
Variant: TypeAlias = tuple[Seen, int, Choice, int]
"""One edge of a tooth: what is seen of it, its cost, what is done, its length afterwards."""
Row: TypeAlias = tuple[int, int, tuple[int, ...], Face, Made | None]
"""One choice for a tooth: this side's bound from here outward, own cost, compared measures, next face, what is done."""


class _Ladder:
    """One search with at most one given tooth shortened."""

    def __init__(self, segment: Segment, limits: SpaceLimits, task: Task, shortened: int | None) -> None:
        self.segment, self.limits, self.task, self.shortened = segment, limits, task, shortened
        self.teeth = segment.teeth
        self.packing = Packing(segment, limits, task)
        self.gaps = GapUses(segment, limits, task, self.packing)
        self.upper, self.misfit = self.packing.upper, self.packing.misfit
        right = segment.right_count
        self.sides = (
            {self._level(index): index for index in range(right - 1, -1, -1)},
            {self._level(index): index for index in range(right, len(self.teeth))},
        )
        self.levels = 1 + max(max(side, default=0) for side in self.sides)
        self.outer = [self.gaps.outer(index) for index in range(len(self.teeth))]
        self.outward = [self.gaps.outward(index) for index in range(len(self.teeth))]
        self.variant_memo: dict[tuple[int, tuple[int, int]], list[Variant]] = {}
        self.step_memo: dict[int, int] = {}
        self.reach_memo: dict[int, int] = {}
        self.row_memo: dict[tuple[int, int, Face], list[Row]] = {}
        self.pair_memo: dict[tuple[int, tuple[int, ...], tuple[int, ...]], int | None] = {}
        self.partner_memo: dict[tuple[int, tuple[int, ...], Face], list[tuple[int, list[Row]]]] = {}
        self.best_memo: dict[tuple[int, Face, Face], tuple[int, Row | None, Row | None]] = {}
        self.pairs = [self._pair(level) for level in range(self.levels)]

    # -------------------------------------------------------------------------------------------- one tooth

    def _level(self, index: int) -> int:
        tooth = self.teeth[index]
        level = (Role.CENTRAL, Role.LATERAL, Role.CANINE, Role.PREMOLAR).index(tooth.role)
        inward = 1 if mesial_is_left(tooth) else -1
        inner = index + inward
        while 0 <= inner < len(self.teeth) and self.teeth[inner].role is Role.PREMOLAR is tooth.role:
            level, inner = level + 1, inner + inward
        return level

    def _edges(self, index: int, width: int, shared: bool) -> list[tuple[int, int, int]]:
        """Every (lengthening, shortening, length afterwards) allowed at this width."""
        tooth, limits, dropped = self.teeth[index], self.limits, self.task.dropped
        locks, pairs = tooth.locks, [(0, 0)]
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
            width = tooth.width + mesial + distal
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
            if bound is not None and total + bound < self.upper:
                rows.append((total + bound, total, measures, onward, made))
        rows.sort(key=lambda row: row[0])
        return rows

    def _edged(
        self, index: int, level: int, shares: tuple[int, int], beside: tuple[int, ...]
    ) -> dict[Seen, tuple[int, Choice]]:
        """With these shares: the cheapest edge for every different thing that its twin or its outer neighbour sees."""
        variants = self._known_variants(index, level, shares)
        best: dict[Seen, tuple[int, Choice]] = {}
        if len(beside) == 3:
            variants = self._beside_central(index, variants, beside)
        more = 0
        if len(beside) == 1:
            width = self.teeth[index].width + shares[0] + shares[1]
            outside = bands.player_outside(self.limits, width, beside[0])[1:]
            more = self.misfit * bands.points(self.limits, outside)
        for seen, cost, choice, _ in variants:
            if seen not in best or cost + more < best[seen][0]:
                best[seen] = cost + more, choice
        return best

    def _variants(self, index: int, level: int, shares: tuple[int, int]) -> list[Variant]:
        """Every edge of a tooth with these shares, with all costs that need no other tooth."""
        tooth, shared = self.teeth[index], shares != (0, 0)
        width = tooth.width + shares[0] + shares[1]
        found = []
        for e, s, length in self._edges(index, width, shared):
            choice = Choice(*shares, e, s)
            shown = self._shown(index, width, length, shared or e > 0 or s > 0)
            seen = self._measures(level, width, length), shown
            found.append((seen, self.packing.tooth(index, choice), choice, length))
        if self.misfit or tooth.role is not Role.LATERAL:
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

    def _shown(self, index: int, width: int, length: int, touched: bool) -> tuple[int, ...]:
        """The measures of a tooth that its outer neighbour is compared with."""
        outer = self.outer[index]
        if outer is None:
            return ()
        tooth, beyond = self.teeth[index], self.teeth[outer]
        if tooth.role is Role.CENTRAL and beyond.role is Role.LATERAL:
            if not self.misfit:
                # Then the length only bounds a lengthened lateral, and beyond that one's reach it bounds nothing.
                length = min(length, self._reach(index, outer))
            return width, length, int(touched)
        if tooth.role is Role.LATERAL and bands.is_player(beyond):
            return (width,)
        return ()

    def _reach(self, inner: int, index: int) -> int:
        """The greatest length among the edges that any shares leave worth trying on a lateral."""
        if index not in self.reach_memo:
            mesial = {way[0] for ways in self.outward[inner].values() for way in ways if way is not None}
            turned = mesial_is_left(self.teeth[index])
            shares = [(d, m) if turned else (m, d) for m in mesial for d in self.outward[index]]
            lengths = (variant[3] for pair in shares for variant in self._known_variants(index, 1, pair))
            self.reach_memo[index] = max(lengths, default=0)
        return self.reach_memo[index]

    def _known_variants(self, index: int, level: int, shares: tuple[int, int]) -> list[Variant]:
        key = (index, shares)
        if key not in self.variant_memo:
            self.variant_memo[key] = self._variants(index, level, shares)
        return self.variant_memo[key]

    def _beside_central(self, index: int, variants: list[Variant], beside: tuple[int, ...]) -> list[Variant]:
        """Those edges of a lateral that go with its central's (width, length, touched), their misfit added."""
        tooth, limits, weight = self.teeth[index], self.limits, self.misfit
        central = self.teeth[index + (1 if mesial_is_left(tooth) else -1)]
        central_width, central_length, central_touched = beside[0], beside[1], bool(beside[2])
        allowed: dict[bool, bool] = {}
        found = []
        for seen, cost, choice, length in variants:
            if choice.lengthening and length > central_length:
                continue
            touched = any(choice)
            width = tooth.width + choice.share_right + choice.share_left
            if touched not in allowed:
                pair = (tooth, width, touched), (central, central_width, central_touched)
                kept = Rule.PROPORTION in self.task.dropped or bands.proportion_holds(limits, *pair)
                allowed[touched] = kept
                outside = (("band_ratio", bands.ratio_outside(limits, width, central_width)),)
                by_ratio = weight * bands.points(limits, outside)
            if not allowed[touched]:
                continue
            step = central_length - length
            by_edge = self.step_memo.get(step)
            if by_edge is None:
                edge = (("band_edge", bands.edge_outside(limits, self.segment.woman, step)),)
                by_edge = self.step_memo[step] = weight * bands.points(limits, edge)
            found.append((seen, cost + by_ratio + by_edge, choice, length))
        return found

    # -------------------------------------------------------------------------------------------- twins

    def _pair(self, level: int) -> tuple[SpaceTooth, SpaceTooth] | None:
        right, left = (side.get(level) for side in self.sides)
        if right is None or left is None or self.teeth[right].role is Role.PREMOLAR:
            return None
        return self.teeth[right], self.teeth[left]

    def _measures(self, level: int, width: int, length: int) -> tuple[int, ...]:
        if self.pairs[level] is None:
            return ()
        if level == 0 or (level == 1 and self.misfit):
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
        if not self.misfit:
            return 0
        sizes = (right[0], right[-1]), (left[0], left[-1])
        outside = bands.pair_outside(self.limits, pair[0].role, *sizes)
        return self.misfit * bands.points(self.limits, outside)

    # -------------------------------------------------------------------------------------------- both sides

    def _partners(self, level: int, measures: tuple[int, ...], left: Face) -> list[tuple[int, list[Row]]]:
        """The left rows that a right tooth of these measures goes with, by the misfit between the two."""
        key = (level, measures, left)
        known = self.partner_memo.get(key)
        if known is None:
            by_measures: dict[tuple[int, ...], list[Row]] = {}
            for row in self._rows(1, level, left):
                by_measures.setdefault(row[2], []).append(row)
            between = ((self._pair_cost(level, measures, other), rows) for other, rows in by_measures.items())
            known = self.partner_memo[key] = [(cost, rows) for cost, rows in between if cost is not None]
        return known

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
                for between, rows in self._partners(level, row_right[2], left):
                    for row_left in rows:
                        if row_right[0] + row_left[0] + between >= best:
                            break
                        own = row_right[1] + row_left[1] + between
                        rest = self._best(level + 1, row_right[3], row_left[3], best - own)
                        if rest is not None:
                            best, arg_right, arg_left = own + rest, row_right, row_left
        self.best_memo[key] = (best, arg_right, arg_left)
        return None if arg_right is None else best

    def run(self, upper: int | None = None) -> Found | None:
        """The best answer whose packed cost is below ``upper``, or None."""
        if not all(self.outward):
            return None
        starts: list[tuple[int, int, Face, Face, Way | None]] = []
        for cost, right, left, way in self._starts():
            bounds = self._bound(0, 0, right), self._bound(1, 0, left)
            if bounds[0] is not None and bounds[1] is not None:
                starts.append((cost + bounds[0] + bounds[1], cost, right, left, way))
        starts.sort(key=lambda start: start[0])
        best, chosen = self.upper if upper is None else upper, None
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
            if not self.gaps.end_is_free(inner, outer_side=False):
                return []
            return [(0, None, (0, ()), None) if count == 0 else (0, (0, ()), None, None)]
        gap = count - 1
        between_centrals = bands.midline_gap(self.segment) == gap
        found: list[tuple[int, Face, Face, Way | None]] = []
        for right, left, stay, move in self.gaps.ways(gap):
            cost, offset = self.packing.gap(gap, stay, move), self.segment.midline_offset
            if between_centrals:
                if Rule.MIDLINE not in self.task.dropped and not bands.midline_holds(self.limits, offset, right - left):
                    continue
                outside = (("band_midline", bands.midline_outside(offset, right - left)),)
                cost += self.misfit * bands.points(self.limits, outside)
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
                        outer = self.outer[index]
                        assert outer is not None
                        _, left_open[min(index, outer)], moves[min(index, outer)], _ = way
            faces, level = (rows[0][3], rows[1][3]), level + 1  # type: ignore[index]
        return Found(cost, tuple(choices), tuple(left_open), tuple(moves))
