"""From examination facts to a segment of the space-sharing model.

The model itself (:mod:`planner.rules.spaces`) knows nothing of case files: this module puts a case before it, and
:mod:`planner.rules.space_told` tells its answer in the words and teeth of the case. Nothing else translates.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from planner.rules.choices import Choices, Lock
from planner.rules.mouth import CaseFacts, EmptyPlace, Sex, ToothFacts
from planner.rules.space_limits import SpaceLimits, default_limits, with_limits
from planner.rules.space_model import Film, Kind, Locks, Role, Segment, SpaceTooth, ToothLimits
from planner.rules.space_model import Side as SpaceSide
from planner.rules.space_results import SpaceResult
from planner.rules.spaces import share_space
from planner.rules.standing import place_of, role_of, with_roles
from planner.rules.teeth import Kind as ToothKind
from planner.rules.teeth import Side, Tooth
from planner.rules.words import spoken, told

_KINDS = {
    ToothKind.CENTRAL: Kind.CENTRAL,
    ToothKind.LATERAL: Kind.LATERAL,
    ToothKind.CANINE: Kind.CANINE,
    ToothKind.PREMOLAR: Kind.PREMOLAR,
    ToothKind.PRIMARY_CENTRAL: Kind.PRIMARY,
    ToothKind.PRIMARY_LATERAL: Kind.PRIMARY,
    ToothKind.PRIMARY_CANINE: Kind.PRIMARY,
    ToothKind.PRIMARY_MOLAR: Kind.PRIMARY,
}


class MeasureFirst(ValueError):
    """The upper front cannot be shared yet; :attr:`questions` says what is not measured."""

    def __init__(self, questions: tuple[str, ...]) -> None:
        self.questions = questions
        super().__init__(" ".join(questions))


def limit_changes(office_limits: Mapping[str, int], choices: Choices) -> tuple[tuple[str, int], ...]:
    """The settings that differ from the shipped ones: the office's own, and the ratio aimed at in this case."""
    ratio = next((lock.percent for lock in choices.locks if lock.what == "ratio"), None)
    return tuple(sorted({**office_limits, **({} if ratio is None else {"band_ratio.target": ratio})}.items()))


def limits_of(office_limits: Mapping[str, int], choices: Choices) -> SpaceLimits:
    """The model's settings with the office's own, and with what the dentist aims at in this case.

    Raises ValueError for a name the model does not know.
    """
    return with_limits(default_limits(), dict(limit_changes(office_limits, choices)))


def shared(segment: Segment, changes: tuple[tuple[str, int], ...]) -> SpaceResult:
    """The space of ``segment`` shared, with settings as :func:`limit_changes` gives them.

    Remembered: a page that redraws while values change asks every time anew for what is stored.
    """
    return _shared(segment, changes, spoken())


@lru_cache(maxsize=64)
def _shared(segment: Segment, changes: tuple[tuple[str, int], ...], _language: str) -> SpaceResult:
    # The answer holds sentences, so that one of each language is remembered.
    return share_space(segment, with_limits(default_limits(), dict(changes)))


def front_teeth(facts: CaseFacts) -> tuple[ToothFacts, ...]:
    """The recorded upper teeth from premolar to premolar, from the patient's right to left."""
    found = [
        tooth
        for tooth in facts.examination.teeth
        if place_of(tooth).upper and tooth.tooth.kind in _KINDS and place_of(tooth).kind is not ToothKind.MOLAR
    ]
    return tuple(sorted(found, key=lambda tooth: place_of(tooth).arch_index))


@dataclass(frozen=True, slots=True)
class _Between:
    """What lies between two neighbours of the upper front, 0.1 mm."""

    right: Tooth
    left: Tooth
    width: int | None
    film: Film
    may_stay: bool
    lock: int | None
    place: bool
    """A missing tooth's empty place: its width is the business of whatever fills it."""


def segment_of(facts: CaseFacts) -> Segment:
    """The segment of the measured upper front, every tooth in the role that the dentist gave it.

    Raises MeasureFirst with every missing measurement, and
    :class:`~planner.rules.space_model.SpaceError` when roles contradict each other.
    """
    facts = with_roles(facts)
    teeth = front_teeth(facts)
    between = [_between(facts, right, left) for right, left in pairwise(teeth)]
    missing = [
        told(template, tooth=tooth.tooth.label(facts.numbering))
        for tooth in teeth
        for template, value in (
            ("The width of the {tooth} is not measured.", tooth.width),
            ("The length of the {tooth} is not measured.", tooth.length),
        )
        if value is None
    ]
    missing += [
        told(
            "The gap between the {right} and the {left} is not measured; write 0 where they touch.",
            right=each.right.label(facts.numbering),
            left=each.left.label(facts.numbering),
        )
        for each in between
        if each.width is None
    ]
    missing += [
        told(
            "The {tooth} is a double tooth: limits of shape and proportion do not hold for it, "
            "so how its space is shared is for the dentist to plan.",
            tooth=tooth.tooth.label(facts.numbering),
        )
        for tooth in teeth
        if tooth.double
    ]
    missing += [
        told(
            "The {tooth} stands among the upper front teeth: how space is shared beside it is for the dentist to plan.",
            tooth=extra.tooth.label(facts.numbering),
        )
        for extra in facts.examination.teeth
        if extra.tooth.is_extra and extra.width is not None and extra.tooth.upper and _is_front(extra.tooth)
    ]
    offset = _midline_aimed_at(facts)
    if offset is None:
        missing.append(
            told(
                "The middle of the upper front teeth is not held against the middle of the face; write 0 when in line."
            )
        )
    if len(teeth) < 2:
        missing.append(told("At least two neighbouring upper front teeth must be measured before space can be shared."))
    if missing or offset is None:
        raise MeasureFirst(tuple(missing))
    bare = Segment(
        teeth=tuple(_space_tooth(tooth, facts) for tooth in teeth),
        gaps=tuple(each.width or 0 for each in between),
        film=tuple(each.film for each in between),
        gap_locks=tuple(each.lock for each in between),
        gap_is_place=tuple(each.place for each in between),
        midline_offset=offset,
        woman=None if facts.patient.sex is None else facts.patient.sex is Sex.WOMAN,
    )
    ticks = tuple(tick or each.may_stay for tick, each in zip(bare.ticks, between, strict=True))
    return replace(bare, gap_may_stay=ticks)


def _is_front(extra: Tooth) -> bool:
    beside = extra.neighbour
    return beside is not None and _KINDS.get(beside.kind, Kind.PREMOLAR) is not Kind.PREMOLAR


def _midline_aimed_at(facts: CaseFacts) -> int | None:
    """How far the teeth stand to the patient's left of the midline aimed at, 0.1 mm: the face's unless fixed.

    None when it was neither measured nor fixed.
    """
    aimed = next((lock.value for lock in facts.choices.locks if lock.what == "midline"), None)
    return facts.examination.midline_offset if aimed is None else aimed


def _between(facts: CaseFacts, right: ToothFacts, left: ToothFacts) -> _Between:
    pair = frozenset((right.tooth, left.tooth))
    gap = next((gap for gap in facts.examination.gaps if frozenset(gap.between) == pair), None)
    place = place_between(facts, right, left)
    lock = next((lock.value for lock in facts.choices.locks if lock.between and frozenset(lock.between) == pair), None)
    return _Between(
        right=right.tooth,
        left=left.tooth,
        width=gap.width if gap else place.crown_distance if place else None,
        film=Film(gap.film) if gap and gap.film else Film.NOT_ASKED,
        may_stay=bool(gap and gap.may_stay),
        lock=lock,
        place=place is not None,
    )


def place_between(facts: CaseFacts, right: ToothFacts, left: ToothFacts) -> EmptyPlace | None:
    """The empty place that lies between two standing neighbours, if any."""
    low, high = place_of(right), place_of(left)
    return next(
        (
            empty
            for empty in facts.examination.empty_places
            if empty.place.upper == low.upper and low.arch_index < empty.place.arch_index < high.arch_index
        ),
        None,
    )


def _space_tooth(facts: ToothFacts, case: CaseFacts) -> SpaceTooth:
    assert facts.width is not None
    assert facts.length is not None
    place = place_of(facts)
    side = SpaceSide.RIGHT if place.side is Side.RIGHT else SpaceSide.LEFT
    locks = [lock for lock in case.choices.locks if lock.tooth == facts.tooth]
    kind = _KINDS[facts.tooth.kind]
    tooth = SpaceTooth(
        key=facts.tooth.key,
        kind=kind,
        role=Role(role_of(facts)),
        side=side,
        width=facts.width,
        length=facts.length,
        undersized=bool(facts.undersized) and kind is Kind.LATERAL,
        restored=bool(facts.restored),
        untouchable=facts.not_to_be_touched or any(lock.what == "untouched" for lock in locks),
        removed_before=facts.edge_removed_before,
        sides_removed_before=facts.sides_removed_before,
        guidance_checked=facts.guidance_checked,
        twins_apart=any(lock.what == "twins apart" for lock in locks),
        limits=_limits(locks),
        locks=_locks(locks, mesial_left=side is SpaceSide.RIGHT),
    )
    return tooth if facts.contact_height is None else replace(tooth, contact_height=facts.contact_height)


def _limits(locks: list[Lock]) -> ToothLimits:
    raised = {lock.what: lock for lock in locks}
    share, wall, longer = (raised.get(what) for what in ("share limit", "emergence limit", "lengthen limit"))
    return ToothLimits(
        share_cap=share.value if share else None,
        emergence_degrees=wall.degrees if wall else None,
        lengthen_cap=longer.value if longer else None,
    )


def _locks(locks: list[Lock], *, mesial_left: bool) -> Locks:
    value = {lock.what: lock.value for lock in locks}
    shares = value.get("mesial share"), value.get("distal share")
    slender = value.get("slenderise mesial"), value.get("slenderise distal")
    (share_left, share_right), (slender_left, slender_right) = (
        pair if mesial_left else pair[::-1] for pair in (shares, slender)
    )
    return Locks(
        share_right=share_right,
        share_left=share_left,
        slender_right=slender_right,
        slender_left=slender_left,
        width=value.get("width"),
        length=value.get("length"),
        lengthening=value.get("lengthen"),
        shortening=value.get("shorten"),
        build_up="build up" in value,
    )


def teeth_by_key(facts: CaseFacts) -> dict[str, Tooth]:
    """The teeth of the segment by the name the model calls them: the tooth's own key, never a typed number."""
    return {tooth.tooth.key: tooth.tooth for tooth in front_teeth(facts)}
