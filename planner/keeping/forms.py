"""Forms around erasing. They never save."""

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.keeping.models import Ground
from planner.practice.fields import PlainForm


class AskForm(PlainForm):
    """Ask that a file be erased."""

    ground = forms.ChoiceField(
        label=_("Why"),
        choices=Ground.choices,
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=_("What it rests on"),
        max_length=500,
        help_text=_("Such as: letter of 2 March. It stays when all else goes, so name nobody in it."),
    )


class AnswerForm(PlainForm):
    """Agree or decline; the version that was looked at travels with it."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("Reason, when you decline"), max_length=500, required=False, help_text=_("Name nobody in it.")
    )
