"""How a lifecycle is written: a table of moves, each with its guards.

A guard is a function over plain facts that answers with the sentence that refuses, or with nothing. A fact nobody
stated is None and never reads as fine.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

Facts = TypeVar("Facts")
# The generic ones have no slots: Python 3.11 cannot name the type parameter of an object that has.


@dataclass(frozen=True)
class Guard(Generic[Facts]):
    """What a move demands. ``refuses`` answers with one sentence, or with nothing when the demand is met."""

    words: str
    refuses: Callable[[Facts], str]
    field: str = ""
    """The input that is at fault when it refuses, where it is one."""


@dataclass(frozen=True)
class Move(Generic[Facts]):
    """One way from a state to another; ``before`` is empty where a row begins."""

    before: str
    after: str
    guards: tuple[Guard[Facts], ...] = ()


@dataclass(frozen=True)
class Machine(Generic[Facts]):
    """One lifecycle: what its rows are called, its states in order, and every move there is."""

    name: str
    states: tuple[str, ...]
    moves: tuple[Move[Facts], ...]
    computed: tuple[tuple[str, str], ...] = ()
    """What looks like a state and is computed: its word, and from what."""

    def sources(self, to: str) -> tuple[str, ...]:
        """The states from which a move leads to ``to``."""
        return tuple(move.before for move in self.moves if move.after == to)

    def targets(self, state: str) -> tuple[str, ...]:
        """The states to which a move leads from ``state``, in the order of the states."""
        found = {move.after for move in self.moves if move.before == state}
        return tuple(one for one in self.states if one in found)


def may_move(machine: Machine[Facts], state: str, to: str, facts: Facts) -> tuple[str, ...]:
    """Why a row may not move from ``state`` to ``to``, every reason as a sentence; nothing when it may.

    Raises ValueError for a state that the machine does not have.
    """
    for one in (state, to):
        if one and one not in machine.states:
            raise ValueError(f'"{one}" is no state of {machine.name}')
    move = _move(machine, state, to)
    if move is None:
        wanted = [one or "new" for one in machine.sources(to)]
        return (f"The {machine.name} is {state or 'new'}; this needs one that is {' or '.join(wanted)}.",)
    return tuple(words for guard in move.guards if (words := guard.refuses(facts)))


def refusals(machine: Machine[Facts], state: str, to: str, facts: Facts) -> tuple[tuple[str, str], ...]:
    """Field and sentence of every guard that refuses; nothing where all agree or there is no such move."""
    move = _move(machine, state, to)
    return tuple((guard.field, words) for guard in move.guards if (words := guard.refuses(facts))) if move else ()


def field_at_fault(machine: Machine[Facts], state: str, to: str, facts: Facts) -> str:
    """The input that the first refusing guard is about; empty where it is none."""
    move = _move(machine, state, to)
    return next((guard.field for guard in move.guards if guard.refuses(facts)), "") if move else ""


def _move(machine: Machine[Facts], state: str, to: str) -> Move[Facts] | None:
    return next((each for each in machine.moves if (each.before, each.after) == (state, to)), None)
