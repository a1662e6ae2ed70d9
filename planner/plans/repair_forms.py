"""The form of a repair: what is done again on finished work, who says yes, and whether the office promised it."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.plans.accepted_forms import CAPACITIES, ChargeForm
from planner.plans.accepting import Promise
from planner.practice.fields import AmountField


class RepairForm(ChargeForm):
    """One line at today's price, or at none under the office's promise; what that costs the office is kept."""

    promise = forms.BooleanField(
        label=_("Done again under the office's promise: the patient pays nothing"), required=False
    )
    minutes = forms.IntegerField(
        label=_("Minutes in the chair"),
        required=False,
        min_value=0,
        max_value=600,
        help_text=_("Wanted under promise: what it costs the office is kept and counted as upkeep."),
    )
    material = AmountField(label=_("Material"), required=False, help_text=_("Its cost to the office, under promise."))
    by = forms.CharField(label=_("Yes said by"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    capacity = forms.ChoiceField(label=_("That is"), choices=CAPACITIES, widget=forms.RadioSelect)
    field_order = ("service", "teeth", "quantity", "tax_class", "promise", "minutes", "material", "reason")

    def __init__(self, data: Mapping[str, Any] | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["service"].label = _("What is done")
        self.fields["service"].required = True
        self.fields["tax_class"].label = _("It is")
        self.fields["reason"].label = _("What is repaired, and why at this price")

    def clean(self) -> dict[str, Any]:
        """Whether the minutes are there that a promise costs."""
        data = super().clean()
        if data.get("promise") and data.get("minutes") is None and "minutes" not in self.errors:
            self.add_error("minutes", _now("Write how many minutes it takes: that is what the promise costs."))
        return data

    def chosen(self) -> dict[str, Any]:
        """What the service takes."""
        data = self.cleaned_data
        kept = Promise(data["minutes"], data["material"] or 0) if data["promise"] else None
        return {
            "charges": self.charges(),
            "promise": kept,
            "by": data["by"],
            "capacity": data["capacity"],
            "reason": data["reason"],
        }
