"""Forms of the office book's tables and of its settings of one value. They never save.

A table's columns come from :mod:`planner.rules.book_tables`, a setting's unit from its data file, so that a page takes
what a file takes and says the same of what is wrong.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from pydantic import ValidationError

from planner.practice.column_words import COLUMN_WORDS, HINTS
from planner.practice.fields import AmountField, PlainForm
from planner.practice.roles import Role
from planner.rules.book import OfficeBook
from planner.rules.book_tables import MOST_NUMBER, Column, Table
from planner.rules.bookfile import BookError, with_changes
from planner.rules.office_settings import SpaceLimit, choices_of, office_settings, space_limits, value_words
from planner.rules.typed_files import faults_of
from planner.rules.units import format_cents, parse_mm

MOST_ROWS = 60
"""A table longer than this is changed by file."""


def field_of(column: Column, row: object | None, label: str) -> forms.Field:
    """The form field of one cell, with what stands in it now."""
    value = None if row is None else getattr(row, column.field)
    common: dict[str, Any] = {"label": label, "required": False, "help_text": HINTS.get(column.field, "")}
    match column.kind:
        case "choice":
            choices = [(choice, _now(choice)) for choice in column.choices]
            return forms.ChoiceField(choices=[("", _("choose")), *choices], initial=value or "", **common)
        case "amount":
            return AmountField(initial=value if value or row is None else None, **common)
        case "yes or no":
            return forms.BooleanField(initial=bool(value), **common)
        case "several" if column.field in ("asked_by", "allowed_by"):
            return forms.MultipleChoiceField(
                choices=Role.choices, initial=value or (), widget=forms.CheckboxSelectMultiple, **common
            )
        case "several":
            return forms.CharField(initial="; ".join(value or ()), max_length=400, **common)
        case "number":
            return number_field(initial=value, **common)
        case "whole":
            return whole_field(initial=value, **common)
        case _:
            size = {"attrs": {"data-size": "mid"}} if column.field != "words" else {}
            return forms.CharField(initial=value, max_length=400, widget=forms.TextInput(**size), **common)


def number_field(*, initial: Any = None, **common: Any) -> forms.DecimalField:
    """A plain number with a comma or a point."""
    return forms.DecimalField(
        initial=None if initial is None else initial.normalize() + 0,
        max_value=MOST_NUMBER,
        max_digits=14,
        decimal_places=6,
        localize=True,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal"}),
        error_messages={"invalid": _("This is not a number: write one such as 4 or 0.12.")},
        **common,
    )


def whole_field(**common: Any) -> forms.IntegerField:
    """A whole number."""
    return forms.IntegerField(
        max_value=MOST_NUMBER,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "numeric"}),
        error_messages={"invalid": _("This is not a whole number: write one such as 5.")},
        **common,
    )


class RowsForm(PlainForm):
    """The rows of one table, with some empty ones to add; a row is taken out by its tick."""

    def __init__(self, *args: Any, table: Table, rows: Sequence[Any], blank: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table, self.taken = table, ()
        shown = len(rows) + blank
        sent = str(self.data.get("rows", "")) if self.is_bound else ""
        # As many as were sent: what somebody typed stays, though another has changed the table since.
        self.count = min(int(sent), MOST_ROWS) if sent.isdecimal() and len(sent) < 4 else shown
        self.fields["rows"] = forms.CharField(initial=str(shown), required=False, widget=forms.HiddenInput)
        for place in range(self.count):
            self._add(place, rows[place] if place < len(rows) else None)

    def _add(self, place: int, row: Any) -> None:
        single = self.count == 1
        for column in self.table.columns:
            words = str(COLUMN_WORDS[column.field])
            label = words if single else _now("Row %(number)s: %(words)s") % {"number": place + 1, "words": words}
            self.fields[f"{place}.{column.field}"] = field_of(column, row, label)
            # A single row is there to be filled; of several, the empty ones at the end stay empty.
            self.fields[f"{place}.{column.field}"].required = single and column.required
        if row is not None:
            label = _now("Take it out") if single else _now("Row %(number)s: take it out") % {"number": place + 1}
            self.fields[f"{place}.gone"] = forms.BooleanField(label=label, required=False)

    @property
    def heads(self) -> list[str]:
        """Heads of the columns."""
        return [str(COLUMN_WORDS[column.field]) for column in self.table.columns]

    def lines(self) -> list[dict[str, Any]]:
        """The rows, each with its fields and the tick that takes it out, if it was there before."""
        return [
            {
                "cells": [self[f"{place}.{column.field}"] for column in self.table.columns],
                "gone": self[f"{place}.gone"] if f"{place}.gone" in self.fields else None,
            }
            for place in range(self.count)
        ]

    def clean(self) -> dict[str, Any]:
        """Every row is one that the book can hold, and no two have the same name."""
        data = super().clean() or {}
        found: dict[tuple[str, ...], Any] = {}
        for place in range(self.count):
            row = self._row(place, data)
            if row is None:
                continue
            name = self.table.name_of(row)
            if name in found:
                words = " / ".join(filter(None, name))
                self.add_error(
                    f"{place}.{self.table.identity[0]}", _now("“%(name)s” is there already.") % {"name": words}
                )
            found[name] = row
        self.taken = tuple(found.values())
        return data

    def _row(self, place: int, data: Mapping[str, Any]) -> Any:
        if data.get(f"{place}.gone"):
            return None
        cells = {column.field: data.get(f"{place}.{column.field}") for column in self.table.columns}
        # A zero is something typed; an empty cell and a tick that is not set are not.
        typed = {field: value for field, value in cells.items() if value is not False and value not in (None, "", [])}
        if not typed:
            return None
        values: dict[str, Any] = {}
        for column in self.table.columns:
            value = typed.get(column.field)
            if value is None and column.required and f"{place}.{column.field}" not in self.errors:
                self.add_error(f"{place}.{column.field}", _now("This is missing: please write it."))
            elif value is not None:
                values[column.field] = _plain(column, value)
        if any(name.startswith(f"{place}.") for name in self.errors):
            return None
        try:
            return self.table.model.model_validate(values)
        except ValidationError as error:
            for fault in faults_of(error, "the list of columns"):
                name = f"{place}.{fault.path.split('[')[0]}"
                self.add_error(name if name in self.fields else f"{place}.{self.table.identity[0]}", fault.sentence)
            return None


def _plain(column: Column, value: Any) -> Any:
    if column.kind == "amount":
        return format_cents(value)
    if column.kind == "several" and isinstance(value, str):
        return [part.strip() for part in value.split(";") if part.strip()]
    return value


class ValuesForm(PlainForm):
    """Settings of one value, each with its meaning and unit."""

    def __init__(self, *args: Any, names: Sequence[str], book: OfficeBook, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.names, self.book = names, book
        for name in names:
            self.fields[name] = _value_field(name, getattr(book, name))

    def clean(self) -> dict[str, Any]:
        """Together the values make a book."""
        data = super().clean() or {}
        if not self.errors:
            try:
                with_changes(self.book, **self.values())
            except BookError as error:
                for sentence in error.faults:
                    name, _colon, why = sentence.partition(": ")
                    self.add_error(name if name in self.fields else None, why if name in self.fields else sentence)
        return data

    def values(self) -> dict[str, Any]:
        """What was typed, as plain data for the book."""
        units = office_settings()
        found: dict[str, Any] = {}
        for name in self.names:
            value = self.cleaned_data[name]
            if units[name].unit == "money":
                value = None if value is None else format_cents(value)
            elif units[name].unit == "services":
                value = [part.strip() for part in value.split(";") if part.strip()]
            elif isinstance(value, Decimal):
                value = format(value, "f")
            found[name] = value
        return found


def _value_field(name: str, value: Any) -> forms.Field:
    setting = office_settings()[name]
    hint = _now("At first: %(value)s. Source: %(source)s.") % {"value": setting.value, "source": setting.source}
    common: dict[str, Any] = {"label": _sentence(setting.means), "help_text": hint}
    if setting.unit == "yes or no":
        return forms.BooleanField(initial=value, required=False, **common)
    if setting.unit == "choice":
        choices = [(choice, _now(choice)) for choice in choices_of(name)]
        return forms.ChoiceField(choices=choices, initial=value, widget=forms.RadioSelect, **common)
    if setting.unit == "services":
        return forms.CharField(initial=value_words(name, value), max_length=400, required=False, **common)
    common["label"] = f"{common['label']} ({_now(setting.unit)})"
    if setting.unit == "money":
        return AmountField(initial=value, required=OfficeBook.model_fields[name].default is not None, **common)
    if setting.unit in ("percent", "share"):
        return number_field(initial=value, **common)
    return whole_field(initial=value, **common)


def _sentence(means: str) -> str:
    return means[:1].upper() + means[1:]


class LimitForm(PlainForm):
    """One limit of sharing the space, set otherwise than it comes, or given back."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.limits = {limit.name: limit for limit in space_limits()}
        choices = [
            (limit.name, f"{_sentence(limit.means)}{f' – {limit.part}' if limit.part else ''} ({limit.unit_words})")
            for limit in self.limits.values()
        ]
        self.fields["name"] = forms.ChoiceField(label=_("Limit"), choices=[("", _("choose")), *choices])
        self.fields["value"] = forms.CharField(
            label=_("Value"),
            required=False,
            max_length=10,
            help_text=_("In the unit beside it. Left empty, the value it comes with holds again."),
            widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal"}),
        )

    def clean(self) -> dict[str, Any]:
        """A value that is a number in the unit of its limit."""
        data = super().clean() or {}
        limit, written = self.limits.get(data.get("name", "")), (data.get("value") or "").strip()
        data["kept"] = None
        if limit is not None and written:
            try:
                data["kept"] = self._read(limit, written)
            except ValueError as error:
                self.add_error("value", str(error))
        return data

    @staticmethod
    def _read(limit: SpaceLimit, written: str) -> int:
        if limit.in_tenths:
            kept = parse_mm(written)
        elif written.isdecimal() and len(written) < 5:
            kept = int(written)
        else:
            raise ValueError(_now("“%(text)s” is not a whole number.") % {"text": written})
        if not 0 <= kept <= 400:
            raise ValueError(
                _now("%(text)s is no such limit: it lies between 0 and 40 mm, 400 of anything else.")
                % {"text": written}
            )
        return kept

    def changed(self, old: Mapping[str, int]) -> dict[str, str]:
        """The office's own limits with this one among them, as the book takes them."""
        new = dict(old)
        name, kept = self.cleaned_data["name"], self.cleaned_data["kept"]
        if kept is None:
            new.pop(name, None)
        else:
            new[name] = kept
        return {key: f"{value // 10}.{value % 10}" for key, value in new.items()}
