"""The form for what is agreed for what may be found: a sentence in each part, and the work it stands for."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.plans.forms import count_field, read_teeth, teeth_example
from planner.practice.fields import PlainForm
from planner.rules.book import PriceList
from planner.rules.choices import IfThen
from planner.rules.if_then import piece_fault
from planner.rules.mouth import CaseFacts
from planner.rules.results import OptionShape

MOST = 40
_EMPTY = 2
"""Empty parts on the form beyond those there are."""


@dataclass(frozen=True, slots=True)
class Part:
    """The fields of one entry."""

    number: int
    words: forms.BoundField
    service: forms.BoundField
    teeth: forms.BoundField
    quantity: forms.BoundField
    options: forms.BoundField


class IfThenForm(PlainForm):
    """Sentences that are agreed; one with a service is a piece of work that is done without asking again."""

    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        facts: CaseFacts,
        prices: PriceList | None,
        options: Sequence[OptionShape],
        seen: int,
    ) -> None:
        self.facts, self.prices = facts, prices
        known = facts.choices.if_then
        self._many = _posted(data) if data is not None else min(len(known) + _EMPTY, MOST)
        super().__init__(data, initial=_initial(facts) | {"seen": seen})
        services = [one for one in prices.services if one.cents is not None] if prices is not None else []
        kept = {entry.service for entry in known if isinstance(entry, IfThen)} - {one.key for one in services}
        choices = [("", "–"), *((one.key, f"{one.words} ({one.code})") for one in services)]
        choices += [(key, _now("%(service)s: not in the price list") % {"service": key}) for key in sorted(kept)]
        named = [(option.key, option.name) for option in options]
        gone = {key for entry in known if isinstance(entry, IfThen) for key in entry.options} - dict(named).keys()
        named += [(key, _now("%(key)s: not among the options") % {"key": key}) for key in sorted(gone)]
        for number in range(1, self._many + 1):
            self._add_part(number, choices, named)

    def _add_part(self, number: int, services: list[tuple[str, str]], options: list[tuple[str, str]]) -> None:
        self.fields[f"words-{number}"] = forms.CharField(
            label=_("If this is found, then that is done"),
            max_length=2000,
            required=False,
            widget=forms.Textarea(attrs={"rows": 2}),
        )
        self.fields[f"service-{number}"] = forms.ChoiceField(
            label=_("The work it stands for"), choices=services, required=False
        )
        numbering = self.facts.numbering
        self.fields[f"teeth-{number}"] = forms.CharField(
            label=_now("For which teeth (%(system)s, such as %(example)s)")
            % {"system": numbering.printed, "example": teeth_example(numbering)},
            max_length=200,
            required=False,
            widget=forms.TextInput(attrs={"data-size": "mid", "autocomplete": "off"}),
        )
        self.fields[f"quantity-{number}"] = count_field(_("At most so many"), 1, 20)
        self.fields[f"options-{number}"] = forms.MultipleChoiceField(
            label=_("It belongs to"), choices=options, required=False, widget=forms.CheckboxSelectMultiple
        )

    def parts(self) -> Iterator[Part]:
        """The entries in order, for the template."""
        for number in range(1, self._many + 1):
            names = (f"{name}-{number}" for name in ("words", "service", "teeth", "quantity", "options"))
            yield Part(number, *(self[name] for name in names))

    def clean(self) -> dict[str, Any]:
        """The entries; a piece is held against the price list and the mouth."""
        data = super().clean() or {}
        self.entries = tuple(self._entries(data))
        return data

    def _entries(self, data: Mapping[str, Any]) -> Iterator[str | IfThen]:
        for number in range(1, self._many + 1):
            words, service = data.get(f"words-{number}", ""), data.get(f"service-{number}", "")
            written = data.get(f"teeth-{number}", "")
            if service and not words:
                self.add_error(f"words-{number}", _now("Say what may be found, and what is then done."))
            elif written and not service:
                self.add_error(f"service-{number}", _now("Choose the work for these teeth, or leave the teeth empty."))
            elif not service and words:
                yield words
            elif service:
                yield from self._piece(number, words, service, written, data)

    def _piece(self, number: int, words: str, service: str, written: str, data: Mapping[str, Any]) -> Iterator[IfThen]:
        try:
            teeth = read_teeth(written, self.facts.numbering)
        except forms.ValidationError as error:
            self.add_error(f"teeth-{number}", error)
            return
        entry = IfThen(
            words=words,
            service=service,
            teeth=teeth,
            quantity=data.get(f"quantity-{number}") or 1,
            options=tuple(data.get(f"options-{number}", ())),
        )
        if self.prices is not None and (fault := piece_fault(entry, self.facts, self.prices)):
            self.add_error(f"service-{number}", fault)
            return
        yield entry


def _posted(data: Mapping[str, Any]) -> int:
    return next((number for number in range(MOST) if f"words-{number + 1}" not in data), MOST)


def _initial(facts: CaseFacts) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for number, entry in enumerate(facts.choices.if_then, start=1):
        found[f"words-{number}"] = str(entry)
        if isinstance(entry, IfThen):
            found[f"service-{number}"] = entry.service
            found[f"teeth-{number}"] = " ".join(tooth.written(facts.numbering) for tooth in entry.teeth)
            found[f"quantity-{number}"] = entry.quantity
            found[f"options-{number}"] = list(entry.options)
    return found
