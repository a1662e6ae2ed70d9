"""The form that asks for a discount. It never saves."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, get_args

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.plans.discounting import Wanted
from planner.plans.forms import DecisionForm
from planner.practice.fields import AmountField
from planner.rules.book import DiscountKind

KINDS = tuple((kind, _(kind)) for kind in get_args(DiscountKind))


class DiscountForm(DecisionForm):
    """What is asked for: on which option or line, of which kind, how much and why."""

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        options: Sequence[tuple[str, str]],
        lines: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        reason, seen = self.fields.pop("reason"), self.fields.pop("seen")
        self.fields["option"] = forms.ChoiceField(label=_("On which option"), choices=options)
        self.fields["line"] = forms.ChoiceField(
            label=_("On"),
            choices=[("", _now("the whole estimate, spread over its lines")), *lines],
            required=False,
        )
        self.fields["kind"] = forms.ChoiceField(label=_("Kind"), choices=KINDS, widget=forms.RadioSelect)
        self.fields["percent"] = forms.DecimalField(
            label=_("Percent"),
            required=False,
            min_value=Decimal("0.01"),
            max_value=Decimal(100),
            max_digits=5,
            decimal_places=2,
            widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", "autocomplete": "off"}),
            error_messages={
                "invalid": _("This is not a percentage: write a number such as 5 or 7.5."),
                "min_value": _("A discount is above 0 percent."),
                "max_value": _("A discount is 100 percent at most."),
            },
        )
        self.fields["cents"] = AmountField(label=_("Or an amount"), required=False)
        self.fields["pass_through"] = forms.BooleanField(label=_("Bills passed on are discounted too"), required=False)
        self.fields["own_family"] = forms.BooleanField(
            label=_("For the family of who allows it"),
            required=False,
            help_text=_("A second person then has to agree."),
        )
        self.fields["reason"], self.fields["seen"] = reason, seen

    def clean(self) -> dict[str, Any]:
        """Either a percentage or an amount above nothing."""
        data = super().clean() or {}
        if {"percent", "cents"} & set(self.errors):
            return data
        if (data.get("percent") is None) == (data.get("cents") is None):
            self.add_error("percent", _now("Write either a percentage or an amount."))
        elif data.get("cents") == 0:
            self.add_error("cents", _now("A discount of 0.00 is none: write an amount above it."))
        return data

    @property
    def wanted(self) -> Wanted:
        """What was typed, as the service takes it."""
        return Wanted(**{name: value for name, value in self.cleaned_data.items() if name != "seen"})
