"""Every number in the data file carries a source and how it is known; a number without one is refused."""

from decimal import Decimal

import pytest

from planner.rules.settings import CERTAINTIES, parse_settings, read_settings

GOOD = '[settings.reach]\nvalue = 2.5\nunit = "mm"\nmeans = "a reach"\nsource = "a book"\ncertainty = "published"\n'


def test_shipped_settings_are_sourced():
    settings = read_settings("proportions.toml")
    assert len(settings) > 40
    for setting in settings.values():
        assert setting.certainty in CERTAINTIES
        assert len(setting.source) > 5
        assert ("no source" in setting.source) <= (setting.certainty == "common practice")


def test_shipped_settings_hold_no_binary_fractions():
    def walk(value):
        if isinstance(value, dict):
            return all(map(walk, value.values()))
        if isinstance(value, list):
            return all(map(walk, value))
        return not isinstance(value, float)

    assert all(walk(setting.value) for setting in read_settings("proportions.toml").values())


def test_reads_decimals_exactly():
    setting = parse_settings(GOOD, "x.toml")["reach"]
    assert setting.value == Decimal("2.5")
    assert (setting.name, setting.unit, setting.source) == ("reach", "mm", "a book")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (('source = "a book"\n', ""), "too many or too few: source"),
        (('source = "a book"', 'source = " "'), "needs a source"),
        (('"published"', '"hearsay"'), "a certainty out of"),
        (("unit =", 'units = "mm"\nunit ='), "too many or too few: units"),
    ],
)
def test_refuses_what_cannot_be_traced(change, message):
    with pytest.raises(ValueError, match=message):
        parse_settings(GOOD.replace(*change), "x.toml")
