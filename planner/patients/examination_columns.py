"""The columns of an examination form: places of an arch with the tooth that stands there, and the gaps between."""

from collections.abc import Iterator
from dataclasses import dataclass

from django import forms
from django.utils.translation import gettext as _now

from planner.patients import examination_parts as parts
from planner.rules.teeth import NORMAL, Numbering, Tooth

_KNOWN = frozenset({"", parts.NOBODY, *(tooth.key for tooth in NORMAL)})


@dataclass(frozen=True, slots=True)
class Column:
    """One place of an arch, or one other tooth, with the gap toward the patient's left."""

    place: Tooth | None
    form: parts.ColumnForm
    gap: parts.GapForm | None = None

    @property
    def standing(self) -> str:
        """Key of the tooth that stands here, "nobody", or empty for not recorded; of another tooth what was typed."""
        said = standing_in(self.form)
        return said if self.place is None or said in _KNOWN else ""

    @property
    def holds_tooth(self) -> bool:
        """Whether some tooth is said to stand here."""
        return self.standing not in ("", parts.NOBODY)


def neighbours(columns: list[Column]) -> Iterator[tuple[Column, tuple[Column, Column]]]:
    """Every column that carries a gap, with the teeth on either side of it as far as they are recorded."""
    for index, column in enumerate(columns):
        if column.gap is None:
            continue
        right = next((one for one in reversed(columns[: index + 1]) if one.holds_tooth), column)
        left = next((one for one in columns[index + 1 :] if one.holds_tooth), columns[index + 1])
        yield column, (right, left)


def gap_groups(columns: tuple[Column, ...]) -> Iterator[tuple[list[parts.GapForm], tuple[Column, Column]]]:
    """For each pair of neighbouring teeth the gap forms that lie between them, more than one across empty places."""
    right: Column | None = None
    between: list[parts.GapForm] = []
    for column in columns:
        if column.holds_tooth:
            if right is not None:
                yield between, (right, column)
            right, between = column, []
        if right is not None and column.gap is not None:
            between.append(column.gap)


def name_fields(form: parts.FactsForm, title: str) -> None:
    """Put the column's name before every label, for lists of faults and for who hears the page."""
    form.title = title
    for field in form.fields.values():
        field.label = f"{title}: {field.label}"


def nobody_measured(column: Column, numbering: Numbering) -> str:
    """What to say where something was measured and no tooth is said to stand."""
    number = column.place.written(numbering) if column.place else ""
    if column.standing == parts.NOBODY:
        sentence = _now(
            "No tooth stands in %(place)s's place, yet something was measured or found here: say which tooth it is, "
            "or empty the column."
        )
    else:
        sentence = _now("Which tooth stands in %(place)s's place? Something was measured or found here.")
    return sentence % {"place": number}


def standing_in(form: forms.Form) -> str:
    """What the form says stands in its place, as sent or as on file."""
    # Not through the bound field, which would keep the label it has before the column is named.
    value = form.data.get(form.add_prefix("tooth")) if form.is_bound else form.initial.get("tooth")
    return value.key if isinstance(value, Tooth) else str(value or "")
