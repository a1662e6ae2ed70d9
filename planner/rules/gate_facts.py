"""The facts of one case as gates look at them: a value, where it was found, and when.

A :class:`Situation` is one course of treatment for one patient on one day. :func:`plain` reads the facts that stand in
the case file as they are; :mod:`planner.rules.gate_derived` adds those that have to be worked out.
"""

from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import Enum

from planner.rules.book import OfficeBook
from planner.rules.courses import Course, Work
from planner.rules.mouth import Bite, CaseFacts, EmptyPlace, Gap, ToothFacts
from planner.rules.standing import place_of
from planner.rules.teeth import Numbering, Tooth

Value = bool | int | Decimal | str | date


@dataclass(frozen=True, slots=True)
class Datum:
    """One fact: where it stands in the case file, and its value; None is not asked, not measured, not known."""

    path: str
    value: Value | None


@dataclass(frozen=True, slots=True)
class Subject:
    """Whom a gate asks about: the mouth (nothing set), a tooth, a place or a gap."""

    tooth: Tooth | None = None
    """The tooth, or the place by the tooth it belongs to."""
    gap: tuple[Tooth, Tooth] | None = None
    treatments: frozenset[str] = frozenset()
    """The treatments of the course that the gate is about; empty means all of them."""


MOUTH = Subject()


def add_months(day: date, months: int) -> date:
    """The same day ``months`` later, or the last day of a shorter month."""
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))


def age_on(born: date, day: date, leap_birthday_on_1_march: bool = True) -> int:
    """Whole years of age on ``day``.

    Who was born on 29 February has the birthday, in years without that day, on 1 March or on 28 February.
    """
    years = day.year - born.year
    birthday = (born.month, born.day)
    if birthday == (2, 29) and monthrange(day.year, 2)[1] == 28:
        birthday = (3, 1) if leap_birthday_on_1_march else (2, 28)
    return years - ((day.month, day.day) < birthday)


def birthday_at(born: date, years: int, leap_birthday_on_1_march: bool = True) -> date:
    """The day on which somebody born on ``born`` turns ``years``."""
    year = born.year + years
    if (born.month, born.day) == (2, 29) and monthrange(year, 2)[1] == 28:
        return date(year, 3, 1) if leap_birthday_on_1_march else date(year, 2, 28)
    return date(year, born.month, born.day)


def guard_worn(bite: Bite, least_nights: int) -> bool | None:
    """Whether a night guard is agreed and worn on at least so many nights a week; None until both were asked."""
    if bite.guard_agreed is not True:
        return bite.guard_agreed
    return None if bite.guard_nights_per_week is None else bite.guard_nights_per_week >= least_nights


@dataclass(frozen=True)
class Situation:
    """One course for one patient on one day, with what was handed in about it."""

    course: Course
    facts: CaseFacts
    book: OfficeBook
    today: date
    settings: Mapping[str, int]
    """Numbers of ``gates.toml`` that derived facts need."""
    traits: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """Which treatments carry a flag of the catalogue (``surgery``, ``resin``, ``braces`` ...) or ``fills a place``."""
    visits: int | None = None
    months: int | None = None
    longest_visit: int | None = None
    """Mean minutes of the longest visit."""
    money_cents: int | None = None
    earliest_finish: date | None = None

    @property
    def numbering(self) -> Numbering:
        """The numbering the office writes first."""
        return Numbering(self.book.numbering)

    def label(self, tooth: Tooth) -> str:
        """Name and both numbers of a tooth, the office's own first."""
        return tooth.label(self.numbering)

    def has(self, trait: str) -> bool:
        """Whether any treatment of the course is of this kind."""
        return not self.traits.get(trait, frozenset()).isdisjoint(self.course.treatments)

    def is_nothing(self) -> bool:
        """Whether the course is the choice of no treatment."""
        return set(self.course.treatments) <= {"none"}

    def recorded(self) -> tuple[Tooth, ...]:
        """Every tooth that was examined, in the order of the record."""
        return tuple(found.tooth for found in self.facts.examination.teeth)

    def empty_place(self, place: Tooth) -> EmptyPlace | None:
        """What was measured at a place, or None."""
        return next((found for found in self.facts.examination.empty_places if found.place == place), None)

    def gap(self, pair: tuple[Tooth, Tooth]) -> Gap | None:
        """The gap recorded between two teeth, in either order, or None."""
        return next((gap for gap in self.facts.examination.gaps if set(gap.between) == set(pair)), None)

    def standing(self, after_movement: bool = False) -> dict[Tooth, Tooth]:
        """Which tooth stands in which place: today, or once the course has moved teeth and emptied places.

        After movement every permanent tooth is at home, and a baby tooth keeps a place nobody else claims.
        """
        now = {place_of(found): found.tooth for found in self.facts.examination.teeth if not found.tooth.is_extra}
        if not after_movement:
            return now
        now = {place: tooth for place, tooth in now.items() if tooth not in self.extracted()}
        if not self.has("braces"):
            return now
        then = {tooth: tooth for tooth in now.values() if not tooth.is_primary}
        kept = {place: tooth for place, tooth in now.items() if tooth.is_primary and place not in then}
        return {**then, **{place: tooth for place, tooth in kept.items() if place not in self.course.places_filled}}

    def beside(self, place: Tooth, after_movement: bool = False) -> tuple[Tooth, ...]:
        """The nearest standing tooth on each side of a place, the patient's right first."""
        arch = {
            spot.arch_index: tooth
            for spot, tooth in self.standing(after_movement).items()
            if spot.upper == place.upper and spot.arch_index != place.arch_index
        }
        right = max((index for index in arch if index < place.arch_index), default=None)
        left = min((index for index in arch if index > place.arch_index), default=None)
        return tuple(arch[index] for index in (right, left) if index is not None)

    def stands_at(self, tooth: Tooth) -> Tooth:
        """The place a tooth stands in; its own when it was not recorded."""
        found = self.facts.tooth(tooth)
        return tooth if found is None else place_of(found)

    def _work(self, treatments: frozenset[str]) -> tuple[Work, ...]:
        return tuple(item for item in self.course.work if not treatments or item.treatment in treatments)

    def worked(self, treatments: frozenset[str] = frozenset()) -> tuple[Tooth, ...]:
        """The teeth named in the work of some treatments, or of all, without places that are filled."""
        named = (item.tooth for item in self._work(treatments) if item.tooth is not None and not item.fills_place)
        return tuple(dict.fromkeys(named))

    def filled(self, treatments: frozenset[str] = frozenset()) -> tuple[Tooth, ...]:
        """The places that some treatments of the course fill, or all of them."""
        named = (item.tooth for item in self._work(treatments) if item.tooth is not None and item.fills_place)
        found = dict.fromkeys(named)
        if not treatments or not treatments.isdisjoint(self.traits.get("fills a place", frozenset())):
            found.update(dict.fromkeys(self.course.places_filled))
        return tuple(found)

    def extracted(self) -> frozenset[Tooth]:
        """The teeth that the course takes out."""
        return frozenset(item.tooth for item in self.course.work if item.extracted and item.tooth is not None)

    def whole_arch(self, treatments: frozenset[str]) -> bool:
        """Whether some of the work is on a whole arch or the mouth rather than on one tooth."""
        return any(item.tooth is None for item in self._work(treatments))

    def touched(self, treatments: frozenset[str]) -> tuple[Tooth, ...]:
        """The teeth worked on and those standing next to them or to a place filled; all for work on a whole arch."""
        if self.whole_arch(treatments):
            return self.recorded()
        found: dict[Tooth, None] = {}
        for tooth in self.worked(treatments):
            found.update(dict.fromkeys((tooth, *self.beside(self.stands_at(tooth)))))
        for place in self.filled(treatments):
            found.update(dict.fromkeys(self.beside(place)))
        return tuple(found)

    def sum_of_work(self, tooth: Tooth, name: str, treatments: frozenset[str] = frozenset()) -> int:
        """One measure of the work (``mesial``, ``lengthening``, ``removal`` ...) on a tooth, tenths, added up."""
        return sum(
            getattr(item, name) for item in self._work(treatments) if item.tooth == tooth and not item.fills_place
        )

    def tooth_path(self, tooth: Tooth, name: str) -> str:
        """Where a fact of a tooth stands in the case file."""
        for index, found in enumerate(self.facts.examination.teeth):
            if found.tooth == tooth:
                return f"examination.teeth[{index}].{name}"
        return f"examination.teeth[{tooth.written(self.facts.numbering)} not recorded].{name}"

    def place_path(self, place: Tooth, name: str) -> str:
        """Where a fact of a place stands in the case file."""
        for index, found in enumerate(self.facts.examination.empty_places):
            if found.place == place:
                return f"examination.empty_places[{index}].{name}"
        return f"examination.empty_places[{place.written(self.facts.numbering)} not recorded].{name}"

    def gap_path(self, pair: tuple[Tooth, Tooth], name: str) -> str:
        """Where a fact of a gap stands in the case file."""
        for index, found in enumerate(self.facts.examination.gaps):
            if set(found.between) == set(pair):
                return f"examination.gaps[{index}].{name}"
        between = "-".join(tooth.written(self.facts.numbering) for tooth in pair)
        return f"examination.gaps[{between} not recorded].{name}"


def plain(situation: Situation, path: str, subject: Subject) -> Datum:
    """A fact as it stands in the case file. Raises LookupError when there is no such fact."""
    head, _, name = path.partition(".")
    if head == "tooth" and subject.tooth is not None:
        return Datum(
            situation.tooth_path(subject.tooth, name), _of(situation.facts.tooth(subject.tooth), ToothFacts, name)
        )
    if head == "place" and subject.tooth is not None:
        return Datum(
            situation.place_path(subject.tooth, name), _of(situation.empty_place(subject.tooth), EmptyPlace, name)
        )
    if head == "gap" and subject.gap is not None:
        return Datum(situation.gap_path(subject.gap, name), _of(situation.gap(subject.gap), Gap, name))
    value: object = situation.facts
    for part in path.split("."):
        if not hasattr(value, part):
            raise LookupError(f'"{path}" is no fact of the case file for {head}')
        value = getattr(value, part)
    return Datum(path, _value(value))


def _of(found: object | None, kind: type[ToothFacts] | type[EmptyPlace] | type[Gap], name: str) -> Value | None:
    if name not in kind.model_fields:
        raise LookupError(f'"{name}" is no fact of a {kind.__name__}')
    return None if found is None else _value(getattr(found, name))


def _value(found: object) -> Value | None:
    if isinstance(found, Enum):
        return str(found.value)
    if found is None or isinstance(found, (bool, int, Decimal, str, date)):
        return found
    raise LookupError(f"{found!r} is not one value that a limit could be held against")
