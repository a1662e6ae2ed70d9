"""A whole examination as one form: laid out along the arch, read into facts, and asked back where it looks like a slip.

The form stores nothing. What cannot be true is a fault at its field; what is probably a slip is a question with a tick
that lets it pass, and the tick holds for that very value only.
"""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from pydantic import ValidationError

from planner.patients import examination_parts as parts
from planner.patients.examination_columns import (
    Column,
    gap_groups,
    name_fields,
    neighbours,
    nobody_measured,
    standing_in,
)
from planner.patients.examination_layout import gaps_by_place, layout_of, places_with_more, row_of, unless_default
from planner.patients.mouth_parts import GROUPS, HeightForm
from planner.patients.tooth_fields import read_tooth
from planner.practice.fields import PlainForm
from planner.rules import mouth
from planner.rules.contradictions import contradictions, doubts
from planner.rules.facts import Facts
from planner.rules.identities import swapped_sides
from planner.rules.standing import place_of
from planner.rules.teeth import NORMAL, Numbering, Tooth
from planner.rules.typed_files import faults_of

NUMBERINGS = [(system.value, system.printed) for system in Numbering]
_PATH = re.compile(r"examination\.(\w+)(?:\[(\d+)\])?(?:\.(\w+))?")
_LINE = re.compile(r"\b(teeth|gaps)\[(\d+)\]")
_REACH = 3
"""How many places away a tooth may stand from its own to be among the choices of a column."""


class NumberingForm(PlainForm):
    """In which system every tooth number of the form is written."""

    numbering = forms.ChoiceField(
        label=_("Tooth numbers are written as"),
        choices=NUMBERINGS,
        error_messages={
            "required": _(
                "A tooth number without its system can mean two different teeth: say in which system the numbers of "
                "this form are written."
            )
        },
        widget=forms.Select(attrs={"data-size": "mid"}),
    )


@dataclass(frozen=True, slots=True)
class Question:
    """Something to look at again, beside its field, with the tick that lets this very value pass."""

    form: forms.Form
    field: str
    words: str
    ticked: bool

    @property
    def tick(self) -> str:
        """The value of the tick: another value in the field makes another sentence and so another tick."""
        return hashlib.sha256(self.words.encode()).hexdigest()[:12]

    @property
    def name(self) -> str:
        """The name of the field as sent."""
        return self.form.add_prefix(self.field)


class Sheet:
    """The form of one examination, bound to what was sent or showing ``facts``."""

    def __init__(
        self,
        data: QueryDict | None,
        *,
        numbering: Numbering,
        facts: mouth.Examination,
        new: bool = False,
    ) -> None:
        self.data, self.facts_before, self.new = data, facts, new
        self.numbering_form = NumberingForm(data, initial={"numbering": numbering.value})
        sent = data.get("numbering", "") if data is not None else numbering.value
        self.numbering = Numbering(sent) if sent in list(Numbering) else None
        self.shown = self.numbering or numbering
        self.layout_form = parts.LayoutForm(data, initial=layout_of(facts), prefix="layout")
        self.layout = self.layout_form.numbers() if data is not None else layout_of(facts)
        self.head = self._form(parts.HeadForm, "head", facts)
        self.midline = self._form(parts.MidlineForm, "midline", facts)
        self.groups = {name: self._form(kind, name, getattr(facts, name)) for name, (_words, kind) in GROUPS.items()}
        self.every = parts.AllForm(data, prefix="every")
        name_fields(self.every, _now("every tooth"))
        self.upper = self._columns(upper=True)
        self.lower = self._columns(upper=False)
        self.others = self._others()
        self.absent = self._lines(parts.AbsentForm, "absent", facts.absent)
        self.places = self._lines(parts.PlaceForm, "places", places_with_more(facts))
        self.heights = self._heights()
        self.questions: tuple[Question, ...] = ()
        self.facts: mouth.Examination | None = None
        self._lines_of: dict[str, list[parts.FactsForm]] = {}

    # Laying out

    def _form(self, kind: type[parts.FactsForm], prefix: str, facts: Facts | None) -> Any:
        initial = {} if facts is None else unless_default(parts.initial_of(facts))
        return kind(self.data, prefix=prefix, initial=initial, numbering=self.numbering)

    def _columns(self, *, upper: bool) -> tuple[Column, ...]:
        row = row_of(self.layout, upper=upper)
        standing = {place_of(tooth): tooth for tooth in self.facts_before.teeth if not tooth.tooth.is_extra}
        gaps = gaps_by_place(self.facts_before)
        empty = {line.place for line in self.facts_before.empty_places}
        columns = []
        for index, place in enumerate(row):
            found = standing.get(place)
            initial = {} if found is None else unless_default(parts.initial_of(found))
            if found is not None:
                initial["tooth"] = found.tooth.key
            elif place in empty:
                initial["tooth"] = parts.NOBODY
            elif self.new and upper and place.position <= 3:
                initial["tooth"] = place.key
            form = parts.ColumnForm(self.data, prefix=place.key, initial=initial, numbering=self.numbering)
            self._offer_teeth(form, place)
            gap = None
            if index < len(row) - 1:
                before = gaps.get(place)
                gap = self._form(parts.GapForm, f"gap-{place.key}", before)
            columns.append(Column(place, form, gap))
        for column in columns:
            name_fields(column.form, self._title(column))
        for column, (right, left) in neighbours(columns):
            assert column.gap is not None
            name_fields(column.gap, f"{self._title(right)} · {self._title(left)}")
        return tuple(columns)

    def _offer_teeth(self, form: parts.ColumnForm, place: Tooth) -> None:
        near = [tooth for tooth in NORMAL if tooth.upper == place.upper and _apart(tooth, place) <= _REACH]
        near.sort(key=lambda tooth: (tooth != place, tooth))
        stands = standing_in(form)
        if stands not in ("", parts.NOBODY) and all(tooth.key != stands for tooth in near):
            near += [tooth for tooth in NORMAL if tooth.key == stands and tooth.upper == place.upper]
        field = form.fields["tooth"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            *((tooth.key, f"{tooth.written(self.shown)} / {tooth.written(self.other)}") for tooth in near),
            (parts.NOBODY, _("nobody")),
            ("", _("not recorded")),
        ]

    def _others(self) -> tuple[Column, ...]:
        extra = [tooth for tooth in self.facts_before.teeth if tooth.tooth.is_extra]
        columns = []
        for index in range(max(self.layout["others"], len(extra) if self.data is None else 0)):
            form = self._form(parts.OtherToothForm, f"other{index}", extra[index] if index < len(extra) else None)
            column = Column(None, form)
            name_fields(form, self._title(column) or _now("other tooth %(n)s") % {"n": index + 1})
            columns.append(column)
        return tuple(columns)

    def _lines(self, kind: type[parts.FactsForm], name: str, facts: tuple[Any, ...]) -> tuple[Any, ...]:
        count = self.layout[name]
        found = [
            self._form(kind, f"{name}{index}", facts[index] if index < len(facts) else None) for index in range(count)
        ]
        return tuple(found)

    def _heights(self) -> tuple[HeightForm, ...]:
        taken = self.facts_before.growth.height_mm
        found = []
        for index in range(self.layout["heights"]):
            initial = {"day": taken[index][0], "height": taken[index][1]} if index < len(taken) else {}
            found.append(HeightForm(self.data, prefix=f"heights{index}", initial=initial))
        return tuple(found)

    def _title(self, column: Column) -> str:
        """How a column is called: its tooth, and the place where that is another's."""
        stands = next((tooth for tooth in NORMAL if tooth.key == column.standing), None)
        if column.place is None:
            return self._typed_title(column.standing)
        number = column.place.written(self.shown)
        if stands is None or stands == column.place:
            return number
        return _now("%(tooth)s in %(place)s's place") % {"tooth": stands.written(self.shown), "place": number}

    def _typed_title(self, text: str) -> str:
        tooth = next((found for found in self._known_teeth(text)), None)
        return tooth.written(self.shown) if tooth else text

    def _known_teeth(self, text: str) -> Iterator[Tooth]:
        for read in (Tooth.from_key, partial(read_tooth, numbering=self.numbering)):
            try:
                yield read(text)
            except ValueError:
                continue

    @property
    def other(self) -> Numbering:
        """The numbering that is shown beside the form's own."""
        return Numbering.UNIVERSAL if self.shown is Numbering.ISO else Numbering.ISO

    def both(self, tooth: Tooth) -> str:
        """A tooth's number in the form's system, and in the other common one: ``13 (Universal 6)``."""
        return f"{tooth.written(self.shown)} ({self.other.printed} {tooth.written(self.other)})"

    # Reading

    def every_form(self) -> Iterator[forms.Form]:
        """Every part of the form, in the order of the page."""
        yield from (self.numbering_form, self.head)
        for column in (*self.upper, *self.lower, *self.others):
            yield column.form
            if column.gap is not None:
                yield column.gap
        yield from (self.every, *self.absent, *self.places, self.midline)
        yield from (*self.groups.values(), *self.heights)

    def check(self, person: mouth.Person, today: date) -> bool:
        """Read everything; True when there is no fault and no open question, and then ``facts`` are the facts."""
        for form in self.every_form():
            form.full_clean()
        raw = self._raw(today)
        try:
            facts = mouth.Examination.model_validate(raw)
        except ValidationError as error:
            for fault in faults_of(error, "docs/case-file.md"):
                self.refuse(f"examination.{fault.path}", fault.sentence)
            return False
        case = mouth.CaseFacts(case="examination", patient=person, examination=facts)
        for path, sentence in contradictions(case, today):
            self.refuse(path, sentence)
        self._ask(facts)
        if not any(form.errors for form in self.every_form()) and not self.open_questions:
            self.facts = facts
            return True
        return False

    def refuse(self, path: str, sentence: str) -> None:
        """Add a sentence at the field that ``path`` of a case file names, else at the head of the form."""
        form, field = self._at(path)
        said = _LINE.sub(lambda found: self._line_words(found[1], int(found[2])), sentence)
        form.add_error(field, said)

    def _line_words(self, name: str, index: int) -> str:
        lines = self._lines_of.get(name, [])
        return _now("the form under %(title)s") % {"title": lines[index].title} if index < len(lines) else name

    def _at(self, path: str) -> tuple[Any, str | None]:
        found = _PATH.fullmatch(path)
        if found is None:
            return self.head, "on" if path.startswith("patient.birth_date") else None
        name, index, field = found.groups()
        form: Any = self.groups.get(name)
        if index is not None and name in self._lines_of:
            form = self._lines_of[name][int(index)]
        elif form is None:
            field = name
            form = next((one for one in (self.head, self.midline) if name in one.fields), self.head)
        return form, self._field_of(form, field)

    def _field_of(self, form: Any, field: str | None) -> str | None:
        if field in form.fields:
            return field
        first = {"place": "tooth", "between": "width"}.get(field or "", field)
        return first if first in form.fields else None

    def _raw(self, today: date) -> dict[str, Any]:
        """The facts as plain values, with what could not be read left out, and which form each line came from."""
        lines: dict[str, list[parts.FactsForm]] = {"teeth": [], "gaps": [], "absent": [], "empty_places": []}
        self._lines_of = lines
        raw: dict[str, Any] = {"on": today, "by": ""} | self.head.values() | self.midline.values()
        raw["teeth"] = [
            *self._read_columns(self.upper, lines["teeth"]),
            *self._read_columns(self.lower, lines["teeth"]),
            *self._read_others(lines["teeth"]),
        ]
        raw["gaps"] = [*self._read_gaps(self.upper, lines["gaps"]), *self._read_gaps(self.lower, lines["gaps"])]
        raw["absent"] = list(self._read_absent(lines["absent"]))
        raw["empty_places"] = list(self._read_places(lines["empty_places"]))
        for name, form in self.groups.items():
            values = form.values()
            if values and "on" in form.fields:
                values.setdefault("on", raw["on"])
            raw[name] = values
        taken = [(form.cleaned_data.get("day"), form.cleaned_data.get("height")) for form in self.heights]
        raw["growth"]["height_mm"] = tuple((day, height) for day, height in taken if day and height)
        return raw

    def _read_columns(self, columns: tuple[Column, ...], lines: list[parts.FactsForm]) -> Iterator[dict[str, Any]]:
        every = self.every.values()
        for column in columns:
            data = column.form.cleaned_data
            standing = data.get("tooth") or ""
            values = column.form.values()
            measured = any(values.get(name) not in (None, False) for name in values if name != "tooth")
            if standing in ("", parts.NOBODY):
                if measured and "tooth" not in column.form.errors:
                    column.form.add_error("tooth", nobody_measured(column, self.shown))
                continue
            tooth = Tooth.from_key(standing)
            place = {} if tooth == column.place else {"place": column.place}
            column.form.title = self._title(column)
            lines.append(column.form)
            yield parts.columns_filled(values, every) | {"tooth": tooth} | place

    def _read_others(self, lines: list[parts.FactsForm]) -> Iterator[dict[str, Any]]:
        every = self.every.values()
        for column in self.others:
            tooth = column.form.cleaned_data.get("tooth")
            if tooth is None:
                if column.form.written() and "tooth" not in column.form.errors:
                    column.form.add_error("tooth", _now("Which tooth is this? Write its number, or empty the column."))
                continue
            column.form.title = tooth.written(self.shown)
            lines.append(column.form)
            yield parts.columns_filled(column.form.values(), every)

    def _read_gaps(self, columns: tuple[Column, ...], lines: list[parts.FactsForm]) -> Iterator[dict[str, Any]]:
        for group, (right, left) in gap_groups(columns):
            written = [form for form in group if form.written()]
            for form in written[1:]:
                form.add_error(
                    "width",
                    _now("Between %(right)s and %(left)s no tooth stands: write their distance once, as one gap.")
                    % {"right": self._title(right), "left": self._title(left)},
                )
            if not written:
                continue
            form = written[0]
            values = form.values()
            if "width" not in values:
                if "width" not in form.errors:
                    form.add_error("width", _now("The gap itself is missing: write it, or 0 where the teeth touch."))
                continue
            form.title = f"{self._title(right)} · {self._title(left)}"
            lines.append(form)
            yield values | {"between": (Tooth.from_key(right.standing), Tooth.from_key(left.standing))}
        self._refuse_lonely_gaps(columns)

    def _refuse_lonely_gaps(self, columns: tuple[Column, ...]) -> None:
        grouped = {form.prefix for group, _pair in gap_groups(columns) for form in group}
        for column in columns:
            if column.gap is not None and column.gap.prefix not in grouped and column.gap.written():
                column.gap.add_error(
                    "width", _now("A gap lies between two teeth: on one side of this one no tooth is recorded.")
                )

    def _read_absent(self, lines: list[parts.FactsForm]) -> Iterator[dict[str, Any]]:
        named: set[Tooth] = set()
        for form in self.absent:
            tooth = form.cleaned_data.get("tooth")
            if tooth is None:
                continue
            if tooth in named:
                form.add_error("tooth", _now("This tooth is there twice: keep one line."))
                continue
            named.add(tooth)
            lines.append(form)
            yield form.values()

    def _read_places(self, lines: list[parts.FactsForm]) -> Iterator[dict[str, Any]]:
        named: set[Tooth] = set()
        for form in self.places:
            place = form.cleaned_data.get("place")
            if place is None:
                continue
            if place in named:
                form.add_error("place", _now("This place is there twice: keep one line."))
                continue
            named.add(place)
            lines.append(form)
            yield form.values()
        for column in (*self.upper, *self.lower):
            if column.standing == parts.NOBODY and column.place not in named:
                lines.append(column.form)
                yield {"place": column.place}

    # Asking

    def _ask(self, facts: mouth.Examination) -> None:
        known = self.facts_before
        accepted = {words for _path, words in (*doubts(known), *_more_doubts(known))}
        ticks = set(self.data.getlist("right")) if self.data is not None else set()
        swapped = swapped_sides(facts, known)
        sides = [("examination.on", swapped)] if swapped else []
        asked = []
        for path, words in (*doubts(facts), *_more_doubts(facts), *sides):
            form, field = self._at(path)
            if field in form.errors:
                continue  # it is refused already
            question = Question(form, field or "on", words, False)
            asked.append(Question(form, field or "on", words, question.tick in ticks or words in accepted))
        self.questions = tuple(asked)

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """The questions that still wait for an answer."""
        return tuple(question for question in self.questions if not question.ticked)

    def not_recorded(self) -> tuple[Tooth, ...]:
        """Front teeth of which the form says neither that they are there nor that they are absent."""
        there = {column.standing for column in (*self.upper, *self.lower)}
        absent = {_number_of(form["tooth"].value()) for form in self.absent}
        absent |= {_number_of(column.form["double_with"].value()) for column in (*self.upper, *self.lower)}
        row = [column.place for column in self.upper if column.place is not None and column.place.position <= 3]
        return tuple(
            tooth for tooth in row if tooth.key not in there and not {tooth.key, tooth.written(self.shown)} & absent
        )


def _number_of(value: object) -> str:
    return value.key if isinstance(value, Tooth) else str(value or "").strip()


def _apart(tooth: Tooth, place: Tooth) -> int:
    return abs(tooth.arch_index - place.arch_index)


def _more_doubts(facts: mouth.Examination) -> Iterator[tuple[str, str]]:
    """Questions about how it was measured."""
    if facts.instrument == "film" and facts.film_factor_percent is None:
        yield (
            "examination.film_factor_percent",
            _now("Measured on a film, and by how much it enlarges is not said: every length may be too long."),
        )
