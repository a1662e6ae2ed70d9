"""The product-limit estimate against published tables, two general-purpose libraries, and its own laws."""

import csv
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from planner.rules.product_limit import at_risk, product_limit, share_at

REFERENCE = Path(__file__).parents[1] / "data" / "kaplan_meier_reference.csv"


def near(value, printed):
    """Within half of the last digit that the source prints."""
    last = Decimal(1).scaleb(Decimal(printed).as_tuple().exponent)
    return abs(value - Decimal(printed)) <= last / 2


# Freireich and others, Blood 1963;21:699-716: weeks of remission of 21 children on 6-mercaptopurine, + = still well.
# The steps are printed in Kleinbaum and Klein, Survival Analysis, 3rd ed. 2012, table 2.1 (both from memory).
FREIREICH = (
    "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+",
    {6: "0.8571", 7: "0.8067", 10: "0.7529", 13: "0.6902", 16: "0.6275", 22: "0.5378", 23: "0.4482"},
)


def looked_at(text):
    parts = text.split()
    return [int(part.rstrip("+")) for part in parts], [not part.endswith("+") for part in parts]


class TestProductLimit:
    def test_published_weeks_of_remission(self):
        times, ended = looked_at(FREIREICH[0])
        found = {int(step.time): step.share for step in product_limit(times, ended)}
        assert found.keys() == FREIREICH[1].keys()
        for time, printed in FREIREICH[1].items():
            assert near(Decimal(found[time].numerator) / found[time].denominator, printed)

    def test_one_early_and_one_late_loss_of_a_wing_bridge(self):
        """Kern 2017: 22 bridges, losses at 48 and 214 months; printed 95.4 (cut off, not rounded) and 81.8 of 100 at 18
        years. That seven were still at risk at the second loss is inferred from the printed shares."""
        months = [48, *[100] * 14, 214, *[220] * 6]
        first, second = product_limit(months, [True, *[False] * 14, True, *[False] * 6])
        assert first.share == Fraction(21, 22)
        assert str(float(100 * first.share)).startswith("95.4")
        assert (second.at_risk, round(float(100 * second.share), 1)) == (7, 81.8)

    @pytest.mark.parametrize(("kept", "of", "printed"), [(18, 24, "75"), (73, 80, "91.3")])
    def test_without_early_leavers_it_is_the_plain_share(self, kept, of, printed):
        """Gresnigt and others 2019: 18 of 24, printed 75. Hepdeniz and others: 73 of 80, printed 91.3."""
        last = product_limit([5] * of, [at >= kept for at in range(of)])[-1]
        assert near(100 * Decimal(last.share.numerator) / last.share.denominator, printed)

    @settings(max_examples=40)
    @given(st.lists(st.tuples(st.integers(0, 20), st.booleans()), min_size=1, max_size=40))
    def test_against_a_reference_library(self, rows):
        """scipy.stats.ecdf on right-censored data, a general-purpose library's product-limit estimate."""
        times, ended = [time for time, _ in rows], [end for _, end in rows]
        steps = product_limit(times, ended)
        data = stats.CensoredData(
            uncensored=[time for time, end in rows if end], right=[time for time, end in rows if not end]
        )
        if not any(ended):
            assert steps == ()
            return
        reference = stats.ecdf(data).sf
        band = reference.confidence_interval(0.9, method="log-log") if any(step.share for step in steps) else None
        for step in steps:
            assert np.isclose(float(step.share), reference.evaluate(float(step.time)))
            if band is not None and step.share:
                low, high = step.band(Decimal("0.9"))
                assert np.isclose(float(low), band.low.evaluate(float(step.time)))
                assert np.isclose(float(high), band.high.evaluate(float(step.time)))

    @pytest.mark.parametrize("name", ["waltons", "larynx", "leukemia"])
    def test_against_lifelines_on_published_data(self, name):
        """``tests/data/kaplan_meier_reference.csv`` says which library made it from which data."""
        lines = REFERENCE.read_text(encoding="utf-8").splitlines()
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        rows = [row for row in rows if row["dataset"] == name]
        times = [row["time"] for row in rows for _ in range(int(row["failed"]) + int(row["censored"]))]
        ended = [at < int(r["failed"]) for r in rows for at in range(int(r["failed"]) + int(r["censored"]))]
        steps = product_limit(times, ended)
        reference = [row for row in rows if int(row["failed"])]
        assert len(steps) == len(reference) > 15
        for step, row in zip(steps, reference, strict=True):
            assert (step.time, step.failed) == (Fraction(row["time"]), int(row["failed"]))
            assert abs(float(step.share) - float(row["share_after"])) < 1e-12
            low, high = step.band()
            assert abs(float(low) - float(row["low"])) < 1e-12
            assert abs(float(high) - float(row["high"])) < 1e-12

    def test_what_cannot_be_is_refused(self):
        for durations, observed, why in (
            ([1], [True, False], "one end"),
            ([], [], "at least one"),
            ([-1], [True], "0 or"),
        ):
            with pytest.raises(ValueError, match=why):
                product_limit(durations, observed)

    def test_where_none_stands_there_is_no_band_left(self):
        """lifelines says 0 to 0 at the last day of its fruit flies, when the last one fails."""
        (step,) = product_limit([3, 3], [True, True])
        assert (step.share, step.greenwood, step.band()) == (0, None, (0, 0))
        with pytest.raises(ValueError, match="above 0, below 1"):
            step.band(Decimal(1))


looked_at_rows = st.lists(st.tuples(st.integers(0, 4000), st.booleans()), min_size=1, max_size=30)


@given(looked_at_rows)
def test_it_never_rises_and_lies_within_its_band(rows):
    times, ended = [time for time, _ in rows], [end for _, end in rows]
    steps = product_limit(times, ended)
    for step in steps:
        low, high = step.band()
        share = Decimal(step.share.numerator) / step.share.denominator
        assert 0 <= low <= share <= high <= 1
        assert step.at_risk == at_risk(times, step.time)
        assert step.band(Decimal("0.5"))[0] >= low
    for one, two in pairwise(steps):
        assert two.share < one.share
    assert sum(step.failed for step in steps) == sum(ended)
    assert share_at(steps, max(times)) == (steps[-1].share if steps else 1)


@given(looked_at_rows, st.integers(1, 500))
def test_whoever_was_followed_without_a_failure_never_lowers_it(rows, longer):
    times, ended = [time for time, _ in rows], [end for _, end in rows]
    before = product_limit(times, ended)
    after = product_limit([*times, max(times) + longer], [*ended, False])
    assert [step.time for step in before] == [step.time for step in after]
    assert all(more.share >= less.share for less, more in zip(before, after, strict=True))
