"""Forms of what comes after a yes: which pieces, who says yes, payments, changes, rest, stop, refunds."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.plans.accepted_models import AcceptedPlan, Cause, Item, Payment, Route, Waiting
from planner.practice.fields import AmountField, DayField, PlainForm
from planner.rules.acceptance import DECIDER, PATIENT
from planner.rules.book import Service
from planner.rules.fees import Charge
from planner.rules.partial import Piece
from planner.rules.teeth import Numbering, Tooth

_CAUSES = ((Cause.PATIENT, _("the patient")), (Cause.FINDING, _("a finding")), (Cause.OFFICE, _("the office")))
CAPACITIES = ((PATIENT, _("the patient")), (DECIDER, _("who decides by law for the patient")))
_WAITING = (
    (Waiting.WHITENING, _("the days after whitening")),
    (Waiting.GUM, _("the gum, measured again")),
    (Waiting.GROWTH, _("proof that growth has ended")),
    (Waiting.LABORATORY, _("the laboratory")),
    (Waiting.PAYER, _("a payer's answer")),
    (Waiting.OUTSIDE, _("an outside doctor")),
    (Waiting.DEPOSIT, _("the deposit")),
    (Waiting.PATIENT, _("the patient")),
)
_ROUTES = (
    (Route.CASH, _("cash")),
    (Route.CARD, _("card")),
    (Route.TRANSFER, _("bank transfer")),
    (Route.CHEQUE, _("cheque")),
    (Route.OTHER, _("other")),
)


class _Seen(PlainForm):
    seen = forms.IntegerField(widget=forms.HiddenInput)


class PartForm(PlainForm):
    """Which pieces of an option, and how much it may cost. Tried, not stored."""

    pieces = forms.MultipleChoiceField(label=_("Only these"), widget=forms.CheckboxSelectMultiple, required=False)
    budget = AmountField(label=_("Or: the best part for at most"), required=False)

    def __init__(self, data: Mapping[str, Any] | None = None, *, pieces: Sequence[Piece], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        beside = _now("beside it: %(words)s")
        self.fields["pieces"].choices = [  # type: ignore[attr-defined]
            (piece.key, beside % {"words": piece.words} if piece.beside else piece.words) for piece in pieces
        ]


class AcceptForm(_Seen):
    """Who says yes to the pieces that are ticked."""

    pieces = forms.MultipleChoiceField(widget=forms.MultipleHiddenInput)
    by = forms.CharField(label=_("Yes said by"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    capacity = forms.ChoiceField(label=_("That is"), choices=CAPACITIES, widget=forms.RadioSelect)
    words = forms.CharField(label=_("In the person's own words"), max_length=2000, required=False)
    replaces = forms.ChoiceField(label=_("In place of"), required=False)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        pieces: Sequence[Piece],
        plans: Sequence[AcceptedPlan],
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        choices: Any = self.fields
        choices["pieces"].choices = [(piece.key, piece.words) for piece in pieces]
        choices["replaces"].choices = [("", _now("nothing; it is new")), *((one.public_id, one.name) for one in plans)]
        if not plans:
            del self.fields["replaces"]
        self._plans = {one.public_id: one for one in plans}

    def chosen(self) -> dict[str, Any]:
        """What the service takes."""
        data = dict(self.cleaned_data)
        return data | {"chosen": data.pop("pieces"), "replaces": self._plans.get(data.pop("replaces", ""))}


class ReceiptForm(PlainForm):
    """Money that came in."""

    cents = AmountField(label=_("Amount"))
    payer = forms.CharField(
        label=_("Paid by"),
        max_length=200,
        help_text=_("That need not be the patient. Money goes back to whoever paid it."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    route = forms.ChoiceField(label=_("How"), choices=_ROUTES, widget=forms.RadioSelect)
    reference = forms.CharField(
        label=_("Number of the slip"), max_length=60, required=False, help_text=_("Never the number of a card.")
    )
    on = DayField(label=_("Day"))


class WhyForm(PlainForm):
    """A reason alone."""

    reason = forms.CharField(label=_("Reason"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))


class RestForm(_Seen, WhyForm):
    """Why it rests and when somebody looks again."""

    look_again_on = DayField(label=_("Look at it again on"), help_text=_("At most 90 days ahead."))


class StopForm(_Seen, WhyForm):
    """Why it stops, through whom, and how altered teeth are made safe."""

    because = forms.ChoiceField(label=_("Brought about by"), choices=_CAUSES, widget=forms.RadioSelect)
    make_safe = forms.CharField(
        label=_("How altered teeth are made safe"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Wanted where a tooth has been altered for good, whoever owes what."),
    )
    field_order = ("because", "reason", "make_safe")


class SeenForm(_Seen):
    """Nothing but the version that was seen."""


class DeclineForm(_Seen, WhyForm):
    """Why a refund does not go back."""


class StageForm(PlainForm):
    """A stage of work made outside the mouth."""

    stage = forms.ChoiceField(label=_("Reached"), widget=forms.RadioSelect)

    def __init__(self, data: Mapping[str, Any] | None = None, *, stages: Sequence[str], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["stage"].choices = [(stage, stage) for stage in stages]  # type: ignore[attr-defined]


class CallForm(PlainForm):
    """A call about a balance due."""

    spoke_with = forms.CharField(label=_("Spoke with"), max_length=200)
    words = forms.CharField(label=_("What was agreed"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))


class CarryForm(PlainForm):
    """How much of what is held is carried forward, and who agreed."""

    cents = AmountField(label=_("Amount"))
    reason = forms.CharField(
        label=_("Who agreed, and why"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Whoever paid can have it back instead."),
    )


class RefundForm(WhyForm):
    """What goes back of which receipt."""

    receipt = forms.ChoiceField(label=_("Of which receipt"), widget=forms.RadioSelect)
    cents = AmountField(label=_("Amount"))
    field_order = ("receipt", "cents", "reason")

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, receipts: Iterable[tuple[Payment, str]], **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self._receipts = {row.public_id: row for row, _words in receipts}
        self.fields["receipt"].choices = [(row.public_id, words) for row, words in receipts]  # type: ignore[attr-defined]

    def chosen(self) -> dict[str, Any]:
        """The receipt as a row, with amount and reason."""
        return dict(self.cleaned_data) | {"receipt": self._receipts[self.cleaned_data["receipt"]]}


class WaitForm(_Seen):
    """What an item waits for."""

    waiting_for = forms.ChoiceField(label=_("Waiting for"), choices=_WAITING, widget=forms.RadioSelect)
    earliest = DayField(label=_("Not before"), required=False)


class DoneForm(_Seen):
    """The day an item was done."""

    done_on = DayField(label=_("Done on"))


class AgreeForm(PlainForm):
    """The yes to a change."""

    by = forms.CharField(label=_("Yes said by"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    capacity = forms.ChoiceField(label=_("That is"), choices=CAPACITIES, widget=forms.RadioSelect)
    how = forms.ChoiceField(
        label=_("How"),
        choices=(
            ("signed", _("signed")),
            ("agreed before", _("agreed before, in the signed list of what may be found")),
            ("spoken", _("spoken before a witness; never where more is removed")),
        ),
        widget=forms.RadioSelect,
    )
    witness = forms.CharField(label=_("Witness"), max_length=200, required=False)


class MonthForm(PlainForm):
    """The next month of a course has passed."""

    month = forms.IntegerField(widget=forms.HiddenInput)
    on = DayField(label=_("Passed on"))


class BillForm(PlainForm):
    """What somebody else billed for work that is passed on as it came."""

    cents = AmountField(label=_("Amount of the bill"), help_text=_("As billed. It is no income of the office."))
    on = DayField(label=_("Day of the bill"))


class FinishForm(_Seen):
    """Whether what was done has been reviewed."""

    review_done = forms.BooleanField(
        label=_("The review after the work is done, or nothing was done that is reviewed"), required=False
    )


class ChargeForm(WhyForm):
    """A line to be charged: which service, for which teeth, how often, of which class."""

    service = forms.ChoiceField(label=_("Added"), required=False)
    teeth = forms.MultipleChoiceField(
        label=_("For which teeth"), widget=forms.CheckboxSelectMultiple(attrs={"class": "cluster"}), required=False
    )
    quantity = forms.IntegerField(
        label=_("Number"), required=False, min_value=1, max_value=20, help_text=_("Where it is not counted by teeth.")
    )
    tax_class = forms.ChoiceField(
        label=_("The added line is"),
        choices=(("looks only", _("for looks only")), ("reconstructive", _("reconstructive"))),
        widget=forms.RadioSelect,
        required=False,
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        services: Sequence[Service],
        teeth: Sequence[Tooth],
        numbering: Numbering,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        priced = [service for service in services if service.cents is not None]
        self._services = {service.key: service for service in priced}
        choices: Any = self.fields
        choices["service"].choices = [("", "–"), *((one.key, f"{one.words} ({one.code})") for one in priced)]
        choices["teeth"].choices = [(tooth.key, tooth.label(numbering)) for tooth in teeth]

    def clean(self) -> dict[str, Any]:
        """Whether the added line has the class that its service wants."""
        data: dict[str, Any] = super().clean() or {}
        service = self._services.get(data.get("service", ""))
        if service is not None and service.tax_class == "by line" and not data.get("tax_class"):
            self.add_error("tax_class", _now("Say whether it is for looks only or reconstructive."))
        return data

    def charges(self) -> list[Charge]:
        """The line as the price list is asked for it; none where no service was chosen."""
        data = self.cleaned_data
        service = self._services.get(data["service"])
        if service is None:
            return []
        teeth = tuple(Tooth.from_key(key) for key in data["teeth"])
        by_line = service.tax_class == "by line"
        return [
            Charge(
                service=service.key,
                quantity=data["quantity"] or len(teeth) or 1,
                teeth=teeth,
                tax_class=data["tax_class"] if by_line else None,
                tax_reason=data["reason"] if by_line else "",
            )
        ]


class AmendForm(ChargeForm):
    """What is dropped and added, why, and through whom."""

    cause = forms.ChoiceField(label=_("Brought about by"), choices=_CAUSES, widget=forms.RadioSelect)
    drop = forms.MultipleChoiceField(label=_("Dropped"), widget=forms.CheckboxSelectMultiple, required=False)
    more_removal = forms.BooleanField(label=_("More is removed from a tooth than was agreed"), required=False)
    new_material_risk = forms.BooleanField(label=_("A material brings a risk that was not spoken of"), required=False)
    field_order = ("drop", "service", "teeth", "quantity", "tax_class", "cause", "reason")

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, items: Sequence[tuple[Item, str]], **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self._items = {item.public_id: item for item, _words in items}
        choices: Any = self.fields
        choices["drop"].choices = [(item.public_id, words) for item, words in items]

    def chosen(self) -> dict[str, Any]:
        """Rows and charges as the service takes them."""
        data = self.cleaned_data
        return {
            "cause": Cause(data["cause"]),
            "reason": data["reason"],
            "dropped": [self._items[key] for key in data["drop"]],
            "added": self.charges(),
            "more_removal": data["more_removal"],
            "new_material_risk": data["new_material_risk"],
        }


def first_receipt(day: date, payer: str, due: int) -> dict[str, Any]:
    """What a receipt form begins with."""
    return {"on": day, "payer": payer, "cents": due or None}
