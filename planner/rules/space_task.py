"""What one search of the space model is asked, what it answers, and how an order of goals becomes one integer.

A whole lexicographic order is packed into one integer: each quantity gets its own bits, so that comparing two integers
compares the quantities one after another. The tie rule is a second integer. It orders the teeth by today's width, then
by arch order; tooth by tooth in that order the larger sum of shares wins, then the larger share on the patient's right,
then the smaller lengthening, then the smaller shortening.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from planner.rules import space_bands as bands
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import SpaceTooth
from planner.rules.space_results import Rule


class Quantity(StrEnum):
    """What an order of goals may list."""

    REMOVED = "mm removed beyond the locks"
    COMFORT = "comfort count"
    TOUCHING = "cost of touching"
    MISFIT = "misfit"
    MATERIAL = "material"
    GAPS_LEFT = "gaps left open"
    LEFT_TOTAL = "sum of gaps left open"
    MOVED = "sum of movements"
    GAPS_MOVED = "gaps that change by movement"
    MOVED_NEAR = "how near the midline the moved gaps lie"
    MOVED_LATE = "how late in arch order the moved gaps lie"


_BITS = {
    Quantity.REMOVED: 8,
    Quantity.COMFORT: 6,
    Quantity.TOUCHING: 9,
    Quantity.MISFIT: 24,
    Quantity.MATERIAL: 12,
    Quantity.GAPS_LEFT: 5,
    Quantity.LEFT_TOTAL: 13,
    Quantity.MOVED: 14,
    Quantity.GAPS_MOVED: 4,
    Quantity.MOVED_NEAR: 7,
    Quantity.MOVED_LATE: 7,
}
_DIGIT = 10
_MOST = (1 << _DIGIT) - 1
"""Bits of each number in the tie rule (sum of shares, right share, lengthening, shortening), and the largest."""
TIE_BITS = 4 * _DIGIT


class Gaps(StrEnum):
    """How gaps may behave in a search."""

    AS_MEASURED = "as measured"
    PART = "any may stay open"
    MOVED = "teeth may be moved"


@dataclass(frozen=True)
class Task:
    """What one search is asked."""

    order: tuple[Quantity, ...] = ()
    """Most important first; empty asks only whether anything fits."""
    ties: bool = False
    dropped: frozenset[Rule] = frozenset()
    gaps: Gaps = Gaps.AS_MEASURED
    movable: frozenset[int] | None = None
    """With ``Gaps.MOVED``: the gaps that may change; None is all."""
    furthest: int | None = None
    """With ``Gaps.MOVED``: the most that all gaps together may change; the order must then begin with ``MOVED``."""
    largest_share: int | None = None
    at_most: int | None = None
    """Only answers of this packed cost or less."""
    comfortable: bool = False
    """Only shares and edges within comfort."""


class Choice(NamedTuple):
    """What a search does to one tooth. 0.1 mm."""

    share_right: int
    share_left: int
    lengthening: int
    shortening: int


def tie_of(choice: Choice) -> int:
    """One tooth's part in the tie rule, less being better."""
    right, left, e, s = choice
    return (((_MOST - right - left) << _DIGIT | (_MOST - right)) << _DIGIT | e) << _DIGIT | s


def tie_places(teeth: tuple[SpaceTooth, ...]) -> list[int]:
    """For every tooth, by how many bits its part in the tie rule is shifted: narrowest tooth first, then arch order."""
    places = [0] * len(teeth)
    ranked = sorted(range(len(teeth)), key=lambda index: (teeth[index].width, index))
    for place, index in enumerate(reversed(ranked)):
        places[index] = place * TIE_BITS
    return places


@dataclass(frozen=True)
class Found:
    """The best answer to a task. 0.1 mm."""

    cost: int
    tie: int
    """By the tie rule, 0 where the task does not ask for it."""
    choices: tuple[Choice, ...]
    gaps_left: tuple[int, ...]
    moves: tuple[int, ...]


class Weights:
    """The weights of one task: every quantity of a tooth or a gap as part of one integer, less being better."""

    def __init__(self, limits: SpaceLimits, task: Task) -> None:
        self.limits = limits
        scale = 1
        weights = dict.fromkeys(Quantity, 0)
        for quantity in reversed(task.order):
            weights[quantity] = scale
            scale <<= _BITS[quantity]
        self.weights = weights
        self.misfit = weights[Quantity.MISFIT]
        self.of_teeth = not _OF_TEETH.isdisjoint(task.order)
        self.upper = scale << 8
        """Above the cost of every answer that counts."""
        if task.at_most is not None:
            self.upper = task.at_most + 1
        if task.furthest is not None:
            self.upper = (task.furthest + 1) * weights[Quantity.MOVED]

    def tooth(self, tooth: SpaceTooth, choice: Choice) -> int:
        """Everything about one tooth that needs no other tooth."""
        if not self.of_teeth:
            return 0
        weights, (right, left, e, s) = self.weights, choice
        outside: tuple[bands.Outside, ...] = (("band_lengthening", e),)
        if bands.is_player(tooth):
            outside += bands.player_outside(self.limits, tooth.bare_width + right + left, None)
        cost = self.misfit * bands.points(self.limits, outside)
        if any(choice) or tooth.locks.slendering:
            cost += weights[Quantity.TOUCHING] * bands.touch_cost(self.limits, tooth)
            cost += weights[Quantity.MATERIAL] * (right + left + e)
            cost += weights[Quantity.REMOVED] * (s - tooth.locks.removal(tooth.length))
            cost += weights[Quantity.COMFORT] * len(bands.comfort_breaches(self.limits, tooth, (right, left), e))
        return cost

    def gap(self, gap: int, near: int, stay: int, move: int) -> int:
        """What leaving or moving a gap costs; ``near`` is the higher the nearer the midline it lies."""
        weights, cost = self.weights, 0
        if stay:
            cost += weights[Quantity.GAPS_LEFT] + weights[Quantity.LEFT_TOTAL] * stay
        if move:
            cost += weights[Quantity.MOVED] * abs(move) + weights[Quantity.GAPS_MOVED]
            cost += weights[Quantity.MOVED_NEAR] * near
            cost += weights[Quantity.MOVED_LATE] * gap
        return cost


_OF_TEETH = {Quantity.REMOVED, Quantity.COMFORT, Quantity.TOUCHING, Quantity.MISFIT, Quantity.MATERIAL}
