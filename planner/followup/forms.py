"""Forms of calls: what came of one, and the day a patient named."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.followup.models import Outcome
from planner.practice.fields import DayField, PlainForm

_OUTCOMES = (
    (Outcome.SPOKE, _("spoke with somebody")),
    (Outcome.NOBODY, _("nobody answered")),
    (Outcome.MESSAGE, _("left word to ring back")),
    (Outcome.ANSWERED, _("the patient decided; the answer goes with the estimate")),
    (Outcome.STOP, _("asked not to be called about this")),
)


class MadeForm(PlainForm):
    """A call that was made."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    outcome = forms.ChoiceField(label=_("What came of it"), choices=_OUTCOMES, widget=forms.RadioSelect)
    spoke_with = forms.CharField(label=_("With whom"), max_length=200, required=False)
    words = forms.CharField(label=_("What was said"), widget=forms.Textarea(attrs={"rows": 3}), required=False)
    again_on = DayField(label=_("Day the patient named for another call"), required=False)

    def clean(self) -> dict[str, Any]:
        """The outcome as the service takes it."""
        data = super().clean() or {}
        if data.get("outcome"):
            data["outcome"] = Outcome(data["outcome"])
        return data


class AgreedForm(PlainForm):
    """A day the patient named."""

    on = DayField(label=_("Day the patient named"))
    words = forms.CharField(label=_("In their words"), max_length=300, required=False)


class MonthsForm(PlainForm):
    """Which months make the cohort."""

    last = forms.ChoiceField(label=_("Last month"), required=False)
    months = forms.TypedChoiceField(
        label=_("How many months"), coerce=int, choices=[(one, str(one)) for one in (1, 3, 6, 12)], required=False
    )

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["last"].choices = choices  # type: ignore[attr-defined]
