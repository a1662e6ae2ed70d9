"""Forms about people: finding, registering, correcting, and the answer to "any change?". They never save."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import get_language
from django.utils.translation import gettext_lazy as _

from planner.patients.models import Patient
from planner.practice.fields import DayField, PlainForm, YesNoField, read_day

LANGUAGES = [("en", _("English")), ("es", _("Spanish"))]
PRINT_SIZES = [(11, _("11 points, as usual")), (14, _("14 points")), (18, _("18 points")), (24, _("24 points"))]
SEXES = [("woman", _("woman")), ("man", _("man")), ("", _("not asked"))]
OLDEST_BIRTH = date(1900, 1, 1)


class SearchForm(PlainForm):
    """One box: the beginning of any part of the name, or a birth date."""

    q = forms.CharField(
        label=_("Name or birth date"),
        required=False,
        max_length=200,
        help_text=_("The beginning of any part of the name, or a day such as 2 March 1979."),
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    after = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)

    def query(self) -> dict[str, Any]:
        """What was typed, as :func:`planner.patients.queries.search` takes it; nothing typed finds everybody."""
        if not self.is_valid():
            return {}
        text, after = self.cleaned_data["q"].strip(), self.cleaned_data["after"]
        try:
            born = read_day(text, day_first=True if (get_language() or "").startswith("es") else None)
        except ValueError:
            return {"text": text, "after": after}
        return {"birth_date": born, "after": after}


class PatientForm(PlainForm):
    """What stands in a person's file."""

    name = forms.CharField(
        label=_("Full name"),
        max_length=200,
        help_text=_("In one piece, as the person writes it."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    sort_key = forms.CharField(
        label=_("Sorted in lists as"),
        max_length=200,
        required=False,
        help_text=_("Left empty, it is sorted by its last word, then the rest."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    birth_date = DayField(
        label=_("Birth date"),
        earliest=OLDEST_BIRTH,
        help_text=_("Such as 2 March 1979 or 1979-03-02."),
    )
    phone = forms.CharField(
        label=_("Telephone"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"data-size": "mid", "type": "tel", "autocomplete": "off"}),
    )
    contact_consent = YesNoField(
        label=_("May the office get in touch about plans and visits?"),
    )
    language = forms.ChoiceField(
        label=_("Language of the papers"), choices=LANGUAGES, widget=forms.RadioSelect, initial="en"
    )
    print_points = forms.TypedChoiceField(
        label=_("Print size of the papers"), choices=PRINT_SIZES, coerce=int, widget=forms.RadioSelect, initial=11
    )
    sex = forms.ChoiceField(
        label=_("Woman or man"),
        choices=SEXES,
        required=False,
        widget=forms.RadioSelect,
        help_text=_("Only where published measurements differ."),
    )
    can_decide_alone = YesNoField(label=_("Decides alone about treatment?"), initial=True)
    decision_maker = forms.CharField(
        label=_("Who decides with or for this person"),
        max_length=200,
        required=False,
        help_text=_("Full name, where the person is under age or cannot decide alone."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    own_agreement = YesNoField(label=_("The person's own agreement"), help_text=_("Where somebody else decides."))

    def values(self) -> dict[str, Any]:
        """The columns of a patient as typed; an empty sort key is left to be proposed."""
        values = {name: self.cleaned_data[name] for name in PATIENT_FIELDS}
        if not values["sort_key"]:
            del values["sort_key"]
        return values


PATIENT_FIELDS = tuple(PatientForm.base_fields)


class NewPatientForm(PatientForm):
    """A new file; where somebody like this is on file, the word that it is somebody else."""

    another = forms.BooleanField(
        label=_("I compared first name, birth date and telephone: this is somebody else"), required=False
    )


class ChangePatientForm(PatientForm):
    """A correction, with the version that was seen."""

    seen = forms.IntegerField(widget=forms.HiddenInput)

    def values(self) -> dict[str, Any]:
        """As typed; the sort key of another name is proposed anew unless it was typed with it."""
        values = super().values()
        if "name" in self.changed_data and "sort_key" not in self.changed_data:
            values.pop("sort_key", None)
        return values


def patient_initial(patient: Patient) -> dict[str, Any]:
    """What the form shows of a file."""
    return {name: getattr(patient, name) for name in PATIENT_FIELDS} | {"seen": patient.version}


class StopForm(PlainForm):
    """Stop all contact, or allow it again, and why."""

    reason = forms.CharField(label=_("Reason"), max_length=500, help_text=_("It stays in the record."))
    to = forms.ChoiceField(choices=[("stop", "stop"), ("allow", "allow")], widget=forms.HiddenInput)
    seen = forms.IntegerField(widget=forms.HiddenInput)


class AnyChangeForm(PlainForm):
    """The answer to "has anything changed since you signed?", asked on each day of treatment."""

    asked_on = DayField(label=_("Asked on"))
    changed = forms.TypedChoiceField(
        label=_("Has anything changed: health, medicines, allergies, teeth?"),
        choices=[("no", _("no")), ("yes", _("yes"))],
        coerce=lambda answer: answer == "yes",
        widget=forms.RadioSelect,
    )
    note = forms.CharField(
        label=_("What has changed"),
        required=False,
        max_length=2000,
        help_text=_("In the person's own words. After a change the person fills in a new form."),
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def clean(self) -> dict[str, Any]:
        """A change is described."""
        data = super().clean() or {}
        if data.get("changed") and not data.get("note", "").strip():
            self.add_error("note", _("Say what has changed, in the person's words."))
        return data
