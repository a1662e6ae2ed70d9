"""The form of the spaces as rows along the arch: teeth in columns, gaps between them."""

from collections.abc import Iterable
from dataclasses import dataclass

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from planner.plans.space_forms import SpaceForm
from planner.plans.space_locks import LENGTH_LOCKS, TICK_LOCKS
from planner.plans.space_shown import strip_words_of

Words = str | Promise


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its words and one control for each tooth or gap."""

    words: Words
    fields: tuple[forms.BoundField, ...]

    @property
    def wrong(self) -> tuple[forms.BoundField, ...]:
        """The controls with a fault, whose sentences stand under the row."""
        return tuple(field for field in self.fields if field.errors)


_MEASURES: tuple[tuple[str, Words], ...] = (
    ("width", _("Width")),
    ("length", _("Length")),
    ("leave", _("Not to be touched, as found")),
)
_GAPS: tuple[tuple[str, Words], ...] = (
    ("width", _("Gap")),
    ("film", _("0.1 or 0.2: tight, or a film?")),
    ("may_stay", _("May stay open")),
)


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a column: number, number in the other system, and whose place it is where that is another's."""

    number: str
    other: str
    stands: str


def heads(form: SpaceForm) -> tuple[Head, ...]:
    """One head for each tooth, from the patient's right to left."""
    words = strip_words_of(form.facts)
    return tuple(
        Head(words.number(facts.tooth), words.other_number(facts.tooth), words.stands(facts.tooth))
        for facts in form.teeth
    )


def tooth_rows(form: SpaceForm) -> dict[str, tuple[Row, ...]]:
    """The rows of the teeth: what is measured, and what the dentist fixes."""
    locks: list[tuple[str, Words]] = [
        (name, words) for name, (_what, words) in (*LENGTH_LOCKS.items(), *TICK_LOCKS.items())
    ]
    locks.append(("role", _("must look like")))
    return {"measured": _rows(form.tooth_forms, _MEASURES), "fixed": _rows(form.tooth_forms, locks)}


def gap_rows(form: SpaceForm) -> dict[str, tuple[Row, ...]]:
    """The rows of the gaps, likewise."""
    fixed: tuple[tuple[str, Words], ...] = (("fixed", _("Gap afterwards")), ("left", _("of it left, mm")))
    return {"measured": _rows(form.gap_forms, _GAPS), "fixed": _rows(form.gap_forms, fixed)}


def _rows(found: Iterable[forms.Form], names: Iterable[tuple[str, Words]]) -> tuple[Row, ...]:
    shown = list(found)
    return tuple(Row(words, tuple(form[name] for form in shown)) for name, words in names) if shown else ()
