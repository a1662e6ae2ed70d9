"""Where a recorded tooth stands and what it must look like: two facts beside what it is."""

from planner.rules.mouth import ToothFacts
from planner.rules.teeth import Tooth


def place_of(facts: ToothFacts) -> Tooth:
    """The place a tooth stands in: as recorded, else its own.

    A baby tooth that stands where it grew keeps the place of its successor, the tooth of the same position.
    """
    if facts.place is not None:
        return facts.place
    tooth = facts.tooth
    return Tooth(tooth.upper, tooth.side, tooth.position) if tooth.is_primary and not tooth.is_extra else tooth


def role_of(facts: ToothFacts) -> str:
    """The kind of tooth it must look like: as recorded, else the kind that belongs in its place."""
    return facts.role or place_of(facts).kind.value
