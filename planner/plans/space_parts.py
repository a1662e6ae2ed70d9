"""The parts of the form over the spaces: one tooth, one gap, the whole front, and how far teeth may be moved."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients.tooth_fields import ChosenCell, CountField, LengthCell
from planner.plans.space_locks import (
    LENGTH_LOCKS,
    LIMIT_LOCKS,
    ROLES,
    TICK_LOCKS,
)
from planner.practice.fields import MillimetreField, PlainForm
from planner.rules.contradictions import WIDEST_GAP
from planner.rules.units import format_mm, parse_mm

_GAP_CHOICES = [("close", _("close")), ("leave", _("leave as it is")), ("value", _("leave this much:"))]


class ToothForm(PlainForm):
    """One tooth: its measures to try, and what the dentist fixes on it."""

    width = LengthCell(label=_("width"))
    length = LengthCell(label=_("length"))
    leave = forms.BooleanField(label=_("not to be touched, as found"), required=False)

    def __init__(self, *args: Any, title: str, found_role: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (_what, words) in LENGTH_LOCKS.items():
            self.fields[name] = LengthCell(label=words)
        for name, (_what, words) in TICK_LOCKS.items():
            self.fields[name] = forms.BooleanField(label=str(words), required=False)
        self.fields["role"] = ChosenCell(label=_("must look like"), answers=ROLES.items(), blank=found_role)
        for field in self.fields.values():
            field.label = f"{title}: {field.label}"


class BetweenForm(PlainForm):
    """One gap: its width and film answer to try, and what the dentist fixes."""

    width = LengthCell(label=_("gap"))
    film = ChosenCell(label=_("film"), answers=[("tight", _("tight")), ("film", _("film"))])
    may_stay = forms.BooleanField(label=_("may stay"), required=False)
    fixed = ChosenCell(label=_("fixed"), answers=_GAP_CHOICES, blank=_("free"))
    left = LengthCell(label=_("to be left"))

    def __init__(self, *args: Any, title: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.label = f"{title}: {field.label}"

    def clean(self) -> dict[str, Any]:
        """A gap that is left by so much says how much."""
        data = super().clean() or {}
        if data.get("fixed") == "value" and data.get("left") is None and "left" not in self.errors:
            self.add_error("left", _now("How much is to be left? Write millimetres, such as 0.5."))
        if data.get("fixed") != "value" and data.get("left") is not None:
            self.add_error("left", _now("A width is written here: choose “leave this much”, or empty the cell."))
        return data


class FrontForm(PlainForm):
    """What the dentist decides about the whole front, and the one limit that may be raised."""

    strip_length = MillimetreField(
        label=_("Arch in one go, mm"),
        help_text=_(
            "Between the facing sides of the two outermost teeth, with a flexible strip: it finds a misread value."
        ),
        required=False,
    )
    midline_offset = MillimetreField(
        label=_("Middle of the teeth off that of the face by, mm"),
        help_text=_("Plus is toward the patient's left; 0 when in line, empty when not measured."),
        required=False,
    )
    ratio = CountField(label=_("Width of the laterals aimed at, percent of the central's"), least=50, most=100)
    midline = MillimetreField(
        label=_("Midline aimed at: the centrals' contact lies this far to the patient's left of it, mm"),
        help_text=_("Minus is to the right; 0 keeps the midline of the teeth. Left empty, the face's midline counts."),
        required=False,
    )
    raised = forms.TypedChoiceField(label=_("One limit raised"), required=False, empty_value=None)
    raised_tooth = forms.TypedChoiceField(label=_("on the tooth"), required=False, empty_value=None)
    raised_to = forms.CharField(
        label=_("to"),
        help_text=_("In mm, or in whole degrees for the side wall."),
        required=False,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, teeth: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, answers in (
            ("raised", [(key, words) for key, (_what, words) in LIMIT_LOCKS.items()]),
            ("raised_tooth", teeth),
        ):
            field: Any = self.fields[name]
            field.choices = [("", _("none")), *answers]

    def clean(self) -> dict[str, Any]:
        """A limit is raised on one tooth to one value, or nothing of it is filled in."""
        data = super().clean() or {}
        parts = {name: data.get(name) or None for name in ("raised", "raised_tooth", "raised_to")}
        if not any(parts.values()) or any(name in self.errors for name in parts):
            return data
        asked = {
            "raised": _now("Which limit is raised? Choose one, or empty the cells beside it."),
            "raised_tooth": _now("On which tooth? Choose one, or choose no limit."),
            "raised_to": _now("To how much? Write millimetres such as 1.8, or whole degrees."),
        }
        for name, value in parts.items():
            if value is None:
                self.add_error(name, asked[name])
        if all(parts.values()):
            self._read_amount(data)
        return data

    def _read_amount(self, data: dict[str, Any]) -> None:
        written = str(data["raised_to"]).strip()
        try:
            if data["raised"] == "emergence":
                degrees = written.removesuffix("°").strip()
                if not (degrees.isascii() and degrees.isdigit() and int(degrees) <= 60):
                    raise ValueError(
                        _now("“%(text)s” is no angle: write whole degrees, such as 35.") % {"text": written}
                    )
                data["raised_to"] = int(degrees)
            else:
                data["raised_to"] = parse_mm(written)
        except ValueError as error:
            self.add_error("raised_to", str(error))


class LessForm(PlainForm):
    """How far teeth may be moved at most."""

    most = MillimetreField(label=_("Teeth may be moved by, mm in all"))

    def clean_most(self) -> int:
        """Some movement, and no more than a gap can be wide."""
        most: int = self.cleaned_data["most"]
        if not 0 < most <= WIDEST_GAP:
            raise forms.ValidationError(
                _now("%(mm)s mm is no such movement: it lies between 0.1 and %(most)s mm.")
                % {"mm": format_mm(most), "most": format_mm(WIDEST_GAP)}
            )
        return most
