"""Gentlest first: the printed order of options and the element that decided it.

No blended score. Options are compared element by element, in this order (common practice, no source):

1. surgery; 2. teeth that lose more than half a millimetre for good; 3. lasting harm expected among 100 people (nerve,
root, gum, decay marks), from the evidence; 4. millimetres removed beyond half a millimetre per tooth; 5. teeth
touched; 6. can it be undone; 7. months; 8. visits. Where all of these are alike, the shorter time in the chair decides.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from typing import Any

from planner.rules.courses import Course
from planner.rules.results import OptionShape, Rank
from planner.rules.settings import read_settings
from planner.rules.treatments import Treatment
from planner.rules.units import format_mm, many
from planner.rules.verdicts import Verdict


def spared() -> int:
    """Tenths of a millimetre up to which taking enamel off is reshaping and not cutting."""
    tenths: int = read_settings("ranking.toml")["spared"].value
    return tenths


@dataclass(frozen=True, slots=True)
class Burden:
    """The elements an option is ranked by, in order; smaller is gentler."""

    surgery: int
    teeth_reduced: int
    lasting_harm_of_100: Decimal
    removed_beyond_tenths: int
    teeth_touched: int
    undo: int
    months: int
    visits: int

    def elements(self) -> tuple[int | Decimal, ...]:
        """The elements in the order they decide."""
        return (
            self.surgery,
            self.teeth_reduced,
            self.lasting_harm_of_100,
            self.removed_beyond_tenths,
            self.teeth_touched,
            self.undo,
            self.months,
            self.visits,
        )


def burden(course: Course, parts: Sequence[Treatment], *, undo: int, months: int, visits: int) -> Burden:
    """What ``course``, made of the treatments ``parts``, asks of the mouth."""
    removal = course.removal()
    extracted = sum(work.extracted for work in course.work)
    return Burden(
        surgery=int(any(part.surgery for part in parts)),
        teeth_reduced=extracted
        + sum(tenths > spared() or _mostly_removed(course, tooth) for tooth, tenths in removal.items()),
        lasting_harm_of_100=sum((_harm(course, part) for part in parts), Decimal(0)),
        removed_beyond_tenths=sum(max(0, tenths - spared()) for tenths in removal.values()),
        teeth_touched=len(removal),
        undo=undo,
        months=months,
        visits=visits,
    )


def _mostly_removed(course: Course, tooth: object) -> bool:
    """Crowns state a share of the crown instead of a depth."""
    least: int = read_settings("ranking.toml")["crown_share"].value
    return any(work.tooth == tooth and work.irreversible and work.crown_percent[0] >= least for work in course.work)


def _harm(course: Course, part: Treatment) -> Decimal:
    own = [work for work in course.work if work.treatment == part.key]
    teeth = sum(1 for work in own if work.tooth is not None and not work.fills_place and not work.extracted)
    places = sum(1 for work in own if work.fills_place)
    return part.lasting_harm_of_100(teeth, places)


def rank(found: Sequence[tuple[OptionShape, Burden]]) -> tuple[OptionShape, ...]:
    """The options gentlest first, each told why it stands behind the one before it and what beats it on every count.

    Doing nothing stands first, what is not offered stands last, gentlest first again. Equal burdens keep the order of
    their names, so that the list never jumps.
    """
    ordered = sorted(found, key=_order)
    ranked: list[OptionShape] = []
    before: tuple[OptionShape, Burden] | None = None
    for place, (option, weight) in enumerate(ordered, start=1):
        beaten = tuple(other.key for other, _ in ordered if _beats(other, option, dict(_weights(ordered))))
        ranked.append(
            replace(
                option,
                rank=Rank(
                    place=place,
                    surgery=weight.surgery,
                    teeth_reduced=weight.teeth_reduced,
                    lasting_harm_of_100=weight.lasting_harm_of_100,
                    removed_beyond_tenths=weight.removed_beyond_tenths,
                    teeth_touched=weight.teeth_touched,
                    undo=weight.undo,
                    months=weight.months,
                    visits=weight.visits,
                    decided_by="" if before is None else _decided(before, (option, weight)),
                    beaten_by=beaten,
                ),
            )
        )
        before = (option, weight)
    return tuple(ranked)


def _order(pair: tuple[OptionShape, Burden]) -> tuple[bool, bool, tuple[int | Decimal, ...], int, str]:
    option, weight = pair
    minutes = option.minutes.booked
    return option.key != "none", option.verdict is Verdict.NO, weight.elements(), minutes, option.key


def _weights(ordered: Sequence[tuple[OptionShape, Burden]]) -> list[tuple[str, Burden]]:
    return [(option.key, weight) for option, weight in ordered]


def _decided(before: tuple[OptionShape, Burden], after: tuple[OptionShape, Burden]) -> str:
    (first, less), (option, more) = before, after
    if option.verdict is Verdict.NO and first.verdict is not Verdict.NO:
        return "Stands last because it is not offered."
    words: tuple[tuple[str, Callable[[Any], str] | None], ...] = (
        ("it needs an operation and the other does not", None),
        ("more than half a millimetre is lost for good on {more}, against {less}", partial(many, word="tooth")),
        ("among 100 people {more} lasting harms are expected, against {less}", _expected),
        ("{more} mm are removed beyond half a millimetre a tooth, against {less}", format_mm),
        ("it touches {more}, against {less}", partial(many, word="tooth")),
        ("it can be undone {more}, against {less}", lambda value: ("fully", "nearly", "not at all")[value]),
        ("it takes up to {more}, against {less}", lambda value: many(value, "month")),
        ("it takes {more}, against {less}", lambda value: many(value, "visit")),
    )
    for (sentence, shown), small, large in zip(words, less.elements(), more.elements(), strict=True):
        if small != large:
            told = sentence.format(more=shown(large), less=shown(small)) if shown else sentence
            return f"Stands behind “{first.name}” because {told}."
    if first.minutes.booked != option.minutes.booked:
        chair = f"{option.minutes.booked} minutes in the chair, against {first.minutes.booked}"
        return f"Asks for as much as “{first.name}” but takes {chair}."
    return f"Asks for as much as “{first.name}”; the order of names decides."


def _expected(value: Decimal) -> str:
    return f"{value:.1f}" if value else "none"


def _beats(other: OptionShape, option: OptionShape, weights: dict[str, Burden]) -> bool:
    """Whether ``other`` meets at least the same wishes and is no worse on any count and better on one.

    What is not offered beats nothing.
    """
    if other.key == option.key or other.verdict is Verdict.NO or other.verdict.severity > option.verdict.severity:
        return False
    if any(reason.gate == "price" for reason in (*other.reasons, *option.reasons)):
        return False  # a fee nobody knows is not a low one
    met = {answer.rank for answer in option.wishes if answer.met}
    if not met or not met <= {answer.rank for answer in other.wishes if answer.met}:
        return False
    pairs = [(_counts(other, weights[other.key])), (_counts(option, weights[option.key]))]
    return all(one <= two for one, two in zip(*pairs, strict=True)) and pairs[0] != pairs[1]


def _counts(option: OptionShape, weight: Burden) -> tuple[int | Decimal, ...]:
    """Tooth (teeth reduced for good, most off one), visits, months, money now and over the years, risk."""
    return (
        weight.teeth_reduced,
        option.removal_tenths,
        option.visits,
        option.months_high,
        option.estimate.compared_cents,
        option.estimate.compared_cents + option.upkeep.total_cents,
        weight.surgery,
        weight.lasting_harm_of_100,
    )
