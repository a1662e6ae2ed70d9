"""Settings of one value, the limits of sharing the space as an office sees them, and fees from cost on one sheet.

The figures of the sheet were worked out by hand: 402,000 a year over 2 chairs × 45 weeks × 32 hours × 80 % = 174.48 an
hour, with 150 for the dentist 325; 185 minutes, three teeth and 165 of laboratory cost 1,257.80.
"""

from decimal import Decimal

import pytest
from pydantic import BaseModel

from planner.rules.book import OfficeBook
from planner.rules.fee_sheet import fee_sheet, usual_minutes
from planner.rules.office_settings import GROUPS, choices_of, office_settings, space_limits, value_words
from planner.rules.space_limits import default_limits, with_limits
from tests.rules.books import tern_row

BOOK = tern_row()
ELSEWHERE = {
    "format", "version", "office", "place", "currency", "time_zone", "open_weekdays", "closed_days", "hours", "chairs",
    "earning_stages", "discount_limits", "price_lists", "tax_rates", "minutes", "materials", "legal", "office_limits",
}  # fmt: skip
"""What is a table, the office itself, or dated: it has a page of its own."""


def test_every_setting_of_the_book_has_a_place_a_unit_and_a_source() -> None:
    placed = [name for names in GROUPS.values() for name in names]
    assert sorted(placed) == sorted(office_settings()), (
        "a setting of one value belongs into office_settings.toml and a group"
    )
    assert set(placed) | ELSEWHERE == set(OfficeBook.model_fields), "a new field of the book: give it a place on a page"


def test_starting_values_are_those_a_book_starts_from() -> None:
    for name, setting in office_settings().items():
        default = OfficeBook.model_fields[name].default
        written = value_words(name, setting.value) if isinstance(setting.value, bool) else str(setting.value)
        assert (value_words(name, default) or "none yet") == written, name
        assert not isinstance(default, BaseModel)


def test_choices_are_those_of_the_model() -> None:
    assert choices_of("tax_rounding") == ("per line", "per class")
    assert choices_of("figures_counted_in") == ("general practice", "university clinics")


def test_every_limit_of_the_space_can_be_set_by_its_name() -> None:
    limits = list(space_limits())
    assert len({limit.name for limit in limits}) == len(limits) > 60
    for limit in limits:
        changed = with_limits(default_limits(), {limit.name: limit.shipped + 1})
        assert changed != default_limits(), limit.name
    by_name = {limit.name: limit for limit in limits}
    assert (by_name["share_min"].words(3), by_name["share_min"].unit_words) == ("0.3", "mm")
    assert (by_name["proportion_floor"].words(68), by_name["proportion_floor"].unit_words) == ("68", "0.01")
    assert by_name["band_ratio.weight"].unit_words == "points"


def test_margin_is_not_mark_up_and_the_list_fee_leaves_what_it_leaves() -> None:
    assert usual_minutes(BOOK, 3) == 185
    found = fee_sheet(BOOK, (("dentist", 185),), teeth=3, visits=1, lab_cents=16500, list_cents=157000)
    assert found.cost_cents == 125780
    assert (found.by_margin_cents, found.by_mark_up_cents, found.short_cents) == (161257, 153452, 7805)
    assert (found.margin_fee_cents, found.mark_up_fee_cents) == (161500, 153500)
    margins = found.margin_of_margin_fee, found.margin_of_mark_up_fee, found.list_margin
    assert margins == (Decimal("22.1"), Decimal("18.1"), Decimal("19.9"))
    assert found.how[0] == "185 min × 325.00 ÷ 60 (dentist) = 1002.08"


def test_a_sheet_needs_some_work_and_the_rates_of_who_does_it() -> None:
    with pytest.raises(ValueError, match="has no cost"):
        fee_sheet(BOOK, (("dentist", 0),), teeth=0, visits=0, lab_cents=0)
    bare = BOOK.model_copy(update={"hygiene_cents_per_hour": None})
    assert fee_sheet(bare, (("dentist", 10), ("hygiene", 0)), teeth=0, visits=0, lab_cents=0).list_margin is None
    with pytest.raises(LookupError, match="hygiene"):
        fee_sheet(bare, (("hygiene", 10),), teeth=0, visits=0, lab_cents=0)
