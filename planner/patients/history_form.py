"""The medical history as a form: each question of :class:`planner.rules.mouth.History`, "not asked" being an answer."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice.fields import ChosenField, DayField, PlainForm, TenthsField, YesNoField, shown_words
from planner.rules.mouth import History

Words = str | Promise

_ALLERGY = (("no", _("no")), ("suspected", _("suspected")), ("positive", _("tested positive")))
_BONE_DRUGS = (
    ("none", _("none")),
    ("osteoporosis dose", _("osteoporosis dose, now or earlier")),
    ("cancer dose", _("cancer dose")),
    ("other", _("other")),
)
_RADIATION = (
    ("none", _("none")),
    ("under 50 Gy", _("under 50 Gy")),
    ("50 Gy or more", _("50 Gy or more")),
    ("dose unknown", _("dose unknown")),
)


@dataclass(frozen=True)
class Part:
    """One part of the form: its heading and its fields."""

    words: Words
    fields: tuple[str, ...]


PARTS = (
    Part(_("Today"), ("urgent_problem", "jaw_pain", "anxious")),
    Part(
        _("Allergies"),
        ("methacrylate", "latex", "nickel", "peroxide", "chlorhexidine", "sulphite", "antibiotics"),
    ),
    Part(
        _("Illness and medicines"),
        (
            "highest_risk_heart",
            "bleeding_or_thinner",
            "steroid_or_low_immunity",
            "asthma",
            "epilepsy",
            "untreated_reflux",
            "diabetes",
            "hba1c_tenths",
            "hba1c_on",
        ),
    ),
    Part(_("Bone"), ("bone_drug", "bone_drug_years", "earlier_jaw_death", "jaw_radiation")),
    Part(_("Pregnancy"), ("pregnant", "due_on", "breast_feeding")),
    Part(_("Habits and weight"), ("nicotine_per_day", "weight_kg")),
    Part(_("Looks"), ("looks_worry", "smile_treatments_disliked")),
)


def _count(label: Any, least: int, most: int, hint: Any = "") -> forms.IntegerField:
    bounds = {"least": least, "most": most}
    wrong = _now("This is not a whole number between %(least)s and %(most)s: write one, or leave it empty.") % bounds
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=least,
        max_value=most,
        help_text=hint,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": wrong, "min_value": wrong, "max_value": wrong},
    )


class HistoryForm(PlainForm):
    """What the person answered and signed."""

    signed_on = DayField(
        label=_("Signed on"),
        required=False,
        help_text=_("Left empty, it counts as not signed, and every plan asks for it."),
    )
    signed_by = forms.CharField(
        label=_("Signed by"),
        required=False,
        max_length=200,
        help_text=_("The person, or whoever signed for them."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    urgent_problem = YesNoField(label=_("Pain, swelling, an abscess or a sore that does not heal?"))
    jaw_pain = YesNoField(label=_("Pain in the jaw joint or the chewing muscles?"))
    anxious = YesNoField(label=_("Afraid of dental treatment?"))
    methacrylate = ChosenField(
        label=_("Allergy to acrylic or bonding resins (methacrylates)"),
        answers=_ALLERGY,
        help_text=_("Artificial nails, hearing aids and dental work can start it."),
    )
    latex = YesNoField(label=_("Allergy to latex?"))
    nickel = YesNoField(label=_("Allergy to nickel?"))
    peroxide = YesNoField(label=_("Allergy to peroxide?"))
    chlorhexidine = YesNoField(label=_("Allergy to chlorhexidine?"))
    sulphite = YesNoField(label=_("Allergy to sulphite?"))
    antibiotics = YesNoField(label=_("Allergy to an antibiotic?"))
    highest_risk_heart = YesNoField(
        label=_("Artificial heart valve, earlier infection of the heart lining, or a heart defect of the highest risk?")
    )
    bleeding_or_thinner = YesNoField(label=_("Bleeding disorder, or a blood thinner?"))
    steroid_or_low_immunity = YesNoField(label=_("Steroids for long, or low immunity?"))
    asthma = YesNoField(label=_("Asthma?"))
    epilepsy = YesNoField(label=_("Epilepsy?"))
    untreated_reflux = YesNoField(label=_("Acid reflux that is not treated?"))
    diabetes = YesNoField(label=_("Diabetes?"))
    hba1c_tenths = TenthsField(
        label=_("HbA1c, percent"),
        least=30,
        most=200,
        required=False,
        help_text=_("One decimal, such as 7.8. Left empty when not known."),
    )
    hba1c_on = DayField(label=_("HbA1c measured on"), required=False)
    bone_drug = ChosenField(label=_("A medicine that acts on bone"), answers=_BONE_DRUGS)
    bone_drug_years = _count(_("For how many years"), 0, 60)
    earlier_jaw_death = YesNoField(label=_("Has a part of the jaw bone ever died?"))
    jaw_radiation = ChosenField(label=_("Radiation of the head or neck"), answers=_RADIATION)
    pregnant = YesNoField(label=_("Pregnant?"))
    due_on = DayField(label=_("Child due on"), required=False)
    breast_feeding = YesNoField(label=_("Breast-feeding?"))
    nicotine_per_day = _count(
        _("Cigarettes a day, e-cigarettes counted in"), 0, 200, _("0 for none; left empty when not asked.")
    )
    weight_kg = _count(_("Weight, kilograms"), 10, 300, _("Only for the most of a local anaesthetic."))
    looks_worry = YesNoField(
        label=_("Does the wish trouble the person far more than others can see a reason for?"),
        help_text=_("For the dentist to answer, after the talk."),
    )
    smile_treatments_disliked = _count(_("Earlier smile treatments that disappointed"), 0, 20)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("signed_on", "hba1c_on"):
            field = self.fields[name]
            assert isinstance(field, DayField)
            field.latest = today

    def parts(self) -> Iterator[tuple[Words, list[forms.BoundField]]]:
        """The parts of the form with their fields, in order."""
        for part in PARTS:
            yield part.words, [self[name] for name in part.fields]

    def clean(self) -> dict[str, Any]:
        """Answers that contradict each other are asked back."""
        data = super().clean() or {}
        if data.get("due_on") and data.get("pregnant") is not True and "due_on" not in self.errors:
            self.add_error("due_on", _now("A day is written here, but “pregnant” is not answered with yes."))
        if data.get("bone_drug_years") and data.get("bone_drug") in (None, "none"):
            self.add_error("bone_drug_years", _now("Years are written here, but no such medicine is named above."))
        if data.get("hba1c_tenths") is not None and not data.get("hba1c_on") and "hba1c_on" not in self.errors:
            self.add_error("hba1c_on", _now("Write the day this HbA1c was measured: after three months it is too old."))
        return data

    def facts(self) -> History:
        """The history as typed facts; the last "any change?" is not part of the form."""
        data = {name: self.cleaned_data[name] for name in History.model_fields if name in self.cleaned_data}
        return History.model_validate(data)


def history_initial(facts: History) -> dict[str, Any]:
    """What the form shows of an earlier history; who signs and when is asked anew."""
    initial = facts.model_dump(mode="python", exclude={"signed_on", "any_change_asked_on"})
    if facts.methacrylate is not None:
        initial["methacrylate"] = facts.methacrylate.value
    return {name: "" if value is None and name not in _YES_NO else value for name, value in initial.items()}


_YES_NO = frozenset(name for name, field in HistoryForm.base_fields.items() if isinstance(field, YesNoField))


def answers(facts: History) -> Iterator[tuple[Words, list[tuple[Words, str]]]]:
    """Every question with the answer on file, in words, part by part."""
    form = HistoryForm(today=date.max, initial=history_initial(facts))
    for words, fields in form.parts():
        yield words, [(field.label, shown_words(field, _now("not asked"))) for field in fields]
