"""The yardstick counts passages it finds in the letter: taking one away turns its item off."""

import re

import pytest

from planner.letters import ipdas
from planner.letters.papers import job
from tests.letters.conftest import ISSUE


@pytest.fixture(scope="module")
def html(plan_json: bytes) -> str:
    return job(plan_json, "consent-letter", ISSUE).html


def test_the_letter_meets_every_item_it_can(html: str) -> None:
    """IPDASi v4.0 has 6 qualifying and, where no test is involved, 6 certification items (BMJ Open 2016;6:e011918)."""
    found = ipdas.check(html)
    assert found.missing == ()
    assert found.count("qualifying") == (6, 6)
    assert found.count("certification") == (6, 6)


@pytest.mark.parametrize("item", ipdas.ITEMS, ids=lambda item: item.number)
def test_an_item_is_off_without_its_passage(html: str, item: ipdas.Item) -> None:
    def unmark(match: re.Match[str]) -> str:
        kept = [mark for mark in match[1].split() if mark != item.mark]
        return f'data-ipdas="{" ".join(kept)}"'

    found = ipdas.check(re.sub(r'data-ipdas="([^"]*)"', unmark, html))
    assert item in found.missing


def test_a_passage_that_is_there_but_empty_does_not_count(html: str) -> None:
    emptied = re.sub(r'(<p data-ipdas="decision">).*?(</p>)', r"\1\2", html, flags=re.S)
    assert [item.number for item in ipdas.check(emptied).missing] == ["1.1.2"]


def test_options_in_unequal_detail_are_noticed(html: str) -> None:
    shortened = html.replace("<h3>Living with it</h3>", "", 1)
    assert [item.number for item in ipdas.check(shortened).missing] == ["2.1.1"]
