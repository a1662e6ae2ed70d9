"""Forms of the step sheet: a word why, what was found, what a dentist made of it, and the end."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import PlainForm
from planner.practice.stock_forms import QuantityField
from planner.rules.teeth import Numbering, Tooth
from planner.visits.amounts import Planned
from planner.visits.step_models import NoteKind

_SAID = {
    NoteKind.FOUND: _("Found"),
    NoteKind.INSTEAD: _("Did instead"),
    NoteKind.LEFT_OUT: _("Left out"),
}


class NoteForm(PlainForm):
    """What turned out otherwise: three taps, words only where no line of the agreed list fits."""

    kind = forms.ChoiceField(label=_("What is it?"), choices=list(_SAID.items()), widget=forms.RadioSelect)
    tooth = forms.ChoiceField(label=_("Which tooth?"), widget=forms.RadioSelect, required=False)
    agreed = forms.ChoiceField(label=_("Is it on the list agreed before?"), widget=forms.RadioSelect, required=False)
    words = forms.CharField(
        label=_("In a few words"),
        max_length=300,
        required=False,
        help_text=_("May stay empty where a line of the list says it."),
    )
    run = forms.CharField(widget=forms.HiddenInput, required=False, max_length=90)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        teeth: Sequence[Tooth],
        agreed: Sequence[str],
        numbering: Numbering,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        fields: Any = self.fields
        fields["tooth"].choices = [
            *((tooth.key, tooth.written(numbering)) for tooth in teeth),
            ("", _("no tooth, or another")),
        ]
        fields["agreed"].choices = [*((line, line) for line in agreed), ("", _("no line of it"))]
        if not agreed:
            del fields["agreed"]

    def said(self) -> dict[str, Any]:
        """As the service takes it."""
        data = self.cleaned_data
        return {
            "kind": NoteKind(data["kind"]),
            "tooth": Tooth.from_key(data["tooth"]) if data["tooth"] else None,
            "agreed": data.get("agreed", ""),
            "words": data["words"],
            "run": data["run"],
        }


class NoChangeForm(PlainForm):
    """Why the plan does not change."""

    words = forms.CharField(label=_("Why the plan does not change"), max_length=300)


class CloseForm(PlainForm):
    """Whether something disturbed the visit."""

    disturbed = forms.BooleanField(
        label=_("Something disturbed it, so its minutes are kept and not learnt from"), required=False
    )
    why = forms.CharField(label=_("What disturbed it"), max_length=300, required=False)

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, planned: Sequence[Planned] = (), **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.planned = list(planned)
        for one in self.planned:
            said = {"words": one.words, "planned": f"{one.amount:f} {one.unit}"}
            self.fields[f"used_{one.material}"] = QuantityField(
                label=_now("Used: %(words)s") % {"words": one.words},
                required=False,
                help_text=_now("Planned %(planned)s. Stays empty where nobody measured it.") % said,
            )

    def clean(self) -> dict[str, Any]:
        """A unit that was written must be the one in which the shelf counts it."""
        data = super().clean() or {}
        for one in self.planned:
            field = f"used_{one.material}"
            found = data.get(field)
            if found is not None and found[1] not in ("", one.unit):
                self.add_error(field, _now("It is counted in %(unit)s here.") % {"unit": one.unit})
        return data

    def said(self) -> dict[str, Any]:
        """As the service takes it."""
        data = self.cleaned_data
        amounts = {one.material: data[f"used_{one.material}"] for one in self.planned}
        return {
            "disturbed": data["disturbed"],
            "why": data["why"],
            "amounts": {key: found[0] for key, found in amounts.items() if found is not None},
        }
