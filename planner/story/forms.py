"""Forms of this floor: what a reader of the trail asks for, an opening in an emergency, a problem as it was told."""

from collections.abc import Iterable, Mapping
from datetime import datetime, time, timedelta
from typing import Any, cast
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import DayField, HourField, PlainForm
from planner.practice.models import Staff
from planner.trail.acts import KIND_WORDS, Kind
from planner.trail.reading import Asked


class AskForm(PlainForm):
    """Narrows a list of entries: what sort, by whom, between which days. Nothing of it names a patient."""

    kind = forms.ChoiceField(label=_("What"), required=False)
    who = forms.ChoiceField(label=_("By"), required=False)
    first = DayField(label=_("From"), required=False)
    last = DayField(label=_("To"), required=False)
    before = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None, *, people: Iterable[Staff]) -> None:
        super().__init__(data)
        self.people = {one.public_id: one for one in people}
        kinds, who = cast(forms.ChoiceField, self.fields["kind"]), cast(forms.ChoiceField, self.fields["who"])
        kinds.choices = [("", _("everything")), *((kind.value, words) for kind, words in KIND_WORDS.items())]
        who.choices = [("", _("everybody")), *((key, one.full_name) for key, one in self.people.items())]

    def clean(self) -> dict[str, Any]:
        """The first day is not after the last."""
        data = super().clean() or {}
        first, last = data.get("first"), data.get("last")
        if first and last and first > last:
            self.add_error("last", _("This day lies before the one in “From”: exchange the two."))
        return data

    def asked(self, zone: ZoneInfo) -> Asked:
        """What is asked for, days being days of the office; nothing at all while the form has faults."""
        if not self.is_valid():
            return Asked()
        data = self.cleaned_data
        last = data["last"]
        return Asked(
            kind=Kind(data["kind"]) if data["kind"] else None,
            actor_id=self.people[data["who"]].pk if data["who"] else None,
            since=datetime.combine(data["first"], time(), zone) if data["first"] else None,
            until=datetime.combine(last + timedelta(days=1), time(), zone) if last else None,
            before=data["before"],
        )


class EmergencyForm(PlainForm):
    """Why a file has to be opened now."""

    reason = forms.CharField(
        label=_("What has happened"),
        max_length=500,
        min_length=10,
        help_text=_("A sentence, such as: fainted in the waiting room. It is kept, and the manager is told."),
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class ElsewhereForm(EmergencyForm):
    """Who it is, exactly, and why the file of another office has to be opened now."""

    name = forms.CharField(label=_("Full name, as on file"), max_length=200)
    birth_date = DayField(label=_("Birth date"))
    field_order = ("name", "birth_date", "reason")


class SeenForm(PlainForm):
    """What came of looking into an emergency opening."""

    words = forms.CharField(label=_("What came of it"), max_length=500, required=False)


class ProblemForm(PlainForm):
    """A problem as it was told."""

    on = DayField(label=_("Day on which the office learned of it"))
    hour = HourField(label=_("Hour"))
    told_by = forms.CharField(label=_("Who told it"), max_length=200)
    how = forms.CharField(label=_("How"), max_length=100, help_text=_("By telephone, in person, in a letter."))
    words = forms.CharField(label=_("In their words"), widget=forms.Textarea(attrs={"rows": 5}))


class StepForm(PlainForm):
    """Something that was done about it."""

    on = DayField(label=_("Day"))
    hour = HourField(label=_("Hour"))
    words = forms.CharField(label=_("What was done"), widget=forms.Textarea(attrs={"rows": 3}))
