"""Where a recorded tooth stands, what it must look like and how much of the arch it takes: facts beside what it is."""

from math import cos, floor, radians, sin

from planner.rules.mouth import CaseFacts, Examination, ToothFacts
from planner.rules.teeth import Tooth


def place_of(facts: ToothFacts) -> Tooth:
    """The place a tooth stands in: as recorded, else its own.

    A baby tooth that stands where it grew keeps the place of its successor, the tooth of the same position.
    """
    if facts.place is not None:
        return facts.place
    return place_named(facts.tooth)


def place_named(tooth: Tooth) -> Tooth:
    """The place that belongs to a tooth: its own, a baby tooth's being that of its successor."""
    return Tooth(tooth.upper, tooth.side, tooth.position) if tooth.is_primary and not tooth.is_extra else tooth


def places_held(facts: ToothFacts) -> tuple[Tooth, ...]:
    """Every place a tooth takes: one, or two where it is two teeth that grew together."""
    own = place_of(facts)
    if facts.double_counts == "twice" and facts.double_with is not None:
        return (own, place_named(facts.double_with))
    return (own,)


def role_of(facts: ToothFacts) -> str:
    """The kind of tooth it must look like: as recorded, else the kind that belongs in its place."""
    return facts.role or place_of(facts).kind.value


def standing_in(examination: Examination) -> dict[Tooth, ToothFacts]:
    """The recorded tooth of every place; extra teeth stand in none. A double tooth that counts twice is in two."""
    return {
        place: found
        for found in examination.teeth
        if not found.tooth.is_extra
        for place in reversed(places_held(found))
    }


def turned_space(width: int, thickness: int, degrees: int) -> int:
    """What a crown turned by ``degrees`` takes up along the arch, all lengths in 0.1 mm, to the nearest tenth.

    ``width * cos + thickness * sin`` (geometry): the shadow of a box, which a rounded crown stays a little under.
    Raises ValueError unless width and thickness are above 0 and the turn is 0 to 180 degrees.
    """
    if width <= 0 or thickness <= 0 or not 0 <= degrees <= 180:
        raise ValueError(
            f"width {width}, thickness {thickness} and turn {degrees} do not go together: both lengths are above 0 "
            "tenths of a millimetre, and the turn is 0 to 180 degrees"
        )
    angle = radians(degrees)
    # Rounded at once; the small addition keeps an exact half from falling below itself in binary.
    return floor(width * abs(cos(angle)) + thickness * sin(angle) + 0.5 + 1e-9)


def arch_space(facts: ToothFacts) -> int | None:
    """What a tooth takes up along the arch, 0.1 mm: as measured, else worked out; None when too little was measured.

    A tooth of which no turn was recorded stands in line and takes its width.
    """
    if facts.arch_space is not None:
        return facts.arch_space
    if not facts.rotation:
        return facts.width
    if not facts.width or not facts.thickness:
        return None
    return turned_space(facts.width, facts.thickness, facts.rotation)


def with_roles(facts: CaseFacts) -> CaseFacts:
    """The facts with every tooth in the role that the dentist gave it, where one was given."""
    given = {lock.tooth: lock.role for lock in facts.choices.locks if lock.role is not None}
    if not given:
        return facts
    teeth = tuple(
        tooth.model_copy(update={"role": given.get(tooth.tooth, tooth.role)}) for tooth in facts.examination.teeth
    )
    return facts.model_copy(update={"examination": facts.examination.model_copy(update={"teeth": teeth})})
