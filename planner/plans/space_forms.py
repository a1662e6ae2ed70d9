"""Sharing the spaces as a form: values to try, values the dentist fixes, and what would be kept of them.

What is measured can be tried otherwise here and is kept only by the examination. What the dentist fixes is kept with
a reason, in the dentist's name. The form computes and stores nothing itself.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.functional import Promise
from django.utils.translation import gettext as _now

from planner.patients.examination_parts import GapForm
from planner.patients.stored import mm
from planner.plans.space_locks import (
    FIELD_OF,
    LENGTH_LOCKS,
    LIMIT_LOCKS,
    ROLES,
    TICK_LOCKS,
    change_words,
    gap_key,
    gap_words,
    key_of,
    lock_words,
    stored_locks,
    tooth_key,
)
from planner.plans.space_parts import BetweenForm, FrontForm, ToothForm
from planner.practice.fields import PlainForm
from planner.rules.choices import Lock, LockWhat
from planner.rules.mouth import CaseFacts, Gap, ToothFacts
from planner.rules.segments import front_teeth
from planner.rules.standing import role_of
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm

Words = str | Promise

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


class SpaceForm:
    """The whole form over one case: teeth along the arch, the gaps between them, and a reason for every change."""

    def __init__(self, data: QueryDict | None, *, facts: CaseFacts, seen: int) -> None:
        self.data, self.facts, self.seen = data, facts, seen
        self.numbering = Numbering(facts.numbering)
        self.teeth = front_teeth(facts)
        gaps = {frozenset(gap.between): gap for gap in facts.examination.gaps}
        self.pairs = [(one.tooth, other.tooth) for one, other in pairwise(self.teeth)]
        self.gaps = [gaps.get(frozenset(pair)) for pair in self.pairs]
        stored = stored_locks(facts.choices)
        self.tooth_forms = [self._tooth_form(tooth, stored) for tooth in self.teeth]
        self.gap_forms = [self._gap_form(pair, gap, stored) for pair, gap in zip(self.pairs, self.gaps, strict=True)]
        self.front_form = self._front_form(stored)
        self.faults_beside: list[str] = []

    def _tooth_form(self, tooth: ToothFacts, stored: Mapping[str, Lock]) -> ToothForm:
        initial: dict[str, Any] = {
            "width": tooth.width,
            "length": tooth.length,
            "leave": tooth.not_to_be_touched,
        }
        for name, (what, _words) in LENGTH_LOCKS.items():
            lock = stored.get(tooth_key(tooth.tooth, what))
            initial[name] = None if lock is None else lock.value
        for name, (what, _words) in TICK_LOCKS.items():
            initial[name] = tooth_key(tooth.tooth, what) in stored
        played = stored.get(tooth_key(tooth.tooth, "role"))
        initial["role"] = None if played is None else played.role
        return ToothForm(
            self.data,
            prefix=tooth.tooth.key,
            initial=initial,
            title=self.number(tooth.tooth),
            found_role=f"({ROLES[role_of(tooth)]})",
        )

    def _gap_form(self, pair: tuple[Tooth, Tooth], gap: Gap | None, stored: Mapping[str, Lock]) -> BetweenForm:
        initial: dict[str, Any] = {}
        if gap is not None:
            initial = {"width": gap.width, "film": gap.film, "may_stay": gap.may_stay}
        lock = stored.get(gap_key(pair))
        if lock is not None and lock.value == 0:
            initial["fixed"] = "close"
        elif lock is not None and gap is not None and lock.value == gap.width:
            initial["fixed"] = "leave"
        elif lock is not None:
            initial |= {"fixed": "value", "left": lock.value}
        return BetweenForm(self.data, prefix=f"gap-{pair[0].key}", initial=initial, title=self.gap_words(pair))

    def _front_form(self, stored: Mapping[str, Lock]) -> FrontForm:
        ratio, midline = stored.get("front-ratio"), stored.get("front-midline")
        examination = self.facts.examination
        initial: dict[str, Any] = {
            "strip_length": examination.strip_length,
            "midline_offset": examination.midline_offset,
            "ratio": None if ratio is None else ratio.percent,
            "midline": None if midline is None else midline.value,
        }
        raised = next((lock for lock in stored.values() if lock.what in _LIMITS), None)
        if raised is not None and raised.tooth is not None:
            to = format_mm(raised.value) if raised.value is not None else str(raised.degrees)
            initial |= {"raised": _LIMITS[raised.what], "raised_tooth": raised.tooth.key, "raised_to": to}
        teeth = [(tooth.tooth.key, self.number(tooth.tooth)) for tooth in self.teeth]
        return FrontForm(self.data, prefix="front", initial=initial, teeth=teeth)

    # Words

    def number(self, tooth: Tooth) -> str:
        """The tooth as the case writes it."""
        return tooth.written(self.numbering)

    def gap_words(self, pair: tuple[Tooth, Tooth]) -> str:
        """The gap as the case writes it: ``13·11``."""
        return gap_words(pair, self.numbering)

    def every_form(self) -> Iterator[PlainForm]:
        """Every part, in the order of the page."""
        yield from self.tooth_forms
        yield from self.gap_forms
        yield self.front_form

    @property
    def front_measures(self) -> list[forms.BoundField]:
        """The controls about the whole front that are measured."""
        return [self.front_form[name] for name in ("strip_length", "midline_offset")]

    @property
    def front_aims(self) -> list[forms.BoundField]:
        """The controls for what is aimed at."""
        return [self.front_form[name] for name in ("ratio", "midline")]

    @property
    def front_limit(self) -> list[forms.BoundField]:
        """The controls for the one limit that may be raised."""
        return [self.front_form[name] for name in ("raised", "raised_tooth", "raised_to")]

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
                "strip_length": self.front_form.cleaned_data.get("strip_length"),
                "midline_offset": self.front_form.cleaned_data.get("midline_offset"),
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
        stored = stored_locks(self.facts.choices)
        shown = {tooth.tooth for tooth in self.teeth}
        pairs = {gap_key(pair) for pair in self.pairs}
        for key, lock in stored.items():
            if (lock.between is not None and key not in pairs) or (lock.tooth is not None and lock.tooth not in shown):
                yield lock
        for wanted in self._wanted():
            known = stored.get(key_of(wanted))
            same = known is not None and known.model_copy(update={"reason": "", "by": "", "on": None}) == wanted
            yield known if known is not None and same else _because(wanted, self._reason(key_of(wanted)))

    def _wanted(self) -> Iterator[Lock]:
        for facts, form in zip(self.teeth, self.tooth_forms, strict=True):
            data, tooth = form.cleaned_data, facts.tooth
            for name, (what, _words) in LENGTH_LOCKS.items():
                if data.get(name) is not None:
                    yield _lock(what, tooth=tooth, value=mm(data[name]))
            for name, (what, _words) in TICK_LOCKS.items():
                if data.get(name):
                    yield _lock(what, tooth=tooth)
            if data.get("role"):
                yield _lock("role", tooth=tooth, role=data["role"])
        for pair, between in zip(self.pairs, self.gap_forms, strict=True):
            if (value := _left(between)) is not None:
                yield _lock("gap left", between=pair, value=mm(value))
        yield from self._wanted_of_front()

    def _wanted_of_front(self) -> Iterator[Lock]:
        data = self.front_form.cleaned_data
        if data.get("ratio") is not None:
            yield _lock("ratio", percent=data["ratio"])
        if data.get("midline") is not None:
            yield _lock("midline", value=mm(data["midline"]))
        amount = data.get("raised_to")
        if data.get("raised") and data.get("raised_tooth") and isinstance(amount, int):
            entry = {"degrees": amount} if data["raised"] == "emergence" else {"value": mm(amount)}
            yield _lock(LIMIT_LOCKS[data["raised"]][0], tooth=Tooth.from_key(data["raised_tooth"]), **entry)

    def _reason(self, key: str) -> str:
        return "" if self.data is None else " ".join(self.data.get(f"reason-{key}", "").split())

    def changes(self) -> tuple[Change, ...]:
        """What would be fixed or let go, compared with what the case holds."""
        if self.data is None:
            return ()
        stored = stored_locks(self.facts.choices)
        wanted = {key_of(lock): lock for lock in self.locks()}
        found = []
        for key in dict.fromkeys([*stored, *wanted]):
            before, lock = stored.get(key), wanted.get(key)
            if before != lock:
                words = change_words(before, lock, self.numbering)
                found.append(Change(key, words, lock, before, self._reason(key)))
        return tuple(found)

    def lock_words(self, lock: Lock) -> str:
        """What is fixed, in words: ``13, shorten by: 0.5 mm``."""
        return lock_words(lock, self.numbering)

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
        examination = self.facts.examination
        found += self._tried(self.front_form, "strip_length", _now("arch in one go"), examination.strip_length)
        found += self._tried(
            self.front_form, "midline_offset", _now("offset of the midline"), examination.midline_offset
        )
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
        if found is None and (name := path.removeprefix("examination.")) in self.front_form.fields:
            return self.front_form, name
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
        of_front = lock.tooth is None or lock.what in _LIMITS
        return self.front_form if of_front else self._form_of(lock.tooth), FIELD_OF.get(lock.what, "")

    def _form_of(self, tooth: Tooth | None) -> PlainForm | None:
        known = {facts.tooth: form for facts, form in zip(self.teeth, self.tooth_forms, strict=True)}
        return known.get(tooth) if tooth is not None else None

    def _form_between(self, between: tuple[Tooth, Tooth]) -> PlainForm | None:
        known = {frozenset(pair): form for pair, form in zip(self.pairs, self.gap_forms, strict=True)}
        return known.get(frozenset(between))


_LIMITS = {what: key for key, (what, _words) in LIMIT_LOCKS.items()}


def _lock(what: LockWhat, **about: Any) -> Lock:
    return Lock(what=what, reason="", by="", **about)


def _because(lock: Lock, reason: str) -> Lock:
    return lock.model_copy(update={"reason": reason})


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


def _length_words(value: int | None) -> str:
    return _now("not measured") if value is None else format_mm(value)


def _finding_words(name: str, value: Any) -> str:
    if name == "may_stay":
        return _now("may stay") if value else _now("is to be closed")
    said = dict(GapForm.base_fields["film"].choices)  # type: ignore[attr-defined]
    return str(said.get(value or "", value)) if value else _now("no film answer")
