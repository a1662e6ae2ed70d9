"""Who else must agree to a treatment, such as the other parent, and what a disagreement holds up.

Both parents of a child may be entitled, and the law of the place says whether one is enough. The program does not
decide between them: a no that somebody told holds everything up until a person settles it by name and reason.
Common practice, no source.
"""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Final

from planner.rules.words import told


class Say(StrEnum):
    """What is known of one person whose agreement counts."""

    WANTED = "must agree"
    AGREES = "agrees"
    DISAGREES = "disagrees"
    SETTLED = "settled"


_AFTER: Final[Mapping[Say | None, frozenset[Say]]] = {
    None: frozenset({Say.WANTED, Say.DISAGREES}),
    Say.WANTED: frozenset({Say.AGREES, Say.DISAGREES, Say.SETTLED}),
    Say.AGREES: frozenset({Say.WANTED, Say.DISAGREES}),
    Say.DISAGREES: frozenset({Say.SETTLED}),
    Say.SETTLED: frozenset({Say.WANTED, Say.DISAGREES}),
}


def standings(rows: Iterable[tuple[str, str]]) -> dict[str, tuple[str, Say]]:
    """Where each person stands: the newest of ``rows`` (person, what was said), oldest first, by the name in lower
    case; with the name as it was written last.
    """
    found: dict[str, tuple[str, Say]] = {}
    for person, said in rows:
        found[_plain(person)] = (person, Say(said))
    return found


def may_follow(rows: Iterable[tuple[str, str]], person: str, said: Say) -> bool:
    """Whether ``said`` may be written of ``person`` after ``rows``. A no ends by being settled, and not otherwise."""
    before = standings(rows).get(_plain(person))
    return said in _AFTER[before[1] if before else None]


def disputed(rows: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Who disagrees, one sentence each: nothing is signed, booked or begun."""
    return tuple(
        told("{name} disagrees: nothing is signed, booked or begun until it is settled.", name=name)
        for name, said in standings(rows).values()
        if said is Say.DISAGREES
    )


def wanting(rows: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Who disagrees, and who must agree and has not yet, one sentence each: nothing is signed or begun."""
    known = list(rows)
    silent = (
        told("{name} must agree too, and has not yet.", name=name)
        for name, said in standings(known).values()
        if said is Say.WANTED
    )
    return (*disputed(known), *silent)


def _plain(person: str) -> str:
    return " ".join(person.casefold().split())
