"""Form fields for teeth and for the narrow cells of a measuring table, and a value read back in words.

A tooth is written in a numbering that the form states; a number without its system is asked back, never guessed.
"""

import re
from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import get_language
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import MillimetreField, YesNoField, decimal_sign
from planner.rules.teeth import Numbering, Tooth, ToothNumberError

Words = str | Promise

_WITH_SYSTEM = re.compile(r"(iso|universal|palmer)\s+(.+)", re.IGNORECASE)
_ONE = re.compile(
    r"(?:(?:iso|universal|palmer)\s+)?(?:extra\s+beside\s+)?[^\s,;·+]+(?:\s*,\s*(?:mesial|distal)\b)?", re.IGNORECASE
)
"""One tooth among several: perhaps its system before it, a tooth too many with its side behind it."""
_CELL = {"class": "cell", "autocomplete": "off"}
UNANSWERED = "–"
"""How a cell shows that nobody asked."""


def read_tooth(text: str, numbering: Numbering | None) -> Tooth:
    """The tooth that ``text`` names in ``numbering``, or in the system written before it (``Universal 9``).

    Raises ToothNumberError with every reading when neither says which system is meant.
    """
    if found := _WITH_SYSTEM.fullmatch(text.strip()):
        return Tooth.parse(found[2], Numbering(found[1].lower()))
    return Tooth.guess(text) if numbering is None else Tooth.parse(text, numbering)


def tooth_texts(text: str) -> list[str]:
    """The teeth in ``text``, each as written, whatever stands between them: ``21 22``, ``UR1; UL1``, ``Universal 9``.

    ``extra beside 13, mesial`` stays one tooth.
    """
    return [" ".join(found.split()) for found in _ONE.findall(text)]


class ToothField(forms.CharField):
    """One tooth, typed as a number in ``numbering``; None means that the form did not say which."""

    numbering: Numbering | None = None

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"data-size": "short", "autocomplete": "off"}))
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """A stored tooth is shown as its number."""
        return value.written(self.numbering or Numbering.ISO) if isinstance(value, Tooth) else value

    def to_python(self, value: Any) -> Any:
        """The tooth, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        try:
            return read_tooth(written[:60], self.numbering)
        except ToothNumberError as error:
            raise forms.ValidationError(str(error)) from None


class TeethField(ToothField):
    """Several teeth, with commas, semicolons or blanks between them."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off"}))
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Stored teeth are shown as numbers."""
        if isinstance(value, (list, tuple)):
            return ", ".join(str(ToothField.prepare_value(self, tooth)) for tooth in value)
        return value

    def to_python(self, value: Any) -> Any:
        """The teeth in the order written, each once; every number that cannot be read is named."""
        teeth: list[Tooth] = []
        faults: list[str] = []
        for part in tooth_texts(str(value or "")):
            try:
                tooth = ToothField.to_python(self, part)
            except forms.ValidationError as error:
                faults += error.messages
            else:
                if tooth not in teeth:
                    teeth.append(tooth)
        if faults:
            raise forms.ValidationError(faults)
        return tuple(teeth)


class LengthCell(MillimetreField):
    """A length in millimetres in a narrow cell."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, widget=forms.TextInput(attrs=_CELL | {"inputmode": "decimal"}), **kwargs)


class YesNoCell(YesNoField):
    """Yes, no or not asked in a narrow cell."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget = forms.Select(attrs=dict(_CELL))
        self.choices = [("", UNANSWERED), ("yes", _("yes")), ("no", _("no"))]


class ChosenCell(forms.TypedChoiceField):
    """One of several answers or not asked in a narrow cell."""

    def __init__(self, *, answers: Iterable[tuple[Any, Words]], blank: Words = UNANSWERED, **kwargs: Any) -> None:
        super().__init__(
            choices=[("", blank), *answers],
            empty_value=None,
            required=False,
            widget=forms.Select(attrs=dict(_CELL)),
            **kwargs,
        )


class CountField(forms.IntegerField):
    """A whole number between two bounds, as a typed field or, with ``cell``, in a narrow cell."""

    def __init__(self, *, least: int, most: int, cell: bool = False, **kwargs: Any) -> None:
        attrs = _CELL | {"inputmode": "numeric"} if cell else {"data-size": "short", "autocomplete": "off"}
        super().__init__(
            required=False,
            min_value=least,
            max_value=most,
            widget=forms.TextInput(attrs=attrs | {"inputmode": "numeric"}),
            **kwargs,
        )
        self.least, self.most = least, most

    def clean(self, value: Any) -> Any:
        """The number, or one sentence that says what was written and what would be right."""
        try:
            return super().clean(value)
        except forms.ValidationError:
            raise forms.ValidationError(
                _now("“%(value)s” is not a whole number between %(least)s and %(most)s: write one, or leave it empty.")
                % {"value": str(value).strip()[:40], "least": self.least, "most": self.most}
            ) from None


_ENGLISH = (
    "nought one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen"
)
_ENGLISH_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
_SPANISH = (
    "cero uno dos tres cuatro cinco seis siete ocho nueve diez once doce trece catorce quince dieciséis diecisiete "
    "dieciocho diecinueve veinte veintiuno veintidós veintitrés veinticuatro veinticinco veintiséis veintisiete "
    "veintiocho veintinueve"
)
_SPANISH_TENS = "treinta cuarenta cincuenta sesenta setenta ochenta noventa"


def spoken(tenths: int) -> str:
    """A length read aloud in the reader's language: 85 is ``eight point five``; 100 mm and more in figures."""
    whole, tenth = divmod(abs(tenths), 10)
    spanish = (get_language() or "").startswith("es")
    if whole > 99:
        said = f"{whole}{decimal_sign()}{tenth}"
    else:
        said = f"{_number(whole, spanish)} {'coma' if spanish else 'point'} {_number(tenth, spanish)}"
    return f"{'menos' if spanish else 'minus'} {said}" if tenths < 0 else said


def _number(number: int, spanish: bool) -> str:
    """A whole number from 0 to 99 as a word."""
    words = (_SPANISH if spanish else _ENGLISH).split()
    if number < len(words):
        return words[number]
    tens = (_SPANISH_TENS if spanish else _ENGLISH_TENS).split()[number // 10 - (3 if spanish else 2)]
    joined = " y " if spanish else "-"
    return f"{tens}{joined}{words[number % 10]}" if number % 10 else tens
