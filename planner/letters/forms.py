"""The form that asks for papers of an estimate. It never saves."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.letters.consent import KEY as LETTER
from planner.letters.letter_facts import FACTS
from planner.letters.papers import KINDS, POINTS
from planner.letters.wording import language_name
from planner.practice.fields import DayField, PlainForm

PAPERS = (("A4", _("A4")), ("Letter", _("Letter")))


def _said(label: Any, hint: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=300, required=False, help_text=hint)


def _lines(label: Any, hint: Any) -> forms.CharField:
    area = forms.Textarea(attrs={"rows": 2})
    return forms.CharField(label=label, max_length=4000, required=False, help_text=hint, widget=area)


class PrintForm(PlainForm):
    """How large one paper is printed, and on which sheet."""

    points = forms.TypedChoiceField(
        label=_("Print size"),
        coerce=int,
        choices=[(n, f"{n} pt") for n in POINTS],
        widget=forms.RadioSelect,
        help_text=_("As large as the patient reads best."),
    )
    paper = forms.ChoiceField(label=_("Sheet"), choices=PAPERS, initial=PAPERS[0][0], widget=forms.RadioSelect)


class PapersForm(PlainForm):
    """Which papers, how large, which option two of them are about, and what an order says beside it."""

    kinds = forms.MultipleChoiceField(label=_("Papers"), widget=forms.CheckboxSelectMultiple)
    language = forms.ChoiceField(
        label=_("Language of the papers"),
        widget=forms.RadioSelect,
        required=False,
        help_text=_(
            "What a workshop, an orthodontist or a payer reads is always in English. The plan carries the patient's "
            "own language."
        ),
    )
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

    own_risks = _lines(_("What weighs in this person's case"), _("For the consent letter; one a line."))
    needs = _said(_("What helps to read and to talk"), _("Such as: sits on the left, hears better with that ear."))
    interpreter = _said(_("Interpreter"), _("Name, and professional or what it is to the patient. Never a child."))
    decided_for_by = _said(_("Who decides, by what right"), _("Only where somebody else decides for the patient."))
    sedation = forms.BooleanField(
        label=_("Calming drugs are asked about"), required=False, help_text=_("With a yes and a no of their own.")
    )
    shared_with = _lines(
        _("Who outside gets data or pictures for the work"), _("One a line. The workshop is named by itself.")
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        kinds: Sequence[str],
        options: Sequence[tuple[str, str]],
        languages: Sequence[str],
        today: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["wanted_on"].earliest = today  # type: ignore[attr-defined]
        self.fields["kinds"].choices = [(key, KINDS[key].title) for key in kinds]  # type: ignore[attr-defined]
        if len(languages) > 1:
            self.fields["language"].choices = [(code, language_name(code)) for code in languages]  # type: ignore[attr-defined]
        else:
            del self.fields["language"]
        self.fields["points"].choices = [  # type: ignore[attr-defined]
            (n, _now("%(n)d points") % {"n": n}) for n in POINTS
        ]
        if LETTER not in kinds:
            for name in FACTS:
                del self.fields[name]
        self.fields["chosen"].choices = [("", _("the recommended option")), *options]  # type: ignore[attr-defined]
