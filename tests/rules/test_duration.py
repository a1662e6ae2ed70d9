"""How long courses take: waits that biology sets hold however fast the laboratory is."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.casefile import validate_case
from planner.rules.evidence import evidence
from planner.rules.gate_facts import add_months
from planner.rules.plan import plan_case
from planner.rules.results import OptionShape
from tests.rules.test_casefile import TODAY, changed, lead

ROOT = Path(__file__).resolve().parents[2]
BOOK = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), TODAY)


def option(key: str, data: dict[str, Any] | None = None, book: OfficeBook = BOOK) -> OptionShape:
    return plan_case(validate_case(data or lead(), TODAY), book, TODAY).option(key)


def days(found: OptionShape) -> dict[str, date]:
    """Each step of the calendar with its earliest day."""
    lines = [
        line.removesuffix(" at the earliest.").rpartition(": ") for line in found.how if "at the earliest." in line
    ]
    return {words: date.fromisoformat(day) for words, _, day in lines}


@given(laboratory=st.integers(0, 20))
@settings(max_examples=6, deadline=None)
def test_bonding_waits_for_the_last_night_and_not_for_the_first(laboratory: int) -> None:
    """14 days after the last night (Savian and others 2021, laboratory studies), however quick the laboratory is."""
    book = BOOK.model_copy(update={"laboratory_days": laboratory})
    found = days(option("whiten-then-reshape-bond", book=book))
    assert found["Bonding"] - found["Shade looked at again"] >= timedelta(days=14)
    assert found["Shade looked at again"] - found["Trays fitted, first use shown"] >= timedelta(days=14)


def test_whitening_that_was_done_before_holds_bonding_back_as_well() -> None:
    night = TODAY + timedelta(days=10)
    found = option("reshape-bond", changed("examination.colour.last_whitening_night", night.isoformat()))
    wait = int(evidence("whitening-bond-wait").value)
    assert days(found)["Bonding"] >= night + timedelta(days=wait)
    assert found.earliest_finish is not None
    assert found.earliest_finish >= night + timedelta(days=wait + 14)  # and the review behind it


def test_no_course_of_braces_is_done_before_the_months_it_takes() -> None:
    for key in ("braces-then-bonding", "braces-then-wing-bridge", "braces-then-implant"):
        found = option(key)
        assert found.earliest_finish is not None
        assert found.earliest_finish >= add_months(TODAY, found.months_low)
        assert any("months at the least" in line for line in found.how)


def test_bone_heals_no_sooner_than_it_does() -> None:
    data = lead()
    data["examination"]["empty_places"] = [{"place": "24", "crown_distance": "7.0"}]
    found = option("implant-crown", data)
    assert found.earliest_finish is not None
    assert found.earliest_finish >= add_months(TODAY, found.months_low)


@pytest.mark.parametrize(("away", "says"), [(28, "on the day itself"), (29, "1 day before"), (30, "2 days before")])
def test_the_wished_day_in_words(away: int, says: str) -> None:
    """A day to think, ten of laboratory, the next open day, then two weeks until the review: day 28."""
    wish = (TODAY + timedelta(days=away)).isoformat()
    assert says in option("reshape-bond", changed("limits.wish_by", wish)).how[-1]
