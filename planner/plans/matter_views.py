"""The page on which it is written down what matters to the patient."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from planner.plans.access import load_case
from planner.plans.cases import change_case
from planner.plans.facts import case_facts, facts_at
from planner.practice.access import Act
from planner.practice.both import lay_side_by_side
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.rules.matters import questions
from planner.rules.mouth import Matters
from planner.trail.errors import Refused, StaleEdit

ANSWERS = (
    ("a lot", gettext_lazy("matters a lot")),
    ("a little", gettext_lazy("matters a little")),
    ("not", gettext_lazy("does not matter")),
    ("", gettext_lazy("not asked")),
)


class MattersForm(PlainForm):
    """One row of answers for each question."""

    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, matters: Matters, seen: int) -> None:
        super().__init__(data, initial={"seen": seen})
        spanish = (get_language() or "").startswith("es")
        for one in questions():
            self.fields[one.key] = forms.ChoiceField(
                label=capfirst(one.words_es if spanish else one.words),
                choices=ANSWERS,
                widget=forms.RadioSelect,
                required=False,
                initial=getattr(matters, one.key) or "",
            )

    def answers(self) -> Matters:
        """What was answered; blank where it was not asked."""
        return Matters.model_validate({one.key: self.cleaned_data[one.key] or None for one in questions()})


def matters(request: HttpRequest, public_id: str) -> HttpResponse:
    """What matters to the patient. It marks options and moves none."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, act=Act.EDIT, now=now)
    saved = case_facts(case).matters
    form = MattersForm(posted(request), matters=saved, seen=case.version)
    context: dict[str, Any] = {"case": case, "patient": case.patient, "form": form}
    if form.is_valid():
        try:
            change_case(case=case, seen=form.cleaned_data["seen"], matters=form.answers(), actor=actor, now=now)
        except StaleEdit as refusal:
            context |= lay_side_by_side(
                form,
                MattersForm(matters=saved, seen=refusal.version),
                refusal,
                was=MattersForm(matters=facts_at(case, case_facts(case), refusal.seen).matters, seen=refusal.seen),
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            messages.success(request, _("Saved; the options below are marked, and stand in the same order."))
            return redirect("plans:case", public_id)
    return render(request, "plans/matters.html", context)
