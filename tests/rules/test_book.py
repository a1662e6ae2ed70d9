"""Office books: the two that are shipped, and everything that is wrong with a bad one."""

import json
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.book import OfficeBook
from planner.rules.bookfile import BookError, load_book
from planner.rules.cents import up_to_next
from planner.rules.fees import Charge
from planner.rules.money import EstimateError, estimate
from tests.rules.books import BOOKS, DAY_ZERO, SERVICE_KEYS, tern_row

BOOK = tern_row()
LEAST = """
format = "leastways-book"
office = "Test office"
place = "Nowhere"
currency = "CAD"
time_zone = "America/Toronto"

[[price_lists]]
version = 1
effective = 2026-01-01
services = [ { key = "index", code = "IDX", words = "Index", shape = "per arch", cents = "70.00" } ]
"""


def faults(text: str, day_zero: date | None = None) -> tuple[str, ...]:
    with pytest.raises(BookError) as refused:
        load_book(text, day_zero)
    assert str(refused.value) == "\n".join(refused.value.faults)
    return refused.value.faults


def test_both_shipped_books_name_every_service_in_two_languages() -> None:
    starter = load_book((BOOKS / "starter.toml").read_text(encoding="utf-8"), DAY_ZERO)
    for prices in (*BOOK.price_lists, *starter.price_lists):
        assert [service.key for service in prices.services] == SERVICE_KEYS
        assert all(service.words and service.words_es for service in prices.services)
    codes = [service.code for service in BOOK.price_lists[0].services]
    assert codes == [service.code for service in starter.price_lists[0].services]


def test_the_starting_book_prices_nothing_until_the_office_has() -> None:
    starter = load_book((BOOKS / "starter.toml").read_text(encoding="utf-8"), DAY_ZERO)
    (prices,) = starter.price_lists
    assert prices.effective == DAY_ZERO
    for service in prices.services:
        assert service.cents is None
        with pytest.raises(LookupError, match="has no price yet"):
            _ = service.price
    charge = Charge("index", tax_class="reconstructive", tax_reason="absent tooth")
    with pytest.raises(EstimateError, match=r"\(IDX\) has no price yet"):
        estimate([charge], prices, BOOK.tax_rates, DAY_ZERO)
    with pytest.raises(LookupError, match="operating_cents_per_hour has not been typed"):
        starter.chair_rate()


def test_offsets_count_from_day_zero() -> None:
    assert [(prices.version, prices.effective) for prices in BOOK.price_lists] == [
        (7, DAY_ZERO - timedelta(days=120)),
        (8, DAY_ZERO + timedelta(days=31)),
    ]
    versions = [BOOK.price_list_on(DAY_ZERO + timedelta(days=days)).version for days in (-120, 0, 30, 31)]
    assert versions == [7, 7, 7, 8]
    with pytest.raises(LookupError, match="the first one starts on"):
        BOOK.price_list_on(DAY_ZERO - timedelta(days=121))
    assert all("day zero that was not given" in fault for fault in faults((BOOKS / "tern_row.toml").read_text()))


def test_version_8_raises_additions_by_4_percent_up_to_a_whole_dollar_and_nothing_else() -> None:
    old, new = BOOK.price_lists
    changed = {a.key: (a.price, b.price) for a, b in zip(old.services, new.services, strict=True) if a != b}
    assert changed == {"small-addition": (26500, 27600), "build-up": (44500, 46300)}
    for before, after in changed.values():
        assert after == up_to_next(before * Decimal("1.04"), 100)
    assert old.packages == new.packages


def test_legal_settings_are_dated_and_say_who_set_them() -> None:
    for key, value in (("age-of-own-consent", "18"), ("age-of-majority", "18"), ("whitening-age", "18")):
        setting = BOOK.legal_on(key, DAY_ZERO)
        assert setting is not None
        assert (setting.value, bool(setting.set_by), bool(setting.reason)) == (value, True, True)
    assert BOOK.legal_on("leap-day-birthday", DAY_ZERO) is not None
    assert BOOK.legal_on("age-of-majority", DAY_ZERO - timedelta(days=401)) is None
    assert BOOK.legal_on("age-of-driving", DAY_ZERO) is None


def test_a_book_survives_being_written_as_json() -> None:
    written = json.dumps(BOOK.model_dump(mode="json"), ensure_ascii=False)
    assert load_book(written) == BOOK
    assert load_book(LEAST).price_lists[0].service("index").price == 7000
    with pytest.raises(LookupError, match='no service "crown"'):
        load_book(LEAST).price_lists[0].service("crown")


def test_every_fault_is_listed_with_its_place() -> None:
    text = LEAST.replace('currency = "CAD"', 'currency = "cad"\nvisit_limit_minuts = 3\nlaboratory_days = 500')
    text = text.replace('"70.00"', "70.005").replace("2026-01-01", '"1 January"').replace('office = "Test office"', "")
    found = faults(text)
    for start in (
        "office: This is missing",
        "currency: ",
        "visit_limit_minuts: There is no such entry",
        "laboratory_days: ",
        'price_lists[0].effective: "1 January" is not a date',
        "price_lists[0].services[0].cents: 70.005 is not an amount in whole cents",
    ):
        assert any(fault.startswith(start) for fault in found), (start, found)
    assert len(found) == 6


@pytest.mark.parametrize(
    ("change", "to", "said"),
    [
        ('cents = "70.00"', 'cents = "0.00"', "looks like a price and is none"),
        ('cents = "70.00"', 'cents = "-70.00"', "below zero"),
        ('cents = "70.00"', "cents = true", "not an amount"),
        ('cents = "70.00"', "cents = nan", "not an amount"),
        ('shape = "per arch"', 'shape = "included"', "included in another fee"),
        ('shape = "per arch"', 'shape = "first and further"', "needs further_cents"),
        ('cents = "70.00"', 'cents = "70.00", further_cents = 5', "has no further price"),
        ('cents = "70.00"', 'cents = "70.00", cap_cents = 5', "only a price"),
        ('cents = "70.00"', 'cents = "70.00", handling_percent = 5', "only a"),
        ('shape = "per arch"', 'shape = "per jaw"', "per arch"),
        ("America/Toronto", "America/Wexcombe", "is not a time zone"),
        ('place = "Nowhere"', 'place = "Nowhere"\nopen_weekdays = []', "name each open weekday once"),
        ('place = "Nowhere"', 'place = "Nowhere"\nopen_weekdays = [1, 1]', "name each open weekday once"),
        (
            'place = "Nowhere"',
            'place = "Nowhere"\nearning_stages = [{ stage = "fit", percent = 99 }]',
            "must come to 100",
        ),
        (
            'place = "Nowhere"',
            'place = "Nowhere"\nminutes = [{ treatment = "b", block = "finish", visit = "b", '
            'fast = 5, usual = 4, slow = 9, source = "s" }]',
            "fast, then usual, then slow",
        ),
        (
            "services = [",
            'packages = [{ code = "P", words = "p", service = "crown", at_least = 2, percent = 5 }]\nservices = [',
            "no line for",
        ),
        (
            "services = [",
            'services = [ { key = "index", code = "ID2", words = "Again", shape = "per arch", cents = 7 }, ',
            '"index" is there twice',
        ),
        (
            "services = [",
            'services = [ { key = "other", code = "IDX", words = "Other", shape = "per arch", cents = 7 }, ',
            "stands for two lines",
        ),
    ],
)
def test_settings_that_cannot_be(change: str, to: str, said: str) -> None:
    assert change in LEAST
    (fault,) = faults(LEAST.replace(change, to))
    assert said in fault


def test_lists_and_settings_given_twice() -> None:
    second = LEAST[LEAST.index("[[price_lists]]") :]
    assert len(faults(LEAST + second)) == 2  # the version, and the day
    rate = '[[tax_rates]]\ntax_class = "looks only"\npercent = 13\neffective = 2026-01-01\nreason = "r"\nset_by = "s"\n'
    legal = '[[legal]]\nkey = "age"\nvalue = "18"\neffective = 2026-01-01\nset_by = "s"\nreason = "r"\n'
    assert len(faults(LEAST + rate * 2 + legal * 2)) == 2
    assert len(load_book(LEAST + rate + legal).tax_rates) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "The book is empty"),
        ("office = ", "not TOML"),
        ('{"office": ', "not JSON"),
        ('{"office": "a", "office": "b"}', '"office" is given twice'),
        ('{"a":' * 100_000, "nested deeper"),
        ("# " + "x" * 1_000_001, "at most"),
        ('{"slot_minutes": ' + "1" * 5000 + "}", "cannot be read"),
        ("slot_minutes = " + "1" * 5000, "cannot be read"),
    ],
)
def test_files_that_are_no_book(text: str, said: str) -> None:
    assert any(said in fault for fault in faults(text))


@given(st.text(max_size=200))
def test_any_text_is_a_book_or_is_refused_with_sentences(text: str) -> None:
    with pytest.raises(BookError) as refused:
        load_book(text)
    assert refused.value.faults
    assert all(fault.strip() for fault in refused.value.faults)


def test_a_loaded_book_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="frozen"):
        BOOK.office = "Other"
    assert isinstance(BOOK, OfficeBook)
