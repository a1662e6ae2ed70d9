"""The limits and bands on finished widths and lengths: the one place where the space model's comparisons are written.

The search (:mod:`planner.rules.space_search`) and the breakdown shown to people both call these functions, so a figure
on the screen cannot differ from the one that was optimised. Lengths in 0.1 mm; ratios are compared by multiplying
crosswise, never by dividing. Source of the rules: common practice; figures and sources in ``data/space_limits.toml``.
"""

from planner.rules.space_limits import SpaceLimits, rise
from planner.rules.space_model import Kind, Role, Segment, SpaceTooth

Outside = tuple[str, int]
"""A band's name in the settings and the tenths of a millimetre outside it."""


def points(limits: SpaceLimits, outside: tuple[Outside, ...]) -> int:
    """Misfit of some bands, in tenths of a point."""
    return sum(amount * int(getattr(limits, band).weight) for band, amount in outside if amount)


def is_player(tooth: SpaceTooth) -> bool:
    """Whether another permanent kind plays the canine here (a primary tooth in that place does not count as one)."""
    return tooth.role is Role.CANINE and tooth.kind not in (Kind.CANINE, Kind.PRIMARY)


# ------------------------------------------------------------------------------------------------ misfit bands


def pair_outside(limits: SpaceLimits, role: Role, right: tuple[int, int], left: tuple[int, int]) -> tuple[Outside, ...]:
    """Bands between the two teeth of one role; ``right`` and ``left`` are their (width, length)."""
    width, length = abs(right[0] - left[0]), abs(right[1] - left[1])
    if role is Role.CENTRAL:
        return (
            ("band_central_width", max(0, width - limits.band_central_width.over)),
            ("band_central_length", max(0, length - limits.band_central_length.over)),
        )
    if role is Role.LATERAL:
        return (
            ("band_lateral_width", max(0, width - limits.band_lateral_width.over)),
            ("band_lateral_length", max(0, length - limits.band_lateral_length.over)),
        )
    if role is Role.CANINE:
        return (("band_canine_width", max(0, width - limits.band_canine_width.over)),)
    return ()


def lateral_outside(
    limits: SpaceLimits, woman: bool | None, lateral: tuple[int, int], central: tuple[int, int]
) -> tuple[Outside, ...]:
    """Bands between a lateral role and its central, both as (width, length)."""
    return (
        ("band_ratio", ratio_outside(limits, lateral[0], central[0])),
        ("band_edge", edge_outside(limits, woman, central[1] - lateral[1])),
    )


def ratio_outside(limits: SpaceLimits, lateral_width: int, central_width: int) -> int:
    """How far a lateral's width lies outside the band around its share of the central's, rounded up to whole tenths."""
    band = limits.band_ratio
    hundredths = abs(100 * lateral_width - band.target * central_width) - 100 * band.over
    return max(0, -(-hundredths // 100))


def edge_outside(limits: SpaceLimits, woman: bool | None, step: int) -> int:
    """How far the step from the central's edge up to the lateral's lies outside its band."""
    return max(0, limits.band_edge.least - step, step - limits.band_edge.most(woman))


def player_outside(limits: SpaceLimits, width: int, lateral_width: int | None) -> tuple[Outside, ...]:
    """Bands of another permanent tooth in the canine role, beside a lateral role of that width if there is one."""
    band = limits.band_player_width
    own = ("band_player_width", max(0, abs(width - band.target) - band.over))
    if lateral_width is None:
        return (own,)
    return (own, ("band_player_lateral", max(0, limits.band_player_lateral.least - (width - lateral_width))))


def midline_outside(offset: int, shift_twice: int) -> int:
    """How much further from the face's midline the contact of the centrals ends, in 0.1 mm of twice the distance."""
    return max(0, abs(2 * offset + shift_twice) - abs(2 * offset))


# ------------------------------------------------------------------------------------------------ hard limits


def shape_holds(limits: SpaceLimits, tooth: SpaceTooth, width: int, length: int) -> bool:
    """Shape of a touched tooth: width over length within its role's limits; below the floor today it may not fall."""
    floor, ceiling = limits.shape_floor.of(tooth.role), limits.shape_ceiling.of(tooth.role)
    if tooth.kind is Kind.PRIMARY:
        return True
    if ceiling is not None and 100 * width > ceiling * length:
        return False
    if floor is None or 100 * width >= floor * length:
        return True
    below_today = 100 * tooth.width < floor * tooth.length
    return below_today and width * tooth.length >= tooth.width * length


def longest_by_shape(limits: SpaceLimits, tooth: SpaceTooth, width: int) -> int | None:
    """Greatest length at which the shape floor still holds at this width; None where there is no floor."""
    floor = limits.shape_floor.of(tooth.role)
    if tooth.kind is Kind.PRIMARY or not floor:
        return None
    by_floor = 100 * width // floor
    if 100 * tooth.width < floor * tooth.length:
        return max(by_floor, width * tooth.length // tooth.width)
    return by_floor


def proportion_ceiling(limits: SpaceLimits, lateral: SpaceTooth) -> int:
    """The greater bound of lateral over central, in hundredths; higher when a canine plays the lateral."""
    return limits.proportion_ceiling_canine if lateral.kind is Kind.CANINE else limits.proportion_ceiling


def proportion_holds(
    limits: SpaceLimits,
    lateral: tuple[SpaceTooth, int, bool],
    central: tuple[SpaceTooth, int, bool],
) -> bool:
    """Proportion of one side; each tooth as (tooth, width afterwards, touched)."""
    tooth, width, touched = central
    return proportion_keeps(limits, lateral, (outside_today(limits, lateral[0], tooth), width, touched))


def proportion_keeps(
    limits: SpaceLimits, lateral: tuple[SpaceTooth, int, bool], central: tuple[int | None, int, bool]
) -> bool:
    """The same with the central as (what :func:`outside_today` says of it, width afterwards, touched)."""
    (small, small_width, small_touched), (large_today, large_width, large_touched) = lateral, central
    if not small_touched and not large_touched:
        return True
    floor, ceiling = limits.proportion_floor, proportion_ceiling(limits, small)
    above_floor = 100 * small_width >= floor * large_width
    below_ceiling = 100 * small_width <= ceiling * large_width
    if small_touched or large_today is None:
        return above_floor and below_ceiling
    # Only the central is touched: what is outside today may stay outside, but not move further out.
    below_today = 100 * small.width < floor * large_today
    above_today = 100 * small.width > ceiling * large_today
    no_lower = small_width * large_today >= small.width * large_width
    no_higher = small_width * large_today <= small.width * large_width
    return (above_floor or (below_today and no_lower)) and (below_ceiling or (above_today and no_higher))


def outside_today(limits: SpaceLimits, lateral: SpaceTooth, central: SpaceTooth) -> int | None:
    """The central's width where the two teeth are outside the bounds of their proportion today, else None."""
    hundredths = 100 * lateral.width
    below = hundredths < limits.proportion_floor * central.width
    above = hundredths > proportion_ceiling(limits, lateral) * central.width
    return central.width if below or above else None


def compared(right: SpaceTooth, left: SpaceTooth) -> bool:
    """Whether a tooth and its twin are compared at all: not where the dentist said that one of them stands apart."""
    return not (right.twins_apart or left.twins_apart)


def twin_bounds(limits: SpaceLimits, right: SpaceTooth, left: SpaceTooth) -> tuple[int | None, int | None]:
    """Greatest difference of widths and of lengths between two teeth of one role; None where no such limit holds.

    Twins are of the same kind and role. A difference greater than the limit today may stay, so the bound is the greater
    of the two; untouched teeth then always comply.
    """
    if right.kind is not left.kind or right.role is not left.role or not compared(right, left):
        return None, None
    width, length = limits.twin_width.of(right.role), limits.twin_length.of(right.role)
    return (
        None if width is None else max(width, abs(right.width - left.width)),
        None if length is None else max(length, abs(right.length - left.length)),
    )


def midline_holds(limits: SpaceLimits, offset: int, shift_twice: int) -> bool:
    """Shift of the midline by bonding, and its distance from the face's midline afterwards."""
    furthest = max(2 * limits.midline_offset, abs(2 * offset))
    return abs(shift_twice) <= 2 * limits.midline_shift and abs(2 * offset + shift_twice) <= furthest


def share_cap(limits: SpaceLimits, tooth: SpaceTooth, mesial: bool) -> int:
    """Largest share on one side by kind of tooth, or as the dentist set it for this one."""
    if tooth.limits.share_cap is not None:
        return tooth.limits.share_cap
    if tooth.undersized:
        return limits.share_cap_undersized
    return (limits.share_cap_mesial if mesial else limits.share_cap_distal).of(tooth.kind) or 0


def emergence_limit(limits: SpaceLimits, tooth: SpaceTooth) -> int:
    """Largest share that the side wall from the gum to the contact allows."""
    if tooth.limits.emergence_degrees is not None:
        return rise(tooth.contact_height, tooth.limits.emergence_degrees)
    return limits.emergence_limit(tooth.contact_height)


def slender_room(limits: SpaceLimits, tooth: SpaceTooth) -> int:
    """Most enamel that may still be taken off one side, counting all that was taken off the sides before."""
    return max(0, limits.slender_cap - tooth.sides_removed_before)


def lengthen_cap(limits: SpaceLimits, tooth: SpaceTooth) -> int:
    """Most lengthening by kind of tooth, more where guidance was checked, or as the dentist set it for this one."""
    if tooth.limits.lengthen_cap is not None:
        return tooth.limits.lengthen_cap
    if tooth.undersized and tooth.guidance_checked:
        return limits.lengthen_cap_undersized
    if tooth.kind is Kind.CANINE and tooth.guidance_checked:
        return limits.lengthen_cap_canine_checked
    return limits.lengthen_cap.of(tooth.kind) or 0


def shorten_room(limits: SpaceLimits, tooth: SpaceTooth) -> int:
    """Most shortening still allowed on a named tooth, by the plan's cap and the tooth's lifetime limit."""
    lifetime = limits.shorten_lifetime if tooth.lifetime_limit is None else tooth.lifetime_limit
    return max(0, min(limits.shorten_cap, lifetime - tooth.removed_before)) if tooth.may_shorten else 0


def touch_cost(limits: SpaceLimits, tooth: SpaceTooth) -> int:
    """Cost of touching a tooth at all."""
    if tooth.kind is Kind.PRIMARY:
        return limits.touch_cost["primary"]
    return limits.touch_cost["restored" if tooth.restored else "sound"]


def comfort_breaches(
    limits: SpaceLimits, tooth: SpaceTooth, shares: tuple[int, int], lengthening: int
) -> tuple[str, ...]:
    """One name for every share or edge of a tooth beyond comfort; their number is the comfort count."""
    limit = limits.comfort_limit(tooth.contact_height)
    found = [name for name, share in zip(("right", "left"), shares, strict=True) if share > limit]
    if tooth.undersized and lengthening > limits.lengthen_comfort:
        found.append("edge")
    return tuple(found)


def midline_gap(segment: Segment) -> int | None:
    """Index of the gap between the two centrals across the midline, or None where they do not stand there."""
    right = segment.right_count
    if not 0 < right < len(segment.teeth):
        return None
    pair = segment.teeth[right - 1 : right + 1]
    return right - 1 if all(tooth.role is Role.CENTRAL for tooth in pair) else None
