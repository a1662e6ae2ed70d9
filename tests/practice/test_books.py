"""The office book: whole versions, and history that no later version rewrites."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.practice import books
from planner.practice.models import BookVersion, Staff
from planner.practice.roles import Role
from planner.rules.book import LegalSetting, OfficeBook, OpenHours, PriceList, TaxRate
from planner.rules.plan import sha256, stable_json
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.models import TrailEntry
from tests.support import NOW, TODAY, small_book

pytestmark = pytest.mark.django_db
TOMORROW = TODAY + timedelta(days=1)


def change(owner: Staff, book: OfficeBook, effective: date = TODAY, reason: str = "r") -> BookVersion:
    return books.change_book(office=owner.office, book=book, effective=effective, reason=reason, actor=owner, now=NOW)


def with_list(version: int, effective: date, cents: str = "460.00") -> OfficeBook:
    (first,) = small_book().price_lists
    service = first.services[0].model_copy(update={"cents": int(cents.replace(".", ""))})
    new = PriceList(version=version, effective=effective, services=(service,))
    return small_book(price_lists=(first, new))


def legal(day: date, value: str = "18") -> LegalSetting:
    return LegalSetting(key="age of majority", value=value, effective=day, set_by="Olive", reason="law")


def test_the_first_book_holds_from_its_day_and_reads_back(owner: Staff) -> None:
    version = BookVersion.objects.get(office=owner.office)
    book = books.current_book(owner.office, TODAY)
    assert book == small_book()
    assert version.sha256 == sha256(stable_json(book)), "the hash that a case plan names"
    with pytest.raises(Refused, match="No office book of Test office is in force on 2025-12-31"):
        books.current_book(owner.office, date(2025, 12, 31))
    with pytest.raises(Refused, match="already"):
        books.adopt_book(office=owner.office, book=book, effective=TODAY, reason="r", actor=owner, now=NOW)


def test_a_change_is_a_new_version_and_yesterday_keeps_its_own(owner: Staff) -> None:
    version = change(owner, small_book(chairs=("one", "two"), slot_minutes=10))
    assert version.number == 2
    assert books.current_book(owner.office, TODAY).chairs == ("one", "two")
    assert books.current_book(owner.office, TODAY - timedelta(days=1)).chairs == ()
    assert books.latest_version(owner.office) == version
    assert TrailEntry.objects.order_by("-sequence")[0].act == "book.change"


@pytest.mark.parametrize(
    ("book", "sentence"),
    [
        (with_list(2, TODAY), "Price list 2 would begin on 2026-03-02: tomorrow is the earliest"),
        (with_list(2, TODAY - timedelta(days=9)), "tomorrow is the earliest"),
        (
            small_book(price_lists=with_list(1, date(2026, 1, 1)).price_lists[1:]),
            "Price list 1 is in effect since 2026-01-01 and cannot be altered",
        ),
        (small_book(price_lists=with_list(2, TOMORROW).price_lists[1:]), "Price list 1 is in effect"),
        (
            small_book(
                tax_rates=(TaxRate(tax_class="looks only", percent=13, effective=TODAY, reason="r", set_by="O"),)
            ),
            "The tax rate for looks only would begin",
        ),
        (small_book(legal=(legal(TODAY - timedelta(days=1)),)), "The legal setting age of majority would begin"),
        (small_book(time_zone="Europe/Vienna"), "the office in America/Toronto"),
    ],
)
def test_what_is_in_effect_is_not_rewritten(owner: Staff, book: OfficeBook, sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        change(owner, book)
    assert BookVersion.objects.filter(office=owner.office).count() == 1


def test_a_price_list_to_come_may_be_changed_until_it_comes(owner: Staff) -> None:
    change(owner, with_list(2, TOMORROW))
    change(owner, with_list(2, TOMORROW, "470.00"))
    book = books.current_book(owner.office, TOMORROW)
    assert book.price_list_on(TOMORROW).services[0].price == 47000
    assert book.price_list_on(TODAY).services[0].price == 44500


def test_no_day_gets_another_book_than_it_had(owner: Staff) -> None:
    with pytest.raises(Refused, match="the earliest day is 2026-03-02"):
        change(owner, small_book(slot_minutes=10), effective=TODAY - timedelta(days=1))
    change(owner, small_book(slot_minutes=10), effective=TOMORROW)
    with pytest.raises(Refused, match="the earliest day is 2026-03-03"):
        change(owner, small_book(slot_minutes=15))
    with pytest.raises(Refused, match="needs a reason"):
        change(owner, small_book(slot_minutes=15), effective=TOMORROW, reason=" ")


def test_two_editors_of_the_book(owner: Staff) -> None:
    change(owner, small_book(slot_minutes=10))
    given = {"office": owner.office, "effective": TODAY, "reason": "r", "actor": owner, "now": NOW}
    with pytest.raises(StaleEdit):
        books.change_book(book=small_book(slot_minutes=15), seen=1, **given)


def test_who_may(owner: Staff, person: Callable[..., Staff], colleague: Staff) -> None:
    manager = person(Role.MANAGER)
    with pytest.raises(NotAllowed, match="edit office book"):
        change(colleague, small_book(slot_minutes=10))
    assert change(manager, small_book(slot_minutes=10)).number == 2
    with pytest.raises(NotAllowed, match="set by the owner dentist"):
        change(manager, small_book(legal=(legal(TODAY),)))
    assert change(owner, small_book(legal=(legal(TODAY),))).number == 3
    with pytest.raises(Refused, match="age of majority is in effect since"):
        change(owner, small_book(legal=(legal(TODAY, "19"),)))


def test_the_office_counts_days_in_its_own_zone(owner: Staff) -> None:
    # Toronto is five hours behind UTC in winter (IANA time zone database).
    assert books.today(owner.office, datetime(2026, 3, 2, 4, 59, tzinfo=UTC)) == date(2026, 3, 1)
    assert books.today(owner.office, datetime(2026, 3, 2, 5, 0, tzinfo=UTC)) == date(2026, 3, 2)


def test_hours_close_after_they_open() -> None:
    hours = {"weekday": 0, "opens": "08:00", "closes": "17:00"}
    assert small_book(hours=(hours,)).hours[0].opens.hour == 8
    with pytest.raises(ValueError, match="closing comes after opening"):
        OpenHours.model_validate(hours | {"closes": "08:00"})


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.fixed_dictionaries(
        {
            "slot_minutes": st.integers(1, 60),
            "closed_days": st.lists(st.dates(), max_size=3).map(tuple),
            "margin_percent": st.decimals(0, 99, places=2),
            "office": st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=20).map(
                str.strip
            ),
            "office_limits": st.dictionaries(st.sampled_from(["a", "b"]), st.just("0.5"), max_size=2),
        }
    )
)
def test_a_book_comes_back_as_it_was(values: dict[str, object]) -> None:
    book = small_book(**values)
    assert books.read_book(books.book_text(book)) == book
