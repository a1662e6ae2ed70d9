"""What a tooth is to become by the lines of an accepted course: its size now and then, in tenths of a millimetre."""

from collections.abc import Container, Iterable
from dataclasses import dataclass

from planner.rules.courses import Work
from planner.rules.mouth import CaseFacts
from planner.rules.teeth import Tooth


@dataclass(frozen=True, slots=True)
class TargetSize:
    """One tooth before and after; a width or length of 0 was not measured."""

    mesial: int
    distal: int
    edge: int
    """Added to the edge; below zero where it is shortened."""
    width: int
    width_after: int
    length: int
    length_after: int


def target_size(tooth: Tooth, lines: Iterable[Work], edges: Container[str], facts: CaseFacts) -> TargetSize:
    """What ``lines``, all of this tooth, make of it; ``edges`` are the treatments that shorten or reshape edges."""
    work = list(lines)
    measured = facts.tooth(tooth)
    width, length = ((measured.width or 0), (measured.length or 0)) if measured is not None else (0, 0)
    mesial, distal = sum(line.mesial for line in work), sum(line.distal for line in work)
    shorter = sum(line.removal for line in work if line.treatment in edges and not line.narrower)
    narrower = sum(line.removal for line in work if line.narrower)
    edge = sum(line.lengthening for line in work) - shorter
    return TargetSize(
        mesial,
        distal,
        edge,
        width,
        width + mesial + distal - narrower if width else 0,
        length,
        length + edge if length else 0,
    )
