"""How long files are kept. The years are common practice, no source; what is held here is the counting of days."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.book import LegalSetting
from planner.rules.office_law import text_fault
from planner.rules.retention import KEYS, FileFacts, Term, Terms, retention, terms_on, years_later
from tests.support import small_book

ADULT = date(1979, 5, 4)
TERMS = Terms(Term(10, "a"), Term(25, "b"), Term(2, "c"), Term(7, "d"))
DAYS = st.dates(date(1950, 1, 1), date(2060, 12, 31))


def test_what_was_signed_or_done_last_counts() -> None:
    facts = FileFacts(ADULT, used=date(2026, 3, 2), signed=date(2026, 3, 2), treated=date(2026, 5, 20))
    held = retention(facts, TERMS, date(2036, 5, 20))
    assert held.may_go_from == date(2036, 5, 21) == held.listed_from
    assert retention(facts, TERMS, date(2036, 5, 21)).holds == ()


def test_a_childs_file_is_kept_until_the_birthday() -> None:
    born = date(2012, 8, 1)
    facts = FileFacts(born, used=date(2026, 3, 2), signed=date(2026, 3, 2))
    assert retention(facts, TERMS, date(2036, 6, 1)).may_go_from == date(2037, 8, 2)
    # The day of the eighteenth birthday is that of an adult.
    grown = FileFacts(born, used=date(2030, 8, 1), signed=date(2030, 8, 1))
    assert retention(grown, TERMS, date(2038, 1, 1)).may_go_from == date(2040, 8, 2)


def test_nothing_stands_against_a_file_without_treatment_and_it_is_listed_later() -> None:
    found = retention(FileFacts(ADULT, used=date(2026, 3, 2)), TERMS, date(2026, 3, 3))
    assert found.holds == ()
    assert found.listed_from == date(2028, 3, 3)


def test_a_booked_visit_stands_against_it() -> None:
    facts = FileFacts(ADULT, used=date(2020, 1, 1), coming=date(2026, 3, 9))
    assert retention(facts, TERMS, date(2026, 3, 2)).may_go_from == date(2026, 3, 10)
    assert retention(facts, TERMS, date(2026, 3, 10)).holds == ()


def test_money_is_kept_to_the_end_of_the_seventh_year_after() -> None:
    facts = FileFacts(ADULT, used=date(2026, 3, 2), paid=date(2026, 3, 2))
    kept = retention(facts, TERMS, date(2026, 3, 2)).money
    assert kept is not None
    assert kept.through == date(2033, 12, 31)
    assert retention(facts, TERMS, date(2034, 1, 1)).money is None


def test_leap_day() -> None:
    assert years_later(date(2024, 2, 29), 1) == date(2025, 3, 1)
    assert years_later(date(2024, 2, 29), 4) == date(2028, 2, 29)


@given(DAYS, DAYS, st.integers(0, 3000))
def test_once_free_a_file_stays_free_and_the_day_told_is_the_day(signed: date, day: date, later: int) -> None:
    facts = FileFacts(ADULT, used=signed, signed=signed)
    found = retention(facts, TERMS, day)
    if found.may_go_from is None:
        assert retention(facts, TERMS, day + timedelta(days=later)).holds == ()
    else:
        assert found.may_go_from > day
        assert retention(facts, TERMS, found.may_go_from).holds == ()
        assert retention(facts, TERMS, found.may_go_from - timedelta(days=1)).holds != ()


@given(DAYS, DAYS, st.integers(0, 50), st.integers(0, 50))
def test_more_years_never_free_a_file_sooner(signed: date, born: date, years: int, more: int) -> None:
    facts = FileFacts(born, used=signed, signed=signed)
    short, long = (Terms(Term(n, ""), Term(n, ""), Term(2, ""), Term(7, "")) for n in (years, years + more))
    day = date(1950, 1, 1)
    assert retention(facts, short, day).listed_from <= retention(facts, long, day).listed_from


def test_the_offices_own_years_hold_from_their_day_and_say_whose_they_are() -> None:
    own = LegalSetting(
        key="keep-treated-years", value="15", effective=date(2026, 6, 1), set_by="Olive Owner", reason="the act of 2026"
    )
    book = small_book(legal=(own,))
    before, after = (terms_on(book, day).treated for day in (date(2026, 5, 31), date(2026, 6, 1)))
    assert (before.years, after.years) == (10, 15)
    assert "ask your local law" in before.source
    assert after.source == "the act of 2026; Olive Owner, from 2026-06-01"


@pytest.mark.parametrize("key", sorted(KEYS))
@pytest.mark.parametrize("value", ["ten", "-1", "101", "1.5", "", "१०"])
def test_what_is_no_number_of_years_is_told(key: str, value: str) -> None:
    assert "write a whole number from 0 to 100" in text_fault(key, value)
    assert text_fault(key, "10") == ""
