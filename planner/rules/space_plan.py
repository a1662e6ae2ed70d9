"""From an answer of the search to a plan that people can read: every figure with how it was reached.

The misfit is broken down band by band with the same comparisons the search used; each tooth gets a word and its
reasons; whatever needs the dentist's care is said in a sentence. Lengths in 0.1 mm inside, millimetres in sentences.
"""

from collections.abc import Iterator
from itertools import pairwise

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Film, Role, Segment, Side, mesial_is_left
from planner.rules.space_results import Goal, MisfitItem, SpacePlan, ToothChange, Word
from planner.rules.space_task import Found
from planner.rules.units import format_mm
from planner.rules.words import mm, told


def build_plan(segment: Segment, limits: SpaceLimits, found: Found, goals: tuple[Goal, ...]) -> SpacePlan:
    """The plan of one search answer for the segment it was found in. Lengths in 0.1 mm, misfit in tenths of a point."""
    bare = tuple(
        ToothChange(tooth, choice.share_right, choice.share_left, choice.lengthening, choice.shortening)
        for tooth, choice in zip(segment.teeth, found.choices, strict=True)
    )
    items = tuple(_items(segment, limits, bare))
    changes = tuple(_judged(limits, segment, bare, index, items) for index in range(len(bare)))
    return SpacePlan(
        goals=goals,
        offered=True,
        changes=changes,
        gaps_left=found.gaps_left,
        removed=sum(change.shortening + change.tooth.locks.slendering for change in changes),
        removed_by_locks=sum(tooth.locks.removal(tooth.length) + tooth.locks.slendering for tooth in segment.teeth),
        comfort=sum(len(change.beyond_comfort) for change in changes),
        touching=sum(bands.touch_cost(limits, change.tooth) for change in changes if change.touched),
        misfit=sum(item.points for item in items),
        material=sum(change.share_right + change.share_left + change.lengthening for change in changes),
        largest_share=max(max(change.share_right, change.share_left) for change in changes),
        items=items,
        cares=tuple(_cares(segment, limits, changes)),
    )


def _by_role(changes: tuple[ToothChange, ...], side: Side) -> dict[Role, ToothChange]:
    # Premolars are never compared, so it does not matter that a side may have two of them.
    return {change.tooth.role: change for change in changes if change.tooth.side is side}


# ------------------------------------------------------------------------------------------------ misfit, band by band


def _items(segment: Segment, limits: SpaceLimits, changes: tuple[ToothChange, ...]) -> Iterator[MisfitItem]:
    right, left = _by_role(changes, Side.RIGHT), _by_role(changes, Side.LEFT)
    for role in (Role.CENTRAL, Role.LATERAL, Role.CANINE):
        if role in right and role in left and bands.compared(right[role].tooth, left[role].tooth):
            pair = right[role], left[role]
            sizes = [(change.width, change.length) for change in pair]
            yield from _told(limits, segment, pair, bands.pair_outside(limits, role, *sizes))
    for side in (right, left):
        central, lateral, canine = (side.get(role) for role in (Role.CENTRAL, Role.LATERAL, Role.CANINE))
        if central and lateral:
            sizes = [(change.width, change.length) for change in (lateral, central)]
            outside = bands.lateral_outside(limits, segment.woman, *sizes)
            yield from _told(limits, segment, (lateral, central), outside)
        if canine and bands.is_player(canine.tooth):
            outside = bands.player_outside(limits, canine.width, lateral.width if lateral else None)
            yield from _told(limits, segment, (canine,), outside[:1])
            if lateral:
                yield from _told(limits, segment, (canine, lateral), outside[1:])
    gap = bands.midline_gap(segment)
    if gap is not None:
        twice = changes[gap].share_left - changes[gap + 1].share_right
        outside = (("band_midline", bands.midline_outside(segment.midline_offset, twice)),)
        yield from _told(limits, segment, (changes[gap], changes[gap + 1]), outside)
    for change in changes:
        yield from _told(limits, segment, (change,), (("band_lengthening", change.lengthening),))


def _told(
    limits: SpaceLimits, segment: Segment, teeth: tuple[ToothChange, ...], outside: tuple[bands.Outside, ...]
) -> Iterator[MisfitItem]:
    for band, amount in outside:
        if amount:
            weight = getattr(limits, band).weight
            words = _words(limits, segment, band, teeth, amount)
            yield MisfitItem(band, tuple(change.key for change in teeth), amount, weight, words)


def _words(limits: SpaceLimits, segment: Segment, band: str, teeth: tuple[ToothChange, ...], amount: int) -> str:
    first, last = teeth[0], teeth[-1]
    both = f"{first.key} and {last.key}"
    over = format_mm(amount)
    match band:
        case "band_central_width" | "band_lateral_width" | "band_canine_width":
            differ = format_mm(abs(first.width - last.width))
            return f"widths of {both} differ by {differ} mm, {over} more than the band allows"
        case "band_central_length" | "band_lateral_length":
            differ = format_mm(abs(first.length - last.length))
            return f"lengths of {both} differ by {differ} mm, {over} more than the band allows"
        case "band_ratio":
            target = f"0.{limits.band_ratio.target:02d}"
            return (
                f"{first.key} is {format_mm(first.width)} mm wide beside {format_mm(last.width)} mm of {last.key}: "
                f"{over} mm outside the band around {target}"
            )
        case "band_edge":
            step, most = last.length - first.length, limits.band_edge.most(segment.woman)
            wanted = f"{format_mm(limits.band_edge.least)} to {format_mm(most)}"
            return f"edge of {first.key} is {format_mm(step)} mm shorter than that of {last.key} (band {wanted} mm)"
        case "band_player_width":
            target = format_mm(limits.band_player_width.target)
            return f"{first.key} plays the canine and is {format_mm(first.width)} mm wide, {over} outside {target}"
        case "band_player_lateral":
            wider = format_mm(first.width - last.width)
            return f"{first.key} plays the canine and is {wider} mm wider than {last.key}, {over} too little"
        case "band_midline":
            return f"the contact of {both} ends further from the face's midline, {over} mm counted twice"
        case _:
            return f"{first.key} is lengthened by {over} mm"


# ------------------------------------------------------------------------------------------------ words for each tooth


def _judged(
    limits: SpaceLimits,
    segment: Segment,
    changes: tuple[ToothChange, ...],
    index: int,
    items: tuple[MisfitItem, ...],
) -> ToothChange:
    change = changes[index]
    tooth = change.tooth
    shares = {"right": change.share_right, "left": change.share_left}
    beyond = tuple(
        told("{tooth} is lengthened by {mm} mm, beyond comfort", tooth=tooth.key, mm=mm(change.lengthening))
        if name == "edge"
        else told(
            "the share of {mm} mm on the patient's {side} of {tooth} is beyond comfort",
            mm=mm(shares[name]),
            side=told(name),
            tooth=tooth.key,
        )
        for name in bands.comfort_breaches(limits, tooth, (change.share_right, change.share_left), change.lengthening)
    )
    at_limit = (*beyond, *_at_limit(limits, changes, index)) if change.touched else ()
    outside = tuple(item.words for item in items if tooth.key in item.teeth and item.band != "band_lengthening")
    word = Word.LIMIT if at_limit else Word.ACCEPTABLE if outside else Word.GOOD
    return ToothChange(
        tooth=tooth,
        share_right=change.share_right,
        share_left=change.share_left,
        lengthening=change.lengthening,
        shortening=change.shortening,
        beyond_comfort=beyond,
        word=word,
        reasons=(*at_limit, *outside),
    )


def _at_limit(limits: SpaceLimits, changes: tuple[ToothChange, ...], index: int) -> Iterator[str]:
    """Where one tenth of a millimetre more would break a hard limit of this tooth."""
    change = changes[index]
    tooth = change.tooth
    for name, share, mesial in (
        ("mesial", change.share_mesial, True),
        ("distal", change.share_distal, False),
    ):
        cap = min(bands.share_cap(limits, tooth, mesial), bands.emergence_limit(limits, tooth))
        if share and share >= cap:
            yield f"the {name} share of {format_mm(share)} mm on {tooth.key} is the most allowed"
    if change.lengthening and change.lengthening >= bands.lengthen_cap(limits, tooth):
        yield f"the lengthening of {tooth.key} by {format_mm(change.lengthening)} mm is the most allowed"
    if change.shortening and change.shortening >= bands.shorten_room(limits, tooth):
        yield f"the shortening of {tooth.key} by {format_mm(change.shortening)} mm is the most allowed"
    wider = bands.shape_holds(limits, tooth, change.width + 1, change.length)
    longer = bands.shape_holds(limits, tooth, change.width, change.length + 1)
    if not wider or not longer:
        yield f"width over length of {tooth.key} is {_thousandths(change.shape_thousandths)}, at the limit of its shape"
    central = _central_of(changes, index)
    if central is not None:
        ratio = (2000 * change.width + central.width) // (2 * central.width)
        own, beside = (tooth, change.width, True), (central.tooth, central.width, central.touched)
        tight = any(not bands.proportion_holds(limits, (tooth, change.width + step, True), beside) for step in (-1, 1))
        if tight or 100 * own[1] > limits.proportion_ceiling * central.width:
            yield f"{tooth.key} has {_thousandths(ratio)} of the width of {central.key}, at the limit of proportion"


def _central_of(changes: tuple[ToothChange, ...], index: int) -> ToothChange | None:
    tooth = changes[index].tooth
    inner = index + (1 if mesial_is_left(tooth) else -1)
    if tooth.role is not Role.LATERAL or not 0 <= inner < len(changes):
        return None
    beside = changes[inner]
    return beside if beside.tooth.role is Role.CENTRAL and beside.tooth.side is tooth.side else None


def _thousandths(value: int) -> str:
    return f"{value // 1000}.{value % 1000:03d}"


# ------------------------------------------------------------------------------------------------ care


# That a canine playing the lateral stays wide is told by the gates (data/treatments/bonding.toml), which see faces too.


def _cares(segment: Segment, limits: SpaceLimits, changes: tuple[ToothChange, ...]) -> Iterator[str]:
    for change in changes:
        yield from change.beyond_comfort
    for gap, (right, left) in enumerate(pairwise(changes)):
        film = segment.films[gap] is Film.ALLOWED and 0 < segment.room[gap] <= limits.film_max
        if film and (right.share_left or left.share_right):
            yield told(
                "a film of resin closes {mm} mm at {gap}; it may chip",
                mm=mm(segment.room[gap]),
                gap=segment.gap_name(gap),
            )
