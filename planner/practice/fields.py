"""Form fields that read what people write: days, hours, amounts, millimetres, and "not asked" as an answer.

A field parses and converts, and says in one sentence what was written, why it cannot be and what would be right.
Nothing here saves anything. Amounts become whole cents and lengths whole tenths of a millimetre, never a float.
"""

import re
from collections.abc import Iterable
from datetime import date, time
from typing import Any

from django import forms
from django.utils import formats
from django.utils.functional import Promise
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext_lazy as _

from planner.rules.units import format_cents, format_mm, parse_mm, parse_money

Words = str | Promise

_MONTHS = {
    "en": "january february march april may june july august september october november december",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
}
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DOTTED = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})")
_SLASHED = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")
_WORDED = re.compile(r"(\d{1,2})\.?(?:\s+de)?\s+([^\W\d]+)\.?,?(?:\s+del?)?\s+(\d{4})")
_WORDED_AMERICAN = re.compile(r"([^\W\d]+)\.?\s+(\d{1,2}),?\s+(\d{4})")
_HOUR = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?")
_ONE_DECIMAL = re.compile(r"(\d{1,4})(?:[.,](\d))?")
_GROUPED = re.compile(r"[1-9]\d{0,2}([.,' ]\d{3})+([.,]\d{1,2})?")


def read_day(text: str, *, day_first: bool | None = None) -> date:
    """Read a day as people write it: ``2026-03-02``, ``2 March 2026``, ``2.3.2026``, ``2/3/2026``.

    ``day_first`` tells how slashes are read; None asks back where both readings are days.
    Raises ValueError with a sentence.
    """
    written = " ".join(text.split())
    example = _("Write it with the month as a word, such as 2 March 1979, or as 1979-03-02.")
    if found := _ISO.fullmatch(written):
        year, month, day = (int(part) for part in found.groups())
    elif found := _DOTTED.fullmatch(written):
        day, month, year = (int(part) for part in found.groups())
    elif found := _SLASHED.fullmatch(written):
        one, two, year = (int(part) for part in found.groups())
        if day_first is None and one <= 12 and two <= 12 and one != two:
            raise ValueError(
                gettext("“%(text)s” can be read as two different days. %(example)s")
                % {"text": written, "example": example}
            )
        day, month = (two, one) if day_first is False or (day_first is None and two > 12) else (one, two)
    elif found := _WORDED.fullmatch(written):
        day, month, year = int(found[1]), _month(found[2]), int(found[3])
    elif found := _WORDED_AMERICAN.fullmatch(written):
        month, day, year = _month(found[1]), int(found[2]), int(found[3])
    else:
        raise ValueError(
            gettext("“%(text)s” is not read as a day. %(example)s") % {"text": written, "example": example}
        )
    try:
        return date(year, month, day)
    except ValueError:
        raise ValueError(
            gettext("“%(text)s” is not in the calendar. %(example)s") % {"text": written, "example": example}
        ) from None


def _month(word: str) -> int:
    """Number of a month written in English or Spanish, in full or by its first three letters; 0 for no month."""
    low = word.lower()
    for months in _MONTHS.values():
        for number, name in enumerate(months.split(), start=1):
            if low == name or (len(low) >= 3 and name.startswith(low)):
                return number
    return 0


def day_words(day: date) -> str:
    """A day with its month as a word, in the reader's language: how a day is shown in a form and read back."""
    return formats.date_format(day, "j F Y")


class DayField(forms.CharField):
    """A day, written in any of the ways of :func:`read_day`, between ``earliest`` and ``latest`` where given."""

    def __init__(self, *, earliest: date | None = None, latest: date | None = None, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"data-size": "mid", "autocomplete": "off"}))
        super().__init__(**kwargs)
        self.earliest, self.latest = earliest, latest

    def prepare_value(self, value: Any) -> Any:
        """A stored day is shown in words; what somebody typed stays as typed."""
        return day_words(value) if isinstance(value, date) else value

    def to_python(self, value: Any) -> Any:
        """The day, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        try:
            day = read_day(written, day_first=True if (get_language() or "").startswith("es") else None)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None
        if self.earliest is not None and day < self.earliest:
            raise forms.ValidationError(
                gettext("%(day)s is too early: %(earliest)s is the first day that can be right here.")
                % {"day": day_words(day), "earliest": day_words(self.earliest)}
            )
        if self.latest is not None and day > self.latest:
            raise forms.ValidationError(
                gettext("%(day)s is too late: %(latest)s is the last day that can be right here.")
                % {"day": day_words(day), "latest": day_words(self.latest)}
            )
        return day


class DaysField(forms.CharField):
    """Several days, one on each line."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.Textarea(attrs={"rows": 6}))
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Stored days are shown in words, one on each line."""
        if isinstance(value, (list, tuple)):
            return "\n".join(day_words(day) for day in value)
        return value

    def to_python(self, value: Any) -> Any:
        """The days in order, without doubles; every line that cannot be read is named."""
        days, faults = set(), []
        for line in str(super().to_python(value) or "").splitlines():
            if not line.strip():
                continue
            try:
                days.add(read_day(line, day_first=True if (get_language() or "").startswith("es") else None))
            except ValueError as error:
                faults.append(str(error))
        if faults:
            raise forms.ValidationError(faults)
        return tuple(sorted(days))


class HourField(forms.CharField):
    """A time of day such as 8:30, on the 24-hour clock."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"data-size": "short", "autocomplete": "off"}))
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """A stored hour is shown as 8:30."""
        return f"{value.hour}:{value.minute:02d}" if isinstance(value, time) else value

    def to_python(self, value: Any) -> Any:
        """The hour, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        found = _HOUR.fullmatch(written.strip())
        if found and int(found[1]) < 24 and int(found[2] or 0) < 60:
            return time(int(found[1]), int(found[2] or 0))
        raise forms.ValidationError(
            gettext("“%(text)s” is not an hour of the day: write it on the 24-hour clock, such as 8:30 or 17:00.")
            % {"text": written}
        )


class AmountField(forms.CharField):
    """An amount of money, with a comma or a point before the cents; whole cents come out."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", "autocomplete": "off"})
        )
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Stored cents are shown with two decimals, the decimal sign being that of the language."""
        if isinstance(value, int):
            return format_cents(value).replace(".", decimal_sign())
        return value

    def to_python(self, value: Any) -> Any:
        """Whole cents, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        if _GROUPED.fullmatch(written):
            raise forms.ValidationError(
                gettext("“%(text)s” is grouped by thousands: write it without grouping, such as 1480.00.")
                % {"text": written}
            )
        try:
            cents = parse_money(written.replace(",", "."))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None
        if cents < 0:
            raise forms.ValidationError(
                gettext("%(text)s is below zero: write the amount without the minus.") % {"text": written}
            )
        return cents


class MillimetreField(forms.CharField):
    """A length in millimetres, with a comma or a point; whole tenths of a millimetre come out."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", "autocomplete": "off"})
        )
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Stored tenths are shown as millimetres, the decimal sign being that of the language."""
        return format_mm(value).replace(".", decimal_sign()) if isinstance(value, int) else value

    def to_python(self, value: Any) -> Any:
        """Whole tenths of a millimetre, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        try:
            return parse_mm(written)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None


class TenthsField(forms.CharField):
    """A number with at most one decimal, between bounds given in tenths; whole tenths come out."""

    def __init__(self, *, least: int, most: int, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", "autocomplete": "off"})
        )
        super().__init__(**kwargs)
        self.least, self.most = least, most

    def prepare_value(self, value: Any) -> Any:
        """Stored tenths are shown with one decimal, the decimal sign being that of the language."""
        return format_mm(value).replace(".", decimal_sign()) if isinstance(value, int) else value

    def to_python(self, value: Any) -> Any:
        """Whole tenths, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        found = _ONE_DECIMAL.fullmatch(written)
        tenths = int(found[1]) * 10 + int(found[2] or 0) if found else -1
        if not self.least <= tenths <= self.most:
            raise forms.ValidationError(
                gettext("“%(text)s” is not a number with one decimal between %(least)s and %(most)s.")
                % {"text": written, "least": format_mm(self.least), "most": format_mm(self.most)}
            )
        return tenths


class YesNoField(forms.TypedChoiceField):
    """Yes, no, or "not asked", which is an answer of its own and comes out as None."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            choices=[("yes", _("yes")), ("no", _("no")), ("", _("not asked"))],
            coerce=lambda value: value == "yes",
            empty_value=None,
            required=False,
            widget=forms.RadioSelect,
            **kwargs,
        )

    def prepare_value(self, value: Any) -> Any:
        """True, False and None as the three answers."""
        return {True: "yes", False: "no", None: ""}.get(value, value) if not isinstance(value, str) else value


class ChosenField(forms.TypedChoiceField):
    """One of several answers, or "not asked", which comes out as None."""

    def __init__(self, *, answers: Iterable[tuple[str, Words]], **kwargs: Any) -> None:
        super().__init__(
            choices=[*answers, ("", _("not asked"))],
            empty_value=None,
            required=False,
            widget=forms.RadioSelect,
            **kwargs,
        )


def decimal_sign() -> str:
    """The sign before decimals in the reader's language."""
    return str(formats.get_format("DECIMAL_SEPARATOR"))


def shown_words(field: forms.BoundField, blank: str = "–") -> str:
    """What a field holds, as words: the label of a choice, else what is written, or ``blank``."""
    value = field.value()
    if isinstance(field.field, forms.ChoiceField):
        value = "" if value is None else value
        said = {key: words for key, words, *_rest in field.field.widget.choices}
        if isinstance(value, (list, tuple)):
            return ", ".join(str(words) for key, words in said.items() if key in value) or blank
        known = said.get(value, said.get(int(value)) if str(value).isdecimal() else None)
        return str(known if known is not None else value)
    return blank if value in (None, "") else str(value)


class PlainForm(forms.Form):
    """Base of every form: the browser never stops a submission, so that every fault is told by our own sentences."""

    use_required_attribute = False
    default_required = _("This is missing: please write it.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages["required"] = self.default_required

    def refuse(self, field: str, sentence: str) -> None:
        """Add a sentence a service refused with, at its field when this form has it, else at the top."""
        self.add_error(field if field in self.fields else None, sentence)
