"""What a case rests on: one set of measurements and the readings of pictures, to be chosen and looked after."""

from typing import Any

from django import forms
from django.utils.text import Truncator
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients.files import of_person
from planner.patients.models import Examination, PictureReading, Status
from planner.plans.models import Case
from planner.practice.fields import PlainForm, day_words

MOST = 50
"""Sets and readings that can be chosen from, the newest first."""


class BasisForm(PlainForm):
    """One set of measurements, and any number of readings."""

    examination = forms.ChoiceField(label=_("Measurements"), widget=forms.RadioSelect)
    pictures = forms.MultipleChoiceField(
        label=_("What was read in pictures"), widget=forms.CheckboxSelectMultiple, required=False
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, examinations: list[Examination], pictures: list[PictureReading], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self._examinations = {one.public_id: one for one in examinations}
        self._pictures = {one.public_id: one for one in pictures}
        corrected = {one.corrects_id for one in pictures}
        choices: Any = self.fields["examination"], self.fields["pictures"]
        choices[0].choices = [(one.public_id, _set_words(one, examinations)) for one in examinations]
        choices[1].choices = [(one.public_id, _reading_words(one, one.pk in corrected)) for one in pictures]

    def chosen(self) -> dict[str, Any]:
        """The rows that were chosen, as the service takes them."""
        data = self.cleaned_data
        return {
            "examination": self._examinations[data["examination"]],
            "pictures": [self._pictures[key] for key in data["pictures"]],
            "seen": data["seen"],
        }


def basis_form(case: Case, data: Any) -> BasisForm:
    """The form over everything on file for the person, bound to ``data`` or showing what the case rests on."""
    sets = list(Examination.objects.filter(of_person(case.patient_id)).order_by("-on", "-id")[:MOST])
    if case.examination not in sets:
        sets.append(case.examination)
    readings = list(PictureReading.objects.filter(of_person(case.patient_id)).order_by("-on", "-id")[:MOST])
    named = case.case_pictures.order_by("position").values_list("picture__public_id", flat=True)
    return BasisForm(
        data,
        examinations=sets,
        pictures=readings,
        initial={"examination": case.examination.public_id, "pictures": list(named), "seen": case.version},
    )


def newer_basis(case: Case) -> str:
    """What has come since and the case does not rest on yet, in words; empty for nothing. Two queries."""
    newer = Examination.objects.filter(of_person(case.patient_id), pk__gt=case.examination_id).order_by("-id").first()
    read = PictureReading.objects.filter(of_person(case.patient_id)).exclude(
        pk__in=case.case_pictures.values("picture"),
    )
    unread = read.exclude(corrections__isnull=False).count()
    said = []
    if newer is not None:
        said.append(_now("a newer set of measurements, of %(day)s") % {"day": day_words(newer.on)})
    if unread:
        said.append(_now("readings of pictures: %(n)d") % {"n": unread})
    return ", ".join(said)


def _set_words(one: Examination, others: list[Examination]) -> str:
    state = _now("draft") if one.status == Status.DRAFT else _now("confirmed by %(who)s") % {"who": one.confirmed_by}
    words = _now("%(day)s, by %(by)s, %(state)s") % {"day": day_words(one.on), "by": one.by or "–", "state": state}
    earlier = next((other for other in others if other.pk == one.corrects_id), None)
    if earlier is not None:
        words += " " + _now("(corrects the set of %(day)s)") % {"day": day_words(earlier.on)}
    return words


def _reading_words(one: PictureReading, corrected: bool) -> str:
    words = f"{one.kind}, {day_words(one.on)}, {one.reader or '–'}"
    if one.reading:
        words += f": {Truncator(one.reading).words(14)}"
    return words + (" " + _now("(corrected by a later reading)") if corrected else "")
