"""Forms of the diary: they parse and convert, and save nothing."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from planner.patients.tooth_fields import TeethField
from planner.practice.drafts import weekday_name
from planner.practice.fields import DayField, HourField, PlainForm
from planner.practice.models import Staff
from planner.rules.teeth import Numbering
from planner.visits.models import LONGEST_VISIT

_PLAIN = forms.TextInput(attrs={"autocomplete": "off"})
CAUSES = (("patient", _("the patient")), ("office", _("the office")))


def _people(clinicians: Iterable[Staff]) -> list[tuple[str, str]]:
    return [(staff.public_id, staff.full_name) for staff in clinicians]


class WhenForm(PlainForm):
    """When, where and with whom."""

    clinician = forms.ChoiceField(label=_("Who treats"), widget=forms.Select(attrs={"data-size": "mid"}))
    chair = forms.ChoiceField(label=_("Chair"), widget=forms.Select(attrs={"data-size": "mid"}))
    day = DayField(label=_("Day"))
    hour = HourField(label=_("Begins at"), help_text=_("On the 24-hour clock, such as 8:30."))
    minutes = forms.IntegerField(
        label=_("Minutes"), min_value=1, max_value=LONGEST_VISIT, widget=forms.TextInput(attrs={"data-size": "short"})
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        clinicians: Sequence[Staff],
        chairs: Sequence[str],
        items: Sequence[tuple[str, str]] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["clinician"].choices = _people(clinicians)  # type: ignore[attr-defined]
        self.fields["chair"].choices = [(chair, chair) for chair in chairs]  # type: ignore[attr-defined]
        if "items" in self.fields:
            self.fields["items"].choices = list(items)  # type: ignore[attr-defined]


class BookForm(WhenForm):
    """Booking a visit of an accepted plan."""

    words = forms.CharField(label=_("What for"), max_length=200, widget=_PLAIN)
    kind = forms.ChoiceField(
        label=_("Kind"), choices=[("work", _("work")), ("review", _("review"))], widget=forms.RadioSelect
    )
    items = forms.MultipleChoiceField(
        label=_("What is to be done then"), required=False, widget=forms.CheckboxSelectMultiple
    )
    despite = forms.CharField(
        label=_("Why all the same"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Only where something speaks against it that a reason can set aside. It stays with the visit."),
    )
    visit = forms.CharField(required=False, max_length=80, widget=forms.HiddenInput)
    field_order = ("visit", "words", "kind", "items", "clinician", "chair", "day", "hour", "minutes", "despite")


class MoveForm(BookForm):
    """Another time for a visit that is booked."""

    reason = forms.CharField(label=_("Why it is moved"), max_length=500, widget=_PLAIN)
    caused_by = forms.ChoiceField(label=_("Brought about by"), choices=CAUSES, widget=forms.RadioSelect)
    seen = forms.IntegerField(widget=forms.HiddenInput)


class CancelForm(PlainForm):
    """Cancelling; where it is late, whether the office's fee is asked for."""

    reason = forms.CharField(label=_("Why"), max_length=500, widget=_PLAIN)
    caused_by = forms.ChoiceField(label=_("Brought about by"), choices=CAUSES, widget=forms.RadioSelect)
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, fee: str = "", **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if not fee:
            return
        self.fields["ask_fee"] = forms.TypedChoiceField(
            label=_("The office's fee for cancelling late"),
            help_text=fee,
            choices=[("yes", _("ask for it")), ("no", _("do not ask for it"))],
            coerce=lambda value: value == "yes",
            required=False,
            empty_value=None,
            widget=forms.RadioSelect,
        )
        self.fields["fee_reason"] = forms.CharField(
            label=_("Why it is not asked for"), required=False, max_length=500, widget=_PLAIN
        )


class SeenForm(PlainForm):
    """An act without further words, on the version that was looked at."""

    seen = forms.IntegerField(widget=forms.HiddenInput)


class AbsenceForm(PlainForm):
    """Days on which somebody is not there."""

    clinician = forms.ChoiceField(label=_("Who"), widget=forms.Select(attrs={"data-size": "mid"}))
    first = DayField(label=_("First day"))
    last = DayField(label=_("Last day"))

    def __init__(self, data: Mapping[str, Any] | None = None, *, clinicians: Sequence[Staff], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["clinician"].choices = _people(clinicians)  # type: ignore[attr-defined]


class WeekForm(PlainForm):
    """The weekdays on which somebody works."""

    clinician = forms.ChoiceField(label=_("Who"), widget=forms.Select(attrs={"data-size": "mid"}))
    weekdays = forms.TypedMultipleChoiceField(label=_("Works on"), coerce=int, widget=forms.CheckboxSelectMultiple)
    effective = DayField(label=_("From"))

    def __init__(self, data: Mapping[str, Any] | None = None, *, clinicians: Sequence[Staff], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["clinician"].choices = _people(clinicians)  # type: ignore[attr-defined]
        self.fields["weekdays"].choices = [(each, weekday_name(each)) for each in range(7)]  # type: ignore[attr-defined]


class BlockForm(PlainForm):
    """Time that something else takes."""

    words = forms.CharField(
        label=_("What it is"), max_length=80, widget=_PLAIN, help_text=_("Without a patient's name.")
    )
    day = DayField(label=_("Day"))
    opens = HourField(label=_("Begins at"))
    closes = HourField(label=_("Ends at"))
    clinician = forms.ChoiceField(label=_("Who"), required=False, widget=forms.Select(attrs={"data-size": "mid"}))
    chair = forms.ChoiceField(label=_("Chair"), required=False, widget=forms.Select(attrs={"data-size": "mid"}))

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        clinicians: Sequence[Staff],
        chairs: Sequence[str],
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["clinician"].choices = [("", _("nobody")), *_people(clinicians)]  # type: ignore[attr-defined]
        self.fields["chair"].choices = [("", _("no chair")), *((each, each) for each in chairs)]  # type: ignore[attr-defined]


class OrderForm(PlainForm):
    """Ordering laboratory work."""

    words = forms.CharField(label=_("What is made"), max_length=120, widget=_PLAIN)
    laboratory = forms.CharField(label=_("Laboratory"), max_length=120, widget=_PLAIN)
    teeth = TeethField(label=_("Teeth"), required=False, help_text=_("Tooth numbers with commas between."))
    visit_key = forms.ChoiceField(label=_("Needed for"), required=False, widget=forms.Select())
    sketch = forms.CharField(
        label=_("What the sketch shows"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        visits: Sequence[tuple[str, str]],
        numbering: Numbering,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.fields["teeth"].numbering = numbering  # type: ignore[attr-defined]
        self.fields["visit_key"].choices = [("", _("no visit in particular")), *visits]  # type: ignore[attr-defined]


class DueForm(SeenForm):
    """Sending out, or another day to be back on."""

    due = DayField(label=_("To be back on"))
    note = forms.CharField(label=_("Note"), required=False, max_length=500, widget=_PLAIN)


class NoteForm(SeenForm):
    """A move of laboratory work with its reason."""

    note = forms.CharField(label=_("Why"), max_length=500, widget=_PLAIN)


class LabelForm(SeenForm):
    """What stands on the box, as somebody reads it."""

    read_name = forms.CharField(label=_("Name on the label"), max_length=200, required=False, widget=_PLAIN)
    read_iso = forms.CharField(label=_("ISO numbers on the label"), max_length=120, required=False, widget=_PLAIN)
    read_universal = forms.CharField(
        label=_("Universal numbers on the label"), max_length=120, required=False, widget=_PLAIN
    )
