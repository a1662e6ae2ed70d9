"""The form of a number's row, how its number is read and printed, and words that take their numbers from rows."""

import textwrap
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.evidence import (
    DataFault,
    Evidence,
    denominator,
    evidence,
    fill,
    load_evidence,
    whole,
)

ROW = """
[[evidence]]
key = "chips-10y"
words = "chipped edges"
measure = "happened"
value = "8.4"
low = "7"
high = "10"
interval = "95 % interval"
unit = "of 100 teeth"
n = 120
n_of = "teeth"
years = "10"
citation = "Invented for this test"
certainty = "abstract"
"""


def folder(tmp_path, rows, user='words = "Edges chip: {chips-10y} of 100."'):
    (tmp_path / "rules" / "data" / "evidence").mkdir(parents=True)
    data = tmp_path / "rules" / "data"
    (data / "evidence" / "some.toml").write_text(textwrap.dedent(rows), encoding="utf-8")
    (data / "treatment.toml").write_text(user, encoding="utf-8")
    return data


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (('value = "8.4"', 'value = "108"'), "108 of 100 cannot be"),
        (('low = "7"', 'low = "9"'), "wrong side"),
        (('interval = "95 % interval"', ""), "what low and high are"),
        (('"happened"', '"often"'), "measure"),
        (('"abstract"', '"hearsay"'), "certainty"),
        (("n = 120", "n = 0"), "greater than 0"),
        (('years = "10"', "size = 3"), "size"),
        (('"happened"\nvalue', '"yearly rate"\nunknown = 1\nvalue'), "unknown"),
    ],
)
def test_a_wrong_row_is_refused_with_file_and_field(tmp_path, change, why):
    data = folder(tmp_path, ROW.replace(*change))
    with pytest.raises(DataFault, match=f"some.toml.*{why}"):
        load_evidence(data / "evidence")


def test_a_key_stands_once(tmp_path):
    with pytest.raises(DataFault, match="stands twice"):
        load_evidence(folder(tmp_path, ROW + ROW) / "evidence")


def test_an_unknown_key_is_named():
    with pytest.raises(LookupError, match="no-such-row"):
        evidence("no-such-row")


class TestWordsWithNumbers:
    def rows(self):
        kept = Evidence(
            key="kept",
            words="w",
            measure="kept",
            value=Decimal("91.7"),
            unit="u",
            years=Decimal(10),
            certainty="memory",
        )
        rate = Evidence(
            key="rate",
            words="w",
            measure="yearly rate",
            value=Decimal("4.6"),
            unit="u",
            years=Decimal(5),
            certainty="memory",
        )
        span = Evidence(
            key="span",
            words="w",
            measure="amount",
            value=Decimal("0.50"),
            low=Decimal("0.3"),
            high=Decimal("0.70"),
            interval="range",
            unit="mm",
            certainty="memory",
        )
        return {row.key: row for row in (kept, rate, span)}

    @pytest.mark.parametrize(
        ("text", "filled"),
        [
            ("{kept} of 100", "92 of 100"),
            ("{kept:kept} and {kept:lost}", "92 and 8"),
            ("{kept:exact}", "91.7"),
            ("{rate:kept} at five, {rate:kept@10} at ten", "79 at five, 62 at ten"),
            ("{rate} % a year", "4.6 % a year"),
            ("{span} mm, {span:range} mm", "0.5 mm, 0.3–0.7 mm"),
        ],
    )
    def test_filled(self, text, filled):
        assert fill(text, self.rows()) == filled

    @pytest.mark.parametrize(
        ("text", "why"),
        [
            ("about 5 of 100", "typed"),
            ("{gone} of 100", "no evidence row"),
            ("{kept:often}", "cannot be printed"),
            ("{kept:range}", "cannot be printed"),
            ("{Kept}", "cannot be read"),
            ("{span:kept}", "an amount"),
        ],
    )
    def test_refused(self, text, why):
        with pytest.raises(ValueError, match=why):
            fill(text, self.rows())

    def test_a_share_without_a_year_is_not_read_at_another(self):
        row = evidence("gap-comes-back")
        assert row.kept() == 40
        with pytest.raises(ValueError, match="names no year"):
            row.kept(10)


@given(st.decimals(min_value=0, max_value=100, places=3))
def test_whole_numbers_are_within_half(share):
    assert abs(whole(share) - share) <= Decimal("0.5")
    assert abs(Decimal(whole(share, 1000)) / 10 - share) <= Decimal("0.05")


def test_one_denominator_for_a_table():
    """One denominator throughout, 1,000 only when a value is below 1 of 100.

    Trevena and others 2013, BMC Med Inform Decis Mak 13(S2):S7; Syst Rev 2017, 10.1186/s13643-017-0446-2.
    """
    assert denominator([Decimal(0), Decimal(1), Decimal(34)]) == 100
    assert denominator([Decimal("0.7"), Decimal(34)]) == 1000
