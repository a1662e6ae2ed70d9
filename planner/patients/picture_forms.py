"""Forms for pictures: taking one in, writing down what it shows, setting it aside. None of them saves."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.patients.examination_parts import FactsForm
from planner.patients.images import FILE_FORMATS, MOST_BYTES
from planner.patients.models import PictureFile
from planner.patients.tooth_fields import TeethField
from planner.practice.fields import DayField, PlainForm, YesNoField

KINDS = (
    ("small film", _("small film")),
    ("panoramic", _("panoramic film")),
    ("small 3-D", _("small three-dimensional picture")),
    ("photo", _("photograph")),
    ("scan", _("scan")),
)


class PictureForm(FactsForm):
    """What a named reader saw in a film, scan or photograph."""

    kind = forms.ChoiceField(label=_("Picture"), choices=KINDS, widget=forms.Select(attrs={"data-size": "mid"}))
    on = DayField(label=_("Taken on"))
    reader = forms.CharField(
        label=_("Read by"), max_length=200, widget=forms.TextInput(attrs={"data-size": "mid", "autocomplete": "off"})
    )
    absent = TeethField(
        label=_("Teeth it proves absent"), required=False, help_text=_("Tooth numbers with commas between.")
    )
    roots_of = TeethField(
        label=_("Teeth whose root and nerve were read"),
        required=False,
        help_text=_("Tooth numbers with commas between."),
    )
    reading = forms.CharField(
        label=_("What was seen"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 4})
    )

    def belong_to(self, file: PictureFile) -> None:
        """Take kind and day from the picture that is read: they are the picture's and are not asked again."""
        for name in ("kind", "on"):
            self.fields[name].disabled = True
            self.initial[name] = getattr(file, name)


class PictureFileForm(PlainForm):
    """A picture to be taken in, and what is known about how it was taken."""

    file = forms.FileField(
        label=_("Picture file"),
        allow_empty_file=True,
        help_text=_("%(formats)s, at most %(most)d MB. The name of the file is not kept.")
        % {"formats": FILE_FORMATS, "most": MOST_BYTES // 1024 // 1024},
        widget=forms.FileInput(attrs={"accept": ".jpg,.jpeg,.png,.tif,.tiff"}),
    )
    kind = forms.ChoiceField(label=_("Picture"), choices=KINDS, widget=forms.Select(attrs={"data-size": "mid"}))
    on = DayField(label=_("Taken on"))
    taken_by = forms.CharField(
        label=_("Taken by"), max_length=200, required=False, widget=forms.TextInput(attrs={"data-size": "mid"})
    )
    shows = forms.CharField(
        label=_("What it shows"),
        max_length=120,
        required=False,
        help_text=_("Such as: full smile from the front. What somebody sees in it is written down as a reading."),
    )
    with_scale = YesNoField(label=_("Does a scale lie in the picture?"))
    mirrored = YesNoField(label=_("Was it taken in a mirror, so that right and left are exchanged?"))

    def about(self) -> dict[str, Any]:
        """What is kept beside kind and day."""
        return {name: self.cleaned_data[name] for name in ("taken_by", "shows", "with_scale", "mirrored")}


class SetAsideForm(PlainForm):
    """Why a picture counts no more."""

    reason = forms.CharField(
        label=_("Why does it count no more?"),
        max_length=300,
        help_text=_("Such as: lies in the wrong file. Nobody sees the picture from then on."),
    )
