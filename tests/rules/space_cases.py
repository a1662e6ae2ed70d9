"""Segments for the tests of sharing space: the worked cases, and seeded random arches."""

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from planner.rules.space_model import Film, Kind, Locks, Role, Segment, Side, SpaceTooth, ToothLimits

_KINDS = {"1": Kind.CENTRAL, "2": Kind.LATERAL, "3": Kind.CANINE, "4": Kind.PREMOLAR, "5": Kind.PREMOLAR}


def tooth(key: str, width: int, length: int, *, role: Role | None = None, **facts: object) -> SpaceTooth:
    """A tooth by its ISO 3950 number; its kind and side follow from the number, its role unless given."""
    kind = Kind.PRIMARY if key[0] in "56" else _KINDS[key[1]]
    side = Side.RIGHT if key[0] in "15" else Side.LEFT
    return SpaceTooth(key, kind, role or Role(kind.value), side, width, length, **facts)  # type: ignore[arg-type]


def lead(
    gap_53_13: int = 5, gap_13_11: int = 3, *, primary_locked: bool = True, film: Film = Film.NOT_ASKED
) -> Segment:
    """A man whose 13 stands in the place of 12 that never formed; 53 is still there, 22 is undersized."""
    return Segment(
        teeth=(
            tooth("53", 64, 63, role=Role.CANINE, untouchable=primary_locked),
            tooth("13", 78, 101, role=Role.LATERAL, locks=Locks(shortening=5)),
            tooth("11", 83, 105),
            tooth("21", 84, 106),
            tooth("22", 55, 83, undersized=True),
            tooth("23", 79, 104),
        ),
        gaps=(gap_53_13, gap_13_11, 8, 7, 9),
        gap_may_stay=(True, False, False, False, False),
        film=(film,) * 5,
        midline_offset=5,
        woman=False,
    )


CASE_2 = Segment(
    (tooth("12", 63, 88), tooth("11", 81, 101), tooth("21", 82, 106), tooth("22", 64, 89)), (3, 17, 0), woman=True
)
CASE_3 = Segment(
    (tooth("12", 66, 87), tooth("11", 88, 97), tooth("21", 89, 98), tooth("22", 67, 88)), (0, 34, 0), woman=False
)
CASE_4 = Segment(
    (
        tooth("21", 88, 106),
        tooth("22", 46, 72, undersized=True, locks=Locks(build_up=True)),
        tooth("23", 78, 100),
    ),
    (3, 3),
)
DEMO_4 = Segment(
    (
        tooth("12", 64, 90),
        tooth("11", 83, 103),
        tooth("21", 83, 103),
        tooth("22", 50, 77, undersized=True),
        tooth("23", 76, 99),
    ),
    (0, 0, 8, 9),
    woman=True,
)
DEMO_12 = Segment(
    (tooth("12", 63, 97), tooth("11", 84, 113), tooth("21", 84, 114), tooth("22", 64, 97)), (5, 9, 6), woman=True
)

_LAYOUTS = (
    "12 11 21 22",
    "12 11 21",
    "11 21 22 23",
    "13 12 11 21 22 23",
    "12 11 21 22 23",
    "13/2 11 21 22",
    "53/3 13/2 11 21 22 23",
    "12 11 21 22 63/3",
    "14/3 12 11 21",
    "13 12 11 21 22 24/3",
    "21 22 23",
    "21 22 24/3 25",
    "14/3 12 11",
    "13/2 11 21 23/2 24/3",
    "13 11 21 22 23",
    "12 21 22",
    "15 14 13 12 11 21 22",
    "52/2 11 21 22",
    "14 13 12 11 21 22 23 24",
    "13 12 11 21 22 23 24",
    "14/3 13/2 11 21 22 23",
)
SMALL = (
    "11 21",
    "12 11",
    "22 23",
    "53/3 12",
    "21 22 23",
    "12 11 21",
    "13/2 11 21",
    "22 24/3",
    "12 22",
    "14 15",
    "53/3 13/2 11",
    "11 21 22 23",
    "12 11 21 22",
    "12 11 21 22",
    "13/2 11 21 22",
    "13 12 11 21",
)
"""Layouts of two to four teeth; those of two and three can be searched by trying everything."""
_SIZES = {
    Kind.CENTRAL: ((78, 90), (96, 112)),
    Kind.LATERAL: ((50, 70), (76, 98)),
    Kind.CANINE: ((72, 82), (92, 106)),
    Kind.PREMOLAR: ((66, 76), (82, 96)),
    Kind.PRIMARY: ((58, 68), (58, 68)),
}
_ROLES = {"2": Role.LATERAL, "3": Role.CANINE}


def random_arch(seed: int, *, locks: bool = True, layouts: Sequence[str] = _LAYOUTS) -> Segment:
    """An arch of plausible teeth and gaps; the same seed gives the same arch."""
    chance = Random(seed)
    teeth = []
    for word in chance.choice(layouts).split():
        key, _, role = word.partition("/")
        made = tooth(key, 1, 1, role=_ROLES.get(role))
        widths, lengths = _SIZES[made.kind]
        undersized = made.kind is Kind.LATERAL and chance.random() < 0.3
        made = replace(
            made,
            width=chance.randint(*widths) - (8 if undersized else 0),
            length=chance.randint(*lengths),
            contact_height=chance.choice((40, 40, 40, 35, 30, 18)),
            undersized=undersized,
            restored=chance.random() < 0.2,
            untouchable=chance.random() < 0.08,
            guidance_checked=chance.random() < 0.3,
            shorten_named=chance.random() < 0.1,
            removed_before=chance.choice((0, 0, 2)),
            sides_removed_before=chance.choice((0, 0, 0, 1)),
            twins_apart=chance.random() < 0.05,
            limits=_random_limits(chance),
        )
        teeth.append(replace(made, locks=_random_locks(chance, made)) if locks else made)
    count = len(teeth) - 1
    gaps = [chance.choice((0, 0, 0, 3, 4, 5, 6, 7, 8, 9, 10, 11)) for _ in range(count)]
    if chance.random() < 0.3:
        gaps[chance.randrange(count)] = chance.choice((1, 2))
    if chance.random() < 0.2:
        gaps[chance.randrange(count)] = chance.randint(12, 24)
    return Segment(
        teeth=tuple(teeth),
        gaps=tuple(gaps),
        gap_may_stay=tuple(chance.random() < 0.25 for _ in range(count)) if chance.random() < 0.5 else None,
        film=(chance.choice((Film.ALLOWED, Film.ALLOWED, Film.REFUSED)),) * count,
        gap_locks=tuple(_random_gap_lock(chance, gap) for gap in gaps) if locks else None,
        gap_is_place=tuple(chance.random() < 0.3 and gap > 10 for gap in gaps) if chance.random() < 0.2 else None,
        midline_offset=chance.choice((0, 0, 5, -5, 12, -22)),
        woman=chance.choice((True, False, None)),
        additive_only=chance.random() < 0.1,
    )


def _random_limits(chance: Random) -> ToothLimits:
    if chance.random() > 0.08:
        return ToothLimits()
    return ToothLimits(
        share_cap=chance.choice((None, 17, 4)),
        emergence_degrees=chance.choice((None, 35, 45)),
        lengthen_cap=chance.choice((None, 14, 0)),
    )


def _random_locks(chance: Random, made: SpaceTooth) -> Locks:
    roll = chance.random()
    if roll < 0.03:
        return Locks(shortening=chance.randint(2, 5))
    if roll < 0.06:
        return Locks(width=made.width + chance.choice((0, 3, 5)))
    if roll < 0.09:
        return Locks(length=made.length + chance.choice((-3, 0, 5, 7)))
    if roll < 0.11:
        return Locks(share_right=chance.choice((0, 3, 4)))
    if roll < 0.13:
        return Locks(lengthening=chance.choice((0, 5)))
    if roll < 0.15:
        return Locks(slender_left=chance.choice((1, 2)))
    if roll < 0.17:
        return Locks(slender_right=chance.choice((0, 2)))
    return Locks(build_up=roll < 0.21)


def _random_gap_lock(chance: Random, gap: int) -> int | None:
    if chance.random() > 0.06:
        return None
    return chance.choice((0, gap))
