"""Forms of cases and estimates: wishes and limits, decisions with their reasons, case files. They never save."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients.models import Examination
from planner.patients.tooth_fields import read_tooth, tooth_texts
from planner.plans.choice_words import TARGETS
from planner.plans.models import Answer, Channel
from planner.practice.fields import AmountField, DayField, PlainForm, TenthsField, day_words
from planner.rules.casefile import LARGEST_BYTES
from planner.rules.facts import LONGEST_WISH
from planner.rules.mouth import CaseFacts, Limits, Wish, WishTarget
from planner.rules.results import CasePlan
from planner.rules.teeth import Numbering, Tooth, ToothNumberError

MOST_WISHES = 9
MOST_TARGETS = 6
_LEAST_WISHES = 3
_TEETH_WANTED = {"gap closed": 2, "tooth larger": 1, "edge shorter": 1, "tooth replaced": 1}
NUMBERINGS = tuple((system.value, system.printed) for system in Numbering)


def count_field(label: Any, least: int, most: int) -> forms.IntegerField:
    """A whole number between two bounds, or nothing."""
    bounds = {"least": least, "most": most}
    wrong = _now("This is not a whole number between %(least)s and %(most)s: write one, or leave it empty.") % bounds
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=least,
        max_value=most,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": wrong, "min_value": wrong, "max_value": wrong},
    )


def read_teeth(text: str, numbering: Numbering) -> tuple[Tooth, ...]:
    """The teeth in ``text``, numbers of one system with anything between them. Raises ValidationError with a
    sentence.
    """
    try:
        return tuple(read_tooth(part, numbering) for part in tooth_texts(text))
    except ToothNumberError as error:
        raise forms.ValidationError(str(error)) from None


@dataclass(frozen=True, slots=True)
class WishRow:
    """The fields of one wish on the form."""

    number: int
    words: forms.BoundField
    targets: tuple[tuple[forms.BoundField, forms.BoundField], ...]


class WishesForm(PlainForm):
    """What the patient wishes, in order, and the limits the patient set; teeth in the case's own numbering."""

    removal = TenthsField(label=_("Most that may come off any one tooth, mm"), least=0, most=100, required=False)
    money = AmountField(label=_("Most money"), required=False)
    wish_by = DayField(label=_("Finished by"), required=False)
    wish_by_words = forms.CharField(
        label=_("What it is for"), max_length=200, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    wish_by_firm = forms.BooleanField(
        label=_("It must be finished by then"),
        required=False,
        help_text=_("Left out, the day is only hoped for: it is shown and rules no option out."),
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, facts: CaseFacts, seen: int) -> None:
        self.numbering = facts.numbering
        self._shape = _posted_shape(data) if data is not None else _stored_shape(facts)
        super().__init__(data, initial=_initial(facts) | {"seen": seen})
        self.fields["teeth_reduced"] = count_field(_("Most teeth that may be made smaller for good"), 0, 32)
        self.fields["visits"] = count_field(_("Most visits"), 1, 100)
        self.fields["months"] = count_field(_("Most months"), 0, 120)
        written = _now("%(system)s, such as %(example)s") % {
            "system": self.numbering.printed,
            "example": teeth_example(self.numbering),
        }
        for number, targets in enumerate(self._shape, start=1):
            self.fields[f"wish-{number}"] = forms.CharField(
                label=_now("Wish %(n)d, in the patient's own words") % {"n": number},
                max_length=LONGEST_WISH,
                required=False,
                widget=forms.Textarea(attrs={"rows": 2}),
            )
            for target in range(1, targets + 1):
                self.fields[f"wish-{number}-kind-{target}"] = forms.ChoiceField(
                    label=_now("It is met when"), choices=[("", "–"), *TARGETS], required=False, initial=""
                )
                self.fields[f"wish-{number}-teeth-{target}"] = forms.CharField(
                    label=_now("Teeth (%(written)s)") % {"written": written},
                    max_length=60,
                    required=False,
                    widget=forms.TextInput(attrs={"data-size": "short", "autocomplete": "off"}),
                )
        for field in self.fields.values():
            field.error_messages["required"] = self.default_required

    def rows(self) -> Iterator[WishRow]:
        """The wishes' fields, in order, for the template."""
        for number, targets in enumerate(self._shape, start=1):
            pairs = tuple(
                (self[f"wish-{number}-kind-{target}"], self[f"wish-{number}-teeth-{target}"])
                for target in range(1, targets + 1)
            )
            yield WishRow(number, self[f"wish-{number}"], pairs)

    def clean(self) -> dict[str, Any]:
        """Teeth read in the case's numbering, as many as the target needs; a target belongs to a wish."""
        data = super().clean() or {}
        self.wishes = tuple(self._wishes(data))
        return data

    def _wishes(self, data: dict[str, Any]) -> Iterator[Wish]:
        rank = 0
        for number, count in enumerate(self._shape, start=1):
            words = data.get(f"wish-{number}", "")
            targets = tuple(self._targets(number, count, data))
            if targets and not words:
                self.add_error(f"wish-{number}", _now("A target needs the wish it belongs to, in the patient's words."))
            elif words:
                rank += 1
                yield Wish(rank=rank, words=words, targets=targets)

    def _targets(self, number: int, count: int, data: dict[str, Any]) -> Iterator[WishTarget]:
        for target in range(1, count + 1):
            kind = data.get(f"wish-{number}-kind-{target}", "")
            name = f"wish-{number}-teeth-{target}"
            written = data.get(name, "")
            try:
                teeth = read_teeth(written, self.numbering)
            except forms.ValidationError as error:
                self.add_error(name, error)
                continue
            if teeth and not kind:
                self.add_error(f"wish-{number}-kind-{target}", _now("Say what is to be true of these teeth."))
            elif kind and len(teeth) != _TEETH_WANTED.get(kind, 0):
                self.add_error(name, _teeth_wanted(kind, len(teeth), self.numbering))
            elif kind:
                yield WishTarget(kind=kind, teeth=teeth)

    def limits(self) -> Limits:
        """The limits as typed."""
        names = ("removal", "teeth_reduced", "visits", "months", "money", "wish_by", "wish_by_words")
        values = {name: self.cleaned_data[name] for name in names}
        # Lengths and amounts are whole tenths and cents here, and written in full in a case file.
        return Limits.model_construct(**values, wish_by_firm=self.cleaned_data["wish_by_firm"])


def teeth_example(numbering: Numbering) -> str:
    """Two neighbouring teeth as they are written in a numbering."""
    return f"{Tooth.from_iso('21').written(numbering)} {Tooth.from_iso('22').written(numbering)}"


def _teeth_wanted(kind: str, count: int, numbering: Numbering) -> str:
    wanted = _TEETH_WANTED.get(kind, 0)
    if wanted == 0:
        return _now("This target names no tooth: leave the teeth empty.")
    if wanted == 2:
        return _now("A gap lies between two teeth; %(n)d are named: write both, such as %(example)s (%(system)s).") % {
            "n": count,
            "example": teeth_example(numbering),
            "system": numbering.printed,
        }
    return _now("This target names one tooth; %(n)d are named: use a line for each.") % {"n": count}


def _stored_shape(facts: CaseFacts) -> list[int]:
    """How many targets each wish has on the form: those there are and one more; one more wish than there are."""
    shape = [min(len(wish.targets) + 1, MOST_TARGETS) for wish in facts.wishes]
    shape += [2] * max(1, _LEAST_WISHES - len(shape))
    return shape[:MOST_WISHES]


def _posted_shape(data: Mapping[str, Any]) -> list[int]:
    shape = []
    for number in range(1, MOST_WISHES + 1):
        if f"wish-{number}" not in data:
            break
        shape.append(sum(f"wish-{number}-kind-{target}" in data for target in range(1, MOST_TARGETS + 1)))
    return shape


def _initial(facts: CaseFacts) -> dict[str, Any]:
    found: dict[str, Any] = {name: getattr(facts.limits, name) for name in Limits.model_fields}
    for number, wish in enumerate(sorted(facts.wishes, key=lambda wish: wish.rank), start=1):
        found[f"wish-{number}"] = wish.words
        for place, target in enumerate(wish.targets, start=1):
            found[f"wish-{number}-kind-{place}"] = target.kind
            found[f"wish-{number}-teeth-{place}"] = " ".join(tooth.written(facts.numbering) for tooth in target.teeth)
    return found


class AboutForm(PlainForm):
    """What the case is called, how its teeth are written, and notes."""

    name = forms.CharField(
        label=_("Name of the case"),
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text=_("It is only for finding it in lists."),
    )
    numbering = forms.ChoiceField(
        label=_("How teeth are written"),
        choices=NUMBERINGS,
        widget=forms.RadioSelect,
        help_text=_("The other number always stands beside it."),
    )
    notes = forms.CharField(label=_("Notes"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 4}))
    seen = forms.IntegerField(widget=forms.HiddenInput)


class OpenCaseForm(PlainForm):
    """A new case on one set of measurements."""

    name = AboutForm.base_fields["name"]
    examination = forms.ChoiceField(label=_("Measurements"), widget=forms.RadioSelect)
    numbering = AboutForm.base_fields["numbering"]

    def __init__(self, data: Mapping[str, Any] | None, *, examinations: Sequence[Examination], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self._known = {one.public_id: one for one in examinations}
        self.fields["examination"].choices = [  # type: ignore[attr-defined]
            (one.public_id, _now("%(day)s, by %(by)s") % {"day": day_words(one.on), "by": one.by})
            for one in examinations
        ]

    def examination_chosen(self) -> Examination:
        """The set that was chosen."""
        return self._known[self.cleaned_data["examination"]]


class CaseFileForm(PlainForm):
    """A case file to take in."""

    file = forms.FileField(
        label=_("Case file"),
        help_text=_(
            "A JSON file of at most 1 megabyte. It is taken in whole, or refused with everything that is wrong."
        ),
        error_messages={"empty": _("This file is empty: choose a case file.")},
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )

    def clean_file(self) -> bytes:
        """The content, unless it is larger than a case file can be."""
        upload: Any = self.cleaned_data["file"]
        if (upload.size or 0) > LARGEST_BYTES:
            raise forms.ValidationError(
                _now("This file has %(size)s bytes; a case file has %(most)s at most.")
                % {"size": f"{upload.size:,}", "most": f"{LARGEST_BYTES:,}"}
            )
        return bytes(upload.read())


def _reason(label: Any, least: int = 1) -> forms.CharField:
    short = _now("Write at least %(n)d signs: the reason is read by others.") % {"n": least}
    return forms.CharField(
        label=label,
        min_length=least,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("It stays in the record, with your name."),
        error_messages={"min_length": short},
    )


class DecisionForm(PlainForm):
    """A decision about a case, with its reason and the version that was seen."""

    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["reason"] = _reason(_("Reason"), self.least)
        self.fields["reason"].error_messages["required"] = self.default_required

    least = 1


class OverrideForm(DecisionForm):
    """A decision against a verdict."""

    least = 10

    def __init__(self, data: Mapping[str, Any] | None = None, *, second: bool, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if second:
            self.fields["second_dentist"] = forms.CharField(
                label=_("Second dentist"),
                max_length=200,
                help_text=_("This takes two dentists, by name, and a paragraph in the letter."),
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
                error_messages={"required": self.default_required},
            )


class SurfacesForm(DecisionForm):
    """How many surfaces an addition counts as."""

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, teeth: Sequence[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        reason = self.fields.pop("reason")
        self.fields["tooth"] = forms.ChoiceField(label=_("Tooth"), choices=teeth, widget=forms.RadioSelect)
        self.fields["surfaces"] = forms.TypedChoiceField(
            label=_("Counts as"),
            choices=[(n, _now("1 surface") if n == 1 else _now("%(n)d surfaces") % {"n": n}) for n in range(1, 6)],
            coerce=int,
            widget=forms.RadioSelect,
        )
        self.fields["reason"] = reason
        for field in self.fields.values():
            field.error_messages["required"] = self.default_required


class LineClassForm(DecisionForm):
    """Whether additions are reconstructive or for looks only."""

    def __init__(self, data: Mapping[str, Any] | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        reason = self.fields.pop("reason")
        self.fields["reconstructive"] = forms.TypedChoiceField(
            label=_("Additions in this case are"),
            choices=[("yes", _("reconstructive")), ("no", _("for looks only"))],
            coerce=lambda value: value == "yes",
            widget=forms.RadioSelect,
            error_messages={"required": self.default_required},
        )
        self.fields["reason"] = reason


class OptionsForm(PlainForm):
    """Which options an estimate hands over."""

    options = forms.MultipleChoiceField(
        label=_("Options on the estimate"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Doing nothing is always among them."),
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, plan: CasePlan, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["options"].choices = [  # type: ignore[attr-defined]
            (option.key, f"{option.name} ({option.verdict.value})") for option in plan.options
        ]


class DraftOptionsForm(OptionsForm):
    """Which options a draft that is there hands over, from the version that was opened."""

    seen = forms.IntegerField(widget=forms.HiddenInput)


class CheckForm(PlainForm):
    """The dentist's check of exactly the plan on the screen."""

    plan = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def __init__(self, data: Mapping[str, Any] | None = None, *, replaces: bool = False, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if replaces:
            self.fields["reason"] = _reason(_("Why a new issue"))
            self.fields["reason"].error_messages["required"] = self.default_required


class ShowForm(PlainForm):
    """To whom an estimate was shown, when and how."""

    to = forms.CharField(label=_("Shown to"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    channel = forms.ChoiceField(
        label=_("How"), choices=[(one.value, one.value) for one in Channel], widget=forms.RadioSelect
    )
    on = DayField(label=_("On"))
    seen = forms.IntegerField(widget=forms.HiddenInput)


class AnswerForm(PlainForm):
    """What the patient said to an estimate, other than yes: a yes, whole or in part, makes an accepted plan."""

    answer = forms.ChoiceField(
        label=_("Answer"),
        choices=[(one.value, one.value) for one in (Answer.NONE, Answer.NO_TREATMENT, Answer.ELSEWHERE)],
        help_text=_("A yes is recorded on the page of the estimate, option by option."),
        widget=forms.RadioSelect,
    )
    by = forms.CharField(label=_("Answered by"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    words = forms.CharField(
        label=_("In the person's own words"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)


class ReasonForm(PlainForm):
    """A reason alone."""

    reason = forms.CharField(label=_("Reason"), max_length=500, help_text=_("It stays in the record."))
