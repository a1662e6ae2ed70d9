"""Forms of stock and of the office's own clock: they read what was written; the services judge it."""

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import DayField, PlainForm
from planner.practice.models import Staff
from planner.practice.stock_models import MoveKind
from planner.practice.timings import MOST_MINUTES, MOST_TEETH, Block
from planner.rules.book import OfficeBook
from planner.rules.clock import Span

_QUANTITY = re.compile(r"(\d{1,12}(?:[.,]\d{1,6})?)\s*([^\d\s.,+-][^\d]*)?", re.ASCII)


class QuantityField(forms.CharField):
    """An amount with or without its unit: ``4``, ``4 g``, ``0,5 ml``. Comes out as (Decimal, unit or "")."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal", "autocomplete": "off"})
        )
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        """The amount and its unit, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        found = _QUANTITY.fullmatch(written.strip())
        if found is None:
            raise forms.ValidationError(
                gettext("“%(text)s” is not an amount: write 0 or more with two decimals at most, such as 4 or 0.5.")
                % {"text": written[:40]}
            )
        return Decimal(found[1].replace(",", ".")), (found[2] or "").strip()


class WholeField(forms.CharField):
    """A whole number between bounds, as people write it."""

    def __init__(self, *, least: int, most: int, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"data-size": "short", "inputmode": "numeric", "autocomplete": "off"})
        )
        super().__init__(**kwargs)
        self.least, self.most = least, most

    def to_python(self, value: Any) -> Any:
        """The number, or None where nothing was written."""
        written = super().to_python(value)
        if not written:
            return None
        number = int(written) if written.isascii() and written.isdigit() and len(written) <= 9 else -1
        if not self.least <= number <= self.most:
            raise forms.ValidationError(
                gettext("“%(text)s” is not a whole number from %(least)s to %(most)s.")
                % {"text": written[:40], "least": self.least, "most": self.most}
            )
        return number


class ArrivalForm(PlainForm):
    """Packs that came."""

    material = forms.ChoiceField(label=_("Material"))
    code = forms.CharField(
        label=_("Lot number"), max_length=40, help_text=_("As printed on the pack; a recall asks for it.")
    )
    packs = WholeField(label=_("Packs"), least=1, most=9999)
    pack_amount = QuantityField(label=_("One pack holds"), required=False)
    expires = DayField(label=_("Last day it may be used"), required=False, help_text=_("Empty where none is printed."))
    received = DayField(label=_("Came on"))

    def __init__(self, *args: Any, book: OfficeBook, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        packs = {row.key: (row.pack_amount, row.unit) for row in book.materials}
        self.units = {key: unit for key, (_amount, unit) in packs.items()}
        self.packs_of = {key: amount for key, (amount, _unit) in packs.items()}
        choices: Any = self.fields["material"]
        choices.choices = [
            ("", gettext("choose")),
            *((row.key, f"{row.words} ({row.pack_amount:f} {row.unit})") for row in book.materials),
        ]
        self.fields["pack_amount"].help_text = gettext(
            "Only where it differs from the pack in the office book, in the same unit: “4 g”."
        )

    def said(self) -> dict[str, Any]:
        """What :class:`planner.practice.stock.Arrival` takes. Without an amount the pack is that of the book."""
        data = dict(self.cleaned_data)
        amount, unit = data.pop("pack_amount") or (self.packs_of[data["material"]], "")
        return data | {"pack_amount": amount, "unit": unit or self.units[data["material"]]}


class MoveForm(PlainForm):
    """Something that happened to a lot."""

    kind = forms.ChoiceField(
        label=_("What happened"),
        choices=[
            (MoveKind.USED.value, _("used")),
            (MoveKind.DISCARDED.value, _("thrown away")),
            (MoveKind.COUNTED.value, _("counted: so much is really there")),
        ],
        widget=forms.RadioSelect,
    )
    amount = QuantityField(label=_("Amount"))
    on = DayField(label=_("On"))
    reason = forms.CharField(
        label=_("Reason"), max_length=300, required=False, help_text=_("Needed unless it was simply used.")
    )

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit
        self.fields["amount"].help_text = gettext("In %(unit)s.") % {"unit": unit}

    def clean_amount(self) -> Decimal:
        """The amount, once its unit is the lot's."""
        amount, unit = self.cleaned_data["amount"]
        if unit not in ("", self.unit):
            raise forms.ValidationError(
                gettext("This lot is counted in %(unit)s, not in %(other)s.") % {"unit": self.unit, "other": unit}
            )
        return Decimal(amount)


class TimingForm(PlainForm):
    """Minutes that work really took."""

    block = forms.ChoiceField(label=_("Work"))
    teeth = WholeField(
        label=_("Teeth"),
        least=1,
        most=MOST_TEETH,
        help_text=_("How many teeth the minutes are of; 1 where the work is not counted by tooth."),
    )
    minutes = WholeField(label=_("Minutes, all teeth together"), least=1, most=MOST_MINUTES)
    on = DayField(label=_("On"))
    worked = forms.ChoiceField(label=_("Who worked"))
    disturbed = forms.BooleanField(
        label=_("Something disturbed it"), required=False, help_text=_("It is kept and not learnt from.")
    )
    why = forms.CharField(label=_("What disturbed it"), max_length=300, required=False)

    def __init__(self, *args: Any, blocks: Sequence[Block], people: Sequence[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        work: Any = self.fields["block"]
        work.choices = [("", gettext("choose")), *((block.key, block.words) for block in blocks)]
        who: Any = self.fields["worked"]
        self.people = {person.public_id: person for person in people}
        who.choices = [("", gettext("choose")), *((person.public_id, person.full_name) for person in people)]

    def said(self) -> dict[str, Any]:
        """What :class:`planner.practice.timings.Timed` takes."""
        return self.cleaned_data | {"worked": self.people[self.cleaned_data["worked"]]}


class AdoptForm(PlainForm):
    """Minutes that go into the office book."""

    fast = WholeField(label=_("Fast"), least=0, most=MOST_MINUTES)
    usual = WholeField(label=_("Usual"), least=1, most=MOST_MINUTES)
    slow = WholeField(label=_("Slow"), least=1, most=MOST_MINUTES)
    reason = forms.CharField(label=_("Reason"), max_length=300)
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        """Fast, usual and slow stand in order."""
        data = super().clean() or {}
        fast, usual, slow = (data.get(name) for name in ("fast", "usual", "slow"))
        if None not in (fast, usual, slow) and not fast <= usual <= slow:  # type: ignore[operator]
            self.add_error(
                "usual",
                gettext("Minutes stand as fast, usual, slow, not as %(fast)s, %(usual)s, %(slow)s.")
                % {"fast": fast, "usual": usual, "slow": slow},
            )
        return data

    @property
    def span(self) -> Span:
        """The three minutes."""
        return Span(*(self.cleaned_data[name] for name in ("fast", "usual", "slow")))
