"""The dentist's locks one by one: in words, given up, and held against the limits they lie under by themselves.

A lock that no gap and no other tooth could ever satisfy is told at once, with the lock, its value and the limit, before
anything is searched. All lengths in 0.1 mm.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Film, Locks, Segment, SpaceTooth, mesial_is_left
from planner.rules.units import format_mm


@dataclass(frozen=True, slots=True)
class Lock:
    """One lock that could be given up: a field of one tooth's locks, or the lock on one gap (no field)."""

    index: int
    field: str | None
    words: str


_WORDS = {
    "share_right": "share on the patient's right",
    "share_left": "share on the patient's left",
    "slender_right": "enamel off the patient's right side",
    "slender_left": "enamel off the patient's left side",
}


def locks_of(segment: Segment) -> list[Lock]:
    """Every lock of a segment, in arch order, those on gaps last."""
    found = []
    default = Locks()
    for index, tooth in enumerate(segment.teeth):
        for name in (field.name for field in fields(Locks)):
            value = getattr(tooth.locks, name)
            if value != getattr(default, name):
                found.append(Lock(index, name, _tooth_words(tooth.key, name, value)))
    for gap, lock in enumerate(segment.locked_gaps):
        if lock is not None:
            words = f"gap left of {format_mm(lock)} mm" if lock else "gap fully closed"
            found.append(Lock(gap, None, f"lock on {segment.gap_name(gap)}: {words}"))
    return found


def _tooth_words(key: str, name: str, value: int | bool) -> str:
    if name == "build_up":
        return f"wish that {key} is built up"
    return f"lock on {key}: {_WORDS.get(name, name)} {format_mm(int(value))} mm"


def without(segment: Segment, locks: tuple[Lock, ...]) -> Segment:
    """The segment with some locks given up.

    A permission that came with a lock outlives it: the gap may still stay open, the tooth may still be shortened.
    Giving up a lock then only ever adds possibilities; enamel is taken off a side by a lock alone.
    """
    teeth = [replace(tooth, shorten_named=tooth.may_shorten) for tooth in segment.teeth]
    gaps = list(segment.locked_gaps)
    default = Locks()
    for lock in locks:
        if lock.field is None:
            gaps[lock.index] = None
        else:
            tooth = teeth[lock.index]
            freed: dict[str, int | None] = {lock.field: getattr(default, lock.field)}
            teeth[lock.index] = replace(tooth, locks=replace(tooth.locks, **freed))  # type: ignore[arg-type]
    return replace(segment, teeth=tuple(teeth), gap_may_stay=segment.ticks, gap_locks=tuple(gaps))


# ------------------------------------------------------------------------------------------------ a lock by itself


def lock_faults(segment: Segment, limits: SpaceLimits) -> tuple[str, ...]:
    """One sentence part for every lock outside a limit that holds for it alone; empty where there is none."""
    found: list[str] = []
    for index, tooth in enumerate(segment.teeth):
        if tooth.untouchable:
            found += (f"{words}, but {tooth.key} is not to be touched" for words in _wanted(tooth))
            continue
        for left in (False, True):
            found += _side_faults(segment, limits, index, left)
        found += _edge_faults(segment, limits, tooth)
        found += _width_faults(segment, limits, index)
    shortened = [tooth.key for tooth in segment.teeth if tooth.locks.removal(tooth.length)]
    if len(shortened) > 1:
        found.append(f"{' and '.join(shortened)} are to be shortened, but one tooth at most may be")
    for gap, lock in enumerate(segment.locked_gaps):
        if lock and lock < limits.gap_left_min and not segment.places[gap] and not _film_stays(segment, limits, gap):
            found.append(
                f"lock on {segment.gap_name(gap)}: gap left of {format_mm(lock)} mm, but a gap is left at "
                f"{format_mm(limits.gap_left_min)} mm or more, or closed"
            )
    return tuple(found)


def _film_stays(segment: Segment, limits: SpaceLimits, gap: int) -> bool:
    shut_in = segment.teeth[gap].untouchable and segment.teeth[gap + 1].untouchable
    return shut_in and segment.films[gap] is Film.ALLOWED and segment.room[gap] <= limits.film_max


def _wanted(tooth: SpaceTooth) -> Iterator[str]:
    """The locks that ask for something to be done to a tooth."""
    locks = tooth.locks
    for name in ("share_right", "share_left", "slender_right", "slender_left", "lengthening", "shortening"):
        if getattr(locks, name):
            yield _tooth_words(tooth.key, name, getattr(locks, name))
    for name, today in (("width", tooth.width), ("length", tooth.length)):
        if getattr(locks, name) not in (None, today):
            yield _tooth_words(tooth.key, name, getattr(locks, name))
    if locks.build_up:
        yield _tooth_words(tooth.key, "build_up", True)


def _most_on(segment: Segment, limits: SpaceLimits, index: int, left: bool) -> tuple[int, str]:
    """The largest share that one side may ever take, and what says so."""
    tooth, gap = segment.teeth[index], index if left else index - 1
    if not 0 <= gap < len(segment.gaps):
        return 0, "nothing is done at the end of the segment"
    if segment.places[gap]:
        return 0, "nothing is done beside an empty place"
    cap = bands.share_cap(limits, tooth, mesial=mesial_is_left(tooth) == left)
    wall = bands.emergence_limit(limits, tooth)
    if wall < cap:
        return wall, f"the side wall from the gum allows {format_mm(wall)} mm"
    return cap, f"at most {format_mm(cap)} mm may be added there"


def _side_faults(segment: Segment, limits: SpaceLimits, index: int, left: bool) -> Iterator[str]:
    tooth, gap = segment.teeth[index], index if left else index - 1
    name, taken = ("share_left", "slender_left") if left else ("share_right", "slender_right")
    share, slender = getattr(tooth.locks, name), getattr(tooth.locks, taken) or 0
    most, why = _most_on(segment, limits, index, left)
    if share:
        words = _tooth_words(tooth.key, name, share)
        filmed = 0 <= gap < len(segment.gaps) and segment.films[gap] is Film.ALLOWED
        if share > most:
            yield f"{words}, but {why}"
        elif share < limits.share_min and not (filmed and 0 < segment.room[gap] <= limits.film_max):
            yield f"{words}, but nothing thinner than {format_mm(limits.share_min)} mm is added"
        if slender:
            yield f"{words}, but enamel is to be taken off the same side"
    if slender:
        words = _tooth_words(tooth.key, taken, slender)
        room = bands.slender_room(limits, tooth)
        if segment.additive_only:
            yield f"{words}, but nothing is to be taken off any tooth"
        elif not 0 <= gap < len(segment.gaps) or segment.places[gap]:
            yield f"{words}, but {why}"
        elif slender > room:
            yield f"{words}, but at most {format_mm(room)} mm may still be taken off a side of it"


def _edge_faults(segment: Segment, limits: SpaceLimits, tooth: SpaceTooth) -> Iterator[str]:
    locks = tooth.locks
    longer = locks.lengthening if locks.lengthening is not None else max(0, (locks.length or 0) - tooth.length)
    if longer:
        name = "length" if locks.lengthening is None else "lengthening"
        words, most = _tooth_words(tooth.key, name, getattr(locks, name)), bands.lengthen_cap(limits, tooth)
        if longer > most:
            yield f"{words}, but it may get at most {format_mm(most)} mm longer"
        elif longer < limits.lengthen_min:
            yield f"{words}, but an edge gets longer by {format_mm(limits.lengthen_min)} mm or more, or not at all"
    shorter = locks.removal(tooth.length)
    if shorter:
        name = "length" if locks.shortening is None else "shortening"
        words, most = _tooth_words(tooth.key, name, getattr(locks, name)), bands.shorten_room(limits, tooth)
        if segment.additive_only:
            yield f"{words}, but nothing is to be taken off any tooth"
        elif shorter > most:
            yield f"{words}, but at most {format_mm(most)} mm may still be taken off its edge"
        elif shorter < limits.shorten_min:
            yield f"{words}, but an edge is shortened by {format_mm(limits.shorten_min)} mm or more, or not at all"


def _width_faults(segment: Segment, limits: SpaceLimits, index: int) -> Iterator[str]:
    tooth = segment.teeth[index]
    if tooth.locks.width is None:
        return
    words = _tooth_words(tooth.key, "width", tooth.locks.width)
    most = sum(_most_on(segment, limits, index, left)[0] for left in (False, True))
    added = tooth.locks.width - tooth.bare_width
    if added < 0:
        yield f"{words}, but it is {format_mm(tooth.bare_width)} mm wide and nothing makes it narrower"
    elif added > most:
        yield f"{words}, but it may be made at most {format_mm(tooth.bare_width + most)} mm wide"
