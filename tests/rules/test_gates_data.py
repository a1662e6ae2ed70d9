"""Gates as data: their form, what blanks and old facts do to every one of them, and the words they print."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.courses import Course, Work
from planner.rules.gate_engine import gate_book, parse_gate_book
from planner.rules.gate_facts import add_months
from planner.rules.gate_rules import GateError, read_gates
from planner.rules.gates import judge, own_gates
from planner.rules.mouth import CaseFacts
from planner.rules.treatments import all_treatments
from planner.rules.verdicts import Verdict, worst
from tests.rules.cases import COURSES, TODAY, change, day, found, iso, lead_data, lead_facts, office, reasons, the

CATALOGUE = all_treatments()
CARE, WAIT, ASK, NO = Verdict.CARE, Verdict.WAIT, Verdict.ASK, Verdict.NO
WOMAN = {"patient.sex": "woman"}


@given(start=st.dates(date(1990, 1, 1), date(2090, 1, 1)), months=st.integers(0, 60))
def test_months_end_on_the_same_day_or_the_last(start: date, months: int) -> None:
    end = add_months(start, months)
    assert (end.year * 12 + end.month) - (start.year * 12 + start.month) == months
    assert end.day == start.day or (end.day < start.day and date.fromordinal(end.toordinal() + 1).day == 1)


# ---------------------------------------------------------------- missing and too old


def test_too_old_names_the_shelf_and_since_when() -> None:
    fresh = reasons("bonding", {"examination.gums.on": "2025-09-02"})
    assert found("shelf.gums", fresh) is None
    old = the("shelf.gums", reasons("bonding", {"examination.gums.on": "2025-09-01"}))
    assert old.verdict is ASK
    assert "2026-03-01" in old.words
    assert "examination.gums.on = 2025-09-01" in old.datum


def test_gums_once_treated_keep_half_as_long() -> None:
    treated = {"examination.gums.ever_treated_for_gum_disease": True}
    assert found("shelf.gums", reasons("bonding", treated | {"examination.gums.on": "2025-12-02"})) is None
    assert found("shelf.gums", reasons("bonding", treated | {"examination.gums.on": "2025-12-01"})) is not None


def test_history_keeps_a_year() -> None:
    assert found("shelf.history", reasons("bonding", {"history.signed_on": "2025-03-02"})) is None
    assert found("shelf.history", reasons("bonding", {"history.signed_on": "2025-03-01"})) is not None


def test_a_finding_from_tomorrow_is_no_finding() -> None:
    assert worst(reasons("bonding", {"history.signed_on": str(day(1))})) is ASK


def test_too_old_never_rules_out() -> None:
    old = {"examination.bite.on": "2024-01-01", "examination.bite.can_be_kept_dry": False}
    assert worst(reasons("bonding", {"examination.bite.can_be_kept_dry": False})) is NO
    assert worst(reasons("bonding", old)) is ASK


def test_pregnancy_is_asked_only_where_it_can_be() -> None:
    blank = {"history.pregnant": None, "history.breast_feeding": None}
    assert found("G13", reasons("whitening", blank)) is None
    for sex in ("woman", None):
        asked = the("G13", reasons("whitening", blank | {"patient.sex": sex}))
        assert asked.verdict is ASK
        assert asked.private
    assert found("G13", reasons("whitening", blank | WOMAN | {"patient.birth_date": "1950-01-01"})) is None


def test_pregnancy_earliest_dates() -> None:
    due = WOMAN | {"history.pregnant": True, "history.due_on": str(day(112))}
    whitening = the("G13", reasons("whitening", due))
    assert whitening.earliest is None
    assert whitening.missing_step
    faces = the("G13", reasons("ceramic-veneer", due))
    assert faces.earliest == day(112 + 42)


# ---------------------------------------------------------------- words


def test_sentences_name_teeth_by_name_and_both_numbers() -> None:
    iso_first = found("G2.plan", reasons("bonding", {"tooth.22.decay": True}))
    universal_first = found("G2.plan", reasons("bonding", {"tooth.22.decay": True}, book=office(numbering="universal")))
    assert iso_first is not None
    assert "upper left lateral incisor (22, Universal 10)" in iso_first.words
    assert universal_first is not None
    assert "upper left lateral incisor (10, ISO 22)" in universal_first.words


def test_one_sentence_for_several_teeth_and_the_datum_of_each() -> None:
    reason = found(
        "G3",
        reasons(
            "bonding", {f"tooth.{n}.{k}": v for n in ("11", "21") for k, v in (("pocket", 6), ("pocket_bleeds", True))}
        ),
    )
    assert reason is not None
    assert "(11, Universal 8): 6 mm; " in reason.words
    assert "(21, Universal 9): 6 mm" in reason.words
    assert "examination.teeth[2].pocket = 6" in reason.datum
    assert "examination.teeth[3].pocket = 6" in reason.datum
    assert reason.earliest == day(42)


def test_private_reasons() -> None:
    private: dict[str, tuple[str, dict[str, Any]]] = {
        "G12.worry": ("bonding", {"history.looks_worry": True}),
        "G13": ("bonding", WOMAN | {"history.pregnant": True}),
        "G17": (
            "braces-then-implant-crown",
            {"history.diabetes": True, "history.hba1c_tenths": 85, "history.hba1c_on": str(day(-3))},
        ),
    }
    for gate, (course, changes) in private.items():
        reason = the(gate, reasons(course, changes))
        assert reason.private


def test_no_gate_advises_on_a_drug() -> None:
    every = [*gate_book().gates, *(g for key, t in CATALOGUE.items() for g in own_gates(key, t))]
    for gate in every:
        for level in gate.levels:
            for word in ("stop taking", "stop the", "pause the", "delay the drug", "antibiotic cover"):
                assert word not in level.words.lower()


# ---------------------------------------------------------------- the form


def test_unknown_treatment_is_asked_about() -> None:
    assert worst(reasons(Course("x", ("gold-leaf",), (Work("gold-leaf", iso("11")),)))) is ASK
    assert worst(reasons(Course("bonding", ("bonding",), ()))) is ASK


GATE = {
    "id": "x",
    "means": "a test gate",
    "looks_at": "history.latex",
    "tag": "S",
    "source": "common practice, no source",
    "certainty": "common practice",
    "levels": [{"is": True, "verdict": "care", "words": "A sentence."}],
}


@pytest.mark.parametrize(
    "change",
    [
        {"tag": "Q"},
        {"certainty": "sure"},
        {"source": ""},
        {"missing": "pass"},
        {"levels": [{"is": True, "verdict": "offer", "words": "A sentence."}]},
        {"levels": [{"is": True, "verdict": "wait", "words": "A sentence."}]},
        {"levels": [{"below": 1.5, "verdict": "care", "words": "A sentence."}]},
        {"levels": [{"is": True, "verdict": "care", "words": "A {sentence}."}]},
        {"unheard": 1},
    ],
)
def test_gates_of_another_form_are_refused(change: dict[str, Any]) -> None:
    assert read_gates([GATE], "here")
    with pytest.raises(GateError, match="here"):
        read_gates([GATE | change], "here")


def test_a_gate_on_an_unlisted_fact_and_a_repeated_id_are_refused() -> None:
    with pytest.raises(GateError, match="used once"):
        read_gates([GATE, GATE], "here")
    tables = {"data": {}, "shelf": {}, "coded": [], "gates": [GATE]}
    with pytest.raises(GateError, match=r"history\.latex"):
        parse_gate_book(tables)


def test_limits_are_exact_decimals() -> None:
    gate = read_gates([GATE | {"levels": [{"above": Decimal("0.3"), "verdict": "care", "words": "A sentence."}]}], "x")[
        0
    ]
    assert not gate.levels[0].holds(Decimal(3).scaleb(-1))
    assert gate.levels[0].holds(Decimal(4).scaleb(-1))
    with pytest.raises(TypeError):
        gate.levels[0].holds("much")


# ---------------------------------------------------------------- blanks never help


def _leaves(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(data, dict):
        return [leaf for key, value in data.items() for leaf in _leaves(value, (*path, key))]
    if isinstance(data, list):
        return [leaf for index, value in enumerate(data) for leaf in _leaves(value, (*path, index))]
    return [path]


KEPT = {
    "tooth",
    "place",
    "between",
    "on",
    "by",
    "name",
    "birth_date",
    "kind",
    "reader",
    "cause",
    "case",
    "width",
    "state",
}
LEAVES = [
    path
    for path in _leaves(lead_data())
    if path[0] in ("history", "examination") and path[-1] not in KEPT and not isinstance(path[-1], int)
]


@given(
    blanks=st.lists(st.sampled_from(LEAVES), max_size=6, unique=True),
    course=st.sampled_from(sorted(set(COURSES) - {"none"})),
)
def test_taking_facts_away_never_makes_an_offer(blanks: list[tuple[Any, ...]], course: str) -> None:
    full = judge(COURSES[course], lead_facts(), office(), TODAY, CATALOGUE)
    data = lead_data()
    for path in blanks:
        part = data
        for step in path[:-1]:
            part = part[step]
        del part[path[-1]]
    facts = CaseFacts.model_validate(data, context={"numbering": "iso"})
    verdict = worst(judge(COURSES[course], facts, office(), TODAY, CATALOGUE))
    assert verdict is not Verdict.OFFER or worst(full) is Verdict.OFFER


def test_judging_twice_gives_the_same_and_the_worst_stands_first() -> None:
    facts = lead_facts({"history.latex": True, "tooth.22.decay": True, "history.methacrylate": "positive"})
    first, second = (judge(COURSES["bonding"], facts, office(), TODAY, CATALOGUE) for _ in range(2))
    assert first == second
    assert first[0].verdict is worst(first)
    assert [r.verdict.severity for r in first] == sorted((r.verdict.severity for r in first), reverse=True)


def test_change_reaches_where_it_says() -> None:
    data = lead_data()
    change(data, "gap.21-22.width", "0.1")
    assert data["examination"]["gaps"][3]["width"] == "0.1"
