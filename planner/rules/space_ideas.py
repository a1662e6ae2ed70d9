"""Ideas that come to mind beside a plan, each solved anew with the lock it means, and the exact reason against it.

Nothing here is judged by rule of thumb: an idea that fits loses at the first of the plan's goals in which it is worse,
and by how much; one that does not fit names the limits that would have to give way, and by how much at least.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace

from planner.rules.space_conflicts import conflict_sets, smallest_movement
from planner.rules.space_limits import PerTooth, SpaceLimits
from planner.rules.space_model import Locks, Segment, SpaceTooth
from planner.rules.space_plan import build_plan
from planner.rules.space_results import Breach, Goal, MisfitItem, RejectedIdea, Rule, SpacePlan, moves_in_words
from planner.rules.space_search import search
from planner.rules.space_tables import Tables
from planner.rules.space_task import Task
from planner.rules.spaces import best_found, settled
from planner.rules.units import format_mm
from planner.rules.words import listed

_Values = tuple[int, ...]
_Nearness = tuple[int, ...]
"""Orders ideas: those that fit, those against a decision, those that break limits, those that no limit allows."""


@dataclass(frozen=True, slots=True)
class _Idea:
    kind: str
    words: str
    variants: tuple[Segment, ...]
    """The segments that mean it: a gap of odd width can be halved two ways."""
    against: str = ""
    """What the dentist decided otherwise; such an idea is no narrower than the plan, so it need not be worse."""
    by: int = 0
    sliver: int | None = None
    """A share it would need that is thinner than any addition."""


def rejected_ideas(segment: Segment, limits: SpaceLimits, plan: SpacePlan, most: int = 3) -> tuple[RejectedIdea, ...]:
    """The ``most`` nearest ideas that ``plan`` rejects, nearest first.

    ``segment`` and ``limits`` are those that :func:`~planner.rules.spaces.share_space` answered with ``plan`` (one of
    its ``plans``, so it has a goal). Ideas: leave a touched tooth untouched, close a gap the plan leaves, leave a gap
    it closes, share a gap equally, leave an edge as it is; the nearest of each kind before a second of one kind. Those
    that fit come first, by how little they lose; then those that do not, by how few limits would have to give way.
    Each costs one exact search or a few.
    """
    goal = Goal.BEST_PROPORTION if Goal.BEST_PROPORTION in plan.goals else plan.goals[0]
    tight = settled(segment, limits)
    base = Tables(limits)
    best_found(tight, limits, goal, base)
    found: list[tuple[_Nearness, RejectedIdea, str]] = []
    seen: set[tuple[object, ...]] = {_made(plan)}
    for idea in _ideas(tight, limits, plan):
        if idea.sliver is not None:
            found.append((*_sliver(idea, limits), idea.kind))
            continue
        answers = [(varied, best_found(varied, limits, goal, Tables(limits, base))) for varied in idea.variants]
        plans = [build_plan(varied, limits, answer, (goal,)) for varied, answer in answers if answer is not None]
        if not plans:
            found.append((*_broken(idea, limits), idea.kind))
            continue
        best = min(plans, key=lambda other: _values(other, goal))
        if _made(best) not in seen:
            seen.add(_made(best))
            found.append((*_lost(idea, plan, best, goal), idea.kind))
    found.sort(key=lambda each: each[0])
    kinds = [kind for _, _, kind in found]
    # The nearest of every kind goes before a second one of the same kind.
    ranked = sorted(range(len(found)), key=lambda index: (kinds[:index].count(kinds[index]), index))
    return tuple(found[index][1] for index in sorted(ranked[:most]))


def _made(plan: SpacePlan) -> tuple[object, ...]:
    done = tuple((c.share_right, c.share_left, c.lengthening, c.shortening) for c in plan.changes)
    return done, plan.gaps_left


# ------------------------------------------------------------------------------------------------ ideas


def _ideas(segment: Segment, limits: SpaceLimits, plan: SpacePlan) -> Iterator[_Idea]:
    for index, change in enumerate(plan.changes):
        tooth = segment.teeth[index]
        edge = f"leave the edge of {change.key} as it is"
        if change.touched and tooth.locks == Locks():
            yield _Idea("untouched", f"leave {change.key} untouched", (_tooth(segment, index, untouchable=True),))
        if change.lengthening and (tooth.locks.lengthening, tooth.locks.length) == (None, None):
            yield _Idea("edge", edge, (_tooth(segment, index, locks=replace(tooth.locks, lengthening=0)),))
        if change.shortening and tooth.locks.shortening:
            uncut = _tooth(segment, index, locks=replace(tooth.locks, shortening=0), shorten_named=False)
            words = f"a lock shortens {change.key} by {format_mm(change.shortening)} mm"
            yield _Idea("edge", edge, (uncut,), words, change.shortening)
    for gap, left in enumerate(plan.gaps_left):
        room, name = segment.room[gap], segment.gap_name(gap)
        if segment.places[gap] or segment.locked_gaps[gap] is not None or room <= limits.film_max:
            continue
        if left:
            yield _Idea("close", f"close {name} fully", (_gap(segment, gap, 0),))
        elif room >= limits.gap_left_min:
            words = "" if segment.ticks[gap] else f"{format_mm(room)} mm would stay open where no gap is to stay"
            yield _Idea("open", f"leave {name} open as it is", (_gap(segment, gap, room),), words, room)
        yield from _equally(segment, limits, plan, gap)


def _equally(segment: Segment, limits: SpaceLimits, plan: SpacePlan, gap: int) -> Iterator[_Idea]:
    right, left = segment.teeth[gap], segment.teeth[gap + 1]
    shares = plan.changes[gap].share_left, plan.changes[gap + 1].share_right
    fixed = (right.locks.share_left, right.locks.slender_left, left.locks.share_right, left.locks.slender_right)
    free = all(lock is None for lock in fixed) and not right.untouchable and not left.untouchable
    if not free or abs(shares[0] - shares[1]) <= 1 or plan.gaps_left[gap]:
        return
    low, high = sum(shares) // 2, -(-sum(shares) // 2)
    variants = []
    for one, other in dict.fromkeys(((high, low), (low, high))):
        varied = _tooth(segment, gap, locks=replace(right.locks, share_left=one))
        variants.append(_tooth(varied, gap + 1, locks=replace(left.locks, share_right=other)))
    thin = low if low < limits.share_min else None
    yield _Idea("share", f"share {segment.gap_name(gap)} equally", tuple(variants), sliver=thin)


def _tooth(segment: Segment, index: int, **changes: object) -> Segment:
    varied = replace(segment.teeth[index], **changes)  # type: ignore[arg-type]
    return replace(segment, teeth=(*segment.teeth[:index], varied, *segment.teeth[index + 1 :]))


def _gap(segment: Segment, gap: int, lock: int) -> Segment:
    locks = segment.locked_gaps
    return replace(segment, gap_locks=(*locks[:gap], lock, *locks[gap + 1 :]), gap_may_stay=segment.ticks)


# ------------------------------------------------------------------------------------------------ it fits, and loses


def _measures(goal: Goal) -> tuple[str, ...]:
    first = ("removed_beyond_locks", "comfort")
    if goal is Goal.FEWEST_TEETH:
        return (*first, "touching", "misfit", "material")
    if goal is Goal.BEST_PROPORTION:
        return (*first, "misfit", "touching", "material")
    return (*first, "largest_share", "misfit", "touching", "material")


def _values(plan: SpacePlan, goal: Goal) -> _Values:
    return tuple(getattr(plan, name) for name in _measures(goal))


def _lost(idea: _Idea, plan: SpacePlan, other: SpacePlan, goal: Goal) -> tuple[_Nearness, RejectedIdea]:
    less = tuple(b - a for a, b in zip(_values(plan, goal), _values(other, goal), strict=True))
    worse, by = next(((name, by) for name, by in zip(_measures(goal), less, strict=True) if by), ("", 0))
    figures = _lost_words(worse, plan, other)
    if idea.against:
        why = f"it fits, but {idea.against}; {figures}"
        return (1, *less), RejectedIdea(idea.words, why, other, "decision", idea.by)
    return (0, *less), RejectedIdea(idea.words, f"it fits, but {figures}", other, worse, by)


def _lost_words(worse: str, plan: SpacePlan, other: SpacePlan) -> str:
    match worse:
        case "removed_beyond_locks":
            return f"{format_mm(other.removed)} mm are taken off instead of {format_mm(plan.removed)} mm"
        case "comfort":
            return f"the shares and edges beyond comfort are {other.comfort} instead of {plan.comfort}"
        case "touching":
            points = f"{other.touching} points of touching instead of {plan.touching}"
            return f"the teeth touched are {len(other.touched)} instead of {len(plan.touched)}, {points}"
        case "misfit":
            most = _grown(plan, other)
            points = f"{format_mm(other.misfit)} points instead of {format_mm(plan.misfit)}"
            return f"the misfit is {points}{f': {most.words}' if most else ''}"
        case "material":
            return f"the material is {format_mm(other.material)} mm instead of {format_mm(plan.material)} mm"
        case "largest_share":
            shares = f"{format_mm(other.largest_share)} mm instead of {format_mm(plan.largest_share)} mm"
            return f"the largest share is {shares}"
        case _:
            return "every figure is the same, and of equals the fixed rule takes the other"


def _grown(plan: SpacePlan, other: SpacePlan) -> MisfitItem | None:
    """The part of the misfit that the idea makes worse by most, if it makes any worse."""
    before = {(item.band, item.teeth): item.points for item in plan.items}
    grown = [(item.points - before.get((item.band, item.teeth), 0), item) for item in other.items]
    by, item = max(grown, key=lambda pair: pair[0], default=(0, None))
    return item if by > 0 and other.misfit > plan.misfit else None


# ------------------------------------------------------------------------------------------------ it does not fit


def _sliver(idea: _Idea, limits: SpaceLimits) -> tuple[_Nearness, RejectedIdea]:
    assert idea.sliver is not None
    least = limits.share_min
    why = f"a share would be {format_mm(idea.sliver)} mm, and nothing thinner than {format_mm(least)} mm is added"
    return (3, least - idea.sliver), RejectedIdea(idea.words, why, None, "sliver", least - idea.sliver)


def _broken(idea: _Idea, limits: SpaceLimits) -> tuple[_Nearness, RejectedIdea]:
    varied = idea.variants[0]
    sets = conflict_sets(varied, limits, with_locks=False)
    if not sets:
        movement = smallest_movement(varied, limits)
        if movement is None:
            return (5,), RejectedIdea(idea.words, "nothing fits then, whatever limit gives way or tooth moves", None)
        why = f"nothing fits then before teeth are moved: {moves_in_words(movement)}"
        return (4, movement.total), RejectedIdea(idea.words, why, None, "movement", movement.total)
    rules = sets[0].rules
    breaches = tuple(_breach(varied, limits, rule, frozenset(rules) - {rule}) for rule in rules)
    names = listed([f"{breach.rule} by at least {breach.amount}" for breach in breaches])
    others = "; other limits could give way instead" if len(sets) > 1 else ""
    rejected = RejectedIdea(idea.words, f"nothing fits then without breaking {names}{others}", None, "", 0, breaches)
    return (2, len(rules), sum(breach.by for breach in breaches)), rejected


def _breach(segment: Segment, limits: SpaceLimits, rule: Rule, others: frozenset[Rule]) -> Breach:
    """The least by which one rule must be widened, the others of its set given up, before something fits."""

    def fits(by: int) -> bool:
        relaxed, wider = _widened(segment, limits, rule, by)
        return search(relaxed, wider, Task(dropped=others)) is not None

    high = 1
    while not fits(high):
        high *= 2
        assert high < 10_000, "with the rule given up it fits, so some width of it does"
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return Breach(rule, high, _UNITS[rule])


_UNITS = {
    Rule.SHARE_CAP: "mm",
    Rule.EMERGENCE: "degrees",
    Rule.LENGTHEN_CAP: "mm",
    Rule.SHAPE: "of width over length",
    Rule.PROPORTION: "of the central's width",
    Rule.TWINS: "mm",
    Rule.MIDLINE: "mm",
}
_TOP_DEGREES = 89
_SETTINGS: dict[Rule, tuple[tuple[str, int], ...]] = {
    Rule.SHARE_CAP: (("share_cap_mesial", 1), ("share_cap_distal", 1), ("share_cap_undersized", 1)),
    Rule.EMERGENCE: (("emergence_limit_degrees", 1),),
    Rule.LENGTHEN_CAP: (("lengthen_cap", 1), ("lengthen_cap_undersized", 1), ("lengthen_cap_canine_checked", 1)),
    Rule.SHAPE: (("shape_floor", -1), ("shape_ceiling", 1)),
    Rule.PROPORTION: (("proportion_floor", -1), ("proportion_ceiling", 1), ("proportion_ceiling_canine", 1)),
    Rule.TWINS: (("twin_width", 1), ("twin_length", 1)),
    Rule.MIDLINE: (("midline_shift", 1), ("midline_offset", 1)),
}
"""The settings that a rule consists of, and which way each gets wider."""
_OF_A_TOOTH = {
    Rule.SHARE_CAP: "share_cap",
    Rule.EMERGENCE: "emergence_degrees",
    Rule.LENGTHEN_CAP: "lengthen_cap",
}


def _widened(segment: Segment, limits: SpaceLimits, rule: Rule, by: int) -> tuple[Segment, SpaceLimits]:
    """Segment and settings with one rule wider by so many of its units."""

    def wider(value: int, way: int) -> int:
        return min(max(0, value + way * by), _TOP_DEGREES if rule is Rule.EMERGENCE else value + by)

    changes: dict[str, object] = {}
    for name, way in _SETTINGS[rule]:
        current = getattr(limits, name)
        changes[name] = (
            _each(current, lambda value, way=way: wider(value, way))  # type: ignore[misc]
            if isinstance(current, PerTooth)
            else wider(current, way)
        )
    teeth = segment.teeth
    own = _OF_A_TOOTH.get(rule)
    if own is not None:
        teeth = tuple(_own_wider(tooth, own, wider) for tooth in teeth)
    return replace(segment, teeth=teeth), replace(limits, **changes)  # type: ignore[arg-type]


def _each(values: PerTooth, change: Callable[[int], int]) -> PerTooth:
    parts = {field.name: getattr(values, field.name) for field in fields(values)}
    return PerTooth(**{name: None if value is None else change(value) for name, value in parts.items()})


def _own_wider(tooth: SpaceTooth, name: str, wider: Callable[[int, int], int]) -> SpaceTooth:
    value = getattr(tooth.limits, name)
    if value is None:
        return tooth
    changed: dict[str, int] = {name: wider(value, 1)}
    return replace(tooth, limits=replace(tooth.limits, **changed))
