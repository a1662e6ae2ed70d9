"""Fields read what people write and show it back; the outside check is the Unicode CLDR, through Babel's formats."""

from datetime import date, time
from decimal import Decimal
from typing import Any

import pytest
from babel.dates import format_date
from babel.numbers import format_decimal
from django import forms
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.practice.fields import (
    AmountField,
    ChosenField,
    DayField,
    DaysField,
    HourField,
    MillimetreField,
    PlainForm,
    TenthsField,
    YesNoField,
    day_words,
    read_day,
)
from planner.practice.templatetags.money import amount, millimetres
from planner.rules.units import format_cents

DAYS = st.dates(min_value=date(1900, 1, 1), max_value=date(2199, 12, 31))


@settings(max_examples=150)
@given(
    day=DAYS, written=st.sampled_from(["en_GB", "en_US", "es_ES", "es_MX"]), length=st.sampled_from(["long", "medium"])
)
def test_days_are_read_as_the_cldr_writes_them(day: date, written: str, length: str) -> None:
    # Source: Unicode CLDR date formats, as Babel carries them.
    text = format_date(day, length, locale=written)
    assert read_day(text, day_first=written != "en_US") == day


@settings(max_examples=100)
@given(day=DAYS, language=st.sampled_from(["en", "es"]))
def test_a_day_shown_in_a_form_is_read_back_as_the_same_day(day: date, language: str) -> None:
    with translation.override(language):
        field = DayField()
        assert field.clean(field.prepare_value(day)) == day
        assert DaysField().clean(DaysField().prepare_value((day,))) == (day,)
    assert read_day(day.isoformat()) == day


@settings(max_examples=100)
@given(day=DAYS)
def test_slashes_are_asked_back_exactly_where_both_readings_are_days(day: date) -> None:
    text = f"{day.day}/{day.month}/{day.year}"
    if day.day <= 12 and day.day != day.month:
        with pytest.raises(ValueError, match="two different days"):
            read_day(text)
        assert read_day(text, day_first=True) == day
        assert read_day(text, day_first=False) == day.replace(day=day.month, month=day.day)
    else:
        assert read_day(text) == day


@pytest.mark.parametrize(
    "text", ["", "soon", "31 February 2026", "2026-13-01", "5 Brumaire 1799", "1.1.26", "0/0/2026"]
)
def test_what_is_no_day_says_how_to_write_one(text: str) -> None:
    with pytest.raises(ValueError, match="month as a word"):
        read_day(text)


@settings(max_examples=150)
@given(cents=st.integers(min_value=0, max_value=10**9), language=st.sampled_from(["en", "es"]))
def test_amounts_shown_are_read_back_to_the_cent(cents: int, language: str) -> None:
    with translation.override(language):
        field = AmountField()
        assert field.clean(field.prepare_value(cents)) == cents
        # Source: Unicode CLDR decimal formats, as Babel carries them.
        plain = format_decimal(Decimal(cents) / 100, format="0.00", locale=language)
        assert field.clean(plain) == cents
        assert amount(cents) == format_decimal(Decimal(format_cents(cents)), format="#,##0.00", locale=language)


@settings(max_examples=100)
@given(tenths=st.integers(min_value=0, max_value=9999), language=st.sampled_from(["en", "es"]))
def test_lengths_shown_are_read_back_to_the_tenth(tenths: int, language: str) -> None:
    with translation.override(language):
        field = MillimetreField()
        assert field.clean(field.prepare_value(tenths)) == tenths
        assert field.clean(format_decimal(Decimal(tenths) / 10, format="0.0", locale=language)) == tenths
        assert field.clean(millimetres(tenths)) == tenths
        number = TenthsField(least=0, most=9999)
        assert number.clean(number.prepare_value(tenths)) == tenths


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        (AmountField(), "1.480.00", "grouped by thousands"),
        (AmountField(), "1 480,00", "grouped by thousands"),
        (AmountField(), "12.345", "grouped by thousands"),
        (AmountField(), "0.005", "whole cents"),
        (AmountField(), "-1", "below zero"),
        (MillimetreField(), "8.35", "finer than can be measured"),
        (MillimetreField(), "1/3", "is not a length"),
        (TenthsField(least=30, most=200), "2.9", "between 3.0 and 20.0"),
        (HourField(), "24:00", "not an hour of the day"),
        (HourField(), "8:60", "not an hour of the day"),
        (DayField(latest=date(2026, 3, 2)), "3 March 2026", "too late"),
        (DaysField(), "1 May 2026\nholiday", "“holiday” is not read as a day"),
    ],
)
def test_what_cannot_be_gets_one_sentence_with_the_value(field: forms.Field, text: str, said: str) -> None:
    with pytest.raises(forms.ValidationError) as refusal:
        field.clean(text)
    sentence = " ".join(refusal.value.messages)
    assert said in sentence


@pytest.mark.parametrize(
    ("text", "hour"), [("8:30", time(8, 30)), ("08.30", time(8, 30)), ("8h30", time(8, 30)), ("17", time(17))]
)
def test_hours_are_read_as_people_write_them(text: str, hour: time) -> None:
    assert HourField().clean(text) == hour
    assert HourField().clean(HourField().prepare_value(hour)) == hour


@pytest.mark.parametrize("value", [True, False, None])
def test_not_asked_is_an_answer_of_its_own(value: bool | None) -> None:
    field = YesNoField()
    assert field.clean(field.prepare_value(value)) is value
    chosen: Any = ChosenField(answers=[("none", "none")])
    assert chosen.clean("") is None
    assert chosen.clean("none") == "none"


@pytest.mark.parametrize("field", [DayField, HourField, AmountField, MillimetreField])
def test_an_empty_field_is_nothing_and_not_zero(field: type[forms.Field]) -> None:
    assert field(required=False).clean(" ") is None


def test_days_are_shown_with_the_month_as_a_word() -> None:
    assert day_words(date(2026, 3, 2)) == "2 March 2026"
    with translation.override("es"):
        assert day_words(date(2026, 3, 2)) == "2 marzo 2026"


@pytest.mark.parametrize(("first", "said"), [("–", True), ("the whole estimate", False), ("A4", False)])
def test_a_select_whose_first_answer_is_words_does_not_ask_to_stay_empty(first: str, said: bool) -> None:
    class OneField(PlainForm):
        field = forms.ChoiceField(choices=[("A4" if first == "A4" else "", first), ("b", "b")], required=False)
        note = forms.CharField(required=False)

    form = OneField()
    assert ("may stay empty" in form["field"].as_field_group()) is said
    assert "may stay empty" in form["note"].as_field_group()
