"""The parts of an examination as forms: one tooth, one gap, what is absent, and how much of all that is laid out.

Fields are named as in :mod:`planner.rules.mouth`, so that a part turns into facts and back without a table between.
"""

from collections.abc import Mapping
from enum import Enum
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from pydantic import BaseModel

from planner.patients.stored import mm
from planner.patients.tooth_fields import (
    ChosenCell,
    CountField,
    LengthCell,
    ToothField,
    Words,
    YesNoCell,
)
from planner.practice.fields import DayField, MillimetreField, PlainForm
from planner.rules.teeth import Numbering

INSTRUMENTS = (("caliper", _("caliper")), ("scan", _("scan")), ("film", _("film")))
ROLES = (("central", _("central")), ("lateral", _("lateral")), ("canine", _("canine")), ("premolar", _("premolar")))
NOBODY = "nobody"
"""What the choice of a column says when no tooth stands in its place."""
FACTOR_HINT = _("Life size is 100. Empty: not known.")


class FactsForm(PlainForm):
    """A form whose fields are those of a fact."""

    title = ""
    """What the form is about, in words: its tooth or its gap."""

    def __init__(self, *args: Any, numbering: Numbering | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, ToothField):
                field.numbering = numbering

    def values(self) -> dict[str, Any]:
        """What was written and could be read, as the facts take it; call ``is_valid`` before."""
        found = {}
        for name, field in self.fields.items():
            value = self.cleaned_data.get(name)
            if value is None or value == "" or value == ():
                continue
            found[name] = mm(value) if isinstance(field, MillimetreField) else value
        return found

    def written(self) -> bool:
        """Whether anything was written or ticked, readable or not."""
        return any(self[name].data not in (None, "", False) for name in self.fields)


def initial_of(facts: BaseModel) -> dict[str, Any]:
    """What a form shows of ``facts``."""
    values = {name: getattr(facts, name) for name in type(facts).model_fields}
    return {name: value.value if isinstance(value, Enum) else value for name, value in values.items()}


def text_field(label: Any, hint: Any = "", **kwargs: Any) -> forms.CharField:
    """One line of text of at most 200 characters that may stay empty."""
    widget = forms.TextInput(attrs={"autocomplete": "off"} | kwargs.pop("attrs", {}))
    return forms.CharField(label=label, help_text=hint, required=False, widget=widget, **{"max_length": 200} | kwargs)


def _tick(label: Any) -> forms.BooleanField:
    return forms.BooleanField(label=label, required=False)


def _numbers(*numbers: int) -> list[tuple[Any, Words]]:
    return [(number, str(number)) for number in numbers]


def _percent_cell(label: Any) -> CountField:
    return CountField(label=label, least=0, most=100, cell=True)


class HeadForm(FactsForm):
    """When, by whom, with what."""

    on = DayField(label=_("Measured on"))
    by = text_field(_("Measured by"), attrs={"data-size": "mid"})
    instrument = forms.ChoiceField(label=_("With what"), choices=INSTRUMENTS, widget=forms.RadioSelect)
    film_factor_percent = CountField(
        label=_("Enlargement of the film, percent"), least=80, most=150, help_text=FACTOR_HINT
    )


class MidlineForm(FactsForm):
    """Two lengths of the whole arch."""

    midline_offset = MillimetreField(
        label=_("Middle of the teeth against the middle of the face, mm"),
        required=False,
        help_text=_("Plus when the teeth stand too far to the patient's left, minus to the right; 0 in line."),
    )
    strip_length = MillimetreField(
        label=_("Arch between the facing sides of the outermost measured teeth, in one go, mm"),
        required=False,
        help_text=_("With a flexible strip along the contacts; it checks the sum of the single readings."),
    )


class ColumnForm(FactsForm):
    """One place of the arch: which tooth stands there, its lengths, and what was found at it."""

    tooth = ChosenCell(label=_("tooth that stands here"), answers=(), blank=_("not recorded"))
    role = ChosenCell(label=_("must look like"), answers=ROLES)
    width = LengthCell(label=_("width"))
    width_again = LengthCell(label=_("width, second reading"))
    length = LengthCell(label=_("length"))
    length_again = LengthCell(label=_("length, second reading"))
    neck_width = LengthCell(label=_("width at the neck"))
    contact_height = LengthCell(label=_("height to the contact"))
    # Turned, double, or in another's place
    rotation = CountField(label=_("turned out of the arch, degrees"), least=0, most=180, cell=True)
    thickness = LengthCell(label=_("face to palate, mm"))
    arch_space = LengthCell(label=_("taken up in the arch, if measured, mm"))
    double = _tick(_("double crown"))
    double_counts = ChosenCell(
        label=_("a double crown counts"), answers=[("once", _("once: one tooth")), ("twice", _("twice: two teeth"))]
    )
    double_with = ToothField(
        label=_("grown together with"), required=False, widget=forms.TextInput(attrs={"class": "cell"})
    )
    palatal_cusp = ChosenCell(
        label=_("palatal cusp"),
        answers=[("low", _("low")), ("full", _("full height")), ("in the bite", _("meets the lower teeth"))],
    )
    root_bulge = YesNoCell(label=_("root bulges as a canine's"))
    side_guidance = ChosenCell(
        label=_("carries the jaw to its side"),
        answers=[("this tooth", _("this tooth")), ("a group", _("a group")), ("other teeth", _("other teeth"))],
    )
    # Seen from the front
    frontal_width = LengthCell(label=_("width in a photograph, mm"))
    gum_step = LengthCell(label=_("gum line toward the edge, mm"))
    shade = text_field(_("shade of this tooth"), attrs={"class": "cell"})
    # Substance
    undersized = YesNoCell(label=_("undersized"))
    not_to_be_touched = _tick(_("not to be touched"))
    restored = YesNoCell(label=_("filled or restored"))
    crowned = YesNoCell(label=_("crowned"))
    crown_lost_percent = _percent_cell(_("crown already lost, percent"))
    ferrule = LengthCell(label=_("sound tooth above the gum all round, mm"))
    decay = YesNoCell(label=_("open decay"))
    root_treated = YesNoCell(label=_("root treated"))
    infolding_checked = YesNoCell(label=_("checked for an infolded tooth"))
    edge_removed_before = LengthCell(label=_("taken off the edge before, mm"))
    sides_removed_before = LengthCell(label=_("taken off the sides before, mm"))
    # Edge and bite
    edge_thickness = LengthCell(label=_("thickness of the edge, mm"))
    enamel_percent = ChosenCell(label=_("outline in enamel, percent"), answers=_numbers(0, 25, 50, 75, 100), coerce=int)
    dentine_visible = YesNoCell(label=_("dentine visible"))
    wear = ChosenCell(label=_("wear, grade"), answers=_numbers(*range(5)), coerce=int)
    wear_cause = text_field(_("cause of the wear"), attrs={"class": "cell"})
    guides_bite = YesNoCell(label=_("guides the bite"))
    guidance_checked = _tick(_("guidance checked for a longer edge"))
    sensitivity = CountField(label=_("sensitivity, 0 to 10"), least=0, most=10, cell=True)
    # Gum, nerve and root
    pocket = CountField(label=_("deepest pocket, mm"), least=0, most=15, cell=True)
    pocket_bleeds = YesNoCell(label=_("that pocket bleeds"))
    papilla_bleeds = YesNoCell(label=_("papilla bleeds"))
    exposed_neck = LengthCell(label=_("exposed neck, mm"))
    gum_too_low = LengthCell(label=_("gum too low beside its twin, mm (0 is level)"))
    bone_to_gum = LengthCell(label=_("bone to edge of the gum, mm"))
    mobility = ChosenCell(label=_("mobility, grade"), answers=_numbers(*range(4)), coerce=int)
    nerve = ChosenCell(
        label=_("nerve test"),
        answers=[("responds", _("responds")), ("negative", _("negative")), ("unclear", _("unclear"))],
    )
    dark = YesNoCell(label=_("darkened"))
    gum_lump = YesNoCell(label=_("lump or sinus in the gum"))
    trauma = YesNoCell(label=_("knock or fall, ever"))
    bone_loss_percent = _percent_cell(_("bone lost, percent"))
    root_short = YesNoCell(label=_("root short"))
    # Carrier of a wing
    wing_enamel_height = LengthCell(label=_("palatal enamel, height, mm"))
    wing_enamel_area = CountField(label=_("palatal enamel, mm²"), least=0, most=200, cell=True)
    wing_filling_percent = _percent_cell(_("of it filled, percent"))
    wing_clearance = LengthCell(label=_("room in the bite for a wing, mm"))


MEASURES = ("width", "width_again", "length", "length_again", "neck_width", "contact_height")
FINDINGS: Mapping[str, tuple[Words, tuple[str, ...]]] = {
    "turned": (
        _("Turned, double or in another's place, tooth by tooth"),
        (
            "rotation",
            "thickness",
            "arch_space",
            "double",
            "double_counts",
            "double_with",
            "palatal_cusp",
            "root_bulge",
            "side_guidance",
        ),
    ),
    "front": (_("Seen from the front, tooth by tooth"), ("frontal_width", "gum_step", "shade")),
    "substance": (
        _("Substance, tooth by tooth"),
        (
            "undersized",
            "not_to_be_touched",
            "restored",
            "crowned",
            "crown_lost_percent",
            "ferrule",
            "decay",
            "root_treated",
            "infolding_checked",
            "edge_removed_before",
            "sides_removed_before",
        ),
    ),
    "edge": (
        _("Edge, enamel and wear, tooth by tooth"),
        (
            "edge_thickness",
            "enamel_percent",
            "dentine_visible",
            "wear",
            "wear_cause",
            "guides_bite",
            "guidance_checked",
            "sensitivity",
        ),
    ),
    "root": (
        _("Gum, nerve and root, tooth by tooth"),
        (
            "pocket",
            "pocket_bleeds",
            "papilla_bleeds",
            "exposed_neck",
            "gum_too_low",
            "bone_to_gum",
            "mobility",
            "nerve",
            "dark",
            "gum_lump",
            "trauma",
            "bone_loss_percent",
            "root_short",
        ),
    ),
    "wing": (
        _("Room for a bonded wing, tooth by tooth"),
        ("wing_enamel_height", "wing_enamel_area", "wing_filling_percent", "wing_clearance"),
    ),
}
"""The findings by group; every field of a column is a measure, its tooth or role, or one of these."""
GAP_FINDINGS = ("film", "may_stay", "new_or_growing", "contact_to_bone", "connector_height")
_ONE_ONLY = frozenset(
    {
        *MEASURES,
        *("tooth", "role", "wear_cause", "arch_space", "double_counts", "double_with", "palatal_cusp", "frontal_width"),
        *("gum_step", "shade"),
    }
)
"""What can hold of one tooth only."""


class AllForm(FactsForm):
    """One answer that holds for every tooth of its row whose own cell is empty. Ticks have no empty cell."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in ColumnForm().fields.items():
            if name not in _ONE_ONLY and not isinstance(field, forms.BooleanField):
                self.fields[name] = field


class OtherToothForm(ColumnForm):
    """A tooth outside the two arches as drawn: an extra tooth, or one of the back."""

    tooth = ToothField(label=_("tooth"), required=False, widget=forms.TextInput(attrs={"class": "cell"}))  # type: ignore[assignment]
    place = ToothField(
        label=_("stands in the place of"), required=False, widget=forms.TextInput(attrs={"class": "cell"})
    )


class GapForm(FactsForm):
    """The space between two neighbours."""

    width = LengthCell(label=_("gap"))
    width_again = LengthCell(label=_("gap, second reading"))
    film = ChosenCell(
        label=_("0.1 or 0.2 mm: tight to a strip, or may a film close it?"),
        answers=[("tight", _("tight")), ("film", _("film"))],
    )
    may_stay = _tick(_("this gap may stay"))
    new_or_growing = YesNoCell(label=_("new or growing"))
    contact_to_bone = LengthCell(label=_("contact to bone, mm"))
    connector_height = LengthCell(label=_("height of the contact from the front, mm"))


class AbsentForm(FactsForm):
    """A tooth that is not there."""

    tooth = ToothField(label=_("Tooth"), required=False)
    cause = forms.ChoiceField(
        label=_("Why"),
        required=False,
        choices=[
            ("presumed", _("presumed absent, not proven")),
            ("never formed", _("never formed")),
            ("lost", _("lost")),
            ("not erupted", _("not erupted")),
        ],
        widget=forms.Select(attrs={"data-size": "mid"}),
    )
    lost_on = DayField(label=_("Lost on"), required=False)
    felt = YesNoCell(label=_("Felt under the gum"))
    localised = YesNoCell(label=_("Its place in the jaw is known"))
    palpation_note = text_field(_("What was felt"), max_length=2000)

    def written(self) -> bool:
        """Whether more than the reason, which is never empty, was written."""
        return any(self[name].data not in (None, "") for name in self.fields if name != "cause")

    def clean(self) -> dict[str, Any]:
        """A line with anything on it names its tooth."""
        data = super().clean() or {}
        if self.written() and not data.get("tooth") and "tooth" not in self.errors:
            self.add_error("tooth", _("Which tooth is absent? Write its number, or leave the whole line empty."))
        return data


class PlaceForm(FactsForm):
    """A place where no tooth stands."""

    place = ToothField(label=_("Place of tooth"), required=False)
    crown_distance = MillimetreField(label=_("Between the crowns, mm"), required=False)
    root_distance = MillimetreField(label=_("Between the roots, mm"), required=False)
    ridge_thickness = MillimetreField(label=_("Thickness of the ridge, mm"), required=False)
    height_to_bite = MillimetreField(label=_("Height to the bite, mm"), required=False)
    measured_with = ChosenCell(label=_("Measured with"), answers=INSTRUMENTS, blank=_("not said"))
    film_factor_percent = CountField(label=_("Enlargement, percent"), least=80, most=150)

    def clean(self) -> dict[str, Any]:
        """A line with anything on it names its place."""
        data = super().clean() or {}
        if self.written() and not data.get("place") and "place" not in self.errors:
            self.add_error("place", _("Which place is empty? Write its tooth, or leave the whole line empty."))
        return data


class LayoutForm(PlainForm):
    """How much of the form is laid out: how far each arch reaches on either side, and how many lines there are."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (least, most) in LAYOUT.items():
            self.fields[name] = forms.IntegerField(
                min_value=least, max_value=most, required=False, widget=forms.HiddenInput
            )

    def numbers(self) -> dict[str, int]:
        """Every number within its bounds, whatever was sent."""
        self.is_valid()
        return {name: self.cleaned_data.get(name) or least for name, (least, _most) in LAYOUT.items()}


LAYOUT: Mapping[str, tuple[int, int]] = {
    "upper_right": (3, 8),
    "upper_left": (3, 8),
    "lower_right": (0, 8),
    "lower_left": (0, 8),
    "others": (0, 12),
    "absent": (1, 16),
    "places": (1, 16),
    "heights": (2, 12),
}
"""Least and most: places from the midline on each side, and lines of each list."""


def columns_filled(own: Mapping[str, Any], every: Mapping[str, Any]) -> dict[str, Any]:
    """One column's values, the answers for every tooth taken where its own cell is empty."""
    return {**every, **own}
