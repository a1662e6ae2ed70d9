"""The yardstick counts passages it finds in the printed letter: taking one away turns its item off."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import pytest

from planner.letters import ipdas
from planner.letters.papers import job
from planner.letters.prose import blocks_of_html
from planner.letters.read_back import Block, blocks
from tests.letters.conftest import ISSUE, rendered, texts
from tests.letters.sample import case_plan


@pytest.fixture(scope="module")
def letter() -> tuple[Block, ...]:
    """The lead case's letter as read back from its file."""
    return blocks(rendered("consent-letter").content)


def without(letter: Sequence[Block], passages: Iterable[ipdas.Passage]) -> list[Block]:
    """The letter with these passages taken out of their blocks."""
    kept = list(letter)
    for one in passages:
        kept[one.block] = replace(kept[one.block], text=kept[one.block].text.replace(one.text, "").strip())
    return [block for block in kept if block.text]


def numbers(items: Iterable[ipdas.Item]) -> list[str]:
    return [item.number for item in items]


def test_the_letter_meets_every_item_it_can(letter: tuple[Block, ...]) -> None:
    """IPDASi v4.0: 6 qualifying, 6 certification and 23 quality items where no test is offered (PMC6429890, table 2;
    numbers of the first twelve as in BMJ Open 2016;6:e011918, table 2)."""
    found = ipdas.check(letter, "en")
    assert numbers(found.missing) == []
    assert found.count("qualifying") == (6, 6)
    assert found.count("certification") == (6, 6)
    assert found.count("quality") == (15, 23)


def test_every_item_of_the_list_has_its_place() -> None:
    first = ["1.1.1", "1.1.2", "1.1.3", "1.1.4", "1.1.5", "1.2.1", "2.1.1", "2.2.1", "2.2.2", "2.2.3", "2.2.4", "2.3.1"]
    named = numbers([*ipdas.ITEMS, *ipdas.NOT_DONE, *ipdas.TESTS_ONLY])
    assert sorted(named) == sorted([*first, *(f"Q{number}" for number in range(1, 29))])
    assert numbers(ipdas.NOT_DONE) == ["Q12", "Q13", "Q14", "Q15", "Q16", "Q17", "Q22", "Q23"]


@pytest.mark.parametrize("item", ipdas.ITEMS, ids=lambda item: item.number)
def test_an_item_is_off_without_its_passage(letter: tuple[Block, ...], item: ipdas.Item) -> None:
    (answer,) = [one for one in ipdas.check(letter, "en").answered if one.item == item]
    assert answer.met
    assert all(one.text in letter[one.block].text for one in answer.passages), "found in the letter, word for word"
    left = ipdas.check(without(letter, answer.passages), "en")
    assert item in left.missing


def test_what_is_printed_about_it_is_what_is_found_in_the_file(letter: tuple[Block, ...]) -> None:
    """The letter is measured before it is printed; its file says the same."""
    before = blocks_of_html(job_html())
    assert [(one.item, one.met) for one in ipdas.check(before, "en").answered] == [
        (one.item, one.met) for one in ipdas.check(letter, "en").answered
    ]
    said = " ".join(texts(rendered("consent-letter").content))
    assert "Qualifying: 6 of 6; Certification: 6 of 6; Quality: 15 of 23." in said
    assert "Not done: Q12 patients were asked what they need to know; Q13" in said
    assert "Q24 to Q28 are about tests" in said


def job_html() -> str:
    return job(case_plan().to_json(), "consent-letter", ISSUE).html


def test_words_before_and_after_printing_are_the_same(letter: tuple[Block, ...]) -> None:
    """The blocks of the HTML and those read back from the file: kind and words, one by one."""
    before = blocks_of_html(job_html())
    assert [one.text for one in before] == [one.text for one in letter]
    kinds = {(ours.kind, theirs.kind) for ours, theirs in zip(before, letter, strict=True) if ours.kind != theirs.kind}
    assert kinds <= {("TH", "TD")}, "the empty corner of a table heads nothing"


def test_options_in_unequal_detail_are_noticed(letter: tuple[Block, ...]) -> None:
    at = next(at for at, block in enumerate(letter) if (block.kind, block.text) == ("H3", "Living with it"))
    shorter = [*letter[:at], *letter[at + 1 :]]
    assert set(numbers(ipdas.check(shorter, "en").missing)) == {"1.2.1", "2.1.1"}


def test_a_changing_denominator_is_noticed(letter: tuple[Block, ...]) -> None:
    at = next(at for at, block in enumerate(letter) if "8 to 38 in ten years" in block.text)
    other = replace(letter[at], text=letter[at].text + " Of 1,000 teeth, 4; 996 not.")
    assert numbers(ipdas.check([*letter[:at], other, *letter[at + 1 :]], "en").missing) == ["Q7"]


def test_a_letter_without_chances_both_ways_round_is_told_so() -> None:
    plan = case_plan()
    bare = []
    for option in plan.options:
        risks = tuple(replace(risk, of_100_low=None, of_100_high=None) for risk in option.risks)
        bare.append(replace(option, risks=risks))
    found = ipdas.check(
        blocks_of_html(job(replace(plan, options=tuple(bare)).to_json(), "consent-letter", ISSUE).html), "en"
    )
    assert "Q5" in numbers(found.missing)
