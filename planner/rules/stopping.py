"""Will it fit into the time, and where may work stop if it does not?

A visit may end early only where the mouth can be left as it is: never with one central finished and its pair not, and
never with a gap left so narrow that it traps food. Both are common practice, no source; whoever treats decides.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import permutations
from typing import Final

from planner.rules.clock import VisitTime
from planner.rules.results import GapShape
from planner.rules.teeth import Tooth
from planner.rules.units import format_mm

_MOST_TEETH_TRIED: Final = 7
"""Orders of more teeth are not tried one by one; no visit holds so many."""


def finish_chance(time: VisitTime, starts: datetime, by: datetime) -> int:
    """Of 100 such visits that start at ``starts``, how many are over by ``by``."""
    return time.chance_within(max(0, (by - starts) // timedelta(minutes=1)))


@dataclass(frozen=True, slots=True)
class StopPoint:
    """The mouth after some of the teeth of a visit are finished."""

    done: tuple[Tooth, ...]
    time: VisitTime
    """Of a visit with these teeth alone, set-up and finish included."""
    why_not: tuple[str, ...]
    """Why work may not stop here; empty where it may."""

    @property
    def safe(self) -> bool:
        return not self.why_not


def stopping_points(
    order: Sequence[Tooth],
    gaps: Sequence[GapShape],
    time_of: Callable[[tuple[Tooth, ...]], VisitTime],
    gap_left_min: int,
) -> tuple[StopPoint, ...]:
    """The mouth after each tooth of ``order``; after the last, everything is as planned and so may stop.

    ``gap_left_min`` is the narrowest gap that may stay open, tenths of a millimetre. ``time_of`` gives the time of a
    visit with the teeth it is given.
    """
    return tuple(
        StopPoint(done, time_of(done), why_not_here(done, order, gaps, gap_left_min))
        for done in (tuple(order[: count + 1]) for count in range(len(order)))
    )


def why_not_here(
    done: Sequence[Tooth], teeth: Sequence[Tooth], gaps: Sequence[GapShape], gap_left_min: int
) -> tuple[str, ...]:
    """Why the mouth cannot be left with ``done`` finished of ``teeth``; nothing where it can."""
    finished = set(done)
    if finished >= set(teeth):
        return ()
    found = [
        f"The {tooth.name} is finished and its pair is not."
        for tooth in done
        if tooth.position == 1 and not tooth.is_extra and tooth.twin in teeth and tooth.twin not in finished
    ]
    for gap in gaps:
        added = gap.to_right_tooth_tenths * (gap.right_tooth in finished)
        added += gap.to_left_tooth_tenths * (gap.left_tooth in finished)
        open_still = gap.width_tenths - added
        if added and 0 < open_still < gap_left_min and open_still != gap.left_open_tenths:
            between = f"the {gap.right_tooth.name} and the {gap.left_tooth.name}"
            found.append(f"{format_mm(open_still)} mm would stay open between {between}, which traps food.")
    return tuple(found)


def best_order(teeth: Sequence[Tooth], gaps: Sequence[GapShape], gap_left_min: int) -> tuple[Tooth, ...]:
    """The order in which work may stop after most teeth; among equals the one nearest to the order given.

    Given more teeth than are ever done at one visit, the order stays as it is.
    """
    if len(teeth) > _MOST_TEETH_TRIED:
        return tuple(teeth)

    def stops(order: tuple[Tooth, ...]) -> tuple[int, ...]:
        safe = [count for count in range(1, len(order)) if not why_not_here(order[:count], teeth, gaps, gap_left_min)]
        # Many places to stop first, then early ones.
        return (len(safe), *(-count for count in safe))

    return max(permutations(teeth), key=stops, default=())
