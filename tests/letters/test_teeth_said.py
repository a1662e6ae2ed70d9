"""Teeth and reasons on paper: each tooth in full once, lists said once, cells short."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.letters.reasons import one_line, reasons, short_reason
from planner.letters.teeth_said import TeethSaid
from planner.rules.results import OptionShape
from planner.rules.strip import Words
from planner.rules.teeth import NORMAL, Numbering
from planner.rules.verdicts import Reason, Verdict
from tests.letters.sample import IMPLANT, TEETH, words_of

CANINE = "upper right canine (13, Universal 6)"
CENTRAL = "upper right central incisor (11, Universal 8)"


def teeth(numbering: Numbering = Numbering.ISO) -> TeethSaid:
    return TeethSaid(Words(words_of(*TEETH, numbering=numbering), numbering))


def test_a_tooth_is_named_in_full_once() -> None:
    say = teeth()
    assert say(f"The {CANINE} is wide.") == f"The {CANINE} is wide."
    assert say(f"The {CANINE} stays.") == "13 (Universal 6) stays."


def test_an_article_within_another_word_stays() -> None:
    """In Spanish *del* holds an article, and loses none of its letters: only a word of its own is one."""
    say = teeth()
    say(f"The {CANINE} is wide.")
    assert say(f"en el lugar del {CANINE}") == "en el lugar del 13 (Universal 6)"
    assert say(f"el {CANINE} es ancho") == "13 (Universal 6) es ancho"


def test_a_list_of_teeth_is_said_once() -> None:
    say = teeth()
    first = say(f"Too much: {CANINE}: 1.5 mm; {CENTRAL}: 1.5 mm.")
    assert first == f"Too much: {CANINE} and {CENTRAL}, 1.5 mm each."
    assert say(f"For good ({CANINE}; {CENTRAL}).") == "For good (the same 2 teeth)."
    assert say(f"Worn: {CANINE}: grade 1; {CENTRAL}: grade 2.") == (
        "Worn: 13 (Universal 6): grade 1; 11 (Universal 8): grade 2."
    )


def test_two_gaps_stay_two_gaps() -> None:
    """A pair is one place: joining neighbours of a list would make other gaps of them."""
    said = teeth()(f"Between {CANINE} and {CENTRAL}; {CENTRAL} and {CANINE} a triangle may stay.")
    assert said == (f"Between {CANINE} and {CENTRAL}; 11 (Universal 8) and 13 (Universal 6) a triangle may stay.")


def test_lines_that_say_the_same_are_one() -> None:
    assert teeth().lines([f"A face on the {CANINE}", f"A face on the {CENTRAL}", "Polish"]) == (
        f"A face on the {CANINE} and {CENTRAL}",
        "Polish",
    )


@pytest.mark.parametrize(
    ("words", "short"),
    [
        (f"Not known yet: the width at the neck, at the {CANINE}.", "Not known yet: the width at the neck."),
        (f"Over your limit of 0.5 mm: {CANINE}: 1.5 mm; {CENTRAL}: 1.5 mm.", "Over your limit of 0.5 mm."),
        ("It will be 0.876 times as wide (0.82 is usual); it stays wide.", "It will be 0.876 times as wide."),
        (f"{CANINE} is loose. It moves.", "13 (Universal 6) is loose."),
    ],
)
def test_a_cell_holds_the_first_clause_without_teeth(words: str, short: str) -> None:
    assert teeth().in_short(words) == short


@given(st.sampled_from(list(Numbering)), st.lists(st.sampled_from(TEETH), min_size=1, max_size=6))
def test_no_tooth_gets_lost(numbering: Numbering, isos: list[str]) -> None:
    labels = [words_of(iso, numbering=numbering) for iso in isos]
    text = "; ".join(found.label for one in labels for found in one.values())
    said = teeth(numbering)(f"Worn: {text}.")
    for one in labels:
        (found,) = one.values()
        assert found.label in said


def test_labels_of_all_teeth_are_told_apart() -> None:
    say = TeethSaid(Words(words_of(*(tooth.iso for tooth in NORMAL)), Numbering.ISO))
    assert {say.by_number(f"the {tooth.label(Numbering.ISO)}") for tooth in NORMAL} == {
        f"{tooth.iso} (Universal {tooth.universal})" for tooth in NORMAL
    }


def option(*found: Reason, verdict: Verdict = Verdict.ASK) -> OptionShape:
    from dataclasses import replace

    return replace(IMPLANT, verdict=verdict, reasons=found)


def test_what_is_asked_of_one_tooth_is_asked_once() -> None:
    asked = option(
        Reason("a", Verdict.ASK, f"Not known yet: the width, at the {CANINE}."),
        Reason("b", Verdict.ASK, f"Not known yet: the depth, at the {CANINE}."),
    )
    assert reasons(asked, teeth(), "en", show_private=True) == (
        f"Not known yet: the width and the depth, at the {CANINE}.",
    )
    assert one_line(asked, teeth(), "en", show_private=True) == (
        "We cannot say yet. Not known yet: the width and the depth."
    )


def test_a_wait_names_its_day_as_people_write_it() -> None:
    waiting = option(
        Reason("a", Verdict.WAIT, "The decay is filled first.", earliest=date(2026, 3, 16), missing_step="fill it"),
        verdict=Verdict.WAIT,
    )
    assert short_reason(waiting, teeth(), "en", show_private=True) == (
        "The decay is filled first. Earliest day: 16 March 2026."
    )
    assert reasons(waiting, teeth(), "en", show_private=True) == (
        "The decay is filled first. First: fill it. Earliest day: 16 March 2026.",
    )


def test_a_private_reason_is_in_no_short_form_either() -> None:
    private = option(Reason("a", Verdict.ASK, "Private: an old grief.", private=True))
    for said in (
        short_reason(private, teeth(), "en", show_private=False),
        one_line(private, teeth(), "en", show_private=False),
        *reasons(private, teeth(), "en", show_private=False),
    ):
        assert "grief" not in said
        assert "A private reason." in said
