"""The form that asks for papers of an estimate. It never saves."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.letters.papers import KINDS, POINTS
from planner.practice.fields import PlainForm


class PapersForm(PlainForm):
    """Which papers, how large, and which option the consent letter is about."""

    kinds = forms.MultipleChoiceField(label=_("Papers"), widget=forms.CheckboxSelectMultiple)
    points = forms.TypedChoiceField(label=_("Print size"), coerce=int, widget=forms.RadioSelect)
    chosen = forms.ChoiceField(
        label=_("The consent letter is about"),
        required=False,
        help_text=_("Left as it is, it is about the recommended option."),
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        kinds: Sequence[str],
        options: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["kinds"].choices = [(key, KINDS[key].title) for key in kinds]  # type: ignore[attr-defined]
        self.fields["points"].choices = [  # type: ignore[attr-defined]
            (n, _now("%(n)d points") % {"n": n}) for n in POINTS
        ]
        self.fields["chosen"].choices = [("", _("the recommended option")), *options]  # type: ignore[attr-defined]
