"""How the letters of all twelve demo people speak of risk, how long they are, and what stands on which page.

Trevena and others 2013, BMC Med Inform Decis Mak 13(S2):S7: one denominator, the time with every number, absolute
numbers, both ways round, never "1 in X". The rules are read off the words that are printed.
"""

import io
import re
from functools import cache

import pypdf
import pytest
from babel.numbers import format_decimal
from django.utils import translation

from planner.letters import ipdas
from planner.letters.chances import counted_both_ways
from planner.letters.choosing import told_in_full
from planner.letters.papers import job
from planner.letters.pdf import Job, Paper, Rendered
from planner.letters.prose import blocks_of_html, patient_prose
from planner.letters.read_back import Block, blocks
from planner.letters.wording import one_denominator
from planner.rules.frozen import thaw
from planner.rules.plan import plan_case
from planner.rules.reading import TARGET, grade
from planner.rules.results import CasePlan, OptionShape
from planner.rules.words import speaking
from tests.letters.conftest import ISSUE
from tests.rules import stories
from tests.rules.books import tern_row
from tests.support import render_once

EVERYBODY = pytest.mark.parametrize("name", list(stories.PLANNED))
CHANCE = re.compile(r"\bOf (100|1,000) ([^:;.]+?), (\d+)(?: to (\d+))? ([^;.]+); (\d+)(?: to (\d+))? not\.")
"""``Of 100 teeth, 8 to 38 in ten years; 62 to 92 not.``"""


PRINTED = ("lead", "hamish", "marguerite")
"""Whose letters are printed and read back from the file; the others are read before they are, which takes a sixth of
the time and gives the same words (``test_read_before_or_after_printing_the_words_are_the_same``)."""


@cache
def asked(name: str, paper: Paper = "A4") -> Job:
    plan = plan_case(stories.facts_of(name), tern_row(), stories.planned_on(name))
    return job(plan.to_json(), "consent-letter", ISSUE, points=11, paper=paper)


def letter(name: str, paper: Paper = "A4") -> Rendered:
    return render_once(asked(name, paper))


@cache
def words(name: str) -> tuple[Block, ...]:
    return blocks(letter(name).content) if name in PRINTED else blocks_of_html(asked(name).html)


@pytest.mark.parametrize("name", PRINTED)
def test_read_before_or_after_printing_the_words_are_the_same(name: str) -> None:
    def run(found: tuple[Block, ...]) -> str:
        return "".join("".join(block.text for block in found).split())

    assert run(blocks_of_html(asked(name).html)) == run(blocks(letter(name).content))


def options(name: str) -> list[list[str]]:
    """The texts of each option's chapter."""
    chapters: list[list[Block]] = []
    for block in words(name):
        if block.kind in ("H1", "H2"):
            chapters.append([])
        if chapters:
            chapters[-1].append(block)
    return [[one.text for one in found] for found in chapters if any(one.text == "What happens" for one in found)]


@EVERYBODY
def test_nobody_is_told_odds_or_a_bare_relative_risk(name: str) -> None:
    said = " ".join(block.text for block in words(name))
    assert not re.search(r"\b(?:1|one) (?:in|out of) (?:\d|two|three|four|five|ten|twenty|a hundred)", said)
    relative = (
        r"\b(?:times|twice) (?:as|more) (?:likely|often|common)|\b(?:doubles?|halves?|triples?) (?:the|your) risk"
        r"|% (?:more|less|higher|lower)"
    )
    assert not re.search(relative, said)
    assert not re.search(r"\b0\.\d+ ?%", said), "no share below one of a hundred"


@EVERYBODY
def test_an_option_counts_by_one_denominator(name: str) -> None:
    for texts in options(name):
        found = {number for text in texts for number in re.findall(r"\b[Oo]f (100|1,000)\b(?! part)", text)}
        assert len(found) <= 1, texts[0]


@EVERYBODY
def test_every_chance_is_told_both_ways_with_its_group_and_its_time(name: str) -> None:
    found = [match for texts in options(name) for text in texts for match in CHANCE.finditer(text)]
    began = sum(text.count("Of 100 ") + text.count("Of 1,000 ") for texts in options(name) for text in texts)
    assert found
    assert len(found) == began, "no other number is begun that way"
    for match in found:
        of = int(match[1].replace(",", ""))
        low, high = int(match[3]), int(match[4] or match[3])
        rest_low, rest_high = int(match[6]), int(match[7] or match[6])
        assert (low + rest_high, high + rest_low) == (of, of)
        assert match[2].strip()
        assert "not stated" not in match[5]


@EVERYBODY
def test_every_option_is_told_for_ten_years_or_says_that_nobody_knows(name: str) -> None:
    """One time for all options (rule 4): without data for ten years that is said, never reckoned on."""
    for texts in options(name):
        living = texts[texts.index("Living with it") + 1]
        ten, nobody = "After 10 years, of 1" in living, "For ten years nobody has counted" in living
        later = "no data for later years" in living
        assert ten or nobody or later, living


@EVERYBODY
def test_every_option_has_the_same_fields_and_none_is_empty(name: str) -> None:
    found = ipdas.check(words(name), "en")
    assert [item.number for item in found.missing] == []


@EVERYBODY
def test_the_letter_is_plain(name: str) -> None:
    assert grade(patient_prose(words(name), "en")) <= TARGET


@pytest.mark.parametrize("name", PRINTED)
def test_the_place_to_sign_stands_before_the_annex_and_not_alone(name: str) -> None:
    pages = [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(letter(name).content)).pages]
    (signing,) = [at for at, text in enumerate(pages) if "I sign of my own free will" in text]
    annex = next(at for at, text in enumerate(pages) if "Annex: more about each option" in text)
    assert signing < annex
    assert "What you decide" in pages[signing]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_lead_letter_keeps_to_six_pages_and_its_annex(paper: Paper) -> None:
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(letter("lead", paper).content)).pages]
    assert len(options("lead")) == 7
    assert next(at for at, text in enumerate(pages) if "Annex: more about each option" in text) == 6


@EVERYBODY
def test_every_table_lays_four_options_side_by_side_at_most(name: str) -> None:
    """And each table has the same rows."""
    found = words(name)
    starts = [at for at, block in enumerate(found) if block.text in ("Gentlest first", "Further options, less gentle")]
    rows = []
    for at in starts:
        heads = []
        for block in found[at + 2 :]:
            if block.kind != "TH" or block.text == "Can we offer it?":
                break
            heads.append(block.text)
        assert 1 <= len(heads) <= 4
        labels = []
        for block in found[at + 2 + len(heads) :]:
            if block.kind not in ("TH", "TD"):
                break
            if block.kind == "TH":
                labels.append(block.text)
        rows.append(labels)
    assert rows
    assert all(one == rows[0] for one in rows)


# ---------------------------------------------------------------------- what a treatment's own words count

COUNTS = re.compile(r"\b[OoDd]e?f? (?:100|1[,.]000)\b")
PARTS = re.compile(r"(?:[OoDd]e?f? 100 part|partes de 100)")
"""How much of a tooth is taken off is an amount, and no chance."""
THAT_IS = {"en": ("That is, of ", r"(\d+)(?: to (\d+))? yes, (\d+)(?: to (\d+))? no"),
           "es": ("Es decir, de ", r"(?:de )?(\d+)(?: a (\d+))? sí, (?:de )?(\d+)(?: a (\d+))? no")}  # fmt: skip


def own_words(option: OptionShape) -> tuple[str, ...]:
    """Every sentence that a treatment's own words say of an option."""
    chances = (chance.words for chance in (*option.benefits, *option.risks))
    told = (*option.you_must, *option.later, *option.does_not, *chances)
    said = (option.plain, option.removal_words, option.undo_words, option.lasts_words, *told)
    return tuple(sentence for words in said for sentence in re.split(r"(?<=\.)\s+", words))


@cache
def plan_of(name: str, language: str = "en") -> CasePlan:
    facts = stories.facts_of(name)
    if language != "en":
        facts = facts.model_copy(update={"patient": facts.patient.model_copy(update={"language": language})})
    return thaw(plan_case(facts, tern_row(), stories.planned_on(name)).to_json(), language)


@pytest.mark.parametrize("language", ["en", "es"])
@EVERYBODY
def test_whatever_counts_is_marked_as_counting_where_it_is_made(name: str, language: str) -> None:
    for option in plan_of(name, language).options:
        marked = {one.words for one in option.counted}
        assert marked <= set(own_words(option)), "what is marked is said"
        for sentence in own_words(option):
            numbered = COUNTS.search(sentence) and re.search(r"\d", COUNTS.sub("", sentence))
            assert bool(numbered and not PARTS.search(sentence)) == (sentence in marked), sentence


@pytest.mark.parametrize("language", ["en", "es"])
@EVERYBODY
def test_whatever_counts_is_said_both_ways_round_and_by_one_number(name: str, language: str) -> None:
    plan = plan_of(name, language)
    with translation.override(language), speaking(language):
        for option in plan.options:
            of = one_denominator(option)
            for one, (_sentence, said) in zip(option.counted, counted_both_ways(option, of), strict=True):
                lead, pattern = THAT_IS[language]
                if not one.of_100:
                    told = re.findall(r"\d+", one.words.partition(",")[2])
                    assert int(told[0]) + int(told[-1]) == 100, "the sentence says both"
                    assert said == one.words
                    continue
                assert said.startswith(f"{one.words} {lead}{format_decimal(of, locale=language)}: ")
                found = re.findall(pattern, said)
                assert len(found) == len(one.of_100)
                for low, high, rest_low, rest_high in found:
                    assert int(low) + int(rest_high or rest_low) == of
                    assert int(high or low) + int(rest_low) == of
                    assert all(
                        re.search(rf"\b{int(number) * 100 // of}\b", one.words) for number in (low, high) if number
                    )


@EVERYBODY
def test_the_annex_says_what_counts_and_the_options_leave_it_out(name: str) -> None:
    texts = [block.text for block in words(name)]
    annex = " ".join(texts[texts.index("Annex: more about each option") :])
    before = " ".join(texts[: texts.index("Annex: more about each option")])
    shown = told_in_full(plan_of(name), ISSUE.chosen)
    counting = [(option, *one) for option in shown for one in counted_both_ways(option, one_denominator(option))]
    for option, sentence, said in counting:
        # A risk that has its number keeps what its words count beside it, unless all numbers are of 1,000.
        beside = [risk.words for risk in option.risks if risk.of_100_low is not None]
        kept = one_denominator(option) == 100 and any(sentence in told for told in beside)
        assert said in (before if kept else annex)
        assert said not in (annex if kept else before)
