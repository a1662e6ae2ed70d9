"""Papers held against each other: what differs is found and named, what only looks different is not."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.papers_agree import BORN, About, Fact, Paper, contradictions


def fact(
    about: About = About.PRICE, key: str = "total", value: str | frozenset[str] = "161825", **more: object
) -> Fact:
    says = value if isinstance(value, str) else ", ".join(sorted(value))
    return replace(Fact(about, (key,), f"the {about} of {key}", value, says, 1), **more)


def paper(title: str, *facts: Fact, **more: object) -> Paper:
    return replace(Paper(title, title.lower(), "104, version 2", facts=facts), **more)


ESTIMATE = paper("Estimate", fact())


def test_the_same_said_twice_is_nothing_to_tell() -> None:
    assert contradictions([ESTIMATE, paper("Letter", fact())]) == ()
    assert contradictions([]) == ()


@pytest.mark.parametrize("about", [about for about in About if about is not About.LANGUAGE])
def test_each_kind_of_difference_is_named_with_both_papers_and_pages(about: About) -> None:
    (found,) = contradictions([paper("Estimate", fact(about)), paper("Letter", fact(about, value="161824", page=3))])
    assert found.about == about
    assert not found.since_changed
    assert found.sentence == (
        f"Papers differ on the {about} of total. Estimate (104, version 2), page 1: 161825. "
        "But Letter (104, version 2), page 3: 161824."
    )


def test_a_paper_is_held_against_itself_too() -> None:
    (found,) = contradictions([paper("Letter", fact(), fact(value="1", page=4), fact(value="1", page=5))])
    assert (found.first.paper, found.second.paper, found.second.page) == (*["Letter (104, version 2)"] * 2, 4)


def test_every_paper_that_differs_is_named() -> None:
    other = fact(value="2")
    found = contradictions([ESTIMATE, paper("Letter", other), paper("Order", other)])
    assert [one.second.paper.split(" (")[0] for one in found] == ["Letter", "Order"]


def test_what_names_only_some_must_lie_within_the_whole() -> None:
    whole = fact(About.TOOTH, "teeth", frozenset({"a", "b"}))
    some = fact(About.TOOTH, "teeth", frozenset({"a"}), part=True)
    astray = fact(About.TOOTH, "teeth", frozenset({"c"}), part=True)
    assert contradictions([paper("Letter", whole), paper("Slip", some)]) == ()
    assert len(contradictions([paper("Slip", astray), paper("Letter", whole)])) == 1
    assert contradictions([paper("Slip", astray), paper("Other slip", some)]) == (), "nothing to hold them against"


def test_what_an_earlier_issue_said_otherwise_is_told_as_changed() -> None:
    earlier = paper("Letter", fact(value="133500"), version="104, version 1", older=True)
    (found,) = contradictions([earlier, ESTIMATE])
    assert found.since_changed
    assert found.sentence.startswith("Changed since: ")
    assert found.sentence.endswith("Earlier, Letter (104, version 1), page 1: 133500.")


@pytest.mark.parametrize("said", [fact(About.NAME, "patient", "A. B."), fact(About.DATE, BORN[0], "1979-07-16")])
def test_whom_it_is_about_may_not_differ_in_any_issue(said: Fact) -> None:
    earlier = paper("Letter", replace(said, value="another"), older=True)
    (found,) = contradictions([paper("Estimate", said), earlier])
    assert not found.since_changed


def test_in_which_language_a_paper_is_written_it_says_of_itself_alone() -> None:
    english, spanish = fact(About.LANGUAGE, "paper", "en"), fact(About.LANGUAGE, "paper", "es")
    both = [paper("Estimate", english), paper("Letter", english), paper("Carta", spanish, kind="letter", language="es")]
    assert contradictions(both) == ()
    (found,) = contradictions([paper("Letter", english, spanish)])
    assert found.about == About.LANGUAGE


def test_a_reader_has_every_kind_of_paper_in_one_language() -> None:
    letter = paper("Carta", language="es")
    (found,) = contradictions([ESTIMATE, letter])
    assert (found.about, found.first.says, found.second.says) == (About.LANGUAGE, "en", "es")
    assert contradictions([ESTIMATE, replace(letter, for_patient=False)]) == (), "a workshop reads another language"
    assert contradictions([ESTIMATE, replace(letter, older=True)]) == ()


VALUES = st.sampled_from(["1", "2", "3"])
PAPERS = st.lists(st.tuples(st.sampled_from(["a", "b"]), VALUES), max_size=8).map(
    lambda rows: [paper(f"Paper {at}", fact(key=key, value=value)) for at, (key, value) in enumerate(rows)]
)


@given(PAPERS)
def test_nothing_is_told_exactly_when_each_fact_has_one_value(papers: list[Paper]) -> None:
    values: dict[str, set[object]] = {}
    for one in papers:
        values.setdefault(one.facts[0].key[0], set()).add(one.facts[0].value)
    assert bool(contradictions(papers)) == any(len(found) > 1 for found in values.values())
