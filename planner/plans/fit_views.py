"""The page "Fit and proportion" of a case: every check on what was measured, and what to measure yet."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.facts import case_facts
from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of
from planner.rules.evidence import CERTAINTY_WORDS
from planner.rules.fit import fit_checks, populations
from planner.rules.fit_results import FitWord, fit_setting
from planner.rules.proportions import SumRule
from planner.rules.segments import limits_of

RULES = (
    (SumRule.MILLIMETRES, _("2 mm of correction")),
    (SumRule.DEVIATIONS, _("2 standard deviations")),
)

NORMS = {
    "north_east_india": _("North-east India"),
    "white_2000": _("2000, white sample"),
    "hispanic_2000": _("2000, Hispanic sample"),
    "black_2000": _("2000, Black sample"),
}
"""The samples that the norms were read in, as their sources call them; the others are called by their year."""


class NormForm(PlainForm):
    """By which norm and rule the tooth-size sums are judged; left alone, by those that the settings name."""

    norm = forms.ChoiceField(label=_("Norm"), required=False)
    rule = forms.ChoiceField(label=_("Significant from"), required=False, choices=RULES)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: Any = self.fields["norm"]
        choices.choices = [(name, _norm_words(name)) for name in populations()]

    def chosen(self) -> dict[str, Any]:
        """What the checks take; what cannot be read is left to the settings, and the form says so."""
        self.is_valid()
        rule = self.cleaned_data.get("rule")
        return {"population": self.cleaned_data.get("norm") or None, "rule": SumRule(rule) if rule else None}


def fit(request: HttpRequest, public_id: str) -> HttpResponse:
    """Fit and proportion of the teeth as measured, with bounds and sources. Stores nothing."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, thing=Thing.MEASUREMENTS, now=now)
    today = books.today(case.office, now)
    facts = case_facts(case, today)
    limits = limits_of(books.current_book(case.office, today).office_limits, facts.choices)
    settled = {"norm": fit_setting("sum_population").value, "rule": fit_setting("sum_rule").value}
    form = NormForm(settled | request.GET.dict())
    found = fit_checks(facts, limits, **form.chosen())
    context = {
        "case": case,
        "patient": case.patient,
        "fit": found,
        "form": form,
        "counts": found.counts.items(),
        "asks": [check for check in found.checks if check.word is FitWord.ASK],
        "sources": [(source, CERTAINTY_WORDS[source.certainty][0]) for source in found.sources],
        "may_measure": may(actor, Act.CREATE, Thing.MEASUREMENTS),
    }
    viewed(patient=case.patient, actor=actor, now=now, reason=f"fit and proportion of case {case.name}")
    return render(request, "plans/fit.html", context)


def _norm_words(name: str) -> str:
    """``1958: 77.2 % over six teeth, 91.3 % over twelve``; a norm may lack one of the two."""
    said = {"anterior_percent": _("over six teeth"), "overall_percent": _("over twelve")}
    percents = fit_setting(f"sum_norms_{name}").value
    sums = ", ".join(f"{percents[key]} % {words}" for key, words in said.items() if key in percents)
    return f"{NORMS.get(name, name.replace('_', ' '))}: {sums}"
