"""The choices of the page over the years: which options, whose figures, worn or not."""

from collections.abc import Sequence
from typing import Any, get_args

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from planner.plans.forms import DecisionForm
from planner.practice.fields import PlainForm
from planner.rules.mouth import CaseFacts
from planner.rules.outlook import Figures, figures_for
from planner.rules.results import OptionShape
from planner.rules.settings import CountedIn

MOST = 12
"""Options side by side: more lines than that are told apart by nobody."""
WORN = (("found", _("as found")), ("yes", _("yes, worn")), ("no", _("no, not worn")))
COUNTED_WORDS = {
    "general practice": _("general practices"),
    "university clinics": _("university clinics"),
}


class FiguresForm(DecisionForm):
    """Whose figures hold for a case, and why."""

    counted_in = forms.TypedChoiceField(
        label=_("Figures counted in"),
        choices=[("", _("as usual in the office")), *COUNTED_WORDS.items()],
        widget=forms.RadioSelect,
        required=False,
        empty_value=None,
    )
    worn = forms.TypedChoiceField(
        label=_("A worn mouth?"),
        choices=[("", _("as found")), *WORN[1:]],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        required=False,
        empty_value=None,
    )


class YearsForm(PlainForm):
    """What to lay side by side. Sent by GET; nothing is stored."""

    def __init__(
        self,
        data: QueryDict | None,
        *,
        options: Sequence[OptionShape],
        first: Sequence[str],
        usual: CountedIn,
        worn: bool | None,
    ):
        super().__init__(data)
        self.fields["option"] = forms.MultipleChoiceField(
            label=_("Options side by side"),
            choices=[(option.key, option.name) for option in options],
            widget=forms.CheckboxSelectMultiple,
            initial=list(first),
            error_messages={
                "required": _("Choose one option at least."),
                "invalid_choice": _("“%(value)s” is not among the options of this case: choose from the list."),
            },
        )
        self.fields["counted_in"] = forms.ChoiceField(
            label=_("Figures counted in"),
            choices=[(each, COUNTED_WORDS[each]) for each in get_args(CountedIn)],
            widget=forms.RadioSelect,
            initial=usual,
        )
        self.fields["worn"] = forms.ChoiceField(
            label=_("A worn mouth?"),
            choices=WORN,
            widget=forms.RadioSelect,
            initial={True: "yes", False: "no", None: "found"}[worn],
        )

    def clean_option(self) -> list[str]:
        """Not too many to be told apart."""
        chosen: list[str] = self.cleaned_data["option"]
        if len(chosen) > MOST:
            raise forms.ValidationError(
                _("%(n)d options are too many to tell apart: choose %(most)d at most."),
                params={"n": len(chosen), "most": MOST},
            )
        return chosen

    def asked(self, facts: CaseFacts) -> tuple[list[str], Figures] | None:
        """Keys of the options and whose figures; None when something cannot be so, and then the form says what."""
        values: dict[str, Any]
        if not self.is_bound:
            values = {name: field.initial for name, field in self.fields.items()}
        elif self.is_valid():
            values = self.cleaned_data
        else:
            return None
        worn = {"yes": True, "no": False}.get(values["worn"])
        return values["option"], figures_for(facts, values["counted_in"], worn)
