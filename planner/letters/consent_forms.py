"""Forms about a consent before it is signed: handing over, a talk, a question, an answer. They never save."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.letters.consent_models import Channel
from planner.practice.fields import DayField, HourField, PlainForm
from planner.practice.models import Office, Staff
from planner.rules.booking import ClockChange, instant

CHANNELS = (
    (Channel.PAPER, _("on paper, by hand")),
    (Channel.POST, _("paper by post")),
    (Channel.TABLET, _("on the office tablet")),
    (Channel.FILE, _("as a file, at the patient's wish")),
)


def _words(label: Any, *, rows: int = 3, most: int = 4000, **kwargs: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=most, widget=forms.Textarea(attrs={"rows": rows}), **kwargs)


def people(staff: Iterable[Staff]) -> list[tuple[str, str]]:
    """People as answers of a form: public id and name."""
    return [(one.public_id, one.full_name) for one in staff]


class MomentForm(PlainForm):
    """Base of forms that ask when something was: a day, and an hour where it was not just now."""

    on = DayField(label=_("On which day"))
    hour = HourField(label=_("At what hour"), required=False, help_text=_("Left empty on today's date: just now."))

    def __init__(self, data: Mapping[str, Any] | None = None, *, office: Office, now: datetime, **kwargs: Any) -> None:
        today = now.astimezone(office.zone).date()
        kwargs["initial"] = {"on": today} | (kwargs.get("initial") or {})
        super().__init__(data, **kwargs)
        self.office, self.now, self.today = office, now, today
        self.fields["on"].latest = today  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Day and hour as one instant under ``moment``; an hour is asked for of any day but today."""
        data = super().clean() or {}
        day, hour = data.get("on"), data.get("hour")
        if isinstance(day, date):
            if hour is not None:
                try:
                    data["moment"] = instant(day, hour, self.office.zone)
                except ClockChange as fault:
                    self.add_error("hour", str(fault))
            elif day == self.today:
                data["moment"] = self.now
            elif not self.has_error("hour"):
                self.add_error("hour", _("That was not today: write the hour, such as 8:30 or 17:00."))
        return data


class HandForm(MomentForm):
    """To whom a letter is handed over, and how."""

    to = forms.CharField(label=_("Handed to"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    channel = forms.ChoiceField(label=_("How"), choices=CHANNELS, widget=forms.RadioSelect, initial=Channel.PAPER)
    field_order = ("to", "channel", "on", "hour")


class TalkForm(MomentForm):
    """Who talked the letter over with the patient."""

    clinician = forms.ChoiceField(label=_("Dentist who held the talk"))
    words = _words(_("What was talked about"), required=False)
    field_order = ("clinician", "on", "hour", "words")

    def __init__(self, *args: Any, clinicians: Iterable[Staff], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["clinician"].choices = people(clinicians)  # type: ignore[attr-defined]


class QuestionForm(PlainForm):
    """A question, by whom, and who answers it by when."""

    words = _words(_("The question, as it was asked"))
    asked_by = forms.CharField(label=_("Asked by"), max_length=200)
    clinical = forms.ChoiceField(
        label=_("It is about"),
        choices=[("yes", _("treatment or health: a dentist answers")), ("no", _("anything else: the office answers"))],
        widget=forms.RadioSelect,
        initial="yes",
    )
    owner = forms.ChoiceField(label=_("Who sees to it"))
    due_on = DayField(label=_("Answered by which day"))

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, staff: Iterable[Staff], today: date, **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["owner"].choices = people(staff)  # type: ignore[attr-defined]
        self.fields["due_on"].earliest = today  # type: ignore[attr-defined]


class AnswerForm(PlainForm):
    """What was answered, by somebody who saw so many answers before."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)
    words = _words(_("The answer"))
