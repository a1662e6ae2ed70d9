"""Promise against result: for each tooth what was planned, what was reached and what is there now.

Lengths are whole tenths of a millimetre, money whole cents, days the office's own. A length that nobody took stays
None and never reads as if it had been reached.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from planner.rules.settings import read_settings
from planner.rules.teeth import Tooth


class Moment(StrEnum):
    """When finished work was reviewed."""

    DONE = "when it was done"
    TWO_WEEKS = "after 14 days"
    ONE_YEAR = "after 12 months"
    TWO_YEARS = "after 24 months"
    OTHER = "in between"


class Condition(StrEnum):
    """How a tooth was found."""

    WHOLE = "whole"
    CHIPPED = "chipped, left as it is"
    MENDED = "chipped, mended at this visit"
    LOST = "came off or was taken off"


APPOINTED: Final = (Moment.TWO_WEEKS, Moment.ONE_YEAR, Moment.TWO_YEARS)
"""Reviews that have a day of their own."""
WISH_SCALE: Final = (0, 10)
"""0: not at all as wished; 10: wholly."""
_DAYS: Final = MappingProxyType(
    {Moment.TWO_WEEKS: "two-weeks", Moment.ONE_YEAR: "one-year", Moment.TWO_YEARS: "two-years"}
)


def due_on(moment: Moment, done_on: date) -> date:
    """The day on which finished work is looked at. Raises KeyError for a moment without a day of its own."""
    days: Mapping[str, int] = read_settings("reviews.toml")["review_days"].value
    return done_on + timedelta(days=days[_DAYS[moment]])


def review_late_days() -> int:
    """So many days after its day a review is still asked for."""
    days: int = read_settings("reviews.toml")["review_late_days"].value
    return days


def within() -> int:
    """So far two readings of one length may lie apart without a difference between them, tenths of a millimetre."""
    tenths: int = read_settings("proportions.toml")["readings_apart"].value
    return tenths


@dataclass(frozen=True, slots=True)
class Promised:
    """What was agreed for one tooth; None where it was not measured."""

    tooth: Tooth
    width_before: int | None = None
    width: int | None = None
    length_before: int | None = None
    length: int | None = None
    lengthened: int = 0
    """How much longer the edge was to become."""


@dataclass(frozen=True, slots=True)
class SeenTooth:
    """One tooth as it was found at a review."""

    condition: Condition = Condition.WHOLE
    width: int | None = None
    length: int | None = None


@dataclass(frozen=True, slots=True)
class Review:
    """One review of finished work: when, by whom, with what, and what the patient said."""

    moment: Moment
    on: date
    by: str = ""
    instrument: str = ""
    teeth: Mapping[Tooth, SeenTooth] = field(default_factory=dict)
    scores: Mapping[int, int] = field(default_factory=dict)
    """By rank of the wish: 0 to 10."""


@dataclass(frozen=True, slots=True)
class Mended:
    """A repair of finished work, kept as a small plan of its own."""

    on: date
    words: str
    teeth: tuple[Tooth, ...]
    cents: int
    """What the patient agreed to pay for it."""
    office_cents: int = 0
    """What it cost the office, where it was done again under its promise."""


@dataclass(frozen=True, slots=True)
class Size:
    """One length of one tooth over time; None where nobody took it."""

    before: int | None = None
    planned: int | None = None
    reached: int | None = None
    """At the first review at which it was measured."""
    now: int | None = None
    """At the last review at which it was measured, if that is a later one."""

    @property
    def off(self) -> int | None:
        """Reached less planned."""
        return None if self.reached is None or self.planned is None else self.reached - self.planned

    @property
    def drift(self) -> int | None:
        """Now less reached."""
        return None if self.reached is None or self.now is None else self.now - self.reached

    @property
    def kept_promise(self) -> bool | None:
        """Whether it was reached as nearly as can be measured; None where that is not known."""
        return None if self.off is None else abs(self.off) <= within()

    @property
    def changed_since(self) -> bool | None:
        """Whether it has changed since by more than can be measured; None where that is not known."""
        return None if self.drift is None else abs(self.drift) > within()


@dataclass(frozen=True, slots=True)
class Happened:
    """Something that happened to a tooth on the day on which it was seen."""

    on: date
    condition: Condition


@dataclass(frozen=True, slots=True)
class ToothResult:
    """One tooth: its sizes over time, and what happened to it."""

    tooth: Tooth
    width: Size
    length: Size
    reached_on: date | None
    now_on: date | None
    happened: tuple[Happened, ...]

    @property
    def is_whole(self) -> bool:
        """Whether nothing was ever seen to happen to it."""
        return not self.happened


@dataclass(frozen=True, slots=True)
class WishResult:
    """One wish in the patient's words, and what the patient said of it each time."""

    rank: int
    words: str
    scores: tuple[tuple[Moment, date, int], ...]


@dataclass(frozen=True, slots=True)
class Result:
    """What came of one accepted plan."""

    teeth: tuple[ToothResult, ...]
    wishes: tuple[WishResult, ...]
    reviews: tuple[Review, ...]
    """By day."""
    mended: tuple[Mended, ...]
    """By day."""

    @property
    def later_cents(self) -> int:
        """What the patient agreed to pay for repairs."""
        return sum(one.cents for one in self.mended)

    @property
    def office_cents(self) -> int:
        """What repairs under promise cost the office."""
        return sum(one.office_cents for one in self.mended)


def compare(
    promised: Sequence[Promised],
    reviews: Iterable[Review],
    wishes: Sequence[tuple[int, str]],
    mended: Iterable[Mended] = (),
) -> Result:
    """Planned against reached against now, for every tooth of ``promised`` and every wish (rank, words).

    The order of ``reviews`` and ``mended`` does not matter. A tooth that was mended at a review and has a repair of the
    same day was mended once.
    """
    seen = tuple(sorted(reviews, key=lambda one: (one.on, list(Moment).index(one.moment))))
    repairs = tuple(sorted(mended, key=lambda one: one.on))
    return Result(
        tuple(_tooth(each, seen, repairs) for each in promised),
        tuple(
            WishResult(
                rank,
                words,
                tuple((review.moment, review.on, review.scores[rank]) for review in seen if rank in review.scores),
            )
            for rank, words in sorted(wishes)
        ),
        seen,
        repairs,
    )


def next_review(done_on: date, reviews: Iterable[Review]) -> tuple[Moment, date] | None:
    """The next review with a day of its own, which may lie in the past; None once the last of them was held.

    One that was left out is let go as soon as a later one was held.
    """
    held = {review.moment for review in reviews}
    last = max((place for place, moment in enumerate(APPOINTED) if moment in held), default=-1)
    coming = APPOINTED[last + 1 :]
    return (coming[0], due_on(coming[0], done_on)) if coming else None


def _tooth(promised: Promised, reviews: Sequence[Review], repairs: Sequence[Mended]) -> ToothResult:
    found = [(review.on, review.teeth[promised.tooth]) for review in reviews if promised.tooth in review.teeth]
    measured = [(on, seen) for on, seen in found if seen.width is not None or seen.length is not None]
    return ToothResult(
        promised.tooth,
        _size(promised.width_before, promised.width, [(on, seen.width) for on, seen in measured]),
        _size(promised.length_before, promised.length, [(on, seen.length) for on, seen in measured]),
        measured[0][0] if measured else None,
        measured[-1][0] if len(measured) > 1 else None,
        _happened(promised.tooth, found, repairs),
    )


def _size(before: int | None, planned: int | None, taken: Sequence[tuple[date, int | None]]) -> Size:
    known = [length for _on, length in taken if length is not None]
    return Size(before, planned, known[0] if known else None, known[-1] if len(known) > 1 else None)


def _happened(tooth: Tooth, found: Iterable[tuple[date, SeenTooth]], repairs: Iterable[Mended]) -> tuple[Happened, ...]:
    seen = {(on, one.condition) for on, one in found if one.condition != Condition.WHOLE}
    seen |= {(one.on, Condition.MENDED) for one in repairs if tooth in one.teeth}
    return tuple(Happened(on, condition) for on, condition in sorted(seen, key=lambda pair: (pair[0], pair[1].value)))
