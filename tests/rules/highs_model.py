"""The space-sharing model written a second time, as a mixed-integer programme for HiGHS (through scipy.optimize.milp).

Used by the tests only. HiGHS is an independent general solver: it knows nothing of folding, bounds or packed integers.
The figures of the model are written here once more, as plain numbers, so that a slip in the data file shows too.
"""

from dataclasses import dataclass
from math import floor, radians, tan

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from planner.rules.space_model import Film, Kind, Role, Segment, Side, SpaceTooth
from planner.rules.space_results import Rule

BIG = 150
MESIAL = {"central": 12, "lateral": 15, "canine": 8, "premolar": 15, "primary": 10}
DISTAL = {"central": 8, "lateral": 15, "canine": 5, "premolar": 15, "primary": 10}
LENGTHEN = {"central": 10, "lateral": 15, "canine": 10, "premolar": 15, "primary": 0}
SHAPE = {"central": (72, 86), "lateral": (66, 86), "canine": (70, 86), "premolar": (70, 86)}
TWIN_WIDTH = {Role.CENTRAL: 3, Role.LATERAL: 5, Role.CANINE: 10}

Terms = dict[int, float]


def plus(*parts: Terms, scale: float = 1) -> Terms:
    """Sum of linear expressions; the constant stands under key -1."""
    total: Terms = {}
    for part in parts:
        for key, value in part.items():
            total[key] = total.get(key, 0) + value * scale
    return total


def times(part: Terms, scale: float) -> Terms:
    return plus(part, scale=scale)


def minus(one: Terms, other: Terms) -> Terms:
    return plus(one, times(other, -1))


def const(value: float) -> Terms:
    return {-1: value}


def off(switch: Terms) -> Terms:
    """1 when a 0/1 switch is 0."""
    return minus(const(1), switch)


@dataclass
class Tooth:
    facts: SpaceTooth
    right: Terms
    left: Terms
    longer: Terms
    shorter: Terms
    is_right: Terms
    is_left: Terms
    is_longer: Terms
    is_shorter: Terms
    touched: Terms

    @property
    def width(self) -> Terms:
        taken = (self.facts.locks.slender_right or 0) + (self.facts.locks.slender_left or 0)
        return plus(const(self.facts.width - taken), self.right, self.left)

    @property
    def length(self) -> Terms:
        return plus(const(self.facts.length), self.longer, times(self.shorter, -1))


class Built:
    """The rows handed to HiGHS so far, kept from stage to stage."""

    def __init__(self) -> None:
        self.data: list[float] = []
        self.columns: list[int] = []
        self.starts = [0]
        self.bounds: list[float] = []

    def up_to(self, rows: list[tuple[Terms, float]]) -> None:
        """Take in what ``rows`` holds beyond what is here."""
        for terms, bound in rows[len(self.bounds) :]:
            self.columns += terms.keys()
            self.data += terms.values()
            self.starts.append(len(self.data))
            self.bounds.append(bound)

    def back_to(self, count: int) -> None:
        """Forget all rows but the first ``count``."""
        del self.starts[count + 1 :]
        del self.bounds[count:]
        del self.data[self.starts[-1] :]
        del self.columns[self.starts[-1] :]


class HighsModel:
    """One arch as a mixed-integer programme.

    ``part`` lets every gap stay open; ``move`` lets gaps change, all together by ``furthest`` at most where given.
    """

    def __init__(
        self,
        segment: Segment,
        dropped: frozenset[Rule] = frozenset(),
        *,
        part: bool = False,
        move: bool = False,
        furthest: int | None = None,
        comfortable: bool = False,
        ratio: int = 76,
    ) -> None:
        self.segment, self.dropped, self.ratio = segment, dropped, ratio
        # Enamel that locks take off the sides widens the gaps beside it.
        self.room = [
            gap + (segment.teeth[j].locks.slender_left or 0) + (segment.teeth[j + 1].locks.slender_right or 0)
            for j, gap in enumerate(segment.gaps)
        ]
        self.furthest = furthest
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.rows: list[tuple[Terms, float]] = []  # each: expression <= bound
        self.films: dict[int, Terms] = {}
        self.misfit: list[Terms] = []
        self.comfort: list[Terms] = []
        self.move, self.part = move, part
        self.largest = self.var(0, 200)
        self.teeth = [self.tooth(facts) for facts in segment.teeth]
        self.at_most(plus(*(tooth.is_shorter for tooth in self.teeth)), 1)
        self.left_open: list[Terms] = []
        self.is_open: list[Terms] = []
        self.moved: list[Terms] = []
        self.is_moved: list[Terms] = []
        for gap in range(len(segment.gaps)):
            self.balance(gap)
        self.right_side = [tooth for tooth in self.teeth if tooth.facts.side is Side.RIGHT][::-1]
        self.left_side = [tooth for tooth in self.teeth if tooth.facts.side is Side.LEFT]
        for side in (self.right_side, self.left_side):
            self.one_side(side)
        self.twins()
        self.midline()
        if comfortable:
            self.at_most(plus(*self.comfort), 0)
        if furthest is not None:
            self.at_most(plus(*self.moved), furthest)
        self.built = Built()

    # ---------------------------------------------------------------- building blocks

    def var(self, low: float, high: float) -> Terms:
        self.lower.append(low)
        self.upper.append(high)
        return {len(self.lower) - 1: 1.0}

    def at_most(self, terms: Terms, bound: float) -> None:
        self.rows.append(({key: value for key, value in terms.items() if key != -1}, bound - terms.get(-1, 0)))

    def at_least(self, terms: Terms, bound: float) -> None:
        self.at_most(times(terms, -1), -bound)

    def forbid(self) -> None:
        """Nothing fits."""
        self.var(1, 0)

    def unless(self, off: Terms, terms: Terms, bound: float) -> None:
        """``terms <= bound`` unless the 0/1 expression ``off`` is 1 or more, with the least constant that frees it."""
        most = terms.get(-1, 0)
        for key, value in terms.items():
            if key != -1:
                most += value * (self.upper[key] if value > 0 else self.lower[key])
        if most > bound:
            self.at_most(minus(terms, times(off, most - bound)), bound)

    def equal(self, terms: Terms, value: float) -> None:
        self.at_most(terms, value)
        self.at_least(terms, value)

    def switched(self, low: int, high: int, film: Terms | None = None) -> tuple[Terms, Terms]:
        """A number that is 0 or at least ``low``, and its 0/1 switch; a film switch lifts the lower bound."""
        value, switch = self.var(0, max(0, high)), self.var(0, 1)
        self.unless(switch, value, 0)
        lowest = minus(times(switch, low), value)
        self.at_most(lowest if film is None else minus(lowest, times(film, low - 1)), 0)
        return value, switch

    def absolute(self, terms: Terms) -> Terms:
        value = self.var(0, 10 * BIG)
        self.at_most(minus(terms, value), 0)
        self.at_most(minus(times(terms, -1), value), 0)
        return value

    def outside(self, terms: Terms, over: float, weight: float) -> None:
        """Misfit for what exceeds ``over``."""
        value = self.var(0, 10 * BIG)
        self.at_most(minus(terms, value), over)
        self.misfit.append(times(value, weight))

    # ---------------------------------------------------------------- teeth

    def film_switch(self, gap: int) -> Terms | None:
        if not 0 <= gap < len(self.segment.gaps) or self.segment.films[gap] is not Film.ALLOWED:
            return None
        if self.room[gap] not in (1, 2) or self.segment.places[gap]:
            return None
        if gap not in self.films:
            self.films[gap] = self.var(0 if self.move else 1, 1)
        return self.films[gap]

    def tooth(self, facts: SpaceTooth) -> Tooth:
        index = self.segment.teeth.index(facts)
        own = facts.limits
        degrees = 30 if own.emergence_degrees is None else own.emergence_degrees
        steep = floor(facts.contact_height * tan(radians(degrees)) + 1e-9)
        comfort = min(15, floor(facts.contact_height * tan(radians(20))))
        shares = []
        for left in (False, True):
            gap = index if left else index - 1
            mesial = left == (facts.side is Side.RIGHT)
            cap = 18 if facts.undersized else (MESIAL if mesial else DISTAL)[facts.kind]
            if own.share_cap is not None:
                cap = own.share_cap
            if Rule.SHARE_CAP in self.dropped:
                cap = max(self.room) + (self.furthest or 0)
            if Rule.EMERGENCE not in self.dropped:
                cap = min(cap, steep)
            inside = 0 <= gap < len(self.segment.gaps) and not self.segment.places[gap]
            taken = (facts.locks.slender_left if left else facts.locks.slender_right) or 0
            if facts.untouchable or not inside or taken:
                cap = 0
            if taken and (
                facts.untouchable or not inside or self.segment.additive_only or taken > 2 - facts.sides_removed_before
            ):
                self.forbid()
            film = self.film_switch(gap)
            share, switch = self.switched(3, cap, film)
            if film is not None:
                self.unless(off(film), share, 2)
            beyond = self.var(0, 1)
            self.unless(beyond, share, comfort)
            self.comfort.append(beyond)
            self.at_most(minus(share, self.largest), 0)
            lock = facts.locks.share_left if left else facts.locks.share_right
            if lock is not None:
                self.equal(share, lock)
            shares += [share, switch]
        right, is_right, left_share, is_left = shares
        cap = LENGTHEN[facts.kind]
        if facts.undersized and facts.guidance_checked:
            cap = 25
        if facts.kind is Kind.CANINE and facts.guidance_checked:
            cap = 20
        if own.lengthen_cap is not None:
            cap = own.lengthen_cap
        if Rule.LENGTHEN_CAP in self.dropped:
            cap = 150
        longer, is_longer = self.switched(5, 0 if facts.untouchable else cap)
        locks = facts.locks
        if facts.kind is not Kind.CENTRAL and locks.length is None and locks.lengthening is None:
            self.at_most(minus(is_longer, plus(is_right, is_left)), 0)
        if facts.undersized:
            beyond = self.var(0, 1)
            self.unless(beyond, longer, 15)
            self.comfort.append(beyond)
        lifetime = 5 if facts.lifetime_limit is None else facts.lifetime_limit
        room = min(5, lifetime - facts.removed_before)
        named = facts.shorten_named or (locks.shortening or 0) > 0
        named = named or (locks.shortening is None and locks.length is not None and locks.length < facts.length)
        shorter, is_shorter = self.switched(
            2, room if named and not facts.untouchable and not self.segment.additive_only else 0
        )
        self.at_most(plus(is_longer, is_shorter), 1)
        touched = self.var(0, 1)
        switches = (is_right, is_left, is_longer, is_shorter)
        for switch in switches:
            self.at_most(minus(switch, touched), 0)
        if locks.slender_right or locks.slender_left:
            self.at_least(touched, 1)
        else:
            self.at_most(minus(touched, plus(*switches)), 0)
        tooth = Tooth(facts, right, left_share, longer, shorter, is_right, is_left, is_longer, is_shorter, touched)
        for lock, terms in (
            (locks.width, tooth.width),
            (locks.length, tooth.length),
            (locks.lengthening, longer),
            (locks.shortening, shorter),
        ):
            if lock is not None:
                self.equal(terms, lock)
        if locks.build_up:
            one, other = self.var(0, 1), self.var(0, 1)
            self.at_least(plus(one, other), 1)
            self.at_least(minus(right, times(one, 3)), 0)
            self.at_least(minus(left_share, times(other, 3)), 0)
        self.shape(tooth)
        self.misfit.append(times(longer, 3))
        return tooth

    def shape(self, tooth: Tooth) -> None:
        facts = tooth.facts
        if facts.kind is Kind.PRIMARY or Rule.SHAPE in self.dropped:
            return
        low, high = SHAPE[facts.role]
        untouched = off(tooth.touched)
        self.unless(untouched, minus(times(tooth.width, 100), times(tooth.length, high)), 0)
        below = minus(times(tooth.length, low), times(tooth.width, 100))
        if 100 * facts.width >= low * facts.length:
            self.unless(untouched, below, 0)
            return
        # Below the floor today: reach the floor or do not fall.
        reach = self.var(0, 1)
        self.unless(plus(untouched, off(reach)), below, 0)
        fallen = minus(times(tooth.length, facts.width), times(tooth.width, facts.length))
        self.unless(plus(untouched, reach), fallen, 0)

    # ---------------------------------------------------------------- gaps

    def balance(self, gap: int) -> None:
        width, tick = self.room[gap], self.segment.ticks[gap]
        right, left = self.teeth[gap], self.teeth[gap + 1]
        film = self.film_switch(gap)
        lock = self.segment.locked_gaps[gap]
        if self.segment.places[gap]:
            stays, is_open = self.switched(width, width)
            self.equal(stays, width)
            self.left_open.append(stays)
            self.is_open.append(is_open)
            return
        if film is not None and right.facts.untouchable and left.facts.untouchable:
            stays, is_open = self.switched(width, width)
        else:
            may = tick or self.part
            stays, is_open = self.switched(5, BIG if may else 0)
            if film is not None:
                self.unless(off(film), stays, 0)
                self.unless(off(film), plus(right.left, left.right), 2)
        if lock is not None:
            self.equal(stays, lock)
        used = plus(right.left, left.right, stays)
        if self.move:
            opened, closed, changed = self.var(0, BIG), self.var(0, width), self.var(0, 1)
            self.equal(minus(used, minus(opened, closed)), width)
            self.unless(changed, plus(opened, closed), 0)
            self.moved.append(plus(opened, closed))
            self.is_moved.append(changed)
        else:
            self.equal(used, width)
        self.left_open.append(stays)
        self.is_open.append(is_open)

    # ---------------------------------------------------------------- comparisons

    def one_side(self, side: list[Tooth]) -> None:
        by_role = {tooth.facts.role: tooth for tooth in side}
        central, lateral, canine = (by_role.get(role) for role in (Role.CENTRAL, Role.LATERAL, Role.CANINE))
        if central and lateral:
            self.proportion(central, lateral)
            ratio = minus(times(lateral.width, 100), times(central.width, self.ratio))
            value = self.var(0, BIG)
            for sign in (1, -1):
                self.at_most(minus(times(ratio, sign), times(value, 100)), 100)
            self.misfit.append(times(value, 10))
            step = minus(central.length, lateral.length)
            most = 15 if self.segment.woman else 20
            value = self.var(0, BIG)
            self.at_most(minus(step, value), most)
            self.at_most(minus(times(step, -1), value), -5)
            self.misfit.append(times(value, 10))
            self.unless(off(lateral.is_longer), minus(lateral.length, central.length), 0)
        if canine and canine.facts.kind not in (Kind.CANINE, Kind.PRIMARY):
            self.outside(self.absolute(minus(canine.width, const(75))), 1, 10)
            if lateral:
                self.outside(minus(lateral.width, canine.width), -5, 10)

    def proportion(self, central: Tooth, lateral: Tooth) -> None:
        if Rule.PROPORTION in self.dropped:
            return
        small, large = lateral.facts.width, central.facts.width
        high = 90 if lateral.facts.kind is Kind.CANINE else 82
        below = minus(times(central.width, 68), times(lateral.width, 100))
        above = minus(times(lateral.width, 100), times(central.width, high))
        self.unless(off(lateral.touched), below, 0)
        self.unless(off(lateral.touched), above, 0)
        not_only_central = plus(off(central.touched), lateral.touched)
        if 100 * small >= 68 * large:
            self.unless(not_only_central, below, 0)
        else:  # may not fall further: small / width >= small / large
            self.unless(not_only_central, central.width, large)
        if 100 * small <= high * large:
            self.unless(not_only_central, above, 0)
        else:
            self.unless(not_only_central, times(central.width, -1), -large)

    def twins(self) -> None:
        right = {tooth.facts.role: tooth for tooth in self.right_side}
        left = {tooth.facts.role: tooth for tooth in self.left_side}
        for role in (Role.CENTRAL, Role.LATERAL, Role.CANINE):
            one, other = right.get(role), left.get(role)
            if one is None or other is None or one.facts.twins_apart or other.facts.twins_apart:
                continue
            widths, lengths = minus(one.width, other.width), minus(one.length, other.length)
            if role is Role.CENTRAL:
                self.outside(self.absolute(widths), 1, 30)
                self.outside(self.absolute(lengths), 0, 30)
            elif role is Role.LATERAL:
                self.outside(self.absolute(widths), 2, 20)
                self.outside(self.absolute(lengths), 3, 10)
            else:
                self.outside(self.absolute(widths), 5, 5)
            if one.facts.kind is not other.facts.kind or Rule.TWINS in self.dropped:
                continue
            checks = [(widths, TWIN_WIDTH[role], abs(one.facts.width - other.facts.width))]
            if role is Role.CENTRAL:
                checks.append((lengths, 3, abs(one.facts.length - other.facts.length)))
            for terms, limit, today in checks:
                bound = max(limit, today)
                self.at_most(terms, bound)
                self.at_least(terms, -bound)

    def midline(self) -> None:
        if not self.right_side or not self.left_side:
            return
        one, other = self.right_side[0], self.left_side[0]
        if one.facts.role is not Role.CENTRAL or other.facts.role is not Role.CENTRAL:
            return
        twice = minus(one.left, other.right)
        today = 2 * self.segment.midline_offset
        after = plus(twice, const(today))
        self.outside(self.absolute(after), abs(today), 10)
        if Rule.MIDLINE in self.dropped:
            return
        for terms, bound in ((twice, 10), (after, max(40, abs(today)))):
            self.at_most(terms, bound)
            self.at_least(terms, -bound)

    # ---------------------------------------------------------------- goals

    def removed(self) -> Terms:
        """Shortening beyond what the locks themselves take off."""
        locked = sum(tooth.facts.locks.removal(tooth.facts.length) for tooth in self.teeth)
        return minus(plus(*(tooth.shorter for tooth in self.teeth)), const(locked))

    def touching(self) -> Terms:
        costs = (5 if tooth.facts.kind is Kind.PRIMARY else 1 if tooth.facts.restored else 3 for tooth in self.teeth)
        return plus(*(times(tooth.touched, cost) for tooth, cost in zip(self.teeth, costs, strict=True)))

    def material(self) -> Terms:
        return plus(*(part for tooth in self.teeth for part in (tooth.right, tooth.left, tooth.longer)))

    def solve(self, *stages: Terms) -> list[int] | None:
        """Minimise the stages one after another; their values, or None when nothing fits."""
        if any(low > high for low, high in zip(self.lower, self.upper, strict=True)):
            return None
        values: list[int] = []
        kept = len(self.rows)
        try:
            for stage in stages or (const(0),):
                value = self.minimise(stage)
                if value is None:
                    assert not values, "HiGHS lost a solution it had found: a numerical fault of the model"
                    return None
                values.append(value)
                self.at_most(stage, value + 0.5)
        finally:
            del self.rows[kept:]
            self.built.back_to(kept)
        return values

    def minimise(self, stage: Terms) -> int | None:
        count = len(self.lower)
        goal = np.zeros(count)
        for key, value in stage.items():
            if key != -1:
                goal[key] = value
        built = self.built
        built.up_to(self.rows)
        matrix = csr_matrix((built.data, built.columns, built.starts), shape=(len(self.rows), count))
        answer = milp(
            goal,
            constraints=LinearConstraint(matrix, -np.inf, np.array(built.bounds)),
            integrality=np.ones(count),
            bounds=Bounds(np.array(self.lower), np.array(self.upper)),
            # HiGHS 1.12's presolve was seen to lose a solution it had found one stage before; without it, it does not.
            options={"mip_rel_gap": 0, "presolve": False},
        )
        if answer.status == 2:
            return None
        assert answer.status == 0, answer.message
        return round(float(answer.fun) + stage.get(-1, 0))

    # ---------------------------------------------------------------- what the tests ask

    def fewest_teeth(self) -> tuple[int, ...] | None:
        """(removed, comfort, touching, misfit, material) of the plan with the fewest teeth."""
        first = plus(times(self.removed(), 10_000), times(plus(*self.comfort), 100), self.touching())
        second = plus(times(plus(*self.misfit), 1000), self.material())
        values = self.solve(first, second)
        if values is None:
            return None
        return (*_digits(values[0], 100, 100), *_digits(values[1], 1000))

    def best_proportion(self) -> tuple[int, ...] | None:
        """(removed, comfort, misfit, touching, material) of the plan with the best proportion."""
        values = self.solve(plus(times(self.removed(), 100), plus(*self.comfort)), *self._proportion_stages())
        if values is None:
            return None
        return (*_digits(values[0], 100), *_digits(values[1], 100), values[2])

    def tied_best_proportion(self) -> tuple[tuple[int, int, int, int], ...] | None:
        """The plan of best proportion that the tie rule picks: (right share, left share, lengthening, shortening)."""
        ranked = sorted(self.teeth, key=lambda tooth: (tooth.facts.width, self.teeth.index(tooth)))
        ties = [
            stage
            for tooth in ranked
            for stage in (times(plus(tooth.right, tooth.left), -1), times(tooth.right, -1), tooth.longer, tooth.shorter)
        ]
        first = plus(times(self.removed(), 100), plus(*self.comfort))
        values = self.solve(first, *self._proportion_stages(), *ties)
        if values is None:
            return None
        found = {}
        for place, tooth in enumerate(ranked):
            both, right, longer, shorter = values[3 + 4 * place : 7 + 4 * place]
            found[tooth.facts.key] = (-right, right - both, longer, shorter)
        return tuple(found[tooth.facts.key] for tooth in self.teeth)

    def smallest_shares(self) -> tuple[int, ...] | None:
        """(removed, comfort, largest share, misfit, touching, material) of the plan with the smallest shares."""
        first = plus(times(self.removed(), 10_000), times(plus(*self.comfort), 100), self.largest)
        values = self.solve(first, *self._proportion_stages())
        if values is None:
            return None
        return (*_digits(values[0], 100, 100), *_digits(values[1], 100), values[2])

    def _proportion_stages(self) -> tuple[Terms, Terms]:
        return plus(times(plus(*self.misfit), 100), self.touching()), self.material()

    def part_closing(self) -> tuple[int, ...] | None:
        """(removed, gaps left, their sum, comfort, misfit, touching, material) when any gap may stay open."""
        assert self.part
        first = plus(times(self.removed(), 100), plus(*self.is_open))
        second = plus(times(plus(*self.left_open), 100), plus(*self.comfort))
        values = self.solve(first, second, *self._proportion_stages())
        if values is None:
            return None
        return (*_digits(values[0], 100), *_digits(values[1], 100), *_digits(values[2], 100), values[3])

    def movement(self) -> tuple[int, ...] | None:
        """(least total movement, fewest gaps changed)."""
        assert self.move
        values = self.solve(plus(*self.moved), plus(*self.is_moved))
        return None if values is None else tuple(values)

    def fits(self) -> bool:
        return self.solve() is not None


def _digits(value: int, *bases: int) -> tuple[int, ...]:
    found: list[int] = []
    for base in reversed(bases):
        value, digit = divmod(value, base)
        found.append(digit)
    return (value, *reversed(found))
