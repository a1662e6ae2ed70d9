"""Days to think it over as an office sets them: what is read, what is refused, what holds where nothing is set."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from planner.rules.book import LegalSetting, OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.office_law import TEXT_SETTINGS, text_fault
from planner.rules.reflection import KINDS, Kind, kind_of, reflection, setting_key, shipped_sources, source_said
from planner.rules.results import OptionShape
from planner.rules.words import speaking
from tests.letters.sample import DAY_0, case_plan

KEYS = [setting_key(kind) for kind in KINDS]


def options() -> dict[Kind, OptionShape]:
    """An option for each kind: those of the lead case, and one that cuts more than is spared, for looks only."""
    plan = case_plan()
    faces = plan.option("ceramic-faces")
    lines = tuple(replace(line, tax_class="looks only") for line in faces.estimate.lines)
    work = tuple(replace(one, removal_tenths=8) for one in faces.work)
    cuts = replace(faces, work=work, estimate=replace(faces.estimate, lines=lines))
    return {kind_of(option): option for option in (*plan.options, cuts)}


def test_every_kind_can_be_set() -> None:
    assert [one.key for one in TEXT_SETTINGS if one.key in KEYS] == KEYS
    assert all(one.unset for one in TEXT_SETTINGS if one.key in KEYS)


@pytest.mark.parametrize("value", ["-1", "1.5", "seven", "366", "", "７"])
def test_what_is_no_number_of_days_is_refused(value: str) -> None:
    assert all("no number of days" in text_fault(key, value) for key in KEYS)


def test_the_office_s_days_hold_from_their_day_on(tern_row: OfficeBook) -> None:
    found = options()
    assert set(found) == set(KINDS)
    for kind, option in found.items():
        usual = reflection(option, tern_row, DAY_0)
        assert usual.hours == {"cutting for looks": 7 * 24, "taking away": 24, "adding": 0}[kind]
        own = LegalSetting(key=setting_key(kind), value="14", effective=DAY_0, set_by="Counsel", reason="a local rule")
        book = tern_row.model_copy(update={"legal": (*tern_row.legal, own)})
        assert reflection(option, book, DAY_0).hours == 14 * 24
        assert "a local rule" in reflection(option, book, DAY_0).source
        assert reflection(option, book, DAY_0 - timedelta(days=1)) == reflection(
            option, tern_row, DAY_0 - timedelta(days=1)
        )


@pytest.fixture(scope="module")
def tern_row() -> OfficeBook:
    """The invented office's book."""
    path = Path(__file__).parent.parent.parent / "fixtures" / "books" / "tern_row.toml"
    return load_book(path.read_text(encoding="utf-8"), date(2026, 3, 2))


def test_where_a_shipped_time_comes_from_is_said_in_spanish_and_an_office_s_own_words_stay() -> None:
    with speaking("es") as missing:
        said = [source_said(source) for source in shipped_sources()]
        assert source_said("Rule of {our} office") == "Rule of {our} office"
    assert not missing
    assert all("norma local" in one for one in said)
    assert [source_said(source) for source in shipped_sources()] == list(shipped_sources())
