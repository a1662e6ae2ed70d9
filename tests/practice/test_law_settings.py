"""Settings with legal weight that are words: which there are, and what is refused."""

from datetime import date

import pytest

from planner.practice.book_forms import LegalForm
from planner.rules.book import LegalSetting, OfficeBook
from planner.rules.office_law import credit_law, duty_of, holidays_of, said, text_fault
from tests.support import TODAY, small_book


def book_with(**values: str) -> OfficeBook:
    return small_book(
        legal=tuple(
            LegalSetting(key=key.replace("_", "-"), value=value, effective=TODAY, set_by="O. O.", reason="advice")
            for key, value in values.items()
        )
    )


def test_nothing_is_assumed_where_nothing_is_set() -> None:
    book = small_book()
    assert (duty_of(book, TODAY), credit_law(book, TODAY)) == (None, "other")
    assert (holidays_of(book, TODAY), said(book, "late-payment", TODAY)) == (frozenset(), "")


def test_what_is_set_holds_from_its_day() -> None:
    book = book_with(estimate_duty="us", credit_law="eu", holidays="2026-05-25 2026-07-03", late_payment=" We ring. ")
    assert duty_of(book, TODAY).key == "us"  # type: ignore[union-attr]
    assert credit_law(book, TODAY) == "eu"
    assert holidays_of(book, TODAY) == {date(2026, 5, 25), date(2026, 7, 3)}
    assert said(book, "late-payment", TODAY) == "We ring."
    assert duty_of(book, date(2026, 3, 1)) is None
    assert duty_of(book_with(estimate_duty="none"), TODAY) is None


@pytest.mark.parametrize(
    ("key", "value", "fault"),
    [
        ("estimate-duty", "fr", "write us, uk or none"),
        ("credit-law", "ca", "write us, eu or other"),
        ("holidays", "2026-05-25 Easter", "“Easter” is no day"),
        ("late-payment", "anything", ""),
        ("whitening-age", "18", ""),
    ],
)
def test_what_is_no_answer_is_refused(key: str, value: str, fault: str) -> None:
    assert fault in text_fault(key, value)
    form = LegalForm({"key": key, "value": value})
    assert form.is_valid() is not bool(fault)
    if fault:
        assert fault in str(form.errors["value"])
    else:
        setting = form.setting(effective=TODAY, set_by="O. O.", reason="advice")
        assert (setting.key, setting.value) == (key, value)  # type: ignore[union-attr]
