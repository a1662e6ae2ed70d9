"""Parts of the office book as pages change them: whole new books, nothing else touched, and what would change."""

from datetime import date, time, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.practice import drafts, opening
from planner.practice.models import BookVersion, Office, Staff
from planner.practice.roles import Role
from planner.rules.book import LegalSetting, OfficeBook, OpenHours, TaxRate
from planner.rules.bookfile import BookError
from planner.trail.errors import Refused
from tests.support import NOW, PASSWORD, TODAY, small_book

TOMORROW = TODAY + timedelta(days=1)
STARTER = drafts.starter_book(TODAY)
PRICES = st.dictionaries(
    st.sampled_from([line.key for line in STARTER.price_lists[0].services if line.shape == "per tooth"]),
    st.integers(min_value=1, max_value=10**7),
    max_size=6,
)


def test_the_starter_book_has_every_service_and_no_price() -> None:
    lines = STARTER.price_lists[0].services
    assert len(lines) > 30
    assert {line.cents for line in lines if line.shape != "included"} == {None}


@settings(max_examples=40)
@given(prices=PRICES, later=st.integers(min_value=1, max_value=400))
def test_a_new_price_list_leaves_the_one_in_effect_word_for_word(prices: dict[str, int], later: int) -> None:
    services = {key: {"cents": cents} for key, cents in prices.items()}
    effective = TODAY + timedelta(days=later)
    new = drafts.with_prices(STARTER, services=services, effective=effective, day=TODAY)
    assert new.price_lists[0] == STARTER.price_lists[0]
    assert (new.price_lists[1].version, new.price_lists[1].effective) == (2, effective)
    assert {line.key: line.cents for line in new.price_lists[1].services if line.cents is not None} == prices
    assert new.model_copy(update={"price_lists": STARTER.price_lists}) == STARTER
    changes = drafts.price_changes(new.price_lists[0], new.price_lists[1])
    assert len(changes) == len(prices)
    # A list still to come is replaced, not stacked.
    again = drafts.with_prices(new, services={}, effective=effective, day=TODAY)
    assert again == new


def test_a_price_list_that_cannot_be_is_refused_whole() -> None:
    with pytest.raises(BookError, match="below zero"):
        drafts.with_prices(small_book(), services={"build-up": {"cents": -100}}, effective=TOMORROW, day=TODAY)
    with pytest.raises(BookError, match="looks like a price and is none"):
        drafts.with_prices(small_book(), services={"build-up": {"cents": 0}}, effective=TOMORROW, day=TODAY)


HOURS = st.builds(
    lambda day, opens, minutes: OpenHours(weekday=day, opens=time(opens), closes=time(opens + minutes)),
    st.integers(min_value=0, max_value=6),
    st.integers(min_value=0, max_value=11),
    st.integers(min_value=1, max_value=12),
)


@settings(max_examples=40)
@given(hours=st.lists(HOURS, min_size=1, max_size=7, unique_by=lambda line: line.weekday))
def test_the_open_weekdays_are_those_that_have_hours(hours: list[OpenHours]) -> None:
    new = drafts.with_opening(STARTER, hours=hours, closed_days=[TOMORROW], chairs=["Window"])
    assert new.open_weekdays == tuple(sorted(line.weekday for line in hours))
    assert (new.closed_days, new.chairs, new.hours) == ((TOMORROW,), ("Window",), tuple(hours))
    assert drafts.opening_changes(new, new) == ()
    told = {change.what for change in drafts.opening_changes(STARTER, new)}
    assert {drafts.weekday_name(line.weekday) for line in hours} | {"Chairs", "Closed day"} <= told


def test_what_held_before_stands_beside_a_new_legal_setting() -> None:
    common = {"set_by": "Olive Owner", "reason": "the law"}
    first = LegalSetting(key="age-of-majority", value="18", effective=TODAY, **common)
    tax = TaxRate(tax_class="looks only", percent="13", effective=TODAY, **common)
    book = drafts.with_legal(small_book(), legal=[first], taxes=[tax])
    second = first.model_copy(update={"value": "19", "effective": TOMORROW})
    dearer = tax.model_copy(update={"percent": Decimal(14), "effective": TOMORROW})
    new = drafts.with_legal(book, legal=[second], taxes=[dearer])
    assert new.legal == (first, second)
    assert [(change.before, change.after) for change in drafts.legal_changes(book, new)] == [
        ("18", "19, from 3 March 2026"),
        ("13 %", "14 %, from 3 March 2026"),
    ]


# Opening a whole office


def _open(
    staff: list[opening.NewPerson], password: str = PASSWORD, book: OfficeBook | None = None
) -> tuple[Office, Staff, tuple[opening.GivenPassword, ...]]:
    return opening.open_whole_office(
        book=book or small_book(),
        effective=date(2026, 1, 1),
        owner=opening.NewPerson("Olive Owner", "olive", (Role.OWNER,)),
        password=password,
        staff=staff,
        now=NOW,
    )


@pytest.mark.django_db
def test_one_time_passwords_open_once_and_differ() -> None:
    people = [opening.NewPerson(f"Person {n}", f"p{n}", (Role.ASSISTANT,)) for n in range(4)]
    _office, owner, given = _open(people)
    assert not owner.password_once
    assert len({one.password for one in given}) == 4
    for one in given:
        assert one.staff.check_password(one.password)
        assert Staff.objects.get(pk=one.staff.pk).password_once


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("username", "roles", "said"),
    [
        ("olive", (Role.ASSISTANT,), "already"),
        ("a b", (Role.ASSISTANT,), "blanks"),
        ("ines", (), "at least one role"),
        ("ines", (Role.CHECKER,), "ends on a day"),
    ],
)
def test_one_person_that_cannot_be_taken_leaves_no_office(username: str, roles: tuple[Role, ...], said: str) -> None:
    fine = opening.NewPerson("Fine", "fine", (Role.DENTIST,))
    with pytest.raises(Refused, match=said):
        _open([fine, opening.NewPerson("Not fine", username, roles)])
    assert not Office.objects.exists()
    assert not Staff.objects.exists()
    assert not BookVersion.objects.exists()


@pytest.mark.django_db
def test_a_given_password_ends_the_own_one(owner: Staff, colleague: Staff) -> None:
    given = opening.give_password(staff=colleague, actor=owner, now=NOW)
    colleague.refresh_from_db()
    assert colleague.check_password(given.password)
    assert not colleague.check_password(PASSWORD)
    assert colleague.password_once
