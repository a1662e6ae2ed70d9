"""The space-sharing model a third time: by trying everything, for arches of two or three teeth.

Nothing clever and nothing shared with the program but the facts of a segment: every way to use every gap times every
edge of every tooth, each rule checked on the finished teeth, the best picked by comparing tuples. The figures of the
model are written as plain numbers.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from math import floor, radians, tan

from planner.rules.space_model import Film, Kind, Role, Segment, Side, SpaceTooth

MESIAL = {"central": 12, "lateral": 15, "canine": 8, "premolar": 15, "primary": 10}
DISTAL = {"central": 8, "lateral": 15, "canine": 5, "premolar": 15, "primary": 10}
LENGTHEN = {"central": 10, "lateral": 15, "canine": 10, "premolar": 15, "primary": 0}
SHAPE = {"central": (72, 86), "lateral": (66, 86), "canine": (70, 86), "premolar": (70, 86)}
TWINS = {Role.CENTRAL: (3, 3), Role.LATERAL: (5, 999), Role.CANINE: (10, 999)}

Done = tuple[int, int, int, int]
"""Patient's-right share, patient's-left share, lengthening, shortening."""


def every_answer(segment: Segment) -> Iterator[tuple[tuple[Done, ...], tuple[int, ...]]]:
    """Every answer that keeps all rules: what is done to each tooth, and the gaps left."""
    first, last = segment.teeth[0].locks, segment.teeth[-1].locks
    if any((first.share_right, first.slender_right, last.share_left, last.slender_left)):
        return  # nothing is ever done at an outer end
    for uses in product(*(list(gap_uses(segment, gap)) for gap in range(len(segment.gaps)))):
        shares = [
            (uses[index - 1][1] if index else 0, uses[index][0] if index < len(uses) else 0)
            for index in range(len(segment.teeth))
        ]
        edges = [list(edges_of(segment, tooth, *pair)) for tooth, pair in zip(segment.teeth, shares, strict=True)]
        for chosen in product(*edges):
            done = tuple((*pair, *edge) for pair, edge in zip(shares, chosen, strict=True))
            if sum(each[3] > 0 for each in done) <= 1 and together(segment, done):
                yield done, tuple(use[2] for use in uses)


def gap_uses(segment: Segment, gap: int) -> Iterator[tuple[int, int, int]]:
    """(share of the right tooth, share of the left tooth, gap left)."""
    right, left = segment.teeth[gap], segment.teeth[gap + 1]
    taken = (right.locks.slender_left or 0, left.locks.slender_right or 0)
    width, lock = segment.gaps[gap] + sum(taken), segment.locked_gaps[gap]
    film = segment.films[gap] is Film.ALLOWED and width in (1, 2)
    for one, other in product(range(width + 1), repeat=2):
        stays = width - one - other
        if stays < 0 or lock not in (None, stays):
            continue
        if not side_allows(segment, right, True, one, film) or not side_allows(segment, left, False, other, film):
            continue
        if segment.places[gap]:
            if one == other == 0 and not any(taken):
                yield one, other, stays
            continue
        shut = film and right.untouchable and left.untouchable
        ticked = segment.ticks[gap] and stays >= 5
        if stays == 0 or (ticked and not film) or shut:
            yield one, other, stays


def side_allows(segment: Segment, tooth: SpaceTooth, left: bool, share: int, film: bool) -> bool:
    lock = tooth.locks.share_left if left else tooth.locks.share_right
    taken = (tooth.locks.slender_left if left else tooth.locks.slender_right) or 0
    if lock not in (None, share):
        return False
    if taken and (segment.additive_only or tooth.untouchable or taken + tooth.sides_removed_before > 2):
        return False
    if share == 0:
        return True
    mesial = left == (tooth.side is Side.RIGHT)
    cap = 18 if tooth.undersized else (MESIAL if mesial else DISTAL)[tooth.kind]
    cap = cap if tooth.limits.share_cap is None else tooth.limits.share_cap
    degrees = 30 if tooth.limits.emergence_degrees is None else tooth.limits.emergence_degrees
    steep = floor(tooth.contact_height * tan(radians(degrees)) + 1e-9)
    least, most = (1, 2) if film else (3, min(cap, steep))
    return not tooth.untouchable and not taken and least <= share <= min(most, cap, steep)


def edges_of(segment: Segment, tooth: SpaceTooth, right: int, left: int) -> Iterator[tuple[int, int]]:
    """(lengthening, shortening) that go with these shares, all rules of the tooth alone kept."""
    locks = tooth.locks
    taken = (locks.slender_right or 0) + (locks.slender_left or 0)
    width = tooth.width - taken + right + left
    if locks.width not in (None, width) or (locks.build_up and max(right, left) < 3):
        return
    cap = LENGTHEN[tooth.kind]
    if tooth.guidance_checked:
        cap = 25 if tooth.undersized else 20 if tooth.kind is Kind.CANINE else cap
    cap = cap if tooth.limits.lengthen_cap is None else tooth.limits.lengthen_cap
    asked = locks.shortening if locks.shortening is not None else max(0, tooth.length - (locks.length or 999))
    lifetime = 5 if tooth.lifetime_limit is None else tooth.lifetime_limit
    named = (tooth.shorten_named or asked > 0) and not segment.additive_only
    room = min(5, lifetime - tooth.removed_before) if named else 0
    free = tooth.kind is Kind.CENTRAL or locks.length is not None or locks.lengthening is not None
    for e, s in [(0, 0), *((e, 0) for e in range(5, cap + 1)), *((0, s) for s in range(2, room + 1))]:
        length = tooth.length + e - s
        if (e or s) and tooth.untouchable:
            continue
        if e and not (right or left or free):
            continue
        if locks.length not in (None, length) or locks.lengthening not in (None, e):
            continue
        if locks.shortening not in (None, s):
            continue
        touched = bool(right or left or e or s or taken)
        if touched and tooth.kind is not Kind.PRIMARY:
            low, high = SHAPE[tooth.role]
            now, then = Fraction(100 * tooth.width, tooth.length), Fraction(100 * width, length)
            if then > high or (then < low and not (now < low and then >= now)):
                continue
        yield e, s


class After:
    """A finished tooth."""

    def __init__(self, tooth: SpaceTooth, done: Done) -> None:
        self.tooth, self.done = tooth, done
        taken = (tooth.locks.slender_right or 0) + (tooth.locks.slender_left or 0)
        self.width = tooth.width - taken + done[0] + done[1]
        self.length = tooth.length + done[2] - done[3]
        self.touched = any(done) or taken > 0


def sides(segment: Segment, done: tuple[Done, ...]) -> tuple[dict[Role, After], dict[Role, After], list[After]]:
    teeth = [After(tooth, each) for tooth, each in zip(segment.teeth, done, strict=True)]
    right = {each.tooth.role: each for each in teeth if each.tooth.side is Side.RIGHT}
    left = {each.tooth.role: each for each in teeth if each.tooth.side is Side.LEFT}
    return right, left, teeth


def shift_twice(segment: Segment, done: tuple[Done, ...]) -> int | None:
    """Twice the shift of the contact of the centrals, None where two centrals do not meet at the midline."""
    count = sum(tooth.side is Side.RIGHT for tooth in segment.teeth)
    if not 0 < count < len(segment.teeth):
        return None
    if segment.teeth[count - 1].role is not Role.CENTRAL or segment.teeth[count].role is not Role.CENTRAL:
        return None
    return done[count - 1][1] - done[count][0]


def together(segment: Segment, done: tuple[Done, ...]) -> bool:
    """The rules between teeth."""
    right, left, _ = sides(segment, done)
    for side in (right, left):
        if Role.CENTRAL in side and Role.LATERAL in side and not proportioned(side[Role.LATERAL], side[Role.CENTRAL]):
            return False
    for role, (width, length) in TWINS.items():
        if role not in right or role not in left:
            continue
        one, other = right[role], left[role]
        if one.tooth.kind is not other.tooth.kind or one.tooth.twins_apart or other.tooth.twins_apart:
            continue
        if abs(one.width - other.width) > max(width, abs(one.tooth.width - other.tooth.width)):
            return False
        if abs(one.length - other.length) > max(length, abs(one.tooth.length - other.tooth.length)):
            return False
    twice = shift_twice(segment, done)
    if twice is None:
        return True
    today = 2 * segment.midline_offset
    return abs(twice) <= 10 and abs(today + twice) <= max(40, abs(today))


def proportioned(lateral: After, central: After) -> bool:
    if lateral.done[2] and lateral.length > central.length:
        return False
    if not lateral.touched and not central.touched:
        return True
    low, high = Fraction(68, 100), Fraction(90 if lateral.tooth.kind is Kind.CANINE else 82, 100)
    now, then = Fraction(lateral.tooth.width, central.tooth.width), Fraction(lateral.width, central.width)
    if low <= then <= high:
        return True
    if lateral.touched:
        return False
    return (then < low and now < low and then >= now) or (then > high and now > high and then <= now)


# ------------------------------------------------------------------------------------------------ what it is worth


def misfit(segment: Segment, done: tuple[Done, ...]) -> int:
    right, left, teeth = sides(segment, done)
    points = sum(3 * each.done[2] for each in teeth)
    for role in (Role.CENTRAL, Role.LATERAL, Role.CANINE):
        if role not in right or role not in left or right[role].tooth.twins_apart or left[role].tooth.twins_apart:
            continue
        wide, long = abs(right[role].width - left[role].width), abs(right[role].length - left[role].length)
        if role is Role.CENTRAL:
            points += 30 * max(0, wide - 1) + 30 * long
        elif role is Role.LATERAL:
            points += 20 * max(0, wide - 2) + 10 * max(0, long - 3)
        else:
            points += 5 * max(0, wide - 5)
    for side in (right, left):
        central, lateral, canine = (side.get(role) for role in (Role.CENTRAL, Role.LATERAL, Role.CANINE))
        if central and lateral:
            off = abs(Fraction(lateral.width) - Fraction(76, 100) * central.width) - 1
            points += 10 * max(0, -(-off.numerator // off.denominator))
            step = central.length - lateral.length
            points += 10 * max(0, 5 - step, step - (15 if segment.woman else 20))
        if canine and canine.tooth.kind not in (Kind.CANINE, Kind.PRIMARY):
            points += 10 * max(0, abs(canine.width - 75) - 1)
            points += 10 * max(0, 5 - (canine.width - lateral.width)) if lateral else 0
    twice = shift_twice(segment, done)
    if twice is not None:
        today = 2 * segment.midline_offset
        points += 10 * max(0, abs(today + twice) - abs(today))
    return points


def values(segment: Segment, done: tuple[Done, ...]) -> dict[str, int]:
    """Every figure that a goal may ask for."""
    teeth = [After(tooth, each) for tooth, each in zip(segment.teeth, done, strict=True)]
    locked = 0
    for tooth in segment.teeth:
        if tooth.locks.shortening is not None:
            locked += tooth.locks.shortening
        elif tooth.locks.length is not None:
            locked += max(0, tooth.length - tooth.locks.length)
    comfort = 0
    for each in teeth:
        easy = min(15, floor(each.tooth.contact_height * tan(radians(20)) + 1e-9))
        comfort += (each.done[0] > easy) + (each.done[1] > easy) + (each.tooth.undersized and each.done[2] > 15)
    cost = {Kind.PRIMARY: 5}
    return {
        "removed": sum(each.done[3] for each in teeth) - locked,
        "comfort": comfort,
        "touching": sum(cost.get(e.tooth.kind, 1 if e.tooth.restored else 3) for e in teeth if e.touched),
        "misfit": misfit(segment, done),
        "material": sum(sum(each.done[:3]) for each in teeth),
        "largest": max(max(each.done[:2]) for each in teeth),
    }


ORDERS = {
    "fewest teeth": ("removed", "comfort", "touching", "misfit", "material"),
    "best proportion": ("removed", "comfort", "misfit", "touching", "material"),
    "smallest shares": ("removed", "comfort", "largest", "misfit", "touching", "material"),
}


def best_of_all(segment: Segment) -> dict[str, tuple[tuple[int, ...], tuple[Done, ...]] | None]:
    """For every goal: its values and what is done to each tooth, by the tie rule the first of all that are as good."""
    ranked = sorted(range(len(segment.teeth)), key=lambda index: (segment.teeth[index].width, index))
    best: dict[str, tuple[tuple[int, ...], tuple[tuple[int, ...], ...], tuple[Done, ...]]] = {}
    for done, _stays in every_answer(segment):
        figures = values(segment, done)
        tie = tuple((-done[i][0] - done[i][1], -done[i][0], done[i][2], done[i][3]) for i in ranked)
        for goal, order in ORDERS.items():
            mine = (tuple(figures[name] for name in order), tie, done)
            if goal not in best or mine < best[goal]:
                best[goal] = mine
    return {goal: (best[goal][0], best[goal][2]) if goal in best else None for goal in ORDERS}
