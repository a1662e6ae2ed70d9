"""Mouths nobody thought of: the lead case mutated, one change upon another, within what the schema lets through.

Whatever comes out, a record is either refused with sentences or planned; a plan survives being frozen; and nothing is
offered while a fact that one of its gates needs is missing. What the gates need is read from the data files here and
looked up in the plain facts, without the engine that judges.
"""

import os
from collections.abc import Callable, Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.casefile import CaseFileError, validate_case
from planner.rules.frozen import thaw
from planner.rules.gate_engine import gate_book
from planner.rules.gate_rules import Gate
from planner.rules.gates import own_gates, traits_of
from planner.rules.mouth import CaseFacts, ToothFacts
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan, OptionShape
from planner.rules.teeth import EXTRA, NORMAL, UPPER_PERMANENT, UPPER_PRIMARY, Tooth
from planner.rules.treatments import all_treatments
from planner.rules.typed_files import Fault
from planner.rules.verdicts import Verdict
from tests.rules.test_casefile import TODAY, lead

ROOT = Path(__file__).resolve().parents[2]
MOUTHS = int(os.environ.get("LEASTWAYS_MOUTHS", "50"))
"""Others each time; ``make soak`` tries thousands."""
Data = dict[str, Any]
Change = Callable[[Data], None]


@pytest.fixture(scope="module")
def book() -> OfficeBook:
    return load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), TODAY)


# ---------------------------------------------------------------- changes


def _branches(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every place in a case that can be left out: its container and its key or index."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield value, key
        yield from _branches(inner)


def _drop(place: int) -> Change:
    def change(data: Data) -> None:
        places = list(_branches(data))
        container, key = places[place % len(places)]
        del container[key]

    return change


def _put(value: Any, *where: str | int) -> Change:
    def change(data: Data) -> None:
        inner: Any = data
        for step in where[:-1]:
            inner = inner[step % len(inner)] if isinstance(step, int) else inner.setdefault(step, {})
        inner[where[-1]] = value

    return change


def _mm(tenths: int) -> str:
    return f"{'-' if tenths < 0 else ''}{abs(tenths) // 10}.{abs(tenths) % 10}"


_LENGTHS = st.one_of(st.integers(-3, 160), st.sampled_from((0, 1, 2, 3, 10, 50, 99_999))).map(_mm)
_NUMBERS = st.one_of(st.integers(0, 100), st.sampled_from((-1, 300)))
_DAYS = st.one_of(st.dates(), st.integers(-800, 400).map(lambda days: TODAY.fromordinal(TODAY.toordinal() + days))).map(
    str
)
_FLAGS = st.sampled_from((True, False, None))
_ISO = st.sampled_from([tooth.iso for tooth in NORMAL])
_ANY = st.sampled_from([tooth.iso for tooth in (*NORMAL, *EXTRA)])


def _fields(model: type[BaseModel], kinds: tuple[str, ...]) -> list[str]:
    return [name for name, field in model.model_fields.items() if any(kind in str(field.annotation) for kind in kinds)]


_TOOTH = st.integers(0, 5)
_TOOTH_CHANGES = st.one_of(
    st.tuples(_LENGTHS, _TOOTH, st.sampled_from(("width", "length", "neck_width", "contact_height", "exposed_neck"))),
    st.tuples(_LENGTHS, _TOOTH, st.sampled_from(("edge_removed_before", "edge_thickness", "wing_enamel_height"))),
    st.tuples(_NUMBERS, _TOOTH, st.sampled_from(("pocket", "mobility", "wear", "sensitivity", "enamel_percent"))),
    st.tuples(_FLAGS, _TOOTH, st.sampled_from(_fields(ToothFacts, ("bool",)))),
    st.tuples(st.sampled_from(("responds", "negative", "unclear", None)), _TOOTH, st.just("nerve")),
    st.tuples(st.sampled_from(("central", "lateral", "canine", "premolar", None)), _TOOTH, st.just("role")),
    st.tuples(_ISO, _TOOTH, st.just("place")),
    st.tuples(_ANY, _TOOTH, st.just("tooth")),
).map(lambda drawn: _put(drawn[0], "examination", "teeth", drawn[1], drawn[2]))
_GAP_CHANGES = st.one_of(
    st.tuples(_LENGTHS, st.integers(0, 4), st.just("width")),
    st.tuples(_FLAGS, st.integers(0, 4), st.sampled_from(("new_or_growing", "may_stay"))),
    st.tuples(st.sampled_from(("tight", "film", None)), st.integers(0, 4), st.just("film")),
    st.tuples(st.tuples(_ANY, _ANY).map(list), st.integers(0, 4), st.just("between")),
).map(lambda drawn: _put(drawn[0], "examination", "gaps", drawn[1], drawn[2]))
_LISTS = st.one_of(
    st.tuples(
        st.lists(
            st.fixed_dictionaries(
                {"place": _ISO},
                optional={
                    "crown_distance": _LENGTHS,
                    "root_distance": _LENGTHS,
                    "ridge_thickness": _LENGTHS,
                    "height_to_bite": _LENGTHS,
                    "measured_with": st.sampled_from(("caliper", "scan", "film")),
                },
            ),
            max_size=3,
        ),
        st.just("empty_places"),
    ),
    st.tuples(
        st.lists(
            st.fixed_dictionaries(
                {"tooth": _ANY},
                optional={
                    "cause": st.sampled_from(("never formed", "lost", "not erupted", "presumed")),
                    "lost_on": _DAYS,
                    "felt": _FLAGS,
                    "localised": _FLAGS,
                },
            ),
            max_size=3,
        ),
        st.just("absent"),
    ),
).map(lambda drawn: _put(drawn[0], "examination", drawn[1]))
_LOCKS = st.lists(
    st.one_of(
        st.builds(
            lambda tooth, what, value: {"tooth": tooth, "what": what, "value": value, "reason": "x", "by": "y"},
            st.sampled_from(("53", "13", "11", "21", "22", "23")),
            st.sampled_from(("mesial share", "distal share", "width", "length", "shorten", "lengthen", "untouched")),
            _LENGTHS,
        ),
        st.builds(
            lambda pair, value: {"between": pair, "what": "gap left", "value": value, "reason": "x", "by": "y"},
            st.sampled_from((["53", "13"], ["11", "21"], ["22", "23"])),
            _LENGTHS,
        ),
    ),
    max_size=3,
).map(lambda locks: _put(locks, "choices", "locks"))
_REST = st.one_of(
    st.tuples(_DAYS, st.sampled_from((("patient", "birth_date"), ("examination", "on"), ("limits", "wish_by")))),
    st.tuples(_DAYS, st.sampled_from((("history", "signed_on"), ("history", "due_on"), ("history", "hba1c_on")))),
    st.tuples(_DAYS, st.sampled_from(("last_whitening_night", "on"))).map(
        lambda d: (d[0], ("examination", "colour", d[1]))
    ),
    st.tuples(_DAYS, st.just(("examination", "orthodontics", "removed_on"))),
    st.tuples(st.sampled_from(("none", "in treatment", "finished")), st.just(("examination", "orthodontics", "state"))),
    st.tuples(_FLAGS, st.sampled_from([("history", name) for name in ("pregnant", "diabetes", "latex", "asthma")])),
    st.tuples(_NUMBERS, st.sampled_from((("limits", "visits"), ("limits", "months"), ("limits", "teeth_reduced")))),
    st.tuples(
        _LENGTHS, st.sampled_from((("limits", "removal"), ("limits", "money"), ("examination", "midline_offset")))
    ),
    st.tuples(st.sampled_from(("no", "suspected", "confirmed")), st.just(("examination", "bite", "grinding"))),
    st.tuples(st.sampled_from(("woman", "man", None)), st.just(("patient", "sex"))),
    st.tuples(
        st.lists(st.tuples(_DAYS, st.integers(400, 2500)).map(list), max_size=3),
        st.just(("examination", "growth", "height_mm")),
    ),
    st.tuples(st.lists(_DAYS, max_size=3), st.just(("examination", "growth", "skull_films"))),
).map(lambda drawn: _put(drawn[0], *drawn[1]))


@st.composite
def _arches(draw: st.DrawFn) -> Change:
    """The whole row replaced: 2 to 12 upper teeth, some of them baby teeth, some doubled, some out of place."""
    first = draw(st.integers(0, 12))
    row = list(UPPER_PERMANENT[first : first + draw(st.integers(2, 12))])
    places: list[Tooth | None] = [None] * len(row)
    for index, tooth in enumerate(row):
        if tooth.position <= 5 and draw(st.integers(0, 5)) == 0:
            row[index] = next(baby for baby in UPPER_PRIMARY if baby.arch_index == tooth.arch_index)
        elif index > 0 and draw(st.integers(0, 7)) == 0:
            places[index] = row[index - 1] if draw(st.booleans()) else row[index].twin
    widths = draw(st.lists(st.integers(40, 100), min_size=len(row), max_size=len(row)))
    gaps = draw(st.lists(st.sampled_from((0, 0, 0, 1, 2, 3, 5, 8, 15, 40)), min_size=len(row), max_size=len(row)))
    doubled = draw(st.integers(0, 30))

    def change(data: Data) -> None:
        sound = data["examination"]["teeth"][-1] if data["examination"]["teeth"] else {}
        data["examination"]["teeth"] = [
            {
                **deepcopy(sound),
                "tooth": tooth.iso,
                "width": _mm(width),
                "length": "9.5",
                "double": index == doubled,
                **({"place": place.iso} if place else {}),
            }
            for index, (tooth, place, width) in enumerate(zip(row, places, widths, strict=True))
        ]
        data["examination"]["gaps"] = [
            {"between": [one.iso, two.iso], "width": _mm(gap), "new_or_growing": False, "contact_to_bone": "4.0"}
            for one, two, gap in zip(row, row[1:], gaps, strict=False)
        ]
        data["choices"] = {}

    return change


_CHANGES = st.one_of(st.integers(0, 10_000).map(_drop), _TOOTH_CHANGES, _GAP_CHANGES, _LISTS, _LOCKS, _REST)
_FIRST = st.one_of(st.just(lambda data: None), _arches())


@st.composite
def mutated(draw: st.DrawFn) -> Data:
    """The lead case with a few changes; one that no longer finds its place is left out."""
    data = lead()
    for change in (draw(_FIRST), *draw(st.lists(_CHANGES, max_size=4))):
        try:
            change(data)
        except (LookupError, TypeError, AttributeError, ZeroDivisionError):
            continue
    return data


# ---------------------------------------------------------------- what must hold


def _needed(option: OptionShape) -> Iterator[tuple[Gate, frozenset[str]]]:
    """The gates that bear on an option whatever else is found, with the treatments they are about."""
    catalogue = all_treatments()
    traits = traits_of(catalogue)
    planned = frozenset(option.treatments)
    for gate in gate_book().gates:
        meant = {key for name in gate.treatments for key in traits.get(name, {name})}
        if not gate.treatments or planned & meant:
            yield gate, frozenset(planned & meant) or planned
    for key in option.treatments:
        for gate in own_gates(key, catalogue[key]):
            yield gate, frozenset({key})


def _missing(option: OptionShape, facts: CaseFacts) -> Iterator[str]:
    for gate, about in _needed(option):
        if gate.when or gate.missing == "pass":
            continue
        head, _, name = gate.looks_at.partition(".")
        if head in ("history", "examination"):
            value: Any = facts
            for part in gate.looks_at.split("."):
                value = getattr(value, part)
            if value is None:
                yield f"{gate.id}: {gate.looks_at}"
        if head == "tooth" and name in ToothFacts.model_fields and name not in ("decay", "pocket"):
            # Those two may be told by the whole mouth's record instead.
            for line in option.work:
                if line.tooth is None or line.treatment not in about:
                    continue
                found = facts.tooth(line.tooth)
                if found is None or getattr(found, name) is None:
                    yield f"{gate.id}: {name} of {line.tooth}"


def _read(data: Data) -> CaseFacts | tuple[Fault, ...]:
    try:
        return validate_case(data, TODAY)
    except CaseFileError as error:
        return error.faults


def _check(data: Data, book: OfficeBook) -> CasePlan | None:
    found = _read(data)
    if not isinstance(found, CaseFacts):
        assert found
        assert all(fault.sentence.strip() for fault in found)
        return None
    facts = found
    plan = plan_case(facts, book, TODAY)
    frozen = plan.to_json()
    again = thaw(frozen)
    assert again == plan
    assert again.to_json() == frozen
    assert plan.options[0].key == "none"
    for option in plan.options:
        if option.verdict is Verdict.OFFER and option.key != "none":
            assert not list(_missing(option, facts)), option.key
    return plan


@given(data=mutated())
@settings(max_examples=MOUTHS, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_refused_in_sentences_or_planned_with_nothing_offered_on_a_blank(data: Data, book: OfficeBook) -> None:
    _check(data, book)
