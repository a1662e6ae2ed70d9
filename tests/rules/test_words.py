"""Sentences in two languages: every one has its Spanish, and the two plans differ in words alone."""

import ast
import re
from pathlib import Path
from string import Formatter

import pytest

from planner.rules import words
from planner.rules.frozen import FrozenPlanError, thaw
from planner.rules.gate_engine import gate_book
from planner.rules.gates import own_gates
from planner.rules.mouth import ToothFacts
from planner.rules.plan import plan_case
from planner.rules.results import plain
from planner.rules.teeth import LOWER_PERMANENT, UPPER_PERMANENT, Numbering, Tooth
from planner.rules.treatments import all_treatments
from planner.rules.words import either, listed, many, mm, speaking, spoken, told
from tests.rules.books import tern_row
from tests.rules.stories import PLANNED, facts_of, planned_on

RULES = Path(words.__file__).parent
NOT_SENTENCES = {"evidence.py", "disagreements.py", "treatments.py", "matters.py"}
"""Files whose ``told`` is the one that tells faults of data files."""


def _templates() -> dict[str, str]:
    """Every template that the rules fill in, with the file it stands in.

    Where a name stands for it, any text of the same function or of the module's tables may be meant.
    """
    found: dict[str, str] = {}
    for path in sorted(RULES.glob("*.py")):
        if path.name in NOT_SENTENCES:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "told":
                found |= {each.value: path.name for each in _texts(node.args[0])}
            if isinstance(node, ast.Assign | ast.For | ast.comprehension):
                found |= {
                    each.value: path.name for each in _texts(node) if "{mm}" in each.value or "{tooth}" in each.value
                }
    return found


def _texts(node: ast.AST) -> list[ast.Constant]:
    if isinstance(node, ast.IfExp):
        return [*_texts(node.body), *_texts(node.orelse)]
    if isinstance(node, ast.Assign | ast.For | ast.comprehension):
        within = node.value if isinstance(node, ast.Assign) else node.iter
        return [each for each in ast.walk(within) if isinstance(each, ast.Constant) and isinstance(each.value, str)]
    return [node] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def _fields(template: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(template) if name}


def test_every_template_has_its_spanish():
    lacking = {
        template: file for template, file in _templates().items() if template not in words.texts("es").by_english
    }
    assert not lacking


def test_a_translation_fills_in_what_its_template_does():
    for english, spanish in words.texts("es").by_english.items():
        assert _fields(spanish) <= _fields(english), english
        # What a sentence is about never gets lost; an article of English may.
        assert _fields(english) == _fields(spanish) or not _fields(english) - _fields(spanish), english


def test_every_gate_and_fact_has_its_spanish():
    book = gate_book()
    treatments = all_treatments()
    gates = [*book.gates, *(gate for key, one in treatments.items() for gate in own_gates(key, one))]
    for gate in gates:
        assert bool(gate.none_words) == bool(gate.none_words_es), gate.id
        for level in gate.levels:
            assert level.words_es, gate.id
            assert bool(level.step) == bool(level.step_es), gate.id
    assert all(one.words_es for one in (*book.data.values(), *book.shelves.values()))
    with speaking("es") as missing:
        for unit in {one.unit for one in book.data.values() if one.unit}:
            told(unit)
    assert not missing


@pytest.fixture(scope="module")
def plans():
    return {name: _planned(name, "es") for name in PLANNED}


def _planned(name, language):
    return plan_case(facts_of(name, {"patient.language": language}), tern_row(), planned_on(name))


def _leaves(value, place=()):
    if isinstance(value, dict):
        for key, each in sorted(value.items()):
            if not (key.endswith("_es") or key in ("facts", "other_words")):
                yield from _leaves(each, (*place, key))
    elif isinstance(value, list):
        for index, each in enumerate(value):
            yield from _leaves(each, (*place, index))
    else:
        yield place, value


def test_the_two_plans_differ_in_words_alone(plans):
    for plan in plans.values():
        spanish = thaw(plan.to_json(), "es")
        both = list(zip(_leaves(plain(plan)), _leaves(plain(spanish)), strict=True))
        assert all(one[0] == two[0] for one, two in both)
        differing = [(one[1], two[1]) for one, two in both if one != two]
        assert len(differing) == len(plan.other_words[0].words) > 100
        assert all(isinstance(one, str) and isinstance(two, str) for one, two in differing)


def test_nothing_is_left_untranslated_in_the_invented_office(plans):
    assert {
        key: plan.other_words[0].untranslated for key, plan in plans.items() if plan.other_words[0].untranslated
    } == {}


STOP_WORDS = re.compile(r"\b(the|and|of|is|are|with|not|this|that|your|you|for|from|would|tooth|teeth|gap)\b")


def test_what_a_patient_is_told_has_no_english_in_it(plans):
    """Common English words, from memory: none of them is a word of Spanish."""
    said = 0
    for plan in plans.values():
        for option in thaw(plan.to_json(), "es").options:
            told_here = [
                option.name, option.plain, option.removal_words, option.undo_words, option.time_words,
                option.lasts_words,
                *option.you_must, *option.later, *option.does_not, *(one.why for one in option.wishes),
                *(one.words for one in (*option.benefits, *option.risks)), *(one.words for one in option.reasons),
                *(one.missing_step for one in option.reasons), *(one.words for one in option.work),
                *option.estimate.not_included, *(one.words for one in option.estimate.lines),
            ]  # fmt: skip
            for sentence in told_here:
                own_words = [limit for limit in (plan.facts.get("limits") or {}).values() if isinstance(limit, str)]
                for own in own_words:
                    sentence = sentence.replace(own, "")
                assert not STOP_WORDS.search(sentence), sentence
            said += len(told_here)
    assert said > 1000


def test_a_plan_of_somebody_who_reads_english_carries_no_other_words_and_refuses_them_in_a_sentence():
    plan = _planned("ottoline", "en")
    assert plan.other_words == ()
    with pytest.raises(FrozenPlanError, match="make a new estimate"):
        thaw(plan.to_json(), "es")


def test_speaking_holds_for_the_block_alone():
    assert spoken() == "en"
    with speaking("es"):
        assert spoken() == "es"
        assert told("{mm} mm at the edge", mm=mm(8)) == "0,8 mm en el borde"
        with speaking("en"):
            assert told("{mm} mm at the edge", mm=mm(8)) == "0.8 mm at the edge"
        assert (many(1, "tooth"), many(3, "tooth"), many(0, "visit")) == ("1 diente", "3 dientes", "ninguna visita")
        assert listed(["a", "b", "c"]) == "a, b y c"
    assert spoken() == "en"
    assert many(3, "tooth") == "3 teeth"


def test_what_has_no_translation_is_said_in_english_and_noted():
    with speaking("es") as missing:
        assert told("No such sentence of {n}.", n=3) == "No such sentence of 3."
        assert either("One text.", "") == "One text."
        assert told("the {tooth}", tooth="canino") == "el canino"
    assert list(missing) == ["No such sentence of {n}.", "One text."]


def test_a_language_without_texts_is_refused_by_name():
    with pytest.raises(LookupError, match='no texts in "fr"; there are: en, es'), speaking("fr"):
        pass


def test_teeth_are_named_in_spanish_with_both_numbers():
    """Spanish names as in any textbook of the language; ISO 3950 and Universal numbers stay as they are."""
    with speaking("es"):
        assert Tooth.from_key("upper-right-canine").label(Numbering.ISO) == "canino superior derecho (13, Universal 6)"
        assert Tooth.from_key("lower-left-primary-first-molar").name == "primer molar de leche inferior izquierdo"
        extra = Tooth.from_iso("extra beside 13, mesial")
        assert extra.written(Numbering.ISO) == "de más junto al 13, mesial"
        assert extra.palmer_letters == "de más junto al UR3, mesial"
        assert not STOP_WORDS.search(extra.label(Numbering.ISO))
        assert "extra" not in extra.label(Numbering.ISO) + Tooth.from_iso("extra beside 62").label(Numbering.PALMER)
        names = [tooth.name for tooth in (*UPPER_PERMANENT, *LOWER_PERMANENT)]
    assert len(set(names)) == len(names)
    assert not any(STOP_WORDS.search(name) for name in names)


def test_the_same_plan_twice_is_the_same_to_the_byte(plans):
    assert _planned("ottoline", "es").to_json() == plans["ottoline"].to_json()
    assert plans["ottoline"].other_words[0].reviewer == "", "nobody has read it through yet"


def test_a_plan_with_an_extra_tooth_has_no_english_number_in_spanish():
    extra = Tooth.from_iso("extra beside 22, distal")
    facts = facts_of("ottoline", {"patient.language": "es"})
    seen = facts.examination.model_copy(update={"teeth": (*facts.examination.teeth, ToothFacts(tooth=extra))})
    facts = facts.model_copy(update={"examination": seen})
    plan = plan_case(facts, tern_row(), planned_on("ottoline"))
    key = extra.key
    assert thaw(plan.to_json()).teeth[key].iso == "extra beside 22, distal"
    spanish = thaw(plan.to_json(), "es")
    assert spanish.teeth[key].iso == "de más junto al 22, distal"
    assert not [text for _place, text in _leaves(plain(spanish)) if isinstance(text, str) and "extra beside" in text]


def test_a_case_file_has_its_numbers_in_english_whatever_is_spoken():
    seen = ToothFacts(tooth=Tooth.from_iso("extra beside 22, distal"))
    with speaking("es"):
        written = seen.model_dump(mode="json", context={"numbering": Numbering.ISO})
    assert written["tooth"] == "extra beside 22, distal"
    assert ToothFacts.model_validate(written, context={"numbering": Numbering.ISO}) == seen
