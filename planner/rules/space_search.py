"""The exact search: one best way to share a segment, for one order of goals.

The arch is folded at the midline. A level is the pair of teeth of one role (centrals, laterals, canines, premolars).
What couples teeth is a gap or a comparison between neighbours on a side, and a comparison between twins. Each side
alone (:mod:`planner.rules.space_tables`) gives a lower bound, because a comparison between twins can only add misfit or
forbid; the pairs are then searched best-first under that bound and every answer is kept. All arithmetic is on integers;
the same input gives the same plan.
"""

from dataclasses import dataclass, replace

from planner.rules import space_bands as bands
from planner.rules.space_edges import EdgeFacts, Measures
from planner.rules.space_gaps import GapFacts, Use, end_is_free, gaps_of
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Role, Segment, SpaceTooth, mesial_is_left
from planner.rules.space_results import Rule
from planner.rules.space_tables import Face, Row, SideTable, Tables, outer_of
from planner.rules.space_task import Choice, Found, Task, Weights, tie_of, tie_places


def search(segment: Segment, limits: SpaceLimits, task: Task, tables: Tables | None = None) -> Found | None:
    """The best answer, or None when nothing fits. A gap of 0.1 or 0.2 mm gets a film only where that is allowed.

    ``tables`` may be shared by searches under the same limits (see :class:`~planner.rules.space_tables.Tables`).
    """
    tables = tables or Tables(limits)
    assert tables.limits is limits
    best: Found | None = None
    for index in shortened_candidates(segment):
        found = _Ladder(segment, task, index, tables).run(best)
        best = found or best
    return best


def shortened_candidates(segment: Segment) -> list[int | None]:
    """The tooth to be shortened, once for each that may be, None for no tooth; empty where locks ask for too many."""
    locked = [index for index, tooth in enumerate(segment.teeth) if tooth.locks.removal(tooth.length)]
    if len(locked) > 1 or (locked and segment.additive_only):
        return []
    if locked:
        return [locked[0]]
    named = (index for index, tooth in enumerate(segment.teeth) if tooth.may_shorten and not segment.additive_only)
    return [None, *named]


class Fold:
    """Both sides from one level outward: which pairs of choices go together, and the least that they cost."""

    def __init__(
        self,
        right: SideTable,
        left: SideTable,
        pair: tuple[SpaceTooth, SpaceTooth] | None,
        beyond: "Fold | None",
        limits: SpaceLimits,
        weights: Weights,
        twins_hold: bool,
    ) -> None:
        self.right, self.left, self.pair, self.beyond = right, left, pair, beyond
        self.limits, self.misfit = limits, weights.misfit
        self.bounds = bands.twin_bounds(limits, *pair) if pair is not None and twins_hold else ()
        self.between: dict[tuple[Measures, Measures], int | None] = {}
        self.partners_known: dict[tuple[Measures, Face], list[tuple[int, int, list[Row]]]] = {}
        self.groups_known: dict[Face, list[tuple[Measures, list[Row]]]] = {}
        self.known: dict[tuple[Face, Face], tuple[int, Row | None, Row | None]] = {}

    def pair_cost(self, right: Measures, left: Measures) -> int | None:
        """The misfit between twins of these measures, or None where a limit forbids them."""
        key = right, left
        if key not in self.between:
            self.between[key] = self._pair_cost(right, left)
        return self.between[key]

    def _pair_cost(self, right: Measures, left: Measures) -> int | None:
        if self.pair is None:
            return 0
        for bound, one, other in zip(self.bounds, right, left, strict=False):
            if bound is not None and abs(one - other) > bound:
                return None
        if not self.misfit:
            return 0
        sizes = (right[0], right[-1]), (left[0], left[-1])
        return self.misfit * bands.points(self.limits, bands.pair_outside(self.limits, self.pair[0].role, *sizes))

    def partners(self, measures: Measures, left: Face) -> list[tuple[int, int, list[Row]]]:
        """The left rows that a right tooth of these measures goes with: (least bound, misfit between the two, rows)."""
        key = measures, left
        known = self.partners_known.get(key)
        if known is None:
            found = []
            for other, rows in self._groups(left):
                between = self.pair_cost(measures, other)
                if between is not None:
                    found.append((between + rows[0][0], between, rows))
            found.sort(key=lambda partner: partner[0])
            known = self.partners_known[key] = found
        return known

    def _groups(self, left: Face) -> list[tuple[Measures, list[Row]]]:
        known = self.groups_known.get(left)
        if known is None:
            by_measures: dict[Measures, list[Row]] = {}
            for row in self.left.rows(left):
                by_measures.setdefault(row[2], []).append(row)
            known = self.groups_known[left] = list(by_measures.items())
        return known

    def best(self, right: Face, left: Face, upper: int) -> int | None:
        """Least cost from this level outward on both sides if it is below ``upper``."""
        if right is None and left is None:
            return 0 if upper > 0 else None
        key = right, left
        known = self.known.get(key)
        if known is not None and (known[1] is not None or known[0] >= upper):
            return known[0] if known[0] < upper else None
        best, arg_right, arg_left = upper, None, None
        rows_right, rows_left = self.right.rows(right), self.left.rows(left)
        if rows_right and rows_left:
            least_left = rows_left[0][0]
            for row_right in rows_right:
                bound_right = row_right[0]
                if bound_right + least_left >= best:
                    break
                for least, between, rows in self.partners(row_right[2], left):
                    if bound_right + least >= best:
                        break
                    for row_left in rows:
                        if bound_right + row_left[0] + between >= best:
                            break
                        own = row_right[1] + row_left[1] + between
                        rest = self.rest(row_right, row_left, best - own)
                        if rest is not None:
                            best, arg_right, arg_left = own + rest, row_right, row_left
        self.known[key] = (best, arg_right, arg_left)
        return None if arg_right is None else best

    def rest(self, right: Row, left: Row, upper: int) -> int | None:
        """Least cost beyond this level behind two choices if it is below ``upper``."""
        if self.beyond is None:
            return 0 if upper > 0 else None
        return self.beyond.best(right[3], left[3], upper)


class _Ladder:
    """One search with at most one given tooth shortened."""

    def __init__(self, segment: Segment, task: Task, shortened: int | None, tables: Tables) -> None:
        self.segment, self.task, self.tables, self.limits = segment, task, tables, tables.limits
        self.teeth, self.gaps = segment.teeth, gaps_of(segment)
        self.shortened = shortened
        # What only folds and the midline read is left out of the side tables' task, so that they serve more searches.
        self.side_task = replace(task, ties=False, dropped=task.dropped - {Rule.TWINS, Rule.MIDLINE})
        self.weights = tables.weights(self.side_task)
        self.longest_shown = 0
        if Rule.LENGTHEN_CAP in task.dropped:
            shown = (max(t.length + (t.locks.lengthening or 0), t.locks.length or 0) for t in self.teeth)
            self.longest_shown = max(shown)
        right = segment.right_count
        self.sides = (
            {self._level(index): index for index in range(right - 1, -1, -1)},
            {self._level(index): index for index in range(right, len(self.teeth))},
        )
        self.fold = self._folded()
        self.tie_known: dict[tuple[Fold, Face, Face], int] = {}
        self.tie_rows: dict[tuple[Fold, Face, Face], tuple[Row, Row]] = {}
        self.places = tie_places(self.teeth)

    # -------------------------------------------------------------------------------------------- building

    def _level(self, index: int) -> int:
        tooth = self.teeth[index]
        level = (Role.CENTRAL, Role.LATERAL, Role.CANINE, Role.PREMOLAR).index(tooth.role)
        inward = 1 if mesial_is_left(tooth) else -1
        inner = index + inward
        while 0 <= inner < len(self.teeth) and self.teeth[inner].role is Role.PREMOLAR is tooth.role:
            level, inner = level + 1, inner + inward
        return level

    def _folded(self) -> Fold:
        """The folds of all levels, the innermost one standing for all."""
        fold: Fold | None = None
        right: SideTable | None = None
        left: SideTable | None = None
        for level in range(max(max(side, default=0) for side in self.sides), -1, -1):
            right = self.tables.side(self._at(0, level, right), right, self.side_task)
            left = self.tables.side(self._at(1, level, left), left, self.side_task)
            fold = self._fold(right, left, self._pair(level), fold)
        assert fold is not None
        return fold

    def _fold(
        self, right: SideTable, left: SideTable, pair: tuple[SpaceTooth, SpaceTooth] | None, beyond: Fold | None
    ) -> Fold:
        twins_hold = Rule.TWINS not in self.task.dropped
        key = right, left, pair, beyond, twins_hold
        return self.tables.once(key, lambda: Fold(right, left, pair, beyond, self.limits, self.weights, twins_hold))

    def _pair(self, level: int) -> tuple[SpaceTooth, SpaceTooth] | None:
        right, left = (side.get(level) for side in self.sides)
        if right is None or left is None or self.teeth[right].role is Role.PREMOLAR:
            return None
        return (self.teeth[right], self.teeth[left]) if bands.compared(self.teeth[right], self.teeth[left]) else None

    def _at(self, side: int, level: int, beyond: SideTable | None) -> tuple[int, EdgeFacts, GapFacts | None] | None:
        index = self.sides[side].get(level)
        if index is None:
            return None
        tooth, outer = self.teeth[index], outer_of(self.teeth, index)
        gap = None if outer is None else self.gaps[min(index, outer)]
        shows, reach = "", None
        if outer is not None:
            other = self.teeth[outer]
            if tooth.role is Role.CENTRAL and other.role is Role.LATERAL:
                shows = "central"
                if gap is not None and not self.weights.misfit:
                    reach = self._reach(gap, beyond)
            elif tooth.role is Role.LATERAL and bands.is_player(other):
                shows = "lateral"
        return index, self._edge_facts(index, level, shows, reach), gap

    def _edge_facts(self, index: int, level: int, shows: str, reach: int | None) -> EdgeFacts:
        tooth = self.teeth[index]
        inner = index + (1 if mesial_is_left(tooth) else -1)
        central = None
        if tooth.role is Role.LATERAL and 0 <= inner < len(self.teeth):
            beside = self.teeth[inner]
            if beside.role is Role.CENTRAL and beside.side is tooth.side:
                central = bands.outside_today(self.limits, tooth, beside)
        measures = 0
        if self._pair(level) is not None:
            # The lengths of laterals only cost misfit, those of canines nothing.
            measures = 2 if level == 0 or (level == 1 and self.weights.misfit) else 1
        return EdgeFacts(
            tooth=tooth,
            shortened=index == self.shortened,
            additive_only=self.segment.additive_only,
            woman=self.segment.woman,
            longest_shown=self.longest_shown,
            twin_measures=measures,
            shows=shows,
            reach=reach,
            central_today=central,
        )

    def _reach(self, gap: GapFacts, lateral: SideTable | None) -> int:
        """The greatest length among the edges that any shares leave worth trying on a lateral."""
        assert lateral is not None
        assert lateral.place is not None
        edges = lateral.place.edges
        mesial_left = mesial_is_left(edges.facts.tooth)
        # The gap lies toward the midline: a lateral of the right side is the right tooth of it.
        mesial = {use.right if mesial_left else use.left for use in self.tables.uses(gap, self.side_task)}
        shares = [(d, m) if mesial_left else (m, d) for m in mesial for d in lateral.outward]
        lengths = (variant[3] for pair in shares for variant in edges.variants(*pair))
        return max(lengths, default=0)

    # -------------------------------------------------------------------------------------------- running

    def run(self, held: Found | None) -> Found | None:
        """The best answer if it goes before ``held``, or None."""
        best = self.weights.upper if held is None else held.cost + self.task.ties
        chosen: _Start | None = None
        starts = self._starts()
        for start in starts:
            if start.bound >= best:
                break
            rest = self.fold.best(start.right, start.left, best - start.cost)
            if rest is not None:
                best, chosen = start.cost + rest, start
        if chosen is None:
            return None
        if not self.task.ties:
            return self._told(best, 0, chosen)
        tie, chosen = self._first_by_tie(starts, best)
        if held is not None and (held.cost, held.tie) <= (best, tie):
            return None
        return self._told(best, tie, chosen)

    def _starts(self) -> list["_Start"]:
        """The uses of the gap across the midline, or the untouched inner side of a one-sided segment."""
        count = self.segment.right_count
        found: list[_Start] = []
        if not end_is_free(self.teeth[0], left=False) or not end_is_free(self.teeth[-1], left=True):
            return []
        if count in (0, len(self.teeth)):
            faces: tuple[Face, Face] = (None, (0, ())) if count == 0 else ((0, ()), None)
            found.append(_Start(0, 0, *faces, None))
        else:
            between_centrals = bands.midline_gap(self.segment) is not None
            for use in self.tables.uses(self.gaps[count - 1], self.side_task):
                more = self._midline(use) if between_centrals else 0
                if more is not None:
                    found.append(_Start(0, use.cost + more, (use.right, ()), (use.left, ()), use))
        bounded = []
        for start in found:
            right, left = self.fold.right.bound(start.right), self.fold.left.bound(start.left)
            if right is not None and left is not None:
                bounded.append(replace(start, bound=start.cost + right + left))
        return sorted(bounded, key=lambda start: start.bound)

    def _midline(self, use: Use) -> int | None:
        """The misfit of where the contact of the centrals ends, or None where the limit forbids it."""
        offset, shift = self.segment.midline_offset, use.right - use.left
        if Rule.MIDLINE not in self.task.dropped and not bands.midline_holds(self.limits, offset, shift):
            return None
        outside = (("band_midline", bands.midline_outside(offset, shift)),)
        return self.weights.misfit * bands.points(self.limits, outside)

    # -------------------------------------------------------------------------------------------- ties

    def _first_by_tie(self, starts: list["_Start"], best: int) -> tuple[int, "_Start"]:
        """Of all answers of the least cost, the one that the tie rule puts first."""
        found: tuple[int, _Start] | None = None
        for start in starts:
            if start.bound > best:
                break
            if self.fold.best(start.right, start.left, best - start.cost + 1) is not None:
                tie = self._tie(self.fold, start.right, start.left)
                if found is None or tie < found[0]:
                    found = tie, start
        assert found is not None
        return found

    def _tie(self, fold: Fold | None, right: Face, left: Face) -> int:
        """The first by the tie rule among the cheapest answers from a level outward, whose cost is known exactly."""
        if fold is None or (right is None and left is None):
            return 0
        key = fold, right, left
        if key in self.tie_known:
            return self.tie_known[key]
        value = fold.known[right, left][0]
        least_left = fold.left.rows(left)[0][0]
        best: tuple[int, Row, Row] | None = None
        for row_right in fold.right.rows(right):
            if row_right[0] + least_left > value:
                break
            for least, between, rows in fold.partners(row_right[2], left):
                if row_right[0] + least > value:
                    break
                for row_left in rows:
                    if row_right[0] + row_left[0] + between > value:
                        break
                    own = row_right[1] + row_left[1] + between
                    if fold.rest(row_right, row_left, value - own + 1) is None:
                        continue
                    tie = self._own_tie(row_right) + self._own_tie(row_left)
                    tie += self._tie(fold.beyond, row_right[3], row_left[3])
                    if best is None or tie < best[0]:
                        best = tie, row_right, row_left
        assert best is not None
        self.tie_known[key], self.tie_rows[key] = best[0], best[1:]
        return best[0]

    def _own_tie(self, row: Row) -> int:
        return 0 if row[4] is None else tie_of(row[4][1]) << self.places[row[4][0]]

    # -------------------------------------------------------------------------------------------- telling

    def _told(self, cost: int, tie: int, start: "_Start") -> Found:
        choices = [Choice(0, 0, 0, 0)] * len(self.teeth)
        stays, moves = [0] * len(self.gaps), [0] * len(self.gaps)
        if start.use is not None:
            gap = self.segment.right_count - 1
            stays[gap], moves[gap] = start.use.stay, start.use.move
        fold: Fold | None = self.fold
        right, left = start.right, start.left
        while fold is not None and (right, left) != (None, None):
            rows = self.tie_rows[fold, right, left] if self.task.ties else fold.known[right, left][1:]
            for row in rows:
                assert row is not None  # only a known best is told
                if row[4] is None:
                    continue
                index, choices[index], use = row[4]
                if use is not None:
                    outer = outer_of(self.teeth, index)
                    assert outer is not None
                    stays[min(index, outer)], moves[min(index, outer)] = use.stay, use.move
            fold, (right, left) = fold.beyond, (rows[0][3], rows[1][3])  # type: ignore[index]
        return Found(cost, tie, tuple(choices), tuple(stays), tuple(moves))


@dataclass(frozen=True, slots=True)
class _Start:
    """One use of the gap across the midline, with the faces it leaves to both sides."""

    bound: int
    cost: int
    right: Face
    left: Face
    use: Use | None
