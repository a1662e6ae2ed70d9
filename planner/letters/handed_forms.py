"""The forms around a screen that is handed over: to whom, and who takes it back with a signature."""

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import PlainForm


class HandOverForm(PlainForm):
    """Into whose hands a screen is given."""

    to = forms.CharField(label=_("Handed to"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    seen = forms.IntegerField(widget=forms.HiddenInput)
