"""The forms of signing, countersigning and taking back. They read what is stated and never save."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.letters import sign_words
from planner.letters.consent_forms import MomentForm, people
from planner.letters.consent_signing import talk_of
from planner.practice.fields import DayField, PlainForm, YesNoField
from planner.practice.models import Staff
from planner.rules.signing import Basis, Choice, Interpreter, Method, Said
from planner.rules.strokes import read_strokes

BASES = (
    (Basis.SELF, _("for myself")),
    (Basis.PARENT, _("as a parent")),
    (Basis.GUARDIAN, _("as a guardian")),
    (Basis.COURT, _("by a court's order")),
    (Basis.POWER, _("by a power of attorney")),
    (Basis.DECIDER, _("as the decision-maker on record")),
)
READ = (
    ("on paper, before this day", _("on paper, before today")),
    ("on paper, this day", _("on paper, today")),
    ("on this screen", _("on this screen")),
    ("read out", _("it was read out")),
)


def _line(label: Any, *, most: int = 200, **kwargs: Any) -> forms.CharField:
    kwargs.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off"}))
    return forms.CharField(label=label, max_length=most, required=False, **kwargs)


def _text(label: Any, rows: int = 2, **kwargs: Any) -> forms.CharField:
    area = forms.Textarea(attrs={"rows": rows})
    return forms.CharField(label=label, max_length=4000, required=False, widget=area, **kwargs)


def _one(label: Any, choices: Sequence[tuple[str, str | Promise]], **kwargs: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, **kwargs)


class StrokesField(forms.CharField):
    """What was drawn, as the script of the page wrote it down; nothing where nothing was."""

    def to_python(self, value: Any) -> Any:
        """The strokes, read and checked."""
        written = super().to_python(value)
        if not written:
            return ()
        try:
            return read_strokes(written)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None

    def validate(self, value: Any) -> None:
        """Whether something had to be drawn is judged with the way of signing."""


class SignForm(PlainForm):
    """All that is stated at a signing. Which of it is needed depends on the answers: the rules of signing judge it."""

    letter = forms.CharField(max_length=64, widget=forms.HiddenInput, required=False)
    """SHA-256 of the letter's file that the page was about."""
    basis = _one(_("I consent"), BASES)
    signer = _line(_("Name of whoever consents"))
    id_seen = _line(_("Known how"), help_text=_("In person, or by which document."))
    proof = _line(_("The paper that right rests on, with its date"), most=500)
    other_parent = _line(_("The other parent"), most=500, help_text=_("Agrees, is not needed, or why not asked."))
    other_parent_objects = forms.BooleanField(label=_("The other parent does not agree"), required=False)
    assent = YesNoField(label=_("The patient's own agreement"))
    assent_words = _line(_("In the patient's words"), most=500)
    interpreted = forms.BooleanField(label=_("Somebody interpreted"), required=False)
    interpreter = _line(_("Interpreter's name"))
    interpreter_adult = YesNoField(label=_("The interpreter is an adult"))
    interpreter_relation = _line(_("What the interpreter is to the patient"), help_text=_("Or: professional."))
    capacity_doubted = forms.BooleanField(label=_("Whether the patient can decide was in doubt"), required=False)
    capacity_note = _text(_("What was found"))
    capacity_by = _line(_("Looked into by"))
    capacity_on = DayField(label=_("On which day"), required=False)
    clinician = forms.ChoiceField(label=_("Dentist who held the talk"))
    talk_on = DayField(label=_("Day of the talk"), required=False)
    licence = _line(_("Licence number of that dentist"), most=60)
    read = _one(_("How the letter was read"), READ)
    understood = _text(_("Said back in the own words"), 3, help_text=_("What will be done, and what may go wrong."))
    choice = _one(sign_words.CHOICE, sign_words.CHOICES)
    pieces = forms.MultipleChoiceField(label=sign_words.PIECES, widget=forms.CheckboxSelectMultiple, required=False)
    copy = _one(sign_words.COPY, sign_words.COPIES)
    electronic = YesNoField(label=sign_words.ELECTRONIC)
    method = _one(sign_words.METHOD, sign_words.METHODS)
    typed = _line(sign_words.TYPED)
    strokes = StrokesField(widget=forms.HiddenInput, required=False)
    witness_one = _line(sign_words.WITNESS, help_text=sign_words.WITNESS_FOR)
    witness_two = _line(sign_words.SECOND, help_text=sign_words.SECOND_FOR)
    seen_parts = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=1000)
    all_parts = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=1000)
    seconds = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=86_400)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        clinicians: Iterable[Staff],
        pieces: Iterable[tuple[str, str]],
        ticks: Mapping[str, str],
        today: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.people, self.ticks = {one.public_id: one for one in clinicians}, ticks
        self.fields["clinician"].choices = people(self.people.values())  # type: ignore[attr-defined]
        self.fields["pieces"].choices = list(pieces)  # type: ignore[attr-defined]
        for name in ("talk_on", "capacity_on"):
            self.fields[name].latest = today  # type: ignore[attr-defined]
        for key, words in ticks.items():
            self.fields[f"tick_{key}"] = YesNoField(label=words)

    def talked(self) -> Staff:
        """The dentist who held the talk."""
        return self.people[self.cleaned_data["clinician"]]

    def said(self) -> Said:
        """Everything stated, for the rules to judge."""
        data = self.cleaned_data
        who = Interpreter(data["interpreter"], data["interpreter_adult"], data["interpreter_relation"])
        method = Method(data["method"])
        return Said(
            signer=data["signer"],
            basis=Basis(data["basis"]),
            method=method,
            choice=Choice(data["choice"]),
            talk=talk_of(self.talked(), data["licence"], data["talk_on"]),
            id_seen=data["id_seen"],
            typed=data["typed"] if method is Method.TYPED else "",
            strokes=data["strokes"] if method in (Method.DRAWN, Method.MARK) else (),
            witnesses=tuple(filter(None, (data["witness_one"].strip(), data["witness_two"].strip())))
            if method in (Method.MARK, Method.SPOKEN)
            else (),
            pieces=tuple(data["pieces"]) if data["choice"] == Choice.PART else (),
            proof=data["proof"],
            other_parent=data["other_parent"],
            other_parent_objects=data["other_parent_objects"],
            assent=data["assent"],
            assent_words=data["assent_words"],
            interpreter=who if data["interpreted"] or data["interpreter"].strip() else None,
            capacity_doubted=data["capacity_doubted"],
            capacity_note=data["capacity_note"],
            capacity_by=data["capacity_by"],
            capacity_on=data["capacity_on"],
            understood=data["understood"],
            copy=data["copy"],
            ticks={key: data[f"tick_{key}"] for key in self.ticks if data[f"tick_{key}"] is not None},
        )

    def read_so_far(self) -> dict[str, Any]:
        """How the letter was read, and what the script of the page counted; without a script only the first."""
        data = self.cleaned_data
        found = {"how": data["read"], "seconds": data["seconds"], "seen": data["seen_parts"], "all": data["all_parts"]}
        return {name: value for name, value in found.items() if value is not None}

    def refuse_all(self, faults: Iterable[tuple[str, str]]) -> None:
        """Put every sentence at the field that is its own here."""
        mine = {"witness": "witness_one", "strokes": "method"}
        for field, sentence in faults:
            self.refuse(mine.get(field, field), sentence)


class CountersignForm(PlainForm):
    """The dentist's licence number."""

    licence = forms.CharField(label=_("Your licence number"), max_length=60)


class WithdrawForm(MomentForm):
    """What was said, by whom and how, and what it covers. It asks for no reason."""

    words = forms.CharField(
        label=_("The words that were used"), max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
    )
    said_by = forms.CharField(label=_("Said by"), max_length=200)
    how = forms.CharField(
        label=_("Told how"), max_length=200, help_text=_("In person, by telephone, with a raised hand.")
    )
    items = forms.MultipleChoiceField(
        label=_("Only these; none ticked means all of it"),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        error_messages={
            "invalid_choice": _("One of these was taken back, done or left out meanwhile: look at what is left of it.")
        },
    )
    explained = forms.CharField(
        label=_("What was explained about it"),
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("What may follow, and what would make the teeth safe."),
    )
    field_order = ("words", "said_by", "how", "items", "on", "hour", "explained")

    def __init__(self, *args: Any, items: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        found = list(items)
        # What was ticked is never left out of what is read: without it the consent would be taken back as a whole.
        if found or self.add_prefix("items") in self.data:
            self.fields["items"].choices = found  # type: ignore[attr-defined]
        else:
            del self.fields["items"]


def who_signs(name: str, alone: bool | None, decider: str) -> dict[str, Any]:
    """What the form begins with: the patient, or nobody where somebody else decides."""
    if alone is False:
        return {"signer": decider, "basis": ""}
    return {"signer": name, "basis": Basis.SELF, "id_seen": _now("known in person")}
