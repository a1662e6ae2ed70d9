"""Every gate in the data files, whichever they are: each level answers, a blank asks, and what is too old asks.

The facts are handed to the engine one by one, so that a gate that is added tomorrow is tested by being there.
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from planner.rules import gate_engine
from planner.rules.courses import Course, Work
from planner.rules.gate_engine import GateBook, ask, gate_book, look
from planner.rules.gate_facts import Datum, Situation, Subject
from planner.rules.gate_rules import Criterion, Gate, Level
from planner.rules.gates import own_gates, traits_of
from planner.rules.treatments import all_treatments
from planner.rules.verdicts import Reason, Verdict
from tests.rules.cases import TODAY, iso, lead_facts, office

CATALOGUE = all_treatments()
TRAITS = traits_of(CATALOGUE)
BOOK: GateBook = gate_book()


def _every() -> Iterator[tuple[Gate, str]]:
    for gate in BOOK.gates:
        level_treatments = [name for level in gate.levels for name in level.treatments]
        names = gate.treatments or tuple(level_treatments) or ("bonding",)
        known = [key for name in names for key in sorted(TRAITS.get(name, {name})) if key in CATALOGUE]
        yield gate, known[0]
    for key, treatment in CATALOGUE.items():
        for gate in own_gates(key, treatment):
            yield gate, key


EVERY = list(_every())
IDS = [gate.id for gate, _ in EVERY]
each_gate = pytest.mark.parametrize(("gate", "key"), EVERY, ids=IDS)


def situation(*keys: str, today: date = TODAY) -> Situation:
    """A course with work of every kind, so that each scope finds somebody to ask about."""
    work = tuple(
        Work(key, tooth, fills_place=fills)
        for key in keys
        for tooth, fills in ((iso("11"), False), (iso("22"), False), (iso("12"), True))
    )
    course = Course("x", keys, work, gaps_closed=((iso("11"), iso("21")),), places_filled=(iso("12"),))
    return Situation(course, lead_facts(), office(), today, BOOK.settings, TRAITS)


def meeting(criterion: Criterion) -> Any:
    """A value that meets every bound of a criterion."""
    if criterion.equals is not None:
        return criterion.equals
    if criterion.one_of:
        return criterion.one_of[0]
    step = Decimal("0.1") if criterion.bound is not None and criterion.bound % 1 else Decimal(1)
    if criterion.above is not None:
        return criterion.above + step
    if criterion.at_least is not None:
        return criterion.at_least
    if criterion.below is not None:
        return criterion.below - step
    return criterion.at_most if criterion.at_most is not None else True


def told(monkeypatch: pytest.MonkeyPatch, values: dict[str, Any]) -> None:
    """Let the engine see these facts and take the rest from the lead case."""

    def fake(about: Situation, path: str, subject: Subject) -> Datum:
        if path not in values:
            return look(about, path, subject)
        value = values[path]
        if isinstance(value, Decimal):
            value = int(value * 10) if BOOK.data[path].tenths else value if value % 1 else int(value)
        return Datum(path, value)

    monkeypatch.setattr(gate_engine, "look", fake)


def conditions(gate: Gate, level: Level | None) -> dict[str, Any]:
    """Facts that make the gate's and one level's conditions hold."""
    every = [*gate.when, *(level.when if level else ())]
    return {condition.looks_at: meeting(condition) for condition in every}


@each_gate
def test_a_blank_asks_by_name(gate: Gate, key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    told(monkeypatch, conditions(gate, None) | {gate.looks_at: None})
    answers = ask(gate, situation(key), BOOK, frozenset({key})).reasons
    if gate.missing == "pass":
        assert answers == ()
        assert len(gate.missing_why) > 20
        return
    assert [reason.verdict for reason in answers] == [Verdict.ASK]
    assert BOOK.data[gate.looks_at].words in answers[0].words
    assert "not recorded" in answers[0].datum


@each_gate
def test_a_blank_condition_asks_too(gate: Gate, key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for condition in gate.when:
        told(monkeypatch, conditions(gate, None) | {gate.looks_at: True, condition.looks_at: None})
        answers = ask(gate, situation(key), BOOK, frozenset({key})).reasons
        if condition.unknown == "skip":
            assert answers == ()
            continue
        assert [reason.verdict for reason in answers] == [Verdict.ASK]
        assert BOOK.data[condition.looks_at].words in answers[0].words
    for level in gate.levels:
        for condition in level.when:
            blank = conditions(gate, level) | {gate.looks_at: meeting(level), condition.looks_at: None}
            told(monkeypatch, blank)
            answers = _of_level(gate, key, level)
            assert answers, f"{gate.id}: a blank {condition.looks_at} was let through"


def _of_level(gate: Gate, key: str, level: Level) -> tuple[Reason, ...]:
    names = level.treatments or (key,)
    keys = [found for name in names for found in sorted(TRAITS.get(name, {name})) if found in CATALOGUE]
    other = [found for found in keys if found not in {k for n in level.but_not for k in TRAITS.get(n, {n})}]
    chosen = key if not level.treatments or key in other else other[0]
    return ask(gate, situation(chosen), BOOK, frozenset({chosen})).reasons


@each_gate
def test_each_level_can_answer(gate: Gate, key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for level in gate.levels:
        told(monkeypatch, conditions(gate, level) | {gate.looks_at: meeting(level)})
        answers = _of_level(gate, key, level)
        assert answers, f"{gate.id} says nothing at {meeting(level)}"
        assert answers[0].verdict.severity >= level.verdict.severity
        assert answers[0].words[0].isupper() or answers[0].words[0].isdecimal()
        assert answers[0].words.endswith(".")
        assert "{" not in answers[0].words
        assert answers[0].source == gate.source
        assert answers[0].certainty == gate.certainty
        assert answers[0].datum


@each_gate
def test_too_old_is_asked_again(gate: Gate, key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = BOOK.data[gate.looks_at].shelf
    if not shelf or key == "none":  # leaving the teeth as they are waits for no finding, however old
        return
    value = meeting(gate.levels[0]) if gate.levels else date(2026, 2, 1)
    level = gate.levels[0] if gate.levels else None
    told(monkeypatch, conditions(gate, level) | {gate.looks_at: value})
    facts = {"history.hba1c_on": "2026-02-01"}
    fresh, later = situation(key), situation(key, today=date(2031, 1, 1))
    object.__setattr__(fresh, "facts", lead_facts(facts))
    object.__setattr__(later, "facts", lead_facts(facts))
    assert ask(gate, fresh, BOOK, frozenset({key})).too_old == ()
    answer = ask(gate, later, BOOK, frozenset({key}))
    assert shelf in dict(answer.too_old)
    assert all(reason.verdict is not Verdict.NO for reason in answer.reasons)


def test_every_shelf_and_fact_is_in_use() -> None:
    used = {name for gate, _ in EVERY for name in gate.data()}
    shorter = {shelf.shorter_when.looks_at for shelf in BOOK.shelves.values() if shelf.shorter_when}
    assert set(BOOK.data) == used | shorter
    assert set(BOOK.shelves) == {words.shelf for words in BOOK.data.values()} - {""}


def test_every_treatment_but_doing_nothing_has_gates_of_its_own() -> None:
    without = [key for key, treatment in CATALOGUE.items() if not own_gates(key, treatment)]
    assert without == ["none"]
    for key, treatment in CATALOGUE.items():
        assert all(gate.id.startswith(f"{key}.") for gate in own_gates(key, treatment))


def test_levels_name_treatments_or_flags_that_exist() -> None:
    later = {"gum-line", "extraction", "acrylic", "metal"}  # named before the catalogue has them
    for gate, _ in EVERY:
        for name in (*gate.treatments, *(name for level in gate.levels for name in level.treatments)):
            assert name in CATALOGUE or name in TRAITS or name in later, f"{gate.id} names {name}"


def test_numbers_without_a_source_say_so() -> None:
    for gate, _ in EVERY:
        if gate.certainty == "common practice":
            assert "common practice" in gate.source or "debated" in gate.source
