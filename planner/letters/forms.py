"""The form that asks for papers of an estimate. It never saves."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.letters.papers import KINDS, POINTS
from planner.practice.fields import DayField, PlainForm

PAPERS = (("A4", _("A4")), ("Letter", _("Letter")))


class PapersForm(PlainForm):
    """Which papers, how large, which option two of them are about, and what an order says beside it."""

    kinds = forms.MultipleChoiceField(label=_("Papers"), widget=forms.CheckboxSelectMultiple)
    points = forms.TypedChoiceField(label=_("Print size"), coerce=int, widget=forms.RadioSelect)
    chosen = forms.ChoiceField(
        label=_("Consent letter and wax-up order are about"),
        required=False,
        help_text=_("Left as it is, they are about the recommended option."),
    )
    paper = forms.ChoiceField(label=_("Sheet"), choices=PAPERS, initial=PAPERS[0][0], required=False)
    wanted_on = DayField(
        label=_("Wax-up wanted back by"),
        required=False,
        help_text=_("For the wax-up order; left blank, the day is written in by hand."),
    )
    order_note = forms.CharField(
        label=_("Note to the workshop"),
        max_length=300,
        required=False,
        help_text=_("Name no patient: the order goes by initials and number."),
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        kinds: Sequence[str],
        options: Sequence[tuple[str, str]],
        today: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["wanted_on"].earliest = today  # type: ignore[attr-defined]
        self.fields["kinds"].choices = [(key, KINDS[key].title) for key in kinds]  # type: ignore[attr-defined]
        self.fields["points"].choices = [  # type: ignore[attr-defined]
            (n, _now("%(n)d points") % {"n": n}) for n in POINTS
        ]
        self.fields["chosen"].choices = [("", _("the recommended option")), *options]  # type: ignore[attr-defined]
