"""The local duty of an estimate: deadlines by business days, limits, and what is missing.

Sources: 45 CFR 149.610(b)(1)(vi) and (x) as published in 86 FR 56136 (7 October 2021), 149.620; federal holidays by the
general-purpose library ``holidays``. That a business day is Monday to Friday without federal holidays is an assumption:
the rule does not define it.
"""

from datetime import date, timedelta

import holidays
import pytest

from planner.rules.duty import (
    add_business_days,
    annex,
    business_days_between,
    covers_through,
    deadline,
    duties,
    estimates_needed,
    is_business_day,
    may_be_disputed,
    new_one_by,
    parse_duties,
)

US = duties()["us"]
FEDERAL = frozenset(holidays.country_holidays("US", years=(2025, 2026, 2027)))


@pytest.mark.parametrize(
    ("event", "on", "service_on", "by"),
    [
        ("booked", date(2026, 3, 2), date(2026, 3, 16), date(2026, 3, 5)),  # 10 business days ahead
        ("booked", date(2026, 3, 2), date(2026, 3, 13), date(2026, 3, 3)),  # 9
        ("booked", date(2026, 3, 2), date(2026, 3, 5), date(2026, 3, 3)),  # 3
        ("booked", date(2026, 3, 2), date(2026, 3, 4), None),  # 2: only if asked for
        ("asked", date(2026, 3, 6), None, date(2026, 3, 11)),  # over a weekend
        ("booked", date(2026, 5, 21), date(2026, 6, 10), date(2026, 5, 27)),  # over a federal holiday
    ],
)
def test_when_an_estimate_is_due(event: str, on: date, service_on: date | None, by: date | None) -> None:
    assert deadline(US, event, on, service_on, FEDERAL).by == by  # type: ignore[arg-type]


def test_business_days_are_those_of_a_library_that_counts_them() -> None:
    outside = holidays.country_holidays("US", years=(2025, 2026, 2027))
    day = date(2025, 12, 1)
    for _ in range(400):
        assert is_business_day(day, FEDERAL) == outside.is_working_day(day)
        assert add_business_days(day, 3, FEDERAL) == outside.get_nth_working_day(day, 3)
        later = day + timedelta(days=23)
        assert business_days_between(day, later, FEDERAL) == outside.get_working_days_count(
            day + timedelta(days=1), later
        )
        day += timedelta(days=1)


def test_a_changed_estimate_is_due_a_business_day_before() -> None:
    assert new_one_by(US, date(2026, 5, 26), FEDERAL) == date(2026, 5, 22)  # the Monday before is a holiday
    assert new_one_by(duties()["uk"], date(2026, 5, 26), FEDERAL) is None


def test_one_estimate_covers_a_year_of_what_is_repeated() -> None:
    assert covers_through(US, date(2026, 1, 10)) == date(2027, 1, 9)
    assert [estimates_needed(US, months) for months in (1, 12, 13, 18, 24, 25)] == [1, 1, 2, 2, 2, 3]
    assert covers_through(duties()["uk"], date(2026, 1, 10)) is None


def test_from_400_above_a_providers_total_a_bill_may_be_disputed() -> None:
    assert not may_be_disputed(US, 100000, 139999)
    assert may_be_disputed(US, 100000, 140000)
    assert not may_be_disputed(US, 50000, 75000), "each provider by itself: 250 more from two is no 500"
    assert not may_be_disputed(duties()["uk"], 1, 10**9)


def test_what_is_missing_is_named() -> None:
    said = {"patient": "Anselm Brightwater, 3 May 1978", "primary": "Bonding", "lines": "2 lines", "provider": " "}
    made = annex(US, said, booked=False, repeated=False, currency="USD")
    assert "name of each provider" in made.missing
    assert "the expected service code of each line" in made.missing
    assert "the main service in clear words" not in made.missing
    words = [item.words for item in made.items]
    assert not any("if it is booked" in word or "how often" in word for word in words)
    booked = annex(US, said, booked=True, repeated=True, currency="USD")
    assert len(booked.items) == len(made.items) + 2
    assert any("at least USD 400.00 above" in sentence and "120 calendar days" in sentence for sentence in made.says)
    assert not any("{" in sentence for sentence in made.says)


def test_a_booking_needs_a_day_of_service_that_lies_after_it() -> None:
    with pytest.raises(ValueError, match="needs the day"):
        deadline(US, "booked", date(2026, 3, 2), None, ())
    with pytest.raises(ValueError, match="lies before its booking"):
        deadline(US, "booked", date(2026, 3, 2), date(2026, 3, 1), ())
    assert deadline(duties()["uk"], "asked", date(2026, 3, 2), None, ()).by is None


def test_a_duty_without_a_source_is_refused() -> None:
    row = '[duties.x]\nname = "x"\nfor_whom = "x"\nsource = ""\ncertainty = "published"\nsays = []\nahead = []\n'
    with pytest.raises(ValueError, match="needs a source"):
        parse_duties(row)
