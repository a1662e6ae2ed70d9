"""The after-care sheet: what a patient takes home after a visit, from the treatments that were done at it.

Common practice, no source; it names no dose and no drug. Whoever treats goes before it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from pydantic import TypeAdapter

from planner.rules.evidence import DATA, read_toml
from planner.rules.treatment_parts import CareLine
from planner.rules.treatments import Treatment

WHEN = ("today", "soon", "later", "ring", "at once")
"""The parts of a sheet in the order in which they are read."""


@dataclass(frozen=True, slots=True)
class CarePart:
    """One part of the sheet."""

    when: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CareSheet:
    """What is said after one visit."""

    treatments: tuple[str, ...]
    """Names of what was done."""
    parts: tuple[CarePart, ...]
    translated: bool
    """Whether every line is there in the language asked for."""


def care_sheet(done: Sequence[tuple[Treatment, str]], language: str = "en") -> CareSheet | None:
    """The sheet after a visit at which ``done`` was done, as (treatment, key of its visit); None where nothing is said.

    What each treatment asks for from then on stands under "later". A line said by two treatments is said once.
    """
    lines = list(_lines(done))
    if not any(line.when in ("today", "soon") for line in lines):
        return None
    lines = [*general(), *lines]
    said: dict[str, dict[str, None]] = {when: {} for when in WHEN}
    translated = True
    for line in lines:
        translated = translated and bool(language == "en" or line.words_es)
        said[line.when][(line.words_es if language == "es" else "") or line.words] = None
    for part, _visit in done:
        for must in part.you_must:
            translated = translated and bool(language == "en" or must.words_es)
            said["later"][(must.words_es if language == "es" else "") or must.words] = None
    return CareSheet(
        tuple(dict.fromkeys(part.named(language) for part, _visit in done)),
        tuple(CarePart(when, tuple(found)) for when, found in said.items() if found),
        translated,
    )


def _lines(done: Iterable[tuple[Treatment, str]]) -> Iterator[CareLine]:
    for part, visit in done:
        yield from (line for line in part.care if not line.visits or visit in line.visits)


@cache
def general() -> tuple[CareLine, ...]:
    """What is said after every visit. Raises pydantic.ValidationError when the file is not of its form."""
    return TypeAdapter(tuple[CareLine, ...]).validate_python(read_toml(DATA / "after_care.toml")["care"])
