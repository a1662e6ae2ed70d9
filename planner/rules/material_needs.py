"""Which materials a treatment takes for the work of one patient: all of it, or what is done at one visit."""

from collections.abc import Sequence

from planner.rules.book import OfficeBook
from planner.rules.charging import arches_of
from planner.rules.courses import Work
from planner.rules.materials import Built, Need, forecast
from planner.rules.mouth import CaseFacts
from planner.rules.treatments import Treatment


def built_by(treatment: Treatment, work: Sequence[Work], facts: CaseFacts) -> tuple[Built, ...]:
    """What ``treatment`` adds to the teeth in ``work`` that were measured; nothing where it does not add."""
    face = treatment.works_on == "faces"
    if not face and treatment.works_on != "spaces":
        return ()
    found: list[Built] = []
    for line in work:
        tooth = facts.tooth(line.tooth) if line.treatment == treatment.key and line.tooth else None
        shaped = face or line.mesial or line.distal or line.lengthening
        if tooth is not None and tooth.width and tooth.length and shaped:
            found.append(Built.of(line, tooth.width, tooth.length, face=face))
    return tuple(found)


def treatment_needs(
    treatment: Treatment, work: Sequence[Work], facts: CaseFacts, book: OfficeBook, *, visits: int = 1, arches: int = -1
) -> tuple[Need, ...]:
    """What ``treatment`` takes for the lines of ``work`` that are its own, at ``visits`` visits.

    ``arches`` counts what is made once for an arch (an index, trays); left out, as many as the treatment is made for,
    and 0 at a visit that comes after such a thing was made. Latex follows what the patient said.
    """
    teeth = {line.tooth for line in work if line.treatment == treatment.key and line.tooth and not line.fills_place}
    return forecast(
        book,
        treatment.key,
        treatment.materials,
        built_by(treatment, work, facts),
        teeth=len(teeth),
        visits=visits,
        arches=arches_of(treatment) if arches < 0 else arches,
        latex=facts.history.latex,
    )
