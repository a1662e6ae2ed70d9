"""Forms of paying in parts and of when a price was asked for. They never save."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.plans.arrangement_models import RequestEvent
from planner.plans.arranging import Payer, Typed
from planner.practice.fields import AmountField, DayField, PlainForm

_TEXT = {"autocomplete": "off"}


class ArrangementForm(PlainForm):
    """How much is paid at once, in how many parts, from when, at which rate, and by whom."""

    option = forms.ChoiceField(label=_("Option"))
    deposit_cents = AmountField(label=_("Deposit, paid when it is agreed"))
    count = forms.IntegerField(
        label=_("Monthly instalments"),
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "numeric", **_TEXT}),
        error_messages={"invalid": _("This is not a whole number: write one such as 4.")},
    )
    first_due = DayField(
        label=_("First one due on"),
        help_text=_("Day 31 moves to the last day of shorter months, and back to it."),
    )
    yearly_percent = forms.DecimalField(
        label=_("Interest, percent a year"),
        max_digits=6,
        decimal_places=3,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", **_TEXT}),
        help_text=_("0 for none. Any interest makes the office a lender in many places."),
        error_messages={"invalid": _("This is not a percentage: write 0, or a number such as 8.24.")},
    )
    fitted_on = DayField(
        label=_("Work from the laboratory is fitted on"),
        required=False,
        help_text=_("Blank where there is none, or no day yet."),
    )
    payer = forms.CharField(label=_("Who pays"), max_length=200, required=False, widget=forms.TextInput(attrs=_TEXT))
    capacity = forms.CharField(
        label=_("In which capacity"),
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs=_TEXT),
        help_text=_("Such as: the patient, a parent, a partner."),
    )
    address = forms.CharField(
        label=_("Address of who pays"), max_length=300, required=False, widget=forms.TextInput(attrs=_TEXT)
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        options: Sequence[tuple[str, str]],
        replaces: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        if options:
            self.fields["option"].choices = options  # type: ignore[attr-defined]
        else:
            del self.fields["option"]
        if replaces:
            self.fields["reason"] = forms.CharField(
                label=_("Why it replaces the agreement there is"), max_length=500, required=False
            )

    @property
    def typed(self) -> Typed:
        """The figures, as the service takes them."""
        data = self.cleaned_data
        return Typed(
            deposit_cents=data["deposit_cents"],
            count=data["count"],
            first_due=data["first_due"],
            yearly_percent=data["yearly_percent"],
            fitted_on=data["fitted_on"],
        )

    @property
    def who_pays(self) -> Payer:
        """Who pays, as the service takes it."""
        data = self.cleaned_data
        return Payer(data["payer"], data["capacity"], data["address"])


class PriceRequestForm(PlainForm):
    """When a price was asked for, or its visit booked."""

    event = forms.ChoiceField(label=_("What happened"), choices=RequestEvent.choices, widget=forms.RadioSelect)
    on = DayField(label=_("On"))
    service_on = DayField(label=_("Day of the main service"), required=False, help_text=_("Where one is booked."))
    repeated = forms.CharField(
        label=_("What is repeated"),
        max_length=300,
        required=False,
        widget=forms.TextInput(attrs=_TEXT),
        help_text=_("How often, over which time, how many times in all; blank where nothing is."),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].latest = today  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A booking is for a day, and not for one before it was made."""
        data = super().clean() or {}
        on, service_on = data.get("on"), data.get("service_on")
        if data.get("event") == RequestEvent.BOOKED and not service_on and "service_on" not in self.errors:
            self.add_error("service_on", _now("A booking is for a day: write it."))
        if on and service_on and service_on < on:
            self.add_error("service_on", _now("This lies before the booking: write the day the work is to be done."))
        return data
