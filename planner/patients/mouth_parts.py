"""What is found in the mouth as a whole, as forms: gums, decay, bite, colour, growth and the moving of teeth."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.patients.examination_parts import FactsForm, text_field
from planner.patients.tooth_fields import (
    CountField,
    TeethField,
    Words,
)
from planner.practice.fields import ChosenField, DayField, DaysField, MillimetreField, YesNoField


class GumsForm(FactsForm):
    """Gums of the whole mouth."""

    on = DayField(label=_("Looked at on"), required=False)
    probed_whole_mouth = YesNoField(label=_("Was the whole mouth probed?"))
    deepest_pocket = CountField(label=_("Deepest pocket, whole mm"), least=0, most=15)
    deepest_bleeds = YesNoField(label=_("Does the deepest pocket bleed?"))
    bleeding_percent = CountField(label=_("Sites that bleed, percent"), least=0, most=100)
    plaque_percent = CountField(label=_("Sites with plaque, percent"), least=0, most=100)
    ever_treated_for_gum_disease = YesNoField(label=_("Ever treated for gum disease?"))
    cleaned_on = DayField(label=_("Last cleaned on"), required=False)
    gum_thickness = ChosenField(label=_("Gum"), answers=[("thin", _("thin")), ("thick", _("thick"))])
    firm_gum = MillimetreField(label=_("Firm gum, height, mm"), required=False)


class DecayForm(FactsForm):
    """Decay of the whole mouth."""

    on = DayField(label=_("Looked at on"), required=False)
    open_lesions = CountField(
        label=_("Open decay, how many"), least=0, most=32, help_text=_("Anywhere in the mouth; 0 for none.")
    )
    filling_booked_on = DayField(label=_("Filling booked on"), required=False)
    risk = ChosenField(
        label=_("Risk of decay"), answers=[("low", _("low")), ("medium", _("medium")), ("high", _("high"))]
    )
    leaking_fillings = YesNoField(label=_("Leaking or open fillings?"))


class BiteForm(FactsForm):
    """How the jaws meet, and what a visit meets with."""

    on = DayField(label=_("Looked at on"), required=False)
    overjet = MillimetreField(label=_("Overjet, mm"), required=False)
    overbite = MillimetreField(label=_("Overbite, mm"), required=False)
    overbite_percent = CountField(label=_("Overbite, percent of the lower edge"), least=-50, most=150)
    grinding = ChosenField(
        label=_("Grinding"),
        answers=[("no", _("no")), ("suspected", _("suspected")), ("confirmed", _("confirmed"))],
    )
    guard_agreed = YesNoField(label=_("Has the person agreed to a night guard?"))
    guard_nights_per_week = CountField(label=_("Nights a week with a guard"), least=0, most=7)
    mouth_opening = CountField(label=_("Mouth opens, whole mm"), least=5, most=80)
    smile_line = ChosenField(
        label=_("Smile line"), answers=[("low", _("low")), ("medium", _("medium")), ("high", _("high"))]
    )
    long_face = YesNoField(label=_("Long face?"))
    frenum_checked = YesNoField(label=_("Lip band looked at?"))
    habit_checked = YesNoField(label=_("Asked about tongue and finger habits?"))
    extra_tooth_checked = YesNoField(label=_("Looked for an extra tooth at the midline?"))
    can_be_kept_dry = YesNoField(label=_("Can the teeth be kept dry?"))
    crossbite = YesNoField(label=_("Crossbite of the front?"))


class ColourForm(FactsForm):
    """Colour, taken before the teeth dry."""

    on = DayField(label=_("Looked at on"), required=False)
    shade = text_field(_("Shade"), _("Before the teeth dry; light and tab as the office writes them."))
    grey_bands = YesNoField(label=_("Grey bands?"))
    white_spots = YesNoField(label=_("White spots?"))
    cracks = YesNoField(label=_("Cracks?"))
    restorations_in_smile = TeethField(
        label=_("Crowns and fillings that whitening will not change"),
        required=False,
        help_text=_("Tooth numbers with commas between."),
    )
    last_whitening_night = DayField(label=_("Last night of whitening"), required=False)


class GrowthForm(FactsForm):
    """Side films of the skull; heights are lines of their own."""

    skull_films = DaysField(
        label=_("Side films of the skull, days"),
        required=False,
        help_text=_("One day on each line."),
        widget=forms.Textarea(attrs={"rows": 2, "data-size": "mid"}),
    )
    skull_films_changed = YesNoField(label=_("Do the films differ?"))


class HeightForm(FactsForm):
    """One reading of body height."""

    day = DayField(label=_("Height taken on"), required=False)
    height = CountField(label=_("Height, mm"), least=400, most=2500)

    def clean(self) -> dict[str, Any]:
        """A height has its day and a day its height."""
        data = super().clean() or {}
        for name, sentence in (
            ("day", _("On which day was this height taken?")),
            ("height", _("Which height was taken on this day? Write it in millimetres, such as 1724.")),
        ):
            if self.written() and data.get(name) is None and name not in self.errors:
                self.add_error(name, sentence)
        return data


class OrthodonticsForm(FactsForm):
    """Whether teeth are or were being moved."""

    state = ChosenField(
        label=_("Braces or aligners"),
        answers=[("none", _("none")), ("in treatment", _("in treatment")), ("finished", _("finished"))],
    )
    removed_on = DayField(label=_("Taken off on"), required=False)


GROUPS: Mapping[str, tuple[Words, type[FactsForm]]] = {
    "gums": (_("Gums"), GumsForm),
    "decay": (_("Decay"), DecayForm),
    "bite": (_("Bite, smile and access"), BiteForm),
    "colour": (_("Colour"), ColourForm),
    "growth": (_("Growth"), GrowthForm),
    "orthodontics": (_("Moving of teeth"), OrthodonticsForm),
}
"""The mouth-wide groups with heading and form, by their name in the facts."""
