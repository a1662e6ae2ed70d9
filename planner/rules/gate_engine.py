"""How a gate is put to a case: whom it asks about, what it sees, what it answers.

:func:`gate_book` reads ``data/gates.toml`` once: the general gates, the plain words, unit and shelf of every fact a
gate may look at, and how long each shelf keeps. :func:`ask` puts one gate to one situation.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from typing import Any, Literal

from pydantic import TypeAdapter

from planner.rules import gate_derived, gate_teeth
from planner.rules.evidence import DATA, read_toml
from planner.rules.gate_facts import MOUTH, Datum, Situation, Subject, Value, add_months, plain
from planner.rules.gate_names import DERIVED
from planner.rules.gate_rules import Condition, Form, Gate, GateError, Level, read_gates
from planner.rules.settings import read_settings
from planner.rules.teeth import Tooth
from planner.rules.verdicts import Reason, Verdict
from planner.rules.words import decimal, either, the, told


class DataWords(Form):
    """What a fact is called, its unit, and the shelf that says how long it keeps."""

    words: str
    words_es: str = ""
    unit: str = ""
    tenths: bool = False
    """The value is kept in tenths of the unit."""
    shelf: str = ""


class Shelf(Form):
    """How long a group of facts keeps, counted from one date."""

    words: str
    words_es: str = ""
    dated: str
    """The date in the case file; ``pictures`` is the last picture in which the root in question was read."""
    months: int
    shorter_months: int | None = None
    shorter_when: Condition | None = None
    source: str
    certainty: str


class CodedGate(Form):
    """A general gate whose test is written in code; the file carries its words for the reader and its source."""

    id: str
    means: str
    tag: Literal["S", "T", "D"]
    source: str
    certainty: str


@dataclass(frozen=True, slots=True)
class GateBook:
    """Everything that ``data/gates.toml`` holds."""

    gates: tuple[Gate, ...]
    coded: Mapping[str, CodedGate]
    data: Mapping[str, DataWords]
    shelves: Mapping[str, Shelf]
    settings: Mapping[str, int]


@cache
def gate_book() -> GateBook:
    """The shipped general gates, read once. Raises GateError when the file is not of its form."""
    return parse_gate_book(read_toml(DATA / "gates.toml"))


def parse_gate_book(tables: Mapping[str, Any]) -> GateBook:
    """The gate book in ``tables`` as TOML gave them. Raises GateError for a gate or table that is not of the form."""
    data = TypeAdapter(dict[str, DataWords]).validate_python(tables["data"])
    shelves = TypeAdapter(dict[str, Shelf]).validate_python(tables["shelf"])
    coded = {row.id: row for row in TypeAdapter(tuple[CodedGate, ...]).validate_python(tables["coded"])}
    gates = read_gates(tables["gates"], "gates.toml")
    settings = {name: int(setting.value) for name, setting in read_settings("gates.toml").items()}
    unknown = sorted({words.shelf for words in data.values() if words.shelf} - shelves.keys())
    if unknown:
        raise GateError(f"gates.toml: no shelf is called {', '.join(unknown)}")
    check_data(gates, data, "gates.toml")
    return GateBook(gates, coded, data, shelves, settings)


def check_data(gates: Iterable[Gate], data: Mapping[str, DataWords], where: str) -> None:
    """Raise GateError when a gate looks at a fact that is not listed under ``[data]``."""
    for gate in gates:
        for name in gate.data():
            if name not in data:
                raise GateError(f'{where}: gate "{gate.id}" looks at "{name}", which [data] of gates.toml leaves out')


_WORKED_OUT = (gate_derived, gate_teeth)
"""The modules whose loading fills the table of derived facts."""


def look(situation: Situation, path: str, subject: Subject) -> Datum:
    """The fact called ``path``, worked out or as recorded. Raises LookupError when there is no such fact."""
    function = DERIVED.get(path)
    return function(situation, subject) if function else plain(situation, path, subject)


@dataclass(frozen=True, slots=True)
class Answer:
    """What one gate says about a case: its reasons, and the shelves of which it used something too old."""

    reasons: tuple[Reason, ...]
    too_old: tuple[tuple[str, date], ...] = ()
    """Shelf, and the last day on which it was still good."""


@dataclass(frozen=True, slots=True)
class _Finding:
    """One subject's outcome before findings alike are put into one sentence."""

    subject: Subject
    seen: tuple[Datum, ...]
    level: Level | None
    missing: str = ""
    """Name of the fact that is missing, when that is the outcome."""
    also: str = ""


class _Look:
    """One subject under one gate: reads facts, remembers what was seen and what is too old."""

    def __init__(self, situation: Situation, book: GateBook, subject: Subject) -> None:
        self.situation = situation
        self.book = book
        self.subject = subject
        self.seen: dict[str, Datum] = {}
        self.too_old: dict[str, date] = {}

    def value(self, name: str) -> Value | None:
        """The value of a fact in the unit of the limits; None when it is missing, or has a shelf and no date."""
        datum = look(self.situation, name, self.subject)
        words = self.book.data[name]
        value = datum.value
        if value is not None and words.shelf:
            good_until = self._good_until(words.shelf)
            if good_until is None:
                value = None
            elif good_until < self.situation.today:
                self.too_old[words.shelf] = good_until
        if words.tenths and isinstance(value, int):
            value = Decimal(value).scaleb(-1)
        self.seen[name] = Datum(datum.path, value)
        return value

    def _good_until(self, name: str) -> date | None:
        shelf = self.book.shelves[name]
        found = _dated(self.situation, shelf.dated, self.subject)
        if found is None:
            return None
        months = shelf.months
        shorter = shelf.shorter_when
        if shorter is not None and shelf.shorter_months is not None:
            value = look(self.situation, shorter.looks_at, self.subject).value
            if value is None or shorter.holds(value):
                months = shelf.shorter_months
        return add_months(found, months)

    def holds(self, conditions: Iterable[Condition]) -> bool | str:
        """Whether all conditions hold, or the name of the first fact that has to be asked for."""
        asked = ""
        for condition in conditions:
            value = self.value(condition.looks_at)
            if value is None and condition.unknown == "ask":
                asked = asked or condition.looks_at
            elif (value is None and condition.unknown == "skip") or (value is not None and not condition.holds(value)):
                return False
        return asked or True


def _dated(situation: Situation, dated: str, subject: Subject) -> date | None:
    if dated == "pictures":
        days = [picture.on for picture in situation.facts.pictures if subject.tooth in picture.roots_of]
        found: Value | None = max(days, default=None)
    else:
        found = plain(situation, dated, MOUTH).value
        if found is None and dated.startswith("examination."):
            # A part of the examination without a date of its own was found on the day of the examination.
            found = situation.facts.examination.on
    # A finding from tomorrow is a slip, and a slip has no date.
    return found if isinstance(found, date) and found <= situation.today else None


def ask(gate: Gate, situation: Situation, book: GateBook, treatments: frozenset[str]) -> Answer:
    """Put ``gate`` to the situation, about ``treatments`` of the course."""
    nothing = situation.is_nothing()
    findings: list[_Finding] = []
    too_old: dict[str, date] = {}
    for subject in subjects(gate, situation, treatments):
        view = _Look(situation, book, subject)
        finding = _judged(gate, view)
        if finding is not None and not (nothing and finding.level is None):
            findings.append(finding)
        if not nothing:
            too_old |= view.too_old
    groups: dict[tuple[int | None, str], list[_Finding]] = {}
    for finding in findings:
        place = None if finding.level is None else gate.levels.index(finding.level)
        groups.setdefault((place, finding.missing), []).append(finding)
    reasons = tuple(_reason(gate, group, situation, book, bool(too_old)) for group in groups.values())
    return Answer(reasons, tuple(sorted(too_old.items())))


def subjects(gate: Gate, situation: Situation, treatments: frozenset[str]) -> tuple[Subject, ...]:
    """Whom a gate asks about in this course."""
    if situation.is_nothing() and gate.scope in ("tooth", "named tooth", "touched tooth"):
        return tuple(Subject(tooth, treatments=treatments) for tooth in situation.recorded())
    if gate.scope == "mouth":
        return (Subject(treatments=treatments),)
    if gate.scope == "gap":
        return tuple(Subject(gap=pair, treatments=treatments) for pair in situation.course.gaps_closed)
    teeth: Mapping[str, Callable[[], tuple[Tooth, ...]]] = {
        "tooth": lambda: situation.recorded() if situation.whole_arch(treatments) else situation.worked(treatments),
        "named tooth": lambda: situation.worked(treatments),
        "touched tooth": lambda: situation.touched(treatments),
        "any tooth": situation.recorded,
        "smile tooth": lambda: tuple(
            dict.fromkeys((*situation.recorded(), *situation.facts.examination.colour.restorations_in_smile))
        ),
        "place": lambda: situation.filled(treatments),
        "neighbour": lambda: tuple(
            dict.fromkeys(
                tooth
                for place in situation.filled(treatments)
                for tooth in situation.beside(place, after_movement=True)
            )
        ),
        "lateral player": lambda: gate_teeth.lateral_players(situation, treatments),
    }
    return tuple(Subject(tooth, treatments=treatments) for tooth in teeth[gate.scope]())


def _judged(gate: Gate, view: _Look) -> _Finding | None:
    apply = view.holds(gate.when)
    if apply is False:
        return None
    if isinstance(apply, str):
        return _Finding(view.subject, (view.seen[apply],), None, missing=apply)
    value = view.value(gate.looks_at)
    if value is None:
        if gate.missing == "pass":
            return None
        return _Finding(view.subject, (view.seen[gate.looks_at],), None, missing=gate.looks_at)
    for level in gate.levels:
        meant = expand(level.treatments, view.situation) - expand(level.but_not, view.situation)
        if level.treatments and view.subject.treatments.isdisjoint(meant):
            continue
        if not level.holds(value):
            continue
        more = view.holds(level.when)
        if isinstance(more, str):
            return _Finding(view.subject, (view.seen[more],), None, missing=more)
        if more:
            also = str(look(view.situation, level.also, view.subject).value) if level.also else ""
            names = (gate.looks_at, *(condition.looks_at for condition in level.when))
            return _Finding(view.subject, tuple(view.seen[name] for name in names), level, also=also)
    return None


def expand(names: Iterable[str], situation: Situation) -> frozenset[str]:
    """Treatments named by key or by a flag of the catalogue, as keys."""
    return frozenset(key for name in names for key in situation.traits.get(name, frozenset({name})))


def _reason(gate: Gate, group: list[_Finding], situation: Situation, book: GateBook, old: bool) -> Reason:
    first = group[0]
    seen = dict.fromkeys(datum for finding in group for datum in finding.seen)
    datum = "; ".join(f"{each.path} = {written(each.value)}" for each in seen)
    who = _who(group, situation)
    common = Reason(gate.id, Verdict.ASK, "", datum, source=gate.source, certainty=gate.certainty)
    level = first.level
    private = any(each.private for each in gate.levels)
    if level is None:
        asked = book.data[first.missing]
        what = either(asked.words, asked.words_es)
        words = told("Not known yet: {what}, at {teeth}." if who else "Not known yet: {what}.", what=what, teeth=who)
        return replace(common, words=words, private=private)
    limit = _with_unit(level.bound, book.data[gate.looks_at])
    sentence = either(
        level.words,
        level.words_es,
        value=_said(first, gate, book),
        limit=limit,
        teeth=who,
        each="; ".join(f"{_who([finding], situation)}: {_said(finding, gate, book)}" for finding in group),
        also=first.also,
    )
    if situation.is_nothing():
        care = still_needs_care(_none_words(gate, who))
        return replace(common, verdict=Verdict.CARE, words=care, private=private)
    verdict = level.verdict
    if old and verdict is Verdict.NO:
        # What is too old cannot rule anything out either.
        verdict = Verdict.ASK
    return replace(
        common,
        verdict=verdict,
        words=sentence,
        earliest=_earliest(level, first.subject, situation) if verdict is Verdict.WAIT else None,
        missing_step=either(level.step, level.step_es, limit=limit),
        private=level.private,
        never_overridable=level.never_overridable,
        second_dentist=level.second_dentist,
    )


def still_needs_care(finding: str) -> str:
    """What is said of a finding where nothing is done for the looks."""
    return told(
        "No cosmetic treatment is a fair choice. This finding still needs care: {finding}",
        finding=finding,
    )


def _none_words(gate: Gate, who: str) -> str:
    return either(gate.none_words, gate.none_words_es, teeth=who)


def _earliest(level: Level, subject: Subject, situation: Situation) -> date | None:
    if level.earliest_days is None:
        return None
    start: Value | None = situation.today
    if level.earliest_from:
        start = look(situation, level.earliest_from, subject).value
    if not isinstance(start, date):
        return None
    return max(situation.today, start + timedelta(days=level.earliest_days))


def _who(group: Iterable[_Finding], situation: Situation) -> str:
    names: dict[str, None] = {}
    for finding in group:
        if finding.subject.tooth is not None:
            names[the(situation.label(finding.subject.tooth))] = None
        elif finding.subject.gap is not None:
            names[told(" and ").join(the(situation.label(tooth)) for tooth in finding.subject.gap)] = None
    return "; ".join(names)


def _said(finding: _Finding, gate: Gate, book: GateBook) -> str:
    return _with_unit(finding.seen[0].value, book.data[gate.looks_at])


def _with_unit(value: Value | None, words: DataWords) -> str:
    if value is None:
        return ""
    text = f"{value:.1f}" if isinstance(value, Decimal) and words.tenths else written(value)
    unit = words.unit.removesuffix("s") if value == 1 and words.unit in ("days", "years") else words.unit
    if isinstance(value, Decimal):
        text = decimal(text)
    return f"{text} {told(unit)}" if unit else text


_FINEST = Decimal("0.001")
"""A ratio is printed with three decimals; it is held against its limit unrounded."""


def written(value: Value | None) -> str:
    """A value as the case file would write it."""
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal) and value % _FINEST:
        value = value.quantize(_FINEST, ROUND_HALF_UP)
    return str(value)
