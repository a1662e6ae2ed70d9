"""All results together: counts below ten, comparisons only where both sides have enough."""

from datetime import date, timedelta

from planner.rules.own_work import OwnTooth
from planner.rules.pooled import OFF, WISH, Middle, compare_lengthened, pool
from planner.rules.promise import Moment, Promised, Review, SeenTooth, compare
from planner.rules.teeth import Tooth

DAY = date(2020, 1, 1)
LATERAL = Tooth.from_iso("22")


def tooth(lengthened: int, chips: int, days: int = 365) -> OwnTooth:
    chipped = tuple(DAY + timedelta(days=10 * (at + 1)) for at in range(chips))
    return OwnTooth("a", "bonding", LATERAL.key, DAY, DAY + timedelta(days=days), lengthened, chipped)


def test_a_comparison_names_both_sides_and_needs_ten_teeth_on_each():
    many = [tooth(15, 1)] * 7 + [tooth(15, 0)] * 5 + [tooth(8, 1)] * 3 + [tooth(8, 0)] * 9 + [tooth(0, 1)] * 4
    found = compare_lengthened(many)
    assert (found.more.events, found.more.teeth, found.less.events, found.less.teeth) == (7, 12, 3, 12)
    # 7 and 3 chips in as many tooth-years: 2.33 times as often, by hand.
    assert "chip 2.3 times as often" in found.said
    assert "n = 12.0 and 12.0 tooth-years" in found.said
    assert "goes together, not why" in found.said
    assert compare_lengthened(many[:9] + many[12:]).ratio is None
    none = compare_lengthened([tooth(15, 1)] * 12 + [tooth(8, 0)] * 12)
    assert none.ratio is None
    assert "Too few for a comparison" in none.said


def test_a_middle_is_said_from_ten_on():
    assert Middle(WISH, "x", (8,) * 9).said == "9 asked"
    assert Middle(WISH, "x", (8, 9) * 5).said == "8.5 (10)"
    assert Middle(OFF, "width", (-1,) * 10, in_tenths=True).said == "−0.1 (10)"
    assert Middle(OFF, "width", (2,) * 3, in_tenths=True).said == "3 measured"


def test_everything_together():
    review = Review(Moment.TWO_WEEKS, DAY, teeth={LATERAL: SeenTooth(width=74, length=96)}, scores={1: 8})
    result = compare([Promised(LATERAL, 55, 71, 83, 96)], [review], [(1, "the gap")])
    found = pool([("a", result), ("b", result), ("a", result)], [tooth(10, 1)])
    assert (found.plans, found.people) == (3, 2)
    assert found.near.said == "3 of 6"
    assert found.held.said == "0 of 0"
    assert [one.values for one in found.off] == [(3, 3, 3), (0, 0, 0)]
    assert [(kind, rate.said) for kind, rate in found.chips] == [
        ("lateral", "1 in 1.0 tooth-years (1 tooth, 1 person)")
    ]
    assert pool([], []).wishes == ()
