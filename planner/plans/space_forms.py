"""Sharing the spaces as a form: values to try, values the dentist fixes, and what would be kept of them.

What is measured can be tried otherwise here and is kept only by the examination. What the dentist fixes is kept with
a reason, in the dentist's name. The form computes and stores nothing itself.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from django import forms
from django.http import QueryDict
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients.examination_parts import GapForm
from planner.patients.stored import mm
from planner.patients.tooth_fields import ChosenCell, LengthCell
from planner.practice.fields import PlainForm
from planner.rules.mouth import CaseFacts, Choices, Gap, Lock, ToothFacts
from planner.rules.segments import front_teeth
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm

Words = str | Promise
What = Literal[
    "mesial share", "distal share", "width", "length", "shorten", "lengthen", "untouched", "build up", "gap left"
]

LENGTH_LOCKS: dict[str, tuple[What, Words]] = {
    "mesial": ("mesial share", _("share toward the midline")),
    "distal": ("distal share", _("share away from the midline")),
    "fixed_width": ("width", _("width afterwards")),
    "fixed_length": ("length", _("length afterwards")),
    "shorten": ("shorten", _("shorten by")),
    "lengthen": ("lengthen", _("lengthen by")),
}
"""Locks with a length, by field: what it fixes and its words."""
TICK_LOCKS: dict[str, tuple[What, Words]] = {
    "untouched": ("untouched", _("do not touch")),
    "build_up": ("build up", _("build up")),
}
_FIELD_OF = {what: field for field, (what, _words) in (LENGTH_LOCKS | TICK_LOCKS).items()}
_GAP_CHOICES = [("close", _("close")), ("leave", _("leave as it is")), ("value", _("leave this much:"))]
_PATH = re.compile(r"(examination\.teeth|examination\.gaps|choices\.locks)\[(\d+)\](?:\.(\w+))?")


@dataclass(frozen=True, slots=True)
class Change:
    """One lock that the form wants and the case does not hold, or the other way round."""

    key: str
    words: str
    lock: Lock | None
    """What would be fixed; None lets the earlier one go."""
    before: Lock | None
    reason: str
    fault: str = ""

    @property
    def field(self) -> str:
        """Name of the reason's field."""
        return f"reason-{self.key}"


class ToothForm(PlainForm):
    """One tooth: its measures to try, and what the dentist fixes on it."""

    width = LengthCell(label=_("width"))
    length = LengthCell(label=_("length"))
    leave = forms.BooleanField(label=_("not to be touched, as found"), required=False)

    def __init__(self, *args: Any, title: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (_what, words) in LENGTH_LOCKS.items():
            self.fields[name] = LengthCell(label=words)
        for name, (_what, words) in TICK_LOCKS.items():
            self.fields[name] = forms.BooleanField(label=str(words), required=False)
        for field in self.fields.values():
            field.label = f"{title}: {field.label}"


class BetweenForm(PlainForm):
    """One gap: its width and film answer to try, and what the dentist fixes."""

    width = LengthCell(label=_("gap"))
    film = ChosenCell(label=_("film"), answers=[("tight", _("tight")), ("film", _("film"))])
    may_stay = forms.BooleanField(label=_("may stay"), required=False)
    fixed = ChosenCell(label=_("fixed"), answers=_GAP_CHOICES, blank=_("free"))
    left = LengthCell(label=_("to be left"))

    def __init__(self, *args: Any, title: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.label = f"{title}: {field.label}"

    def clean(self) -> dict[str, Any]:
        """A gap that is left by so much says how much."""
        data = super().clean() or {}
        if data.get("fixed") == "value" and data.get("left") is None and "left" not in self.errors:
            self.add_error("left", _now("How much is to be left? Write millimetres, such as 0.5."))
        if data.get("fixed") != "value" and data.get("left") is not None:
            self.add_error("left", _now("A width is written here: choose “leave this much”, or empty the cell."))
        return data


class SpaceForm:
    """The whole form over one case: teeth along the arch, the gaps between them, and a reason for every change."""

    def __init__(self, data: QueryDict | None, *, facts: CaseFacts, seen: int) -> None:
        self.data, self.facts, self.seen = data, facts, seen
        self.numbering = Numbering(facts.numbering)
        self.teeth = front_teeth(facts)
        gaps = {frozenset(gap.between): gap for gap in facts.examination.gaps}
        self.pairs = [(one.tooth, other.tooth) for one, other in pairwise(self.teeth)]
        self.gaps = [gaps.get(frozenset(pair)) for pair in self.pairs]
        stored = _stored(facts.choices)
        self.tooth_forms = [self._tooth_form(tooth, stored) for tooth in self.teeth]
        self.gap_forms = [self._gap_form(pair, gap, stored) for pair, gap in zip(self.pairs, self.gaps, strict=True)]
        self.faults_beside: list[str] = []

    def _tooth_form(self, tooth: ToothFacts, stored: Mapping[str, Lock]) -> ToothForm:
        initial: dict[str, Any] = {
            "width": tooth.width,
            "length": tooth.length,
            "leave": tooth.not_to_be_touched,
        }
        for name, (what, _words) in LENGTH_LOCKS.items():
            lock = stored.get(_key(tooth.tooth, what))
            initial[name] = None if lock is None else lock.value
        for name, (what, _words) in TICK_LOCKS.items():
            initial[name] = _key(tooth.tooth, what) in stored
        return ToothForm(self.data, prefix=tooth.tooth.key, initial=initial, title=self.number(tooth.tooth))

    def _gap_form(self, pair: tuple[Tooth, Tooth], gap: Gap | None, stored: Mapping[str, Lock]) -> BetweenForm:
        initial: dict[str, Any] = {}
        if gap is not None:
            initial = {"width": gap.width, "film": gap.film, "may_stay": gap.may_stay}
        lock = stored.get(_gap_key(pair))
        if lock is not None and lock.value == 0:
            initial["fixed"] = "close"
        elif lock is not None and gap is not None and lock.value == gap.width:
            initial["fixed"] = "leave"
        elif lock is not None:
            initial |= {"fixed": "value", "left": lock.value}
        return BetweenForm(self.data, prefix=f"gap-{pair[0].key}", initial=initial, title=self.gap_words(pair))

    # Words

    def number(self, tooth: Tooth) -> str:
        """The tooth as the case writes it."""
        return tooth.written(self.numbering)

    def gap_words(self, pair: tuple[Tooth, Tooth]) -> str:
        """The gap as the case writes it: ``13·11``."""
        return f"{self.number(pair[0])}·{self.number(pair[1])}"

    def every_form(self) -> Iterator[PlainForm]:
        """Every part, in the order of the page."""
        yield from self.tooth_forms
        yield from self.gap_forms

    @property
    def faults(self) -> tuple[tuple[str, str, str], ...]:
        """Everything that keeps the form from being computed: where, what about, and the sentence."""
        found = [
            (form[name].id_for_label, str(form[name].label), str(sentence))
            for form in self.every_form()
            for name, sentences in form.errors.items()
            for sentence in sentences
            if name in form.fields
        ]
        return (*found, *(("", "", sentence) for sentence in self.faults_beside))

    # Reading

    def read(self) -> CaseFacts:
        """The facts with what was typed in place of what is stored; what could not be read counts as not measured."""
        if self.data is None:
            return self.facts
        for form in self.every_form():
            form.full_clean()
        teeth = {tooth.tooth: form for tooth, form in zip(self.teeth, self.tooth_forms, strict=True)}
        examination = self.facts.examination
        tried = examination.model_copy(
            update={
                "teeth": tuple(
                    _tried_tooth(tooth, teeth[tooth.tooth]) if tooth.tooth in teeth else tooth
                    for tooth in examination.teeth
                ),
                "gaps": tuple(self._tried_gaps()),
            }
        )
        choices = self.facts.choices.model_copy(update={"locks": tuple(self.locks())})
        return self.facts.model_copy(update={"examination": tried, "choices": choices})

    def _tried_gaps(self) -> Iterator[Gap]:
        forms_of = {frozenset(pair): form for pair, form in zip(self.pairs, self.gap_forms, strict=True)}
        for gap in self.facts.examination.gaps:
            form = forms_of.pop(frozenset(gap.between), None)
            if form is None:
                yield gap
            elif (values := _gap_values(form)) is not None:
                yield gap.model_copy(update=values)
        for pair, form in zip(self.pairs, self.gap_forms, strict=True):
            if frozenset(pair) in forms_of and (values := _gap_values(form)) is not None:
                width = {"between": pair, "width": mm(values["width"])}
                yield Gap.model_validate(width).model_copy(update=values)

    def locks(self) -> Iterator[Lock]:
        """Every lock that the form wants, those on other teeth as they are; reasons as far as they are given."""
        stored = _stored(self.facts.choices)
        shown = set(self._keys())
        yield from (lock for key, lock in stored.items() if key not in shown)
        for tooth, form in zip(self.teeth, self.tooth_forms, strict=True):
            for name, (what, _words) in LENGTH_LOCKS.items():
                value = form.cleaned_data.get(name)
                if value is not None:
                    yield self._lock(_key(tooth.tooth, what), what, value, stored, tooth=tooth.tooth)
            for name, (what, _words) in TICK_LOCKS.items():
                if form.cleaned_data.get(name):
                    yield self._lock(_key(tooth.tooth, what), what, None, stored, tooth=tooth.tooth)
        for pair, between in zip(self.pairs, self.gap_forms, strict=True):
            value = _left(between)
            if value is not None:
                yield self._lock(_gap_key(pair), "gap left", value, stored, between=pair)

    def _lock(
        self,
        key: str,
        what: What,
        value: int | None,
        stored: Mapping[str, Lock],
        *,
        tooth: Tooth | None = None,
        between: tuple[Tooth, Tooth] | None = None,
    ) -> Lock:
        known = stored.get(key)
        if known is not None and known.value == value:
            return known
        return Lock(tooth=tooth, between=between, what=what, value=mm(value), reason=self._reason(key), by="")

    def _keys(self) -> Iterator[str]:
        for tooth in self.teeth:
            yield from (_key(tooth.tooth, what) for what, _words in (*LENGTH_LOCKS.values(), *TICK_LOCKS.values()))
        yield from (_gap_key(pair) for pair in self.pairs)

    def _reason(self, key: str) -> str:
        return "" if self.data is None else " ".join(self.data.get(f"reason-{key}", "").split())

    def changes(self) -> tuple[Change, ...]:
        """What would be fixed or let go, compared with what the case holds."""
        if self.data is None:
            return ()
        stored = _stored(self.facts.choices)
        wanted = {_key_of(lock): lock for lock in self.locks()}
        found = []
        for key in dict.fromkeys([*stored, *wanted]):
            before, lock = stored.get(key), wanted.get(key)
            if before != lock:
                words = self.change_words(before, lock)
                found.append(Change(key, words, lock, before, self._reason(key)))
        return tuple(found)

    def change_words(self, before: Lock | None, lock: Lock | None) -> str:
        """A change in words: ``13, shorten by: 0.5 mm → 0.3 mm``."""
        named = lock or before
        assert named is not None
        return f"{self._subject(named)}: {_value_words(before)} → {_value_words(lock)}"

    def lock_words(self, lock: Lock) -> str:
        """What is fixed, in words: ``13, shorten by: 0.5 mm``."""
        return f"{self._subject(lock)}: {_value_words(lock)}"

    def _subject(self, named: Lock) -> str:
        if named.between is not None:
            subject: Words = _now("gap %(gap)s") % {"gap": self.gap_words(named.between)}
            what: Words = _now("to be left")
        else:
            assert named.tooth is not None
            subject = self.number(named.tooth)
            what = (LENGTH_LOCKS | TICK_LOCKS)[_FIELD_OF[named.what]][1]
        return f"{subject}, {what}"

    def findings(self) -> tuple[tuple[tuple[Tooth, Tooth], str, dict[str, Any]], ...]:
        """Film answers and ticks that differ from the examination: the gap, in words, and what would be recorded."""
        if self.data is None:
            return ()
        found = []
        for pair, gap, form in zip(self.pairs, self.gaps, self.gap_forms, strict=True):
            values = _gap_values(form)
            if gap is None or values is None or values["width"] != gap.width:
                continue
            changed = {name: value for name, value in values.items() if value != getattr(gap, name)}
            if changed:
                said = ", ".join(_finding_words(name, value) for name, value in changed.items())
                found.append((pair, f"{self.gap_words(pair)}: {said}", changed))
        return tuple(found)

    def tried(self) -> tuple[str, ...]:
        """Measures that were typed otherwise than they are on file, which this page does not keep."""
        found: list[str] = []
        for tooth, form in zip(self.teeth, self.tooth_forms, strict=True):
            for name, words in (("width", _now("width")), ("length", _now("length"))):
                found += self._tried(form, name, f"{self.number(tooth.tooth)}, {words}", getattr(tooth, name))
            if form.is_bound and bool(form.cleaned_data.get("leave")) != tooth.not_to_be_touched:
                free = tooth.not_to_be_touched
                said = _now("as if it may be touched") if free else _now("as if it must not be touched")
                found.append(f"{self.number(tooth.tooth)}: {said}")
        for pair, gap, between in zip(self.pairs, self.gaps, self.gap_forms, strict=True):
            words = _now("gap %(gap)s") % {"gap": self.gap_words(pair)}
            found += self._tried(between, "width", words, None if gap is None else gap.width)
        return tuple(found)

    def _tried(self, form: PlainForm, name: str, words: str, known: int | None) -> Iterator[str]:
        if form.is_bound and form.cleaned_data.get(name) != known and name not in form.errors:
            value = form.cleaned_data.get(name)
            yield f"{words}: {_length_words(known)} → {_length_words(value)}"

    # Faults

    def refuse(self, path: str, sentence: str, tried: CaseFacts) -> None:
        """Add a sentence at the cell that ``path`` of the tried facts names, else beside the form."""
        form, field = self._at(path, tried)
        if form is not None and field in form.fields:
            form.add_error(field, sentence)
        elif sentence not in self.faults_beside:
            self.faults_beside.append(sentence)

    def _at(self, path: str, tried: CaseFacts) -> tuple[PlainForm | None, str]:
        found = _PATH.match(path)
        if found is None:
            return None, ""
        index, field = int(found[2]), found[3] or ""
        if found[1] == "examination.teeth":
            return self._form_of(tried.examination.teeth[index].tooth), field
        if found[1] == "examination.gaps":
            return self._form_between(tried.examination.gaps[index].between), field
        lock = tried.choices.locks[index]
        if lock.between is not None:
            return self._form_between(lock.between), "left" if lock.value else "fixed"
        return self._form_of(lock.tooth), _FIELD_OF.get(lock.what, "")

    def _form_of(self, tooth: Tooth | None) -> PlainForm | None:
        known = {facts.tooth: form for facts, form in zip(self.teeth, self.tooth_forms, strict=True)}
        return known.get(tooth) if tooth is not None else None

    def _form_between(self, between: tuple[Tooth, Tooth]) -> PlainForm | None:
        known = {frozenset(pair): form for pair, form in zip(self.pairs, self.gap_forms, strict=True)}
        return known.get(frozenset(between))


def _tried_tooth(tooth: ToothFacts, form: ToothForm) -> ToothFacts:
    data = form.cleaned_data
    values = {"width": data.get("width"), "length": data.get("length"), "not_to_be_touched": bool(data.get("leave"))}
    return tooth.model_copy(update=values)


def _gap_values(form: BetweenForm) -> dict[str, Any] | None:
    data = form.cleaned_data
    if data.get("width") is None:
        return None
    return {"width": data["width"], "film": data.get("film"), "may_stay": bool(data.get("may_stay"))}


def _left(form: BetweenForm) -> int | None:
    """How much of a gap is to be left, as fixed; None leaves it free."""
    fixed, data = form.cleaned_data.get("fixed"), form.cleaned_data
    if fixed == "close":
        return 0
    return data.get("width") if fixed == "leave" else data.get("left") if fixed == "value" else None


def _stored(choices: Choices) -> dict[str, Lock]:
    return {_key_of(lock): lock for lock in choices.locks}


def _key_of(lock: Lock) -> str:
    if lock.between is not None:
        return _gap_key(lock.between)
    assert lock.tooth is not None
    return _key(lock.tooth, lock.what)


def _key(tooth: Tooth, what: str) -> str:
    return f"{tooth.key}-{what.replace(' ', '-')}"


def _gap_key(pair: tuple[Tooth, Tooth]) -> str:
    first, second = sorted(pair)
    return f"gap-{first.key}-{second.key}"


def _value_words(lock: Lock | None) -> str:
    if lock is None:
        return _now("free")
    return _now("yes") if lock.value is None else f"{format_mm(lock.value)} mm"


def _length_words(value: int | None) -> str:
    return _now("not measured") if value is None else format_mm(value)


def _finding_words(name: str, value: Any) -> str:
    if name == "may_stay":
        return _now("may stay") if value else _now("is to be closed")
    said = dict(GapForm.base_fields["film"].choices)  # type: ignore[attr-defined]
    return str(said.get(value or "", value)) if value else _now("no film answer")
