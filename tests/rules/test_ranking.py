"""The printed order against a plain sort of its tuple, the element that decided, and who beats whom on every count."""

import itertools
from dataclasses import replace
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.casefile import validate_case
from planner.rules.plan import plan_case
from planner.rules.ranking import Burden, rank
from planner.rules.results import OptionShape
from planner.rules.verdicts import Verdict
from tests.rules.books import tern_row
from tests.rules.test_casefile import TODAY, lead

SAID = (
    "it needs an operation",
    "lost for good",
    "lasting harms are expected",
    "removed beyond half a millimetre",
    "it touches",
    "it can be undone",
    "up to",
    "it takes",
)
"""What the sentence says for each element, in the order of the tuple."""

burdens = st.builds(
    Burden,
    surgery=st.integers(0, 1),
    teeth_reduced=st.integers(0, 2),
    lasting_harm_of_100=st.sampled_from([Decimal(0), Decimal("1.5"), Decimal(30)]),
    removed_beyond_tenths=st.integers(0, 2),
    teeth_touched=st.integers(0, 2),
    undo=st.integers(0, 2),
    months=st.integers(0, 2),
    visits=st.integers(0, 2),
)
FREE = Burden(0, 0, Decimal(0), 0, 0, 0, 0, 0)


@cache
def option() -> OptionShape:
    """An option that is offered and priced, to be given other figures."""
    return plan_case(validate_case(lead(), TODAY), tern_row(TODAY), TODAY).option("reshape-bond")


def made(key: str, verdict: Verdict = Verdict.OFFER, **figures: int) -> OptionShape:
    shape = replace(option(), key=key, name=key, verdict=verdict, reasons=(), removal_tenths=figures.get("tooth", 0))
    shape = replace(shape, visits=figures.get("visits", 1), months_high=figures.get("months", 0))
    money = replace(shape.estimate, compared_cents=figures.get("now", 100))
    return replace(shape, estimate=money, upkeep=replace(shape.upkeep, total_cents=figures.get("years", 0)))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(burdens, st.sampled_from([Verdict.OFFER, Verdict.ASK, Verdict.NO])), min_size=2, max_size=6))
def test_the_order_is_the_sorted_tuple_and_the_first_difference_is_told(drawn):
    found = [(made("none"), FREE)]
    found += [(made(f"o{index}", verdict), weight) for index, (weight, verdict) in enumerate(drawn)]
    weights = {shape.key: weight for shape, weight in found}
    ranked = rank(found)
    expected = sorted(found[1:], key=lambda pair: (pair[0].verdict is Verdict.NO, *pair[1].elements(), pair[0].key))
    assert [one.key for one in ranked] == ["none", *(shape.key for shape, _weight in expected)]
    assert [one.rank.place for one in ranked] == list(range(1, len(found) + 1))
    for before, after in itertools.pairwise(ranked):
        told = after.rank.decided_by
        if after.verdict is Verdict.NO and before.verdict is not Verdict.NO:
            assert told == "Stands last because it is not offered."
            continue
        assert f"“{before.name}”" in told
        pairs = zip(weights[before.key].elements(), weights[after.key].elements(), strict=True)
        first = next((index for index, (one, two) in enumerate(pairs) if one != two), None)
        assert ("the order of names decides" in told) if first is None else (SAID[first] in told), told


@pytest.mark.parametrize("count", ["tooth", "visits", "months", "now", "years"])
def test_beaten_on_every_count_means_none_better_and_one_worse(count):
    """Removal, visits, months, money now, money over the years: one more of any of them is beaten, one less is not."""
    usual = {"tooth": 3, "visits": 3, "months": 3, "now": 500, "years": 500}
    better, worse = made("better", **usual), made("worse", **(usual | {count: usual[count] + 1}))
    ranked = {one.key: one for one in rank([(better, FREE), (worse, FREE)])}
    assert ranked["worse"].rank.beaten_by == ("better",)
    assert ranked["better"].rank.beaten_by == ()
    other = next(name for name in usual if name != count and {name, count} != {"now", "years"})
    mixed = made("mixed", **(usual | {count: usual[count] + 1, other: usual[other] - 1}))
    ranked = {one.key: one for one in rank([(better, FREE), (mixed, FREE)])}
    assert ranked["mixed"].rank.beaten_by == ()


@pytest.mark.parametrize(
    "heavier",
    [replace(FREE, surgery=1), replace(FREE, teeth_reduced=1), replace(FREE, lasting_harm_of_100=Decimal("0.1"))],
)
def test_an_operation_a_reduced_tooth_and_lasting_harm_count(heavier):
    ranked = {one.key: one for one in rank([(made("light"), FREE), (made("heavy"), heavier)])}
    assert ranked["heavy"].rank.beaten_by == ("light",)


def test_what_is_not_offered_beats_nothing_and_fewer_wishes_beat_nothing():
    worse = made("worse", Verdict.NO, visits=2)
    ranked = {one.key: one for one in rank([(made("gone", Verdict.NO), FREE), (worse, FREE)])}
    assert ranked["worse"].rank.beaten_by == ()
    wishes = tuple(replace(wish, met=False) for wish in option().wishes)
    ranked = {
        one.key: one for one in rank([(replace(made("less"), wishes=wishes), FREE), (made("more", visits=2), FREE)])
    }
    assert ranked["more"].rank.beaten_by == ()


def test_equal_ones_beat_neither():
    ranked = rank([(made("a"), FREE), (made("b"), FREE)])
    assert [one.rank.beaten_by for one in ranked] == [(), ()]
