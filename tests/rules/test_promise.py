"""Promise against result: what is reckoned from reviews, and that nothing is made up where nobody measured."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.rules.promise import (
    APPOINTED,
    Condition,
    Mended,
    Moment,
    Promised,
    Review,
    SeenTooth,
    Size,
    compare,
    due_on,
    next_review,
    within,
)
from planner.rules.teeth import Tooth

DONE = date(2026, 3, 2)
CENTRAL, LATERAL = Tooth.from_iso("21"), Tooth.from_iso("22")
PROMISED = (Promised(CENTRAL, 84, 89, 106, 106), Promised(LATERAL, 55, 71, 83, 96, lengthened=13))


def review(moment: Moment, days: int, **teeth: SeenTooth) -> Review:
    known = {"central": CENTRAL, "lateral": LATERAL}
    return Review(moment, DONE + timedelta(days=days), "Dr I. S.", "caliper", {known[k]: v for k, v in teeth.items()})


def test_planned_reached_and_now():
    """A lateral built from 5.5 to 7.0 where 7.1 was planned, worn to 6.8 after two years and chipped on the way."""
    found = compare(
        PROMISED,
        [
            review(Moment.TWO_YEARS, 730, lateral=SeenTooth(width=68, length=95)),
            review(Moment.DONE, 0, lateral=SeenTooth(width=70, length=97), central=SeenTooth(width=89)),
            review(Moment.ONE_YEAR, 365, lateral=SeenTooth(Condition.CHIPPED)),
        ],
        [(1, "the gap")],
    )
    central, lateral = found.teeth
    assert (lateral.width.off, lateral.width.drift) == (-1, -2)
    assert (lateral.length.off, lateral.length.drift) == (1, -2)
    assert (lateral.reached_on, lateral.now_on) == (DONE, DONE + timedelta(days=730))
    assert [one.condition for one in lateral.happened] == [Condition.CHIPPED]
    assert lateral.width.kept_promise
    assert lateral.width.changed_since is False
    # Nobody measured the length of the central: that is not "as planned".
    assert central.length.off is None
    assert central.length.kept_promise is None
    assert central.now_on is None
    assert central.is_whole


def test_how_near_is_as_near_as_can_be_measured():
    """Common practice, no source: a calliper repeats to about 0.1 mm, so two readings may lie 0.2 mm apart."""
    assert within() == 2
    assert Size(planned=71, reached=69).kept_promise
    assert not Size(planned=71, reached=68).kept_promise


def test_mended_at_a_look_and_as_a_plan_of_the_same_day_is_once():
    day = DONE + timedelta(days=100)
    mended = [Mended(day, "corner", (LATERAL,), 0, 17450), Mended(day + timedelta(days=9), "edge", (LATERAL,), 15000)]
    reviews = [review(Moment.OTHER, 100, lateral=SeenTooth(Condition.MENDED))]
    found = compare(PROMISED, reviews, [], mended)
    assert [one.on for one in found.teeth[1].happened] == [day, day + timedelta(days=9)]
    assert (found.later_cents, found.office_cents) == (15000, 17450)


def test_wishes_keep_the_words_and_every_answer():
    reviews = [
        Review(Moment.TWO_WEEKS, DONE + timedelta(days=14), scores={1: 8, 2: 10}),
        Review(Moment.ONE_YEAR, DONE + timedelta(days=370), scores={1: 7}),
    ]
    one, two = compare((), reviews, [(2, "the tip"), (1, "the gap")]).wishes
    assert (one.words, [score for _m, _d, score in one.scores]) == ("the gap", [8, 7])
    assert (two.words, [score for _m, _d, score in two.scores]) == ("the tip", [10])


def test_when_it_is_looked_at_again():
    """Common practice, no source: 14 days, 12 and 24 months after the last of it was done."""
    assert [(due_on(one, DONE) - DONE).days for one in APPOINTED] == [14, 365, 730]
    assert next_review(DONE, []) == (Moment.TWO_WEEKS, DONE + timedelta(days=14))
    # The one after a year was let go when the one after two was held; then none is left.
    assert next_review(DONE, [review(Moment.TWO_YEARS, 700)]) is None
    assert next_review(DONE, [review(Moment.TWO_WEEKS, 15), review(Moment.OTHER, 90)]) == (
        Moment.ONE_YEAR,
        DONE + timedelta(days=365),
    )
    with pytest.raises(KeyError):
        due_on(Moment.OTHER, DONE)


lengths = st.none() | st.integers(30, 140)
seen_teeth = st.builds(SeenTooth, st.sampled_from(Condition), lengths, lengths)
reviews = st.builds(
    lambda moment, days, teeth: Review(moment, DONE + timedelta(days=days), teeth=teeth),
    st.sampled_from(Moment),
    st.integers(0, 900),
    st.dictionaries(st.sampled_from([CENTRAL, LATERAL]), seen_teeth),
)


@given(st.lists(reviews, max_size=6, unique_by=lambda one: (one.on, one.moment)), st.randoms(use_true_random=False))
def test_laws_of_comparing(found, random):
    result = compare(PROMISED, found, [])
    shuffled = random.sample(found, len(found))
    assert compare(PROMISED, shuffled, []) == result
    for promised, tooth in zip(PROMISED, result.teeth, strict=True):
        taken = [
            (one.on, list(Moment).index(one.moment), one.teeth[promised.tooth].width)
            for one in found
            if promised.tooth in one.teeth and one.teeth[promised.tooth].width is not None
        ]
        # Nothing is reached that nobody took, and what is said was taken.
        assert (tooth.width.reached is None) == (not taken)
        assert (tooth.width.now is None) == (len(taken) < 2)
        if len(taken) > 1:
            assert tooth.width.off is not None
            assert tooth.width.drift is not None
            assert tooth.width.off + tooth.width.drift == max(taken)[2] - promised.width
        chipped = {
            one.on
            for one in found
            for t, seen in one.teeth.items()
            if t == promised.tooth and seen.condition != Condition.WHOLE
        }
        assert {one.on for one in tooth.happened} == chipped
        assert tooth.is_whole == (not chipped)
