"""What the space-sharing model reads: plain frozen facts, no computation of a plan.

Bonding does not move teeth, it moves contact points: wherever two neighbours leave a gap, the contact may be placed
anywhere inside it, and choosing every contact chooses every final width. :func:`planner.rules.spaces.share_space` reads
a :class:`Segment` and answers a :class:`~planner.rules.space_results.SpaceResult`.

How to build a segment from examination facts
---------------------------------------------
* Units are whole tenths of a millimetre: 8.3 mm is ``83``.
* ``teeth`` stand in arch order **from the patient's right to the patient's left**. ``gaps[j]`` lies between
  ``teeth[j]`` and ``teeth[j + 1]``, measured at contact height. The outer sides of the first and the last tooth are
  never touched.
* A tooth carries ``kind`` (what it *is*), ``role`` (what it must *look like*) and ``side`` (the patient's side it
  *stands* on). 53 in the canine's place is ``Kind.PRIMARY`` in ``Role.CANINE``; 13 in the lateral's place is
  ``Kind.CANINE`` in ``Role.LATERAL``; 14 in the canine's place is ``Kind.PREMOLAR`` in ``Role.CANINE``.
* Every side has at most one central, lateral and canine role, and roles run central, lateral, canine, premolar away
  from the midline. Any may be missing; the rules that would need it then do not exist.
* A share is material added on one side of a tooth. ``share_right`` is the side toward the patient's right. Mesial is
  the side toward the midline: :func:`mesial_is_left` tells which that is.
* A gap of 0.1 or 0.2 mm needs an answer in ``film``; without one the result asks for it instead of computing a plan.

What a dentist may set otherwise, and where it enters
-----------------------------------------------------
Who did it, when and why is kept by the caller; none of it changes what is computed.

* a width, length, share, lengthening, shortening, enamel taken off a side: :class:`Locks` of the tooth;
* a tooth not to be touched: ``untouchable``; a tooth to be built up: ``Locks.build_up``;
* a gap to be closed, or left as it is: ``Segment.gap_locks``; a gap that may stay: ``Segment.gap_may_stay``;
* a limit of one tooth set otherwise: :class:`ToothLimits` in ``SpaceTooth.limits``;
* a tooth not compared with its twin (it is rotated): ``SpaceTooth.twins_apart``;
* the lateral's share of its central's width aimed at: ``with_limits(limits, {"band_ratio.target": 78})``;
* another role for a tooth: ``SpaceTooth.role``;
* another midline to aim at: ``Segment.midline_offset``, measured from it;
* nothing to be taken off any tooth: ``Segment.additive_only``. Otherwise one tooth may be shortened, where named.

Source of the model: common practice, with the settings and their sources in ``data/space_limits.toml``.
"""

from dataclasses import dataclass, fields, replace
from enum import StrEnum
from itertools import pairwise


class Kind(StrEnum):
    """What a tooth is, by anatomy."""

    CENTRAL = "central"
    LATERAL = "lateral"
    CANINE = "canine"
    PREMOLAR = "premolar"
    PRIMARY = "primary"


class Role(StrEnum):
    """What a tooth must look like where it stands."""

    CENTRAL = "central"
    LATERAL = "lateral"
    CANINE = "canine"
    PREMOLAR = "premolar"


class Side(StrEnum):
    """The patient's side a tooth stands on."""

    RIGHT = "right"
    LEFT = "left"


class Film(StrEnum):
    """The answer to the question about a gap of 0.1 or 0.2 mm."""

    NOT_ASKED = "not asked"
    TIGHT = "tight"
    """Tight to a 0.05 mm strip: counts as a contact, 0."""
    ALLOWED = "film"
    """A film of resin may close it: shares of 0, 0.1 or 0.2 that add up to the gap."""
    REFUSED = "no film"
    """Open, and no film is wanted: the ordinary limits hold, and they cannot be met in so narrow a gap."""


class SpaceError(ValueError):
    """A segment that cannot be read; the sentence names the field, the value, why, and what would be right."""


@dataclass(frozen=True, slots=True)
class Locks:
    """Values the dentist fixed on one tooth, in 0.1 mm; None leaves it to the model. Locks never raise a cap."""

    share_right: int | None = None
    share_left: int | None = None
    width: int | None = None
    length: int | None = None
    lengthening: int | None = None
    shortening: int | None = None
    """A wish about an edge ("shorten this one by 0.5") enters here and names the tooth as one that may be shortened."""
    slender_right: int | None = None
    """Enamel taken off the side toward the patient's right. Only a lock ever takes enamel off a side; such a side is
    given no share."""
    slender_left: int | None = None
    build_up: bool = False
    """At least one whole share (a film does not count) must be placed on this tooth."""

    def removal(self, length_today: int) -> int:
        """Tenths of a millimetre that the locks themselves take off the edge."""
        if self.shortening is not None:
            return self.shortening
        return max(0, length_today - self.length) if self.length is not None else 0

    @property
    def slendering(self) -> int:
        """Tenths of a millimetre that the locks take off both sides together."""
        return (self.slender_right or 0) + (self.slender_left or 0)


@dataclass(frozen=True, slots=True)
class ToothLimits:
    """Limits of one tooth that the dentist set otherwise; None keeps what the settings say for its kind."""

    share_cap: int | None = None
    """Largest share on either side, 0.1 mm. The side wall still limits it."""
    emergence_degrees: int | None = None
    """Steepest side wall from the gum to the contact."""
    lengthen_cap: int | None = None
    """Most lengthening, 0.1 mm."""


@dataclass(frozen=True, slots=True)
class SpaceTooth:
    """One tooth of the segment as it is today. Lengths in 0.1 mm."""

    key: str
    """How the tooth is called in sentences and results; unique within the segment."""
    kind: Kind
    role: Role
    side: Side
    width: int
    """Caliper width at contact height."""
    length: int
    """Visible crown length."""
    contact_height: int = 40
    """From half a millimetre under the gum to the contact."""
    undersized: bool = False
    """An undersized lateral: wider caps. Only for ``Kind.LATERAL``."""
    restored: bool = False
    untouchable: bool = False
    """Not to be touched: no share, no change of the edge."""
    removed_before: int = 0
    """Already taken off the edge in the tooth's life."""
    sides_removed_before: int = 0
    """Already taken off the sides in the tooth's life."""
    lifetime_limit: int | None = None
    """The tooth's own lifetime limit of shortening; None takes the office's."""
    guidance_checked: bool = False
    """Side and forward guidance was checked for a longer edge."""
    shorten_named: bool = False
    """The dentist named this tooth as one that may be shortened."""
    twins_apart: bool = False
    """Not compared with its twin on the other side, neither as a limit nor as a preference: one of them is rotated."""
    locks: Locks = Locks()
    limits: ToothLimits = ToothLimits()

    @property
    def bare_width(self) -> int:
        """Width once the enamel that the locks take off the sides is gone; every share adds to it."""
        return self.width - self.locks.slendering

    @property
    def may_shorten(self) -> bool:
        """Whether the dentist named this tooth for shortening, outright or by a lock that takes length off."""
        return self.shorten_named or self.locks.removal(self.length) > 0


def mesial_is_left(tooth: SpaceTooth) -> bool:
    """Whether the tooth's mesial side is the one toward the patient's left (it is, for teeth on the right)."""
    return tooth.side is Side.RIGHT


@dataclass(frozen=True, slots=True)
class Segment:
    """A run of neighbouring upper front teeth, from the patient's right to the patient's left. Lengths in 0.1 mm."""

    teeth: tuple[SpaceTooth, ...]
    gaps: tuple[int, ...]
    gap_may_stay: tuple[bool, ...] | None = None
    """Which gaps may stay open; None ticks those distal of a canine role."""
    film: tuple[Film, ...] | None = None
    """One answer for each gap, read only where the gap is 0.1 or 0.2 mm; None means not asked anywhere."""
    gap_locks: tuple[int | None, ...] | None = None
    """A gap to be left at exactly this width: 0 closes it, the gap itself leaves it. A lock above 0 is its own tick."""
    gap_is_place: tuple[bool, ...] | None = None
    """Which gaps are a missing tooth's empty place: nothing is added into them, and they stay as they are."""
    midline_offset: int = 0
    """Plus = the teeth stand too far to the patient's left of the middle of the face."""
    woman: bool | None = None
    """None = not stated. Only the band of the lateral's edge differs."""
    additive_only: bool = False
    """Nothing is taken off any tooth, named or not; a lock that would take something off then fits nothing."""

    def __post_init__(self) -> None:
        check_segment(self)

    @property
    def ticks(self) -> tuple[bool, ...]:
        """For each gap, whether it may stay open (a lock above 0 included)."""
        given = self.gap_may_stay or tuple(
            right.side is left.side and (right if right.side is Side.LEFT else left).role is Role.CANINE
            for right, left in pairwise(self.teeth)
        )
        return tuple(tick or bool(lock) for tick, lock in zip(given, self.locked_gaps, strict=True))

    @property
    def films(self) -> tuple[Film, ...]:
        """The film answer for each gap."""
        return self.film or (Film.NOT_ASKED,) * len(self.gaps)

    @property
    def locked_gaps(self) -> tuple[int | None, ...]:
        """The lock on each gap."""
        return self.gap_locks or (None,) * len(self.gaps)

    @property
    def places(self) -> tuple[bool, ...]:
        """For each gap, whether it is an empty place."""
        return self.gap_is_place or (False,) * len(self.gaps)

    @property
    def room(self) -> tuple[int, ...]:
        """What each gap measures once the enamel that the locks take off beside it is gone."""
        return tuple(
            gap + (right.locks.slender_left or 0) + (left.locks.slender_right or 0)
            for gap, (right, left) in zip(self.gaps, pairwise(self.teeth), strict=True)
        )

    @property
    def right_count(self) -> int:
        """How many teeth stand on the patient's right; the gap before that index crosses the midline."""
        return sum(tooth.side is Side.RIGHT for tooth in self.teeth)

    def gap_name(self, index: int) -> str:
        """How a gap is called in sentences: ``11·21``."""
        return f"{self.teeth[index].key}·{self.teeth[index + 1].key}"

    def mirrored(self) -> "Segment":
        """The same mouth seen in a mirror: every fact changes sides."""
        teeth = tuple(
            replace(
                tooth,
                side=Side.LEFT if tooth.side is Side.RIGHT else Side.RIGHT,
                locks=replace(
                    tooth.locks,
                    share_right=tooth.locks.share_left,
                    share_left=tooth.locks.share_right,
                    slender_right=tooth.locks.slender_left,
                    slender_left=tooth.locks.slender_right,
                ),
            )
            for tooth in reversed(self.teeth)
        )
        return replace(
            self,
            teeth=teeth,
            gaps=self.gaps[::-1],
            gap_may_stay=self.gap_may_stay and self.gap_may_stay[::-1],
            film=self.film and self.film[::-1],
            gap_locks=self.gap_locks and self.gap_locks[::-1],
            gap_is_place=self.gap_is_place and self.gap_is_place[::-1],
            midline_offset=-self.midline_offset,
        )


MOST_TEETH = 16
"""Permanent teeth of one arch."""
_ORDER = {Role.CENTRAL: 0, Role.LATERAL: 1, Role.CANINE: 2, Role.PREMOLAR: 3}


def check_segment(segment: Segment) -> None:
    """Raise :class:`SpaceError` with a sentence when the segment's facts contradict each other."""
    teeth, count = segment.teeth, len(segment.teeth) - 1
    if count < 1:
        raise SpaceError(f"teeth: {count + 1} given, but a gap lies between two teeth; give at least two neighbours")
    if count >= MOST_TEETH:
        raise SpaceError(f"teeth: {count + 1} given, but an arch holds at most {MOST_TEETH}; give those of one arch")
    for name in ("gaps", "gap_may_stay", "film", "gap_locks", "gap_is_place"):
        values = getattr(segment, name)
        if values is not None and len(values) != count:
            raise SpaceError(f"{name}: {len(values)} given for {count + 1} teeth; give {count}, one for each gap")
    for index, gap in enumerate(segment.gaps):
        if gap < 0:
            raise SpaceError(f"gap {segment.gap_name(index)}: {gap} is below 0; give 0 where teeth touch or overlap")
        lock = segment.locked_gaps[index]
        if lock is not None and lock < 0:
            raise SpaceError(f"lock on gap {segment.gap_name(index)}: {lock} is below 0; 0 closes the gap")
    keys = [tooth.key for tooth in teeth]
    if len(set(keys)) != len(keys):
        raise SpaceError(f"teeth: {', '.join(keys)} names a tooth twice; every key must be its own")
    sides = [tooth.side for tooth in teeth]
    if sides != sorted(sides, key=lambda side: side is Side.LEFT):
        raise SpaceError("teeth: a tooth of the patient's right follows one of the left; order them from right to left")
    for side in Side:
        outward = [tooth for tooth in teeth if tooth.side is side]
        if side is Side.RIGHT:
            outward.reverse()
        for inner, outer in pairwise(outward):
            step = _ORDER[outer.role] - _ORDER[inner.role]
            if step < 0 or (step == 0 and inner.role is not Role.PREMOLAR):
                raise SpaceError(
                    f"role of {outer.key}: {outer.role} cannot stand outside the {inner.role} role of {inner.key}; "
                    "roles run central, lateral, canine, premolar away from the midline"
                )
    for tooth in teeth:
        if tooth.width <= 0 or tooth.length <= 0:
            raise SpaceError(f"{tooth.key}: width {tooth.width} and length {tooth.length} must both be above 0")
        if tooth.undersized and tooth.kind is not Kind.LATERAL:
            raise SpaceError(f"{tooth.key}: undersized is a finding of a lateral, not of a {tooth.kind}")
        if min(tooth.contact_height, tooth.removed_before, tooth.sides_removed_before) < 0:
            raise SpaceError(f"{tooth.key}: height to the contact and what was removed before cannot be below 0")
        for kept, name in ((tooth.locks, "lock on"), (tooth.limits, "limit of")):
            for field in fields(kept):
                value: int | None = getattr(kept, field.name)
                if value is not None and value < 0:
                    raise SpaceError(f"{name} {tooth.key}, {field.name}: {value} is below 0; 0 forbids it")
        if tooth.bare_width <= 0:
            raise SpaceError(
                f"lock on {tooth.key}: {tooth.locks.slendering} off its sides leaves nothing of its {tooth.width}; "
                "give less than the width"
            )
