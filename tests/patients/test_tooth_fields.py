"""Teeth as they are typed into a form: several at once, with or without their system, and what is asked back."""

import pytest
from django import forms
from hypothesis import given
from hypothesis import strategies as st

from planner.patients.tooth_fields import TeethField, ToothField, read_tooth, tooth_texts
from planner.plans.forms import read_teeth
from planner.rules import teeth
from planner.rules.teeth import Numbering, Tooth, ToothNumberError


def field(kind: type[ToothField], numbering: Numbering | None) -> ToothField:
    """The field in a form that states ``numbering``."""
    made = kind(required=False)
    made.numbering = numbering
    return made


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("21 22", ["21", "22"]),
        ("21,22;  23", ["21", "22", "23"]),
        ("13\u00b712", ["13", "12"]),
        ("extra  beside 13, mesial, 12", ["extra beside 13, mesial", "12"]),
        ("Universal 9, ISO 11", ["Universal 9", "ISO 11"]),
        ("56, mesial 7", ["56, mesial", "7"]),
        ("", []),
        (" ,; ", []),
    ],
)
def test_several_teeth_in_one_line(text: str, parts: list[str]) -> None:
    assert tooth_texts(text) == parts


@given(st.lists(st.sampled_from(teeth.ALL), max_size=5, unique=True), st.sampled_from(Numbering))
def test_what_is_shown_is_read_back(some: list[Tooth], numbering: Numbering) -> None:
    """Extra teeth with their side too, which hold a comma and blanks of their own."""
    shown = field(TeethField, numbering)
    assert shown.clean(shown.prepare_value(some)) == tuple(some)
    assert read_teeth(" ".join(tooth.written(numbering) for tooth in some), numbering) == tuple(some)


@pytest.mark.parametrize("kind", [ToothField, TeethField])
def test_a_bare_number_is_asked_back_where_the_form_states_no_system(kind: type[ToothField]) -> None:
    """Edge case: 11 in a referral letter."""
    with pytest.raises(forms.ValidationError) as refusal:
        field(kind, None).clean("11")
    assert "ISO 11 is the upper right central incisor (Universal 8)" in str(refusal.value)
    assert "Universal 11 is the upper left canine (ISO 23)" in str(refusal.value)


def test_the_system_may_be_written_before_a_number() -> None:
    assert read_tooth("universal 11", None) == Tooth.from_iso("23")
    assert read_tooth("Universal 11", Numbering.ISO) == Tooth.from_iso("23")
    assert read_teeth("Universal 9; 22", Numbering.ISO) == (Tooth.from_iso("21"), Tooth.from_iso("22"))


@pytest.mark.parametrize("text", ["11, mesial", "11 M", "B", "8"])
def test_surfaces_and_other_systems_are_no_teeth_of_this_one(text: str) -> None:
    """Edge case: letters of surfaces beside a number."""
    with pytest.raises(forms.ValidationError, match="is no ISO tooth number"):
        read_teeth(text, Numbering.ISO)


def test_every_number_that_cannot_be_read_is_named() -> None:
    with pytest.raises(forms.ValidationError) as refusal:
        field(TeethField, Numbering.ISO).clean("21, 8, 99")
    assert [message[:5] for message in refusal.value.messages] == ["'8' i", "'99' "]


def test_a_wrong_system_before_a_number_is_refused() -> None:
    with pytest.raises(ToothNumberError, match="no Universal tooth number"):
        read_tooth("Universal 48", None)
