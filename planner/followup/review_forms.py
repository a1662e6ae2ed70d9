"""The form of a review: when, who, with what, each tooth, each wish."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.followup.review_models import WITH
from planner.followup.reviewing import Seen
from planner.letters.result_said import conditions, moments
from planner.patients.models import Instrument
from planner.practice.fields import DayField, MillimetreField, PlainForm
from planner.rules.promise import WISH_SCALE, Condition, Moment, Promised, SeenTooth
from planner.rules.teeth import Numbering, Tooth

_WITH = {Instrument.CALIPER: _("caliper"), Instrument.SCAN: _("scan")}


class ReviewForm(PlainForm):
    """One review; a tooth that was not looked at stays without an answer, a length that was not taken stays empty."""

    moment = forms.ChoiceField(label=_("Which review is it?"), widget=forms.RadioSelect)
    on = DayField(label=_("Day"))
    measured_by = forms.CharField(label=_("Who measured and looked"), max_length=200)
    instrument = forms.ChoiceField(
        label=_("Measured with"), choices=[(one.value, _WITH[one]) for one in WITH], widget=forms.RadioSelect
    )
    words = forms.CharField(
        label=_("What else was seen or said"), max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    sure = forms.BooleanField(label=_("What looks like a slip was measured again and is so"), required=False)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        promised: Sequence[Promised],
        wishes: Sequence[tuple[int, str]],
        numbering: Numbering,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.teeth, self.wishes = [one.tooth for one in promised], list(wishes)
        fields: Any = self.fields
        fields["moment"].choices = list(moments().items())
        least, most = WISH_SCALE
        for rank, words in self.wishes:
            said = {"rank": rank, "words": words}
            fields[f"wish_{rank}"] = forms.IntegerField(
                label=_now("%(rank)d. “%(words)s”") % said,
                required=False,
                min_value=least,
                max_value=most,
                widget=forms.NumberInput(attrs={"data-size": "short"}),
            )
        for place, tooth in enumerate(self.teeth):
            name = tooth.written(numbering)
            fields[f"condition_{place}"] = forms.ChoiceField(
                label=_now("How %(tooth)s was found") % {"tooth": name},
                choices=[("", _now("not looked at")), *conditions().items()],
                required=False,
                widget=forms.Select(attrs={"data-size": "mid"}),
            )
            fields[f"width_{place}"] = MillimetreField(
                label=_now("Width of %(tooth)s, mm") % {"tooth": name}, required=False
            )
            fields[f"length_{place}"] = MillimetreField(
                label=_now("Length of %(tooth)s, mm") % {"tooth": name}, required=False
            )
        self.promised, self.numbering = list(promised), numbering

    def clean(self) -> dict[str, Any]:
        """A length that was taken says that the tooth was looked at, so how it was found is wanted too."""
        data = super().clean() or {}
        for place, _tooth in enumerate(self.teeth):
            taken = data.get(f"width_{place}") is not None or data.get(f"length_{place}") is not None
            if taken and not data.get(f"condition_{place}") and f"condition_{place}" not in self.errors:
                self.add_error(f"condition_{place}", _now("It was measured: say how it was found."))
        return data

    @property
    def tooth_rows(self) -> Iterator[tuple[str, Promised, forms.BoundField, forms.BoundField, forms.BoundField]]:
        """Each tooth: its name, what was promised, and its three fields."""
        for place, one in enumerate(self.promised):
            yield (
                one.tooth.label(self.numbering),
                one,
                self[f"condition_{place}"],
                self[f"width_{place}"],
                self[f"length_{place}"],
            )

    @property
    def wish_rows(self) -> Iterator[forms.BoundField]:
        """The field of each wish."""
        for rank, _words in self.wishes:
            yield self[f"wish_{rank}"]

    def said(self) -> Seen:
        """What the service takes."""
        data = self.cleaned_data
        teeth: dict[Tooth, SeenTooth] = {}
        for place, tooth in enumerate(self.teeth):
            if found := data[f"condition_{place}"]:
                teeth[tooth] = SeenTooth(Condition(found), data[f"width_{place}"], data[f"length_{place}"])
        scores = {rank: data[f"wish_{rank}"] for rank, _words in self.wishes if data[f"wish_{rank}"] is not None}
        return Seen(
            moment=Moment(data["moment"]),
            on=data["on"],
            measured_by=data["measured_by"],
            instrument=Instrument(data["instrument"]),
            teeth=teeth,
            scores=scores,
            words=data["words"],
            sure=data["sure"],
        )
