"""Forms of the step sheet: a word why, what was found, what a dentist made of it, and the end."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import PlainForm
from planner.rules.teeth import Numbering, Tooth
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
