"""Which measurements decide, a few at a time: a page that looks at all of them can show how far it has come."""

from dataclasses import dataclass
from typing import Self

from planner.rules.book import OfficeBook
from planner.rules.mouth import CaseFacts
from planner.rules.segments import limits_of, segment_of
from planner.rules.space_remeasure import measurements, scan
from planner.rules.space_told import remeasure_words


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it has come, and what was found so far."""

    done: int = 0
    total: int = 0
    found: tuple[tuple[bool, int, str], ...] = ()
    """Whether the answer itself stays (False sorts first), the smallest difference that matters, and the sentence."""

    @property
    def finished(self) -> bool:
        return bool(self.total) and self.done >= self.total

    @property
    def sentences(self) -> tuple[str, ...]:
        """What was found, the most sensitive first."""
        return tuple(words for _stays, _smallest, words in sorted(self.found, key=lambda item: item[:2]))

    def further(self, facts: CaseFacts, book: OfficeBook, count: int | None = None) -> Self:
        """As it stands after ``count`` more measurements of the upper front, or after all of them.

        Raises MeasureFirst and SpaceError as :func:`planner.rules.segments.segment_of` does.
        """
        limits, segment = limits_of(book.office_limits, facts.choices), segment_of(facts)
        total = len(measurements(segment))
        stop = total if count is None else min(total, self.done + count)
        steps = scan(segment, limits, only=range(self.done, stop)) if self.done < stop else ()
        items = [step.found for step in steps if step.found is not None]
        found = tuple((not item.flips_verdict, item.smallest, remeasure_words(item, facts)) for item in items)
        return type(self)(stop, total, (*self.found, *found))
