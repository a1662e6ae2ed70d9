"""Forms about the guess beside an estimate: the days it counts on, and what was paid in the end. Neither saves."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.patients.tooth_fields import TeethField
from planner.practice.fields import AmountField, DayField, PlainForm
from planner.rules.benefit_sheets import Claim, GuessSheet
from planner.rules.teeth import Numbering


class ClaimForm(PlainForm):
    """What the desk knows about the work that a payer would be asked about."""

    starts = DayField(label=_("Work starts on"), required=False, help_text=_("Empty: the day of the plan."))
    finishes = DayField(
        label=_("The last of it is done on"), required=False, help_text=_("Empty: each option's earliest finish.")
    )
    looks_only = TeethField(
        label=_("Teeth on which the payer would call it looks only"),
        required=False,
        help_text=_("Tooth numbers with commas between."),
    )

    def __init__(self, *args: Any, numbering: Numbering, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        teeth: Any = self.fields["looks_only"]
        teeth.numbering = numbering

    def claim(self) -> Claim:
        """As typed."""
        data = self.cleaned_data
        return Claim(starts=data["starts"], finishes=data["finishes"], looks_only=tuple(data["looks_only"] or ()))


class PaidForm(PlainForm):
    """A payer's final answer."""

    option = forms.ChoiceField(label=_("Option"))
    paid = AmountField(label=_("Paid by all payers together"))
    on = DayField(label=_("On which day"))
    signed = forms.BooleanField(
        label=_("The patient had signed the whole price as what is owed if nothing is paid"), required=False
    )
    reason = forms.CharField(
        label=_("The payer's reason, where it paid less"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, sheet: GuessSheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["option"]
        choice.choices = [(one.option, one.name) for one in sheet.options]
