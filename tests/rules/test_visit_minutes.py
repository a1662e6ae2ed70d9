"""Minutes of an option step by step. The starting minutes are the trade's, no source; sums are checked by hand."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.book import OfficeBook
from planner.rules.catalogue import shipped
from planner.rules.cents import half_up
from planner.rules.courses import Course, Work
from planner.rules.mouth import CaseFacts
from planner.rules.results import GapShape
from planner.rules.teeth import Tooth
from planner.rules.visit_minutes import OptionMinutes, VisitMinutes, option_minutes
from tests.rules.books import DAY_ZERO, teeth, tern_row
from tests.rules.cases import lead_facts

BOOK = tern_row()
T13, T11, T21, T22, T23 = teeth("13", "11", "21", "22", "23")
ADDED = (Work("bonding", T11, 2, 3, 3), Work("bonding", T21, 2, 5), Work("bonding", T22, 3, 7, 9, 13))
EDGE = Work("reshaping", T13, removal=5)
# The lead case: gap, its width, what either side takes, what stays; tenths of a millimetre
GAPS = (GapShape(T11, T21, 8, 3, 5, 0), GapShape(T21, T22, 7, 0, 7, 0), GapShape(T22, T23, 9, 9, 0, 0))


def minutes_of(facts: CaseFacts, *work: Work, book: OfficeBook = BOOK, key: str = "reshape-bond") -> OptionMinutes:
    known = shipped()
    keys = tuple(dict.fromkeys(line.treatment for line in work))
    parts = tuple(known.treatments[each] for each in keys)
    course = Course(key, keys, work)
    combination = known.combinations.get(key)
    return option_minutes(course, parts, combination, facts, book, DAY_ZERO, gaps=GAPS, gap_left_min=5)


@pytest.fixture
def lead(lead_case: CaseFacts) -> VisitMinutes:
    return minutes_of(lead_case, EDGE, *ADDED).visits[0]


def test_three_teeth_and_one_edge_are_booked_as_one_visit_with_its_review(lead_case: CaseFacts) -> None:
    found = minutes_of(lead_case, EDGE, *ADDED)
    bonding, review = found.visits
    assert (bonding.time.mean_minutes, bonding.time.eight_in_ten, bonding.time.nine_in_ten) == (194, 207, 214)
    assert (bonding.time.booked, review.time.booked, found.split) == (210, 25, False)
    assert (bonding.wrong.independent, bonding.wrong.added) == (203, 214)
    assert (review.wait_days, review.waits_for) == (14, "Bonding")
    assert bonding.waits_for.startswith("Laboratory work ordered")


def test_the_steps_of_a_visit_add_up_to_its_usual_minutes_in_an_order_that_can_be_worked(lead: VisitMinutes) -> None:
    counted = [step for step in lead.steps if not step.only_if]
    assert sum((Fraction(step.span.usual) for step in counted), Fraction(0)) == lead.time.usual == 185
    ids = [step.id for step in lead.steps]
    assert ids.index("A04") < ids.index("S02") < ids.index("S06") < ids.index("A05") < ids.index("A07")
    assert "S01" not in ids, "who is sitting there is asked once a visit"
    times = {step.id: step.times for step in lead.steps}
    # 2 + 2 + 3 surfaces
    assert (times["A01"], times["A12"], times["A15"], times["S04"]) == (1, 3, 7, 1)
    assert {step.id for step in lead.steps if step.only_if} == {"A06", "A10"}
    assert all(step.minutes == tuple(sorted(step.minutes)) for step in lead.steps)


def test_minutes_say_whether_they_are_the_offices_own(lead: VisitMinutes, lead_case: CaseFacts) -> None:
    assert {row.source for row in lead.blocks} == {"Dr Imke Sorrel's starting values"}
    bare = minutes_of(lead_case, *ADDED, book=BOOK.model_copy(update={"minutes": ()})).visits[0]
    assert {(row.source, row.certainty) for row in bare.blocks} == {("", "memory")}


def test_cures_are_counted_and_their_light_lies_within_the_minutes(lead: VisitMinutes) -> None:
    # For each tooth adhesive, shell from two sides, outer layer; for each of 7 surfaces wall, core, last cure
    assert lead.cures == 3 * (1 + 2 + 1) + 7 * 3
    # Shortest: 10 s for the adhesive of 3 teeth, 20 s for each of the others
    assert lead.light_seconds == 3 * 10 + 30 * 20
    assert lead.light_seconds < lead.time.usual * 60


def test_three_rates_are_never_averaged(lead_case: CaseFacts) -> None:
    found = minutes_of(lead_case, EDGE, *ADDED)
    assert dict(found.rates) == {"dentist": 32500, "hygiene": 23700, "assistant": 20900}
    assert sum(minutes for _payee, minutes in found.visits[0].paid) == 185
    assert found.cost is not None
    by_hand = sum(Fraction(dict(found.rates)[payee] or 0, 60) * minutes for payee, minutes in found.paid)
    assert found.cost.chair == by_hand
    # All of it at the dentist's rate would be 185 × 325 ÷ 60 = 1,002.08 for the visit alone: dearer
    visit = sum(Fraction(dict(found.rates)[payee] or 0, 60) * minutes for payee, minutes in found.visits[0].paid)
    assert half_up(visit) < 100208 == half_up(Fraction(185 * 32500, 60))


def test_a_rate_that_nobody_typed_is_named_and_nothing_is_cheap(lead_case: CaseFacts) -> None:
    found = minutes_of(lead_case, *ADDED, book=BOOK.model_copy(update={"assistant_cents_per_hour": None}))
    assert found.cost is None
    assert "assistant_cents_per_hour" in found.why_no_cost
    assert dict(found.rates)["assistant"] is None


def test_work_may_stop_after_the_side_tooth_and_never_between_the_centrals(lead: VisitMinutes) -> None:
    assert [(len(stop.done), stop.safe) for stop in lead.stops] == [(1, True), (2, False), (3, True)]
    assert lead.stops[0].done == (T22,)
    assert "its pair is not" in lead.stops[1].why_not[0]
    assert [stop.time.eight_in_ten for stop in lead.stops] == [105, 156, 207]


def test_what_is_longer_than_the_office_allows_becomes_several_visits(lead_case: CaseFacts) -> None:
    found = minutes_of(lead_case, *ADDED, book=BOOK.model_copy(update={"visit_limit_minutes": 160}))
    work = [visit for visit in found.visits if visit.kind == "work"]
    assert found.split
    assert [len(visit.teeth) for visit in work] == [2, 1]
    assert all(visit.time.booked <= 160 for visit in work)


@settings(max_examples=12, deadline=None)
@given(count=st.integers(1, 3), surfaces=st.integers(1, 5), correlation=st.decimals("0", "1", places=1))
def test_steps_always_add_up_and_cost_no_more_than_the_dearest_rate(
    count: int, surfaces: int, correlation: object
) -> None:
    work = tuple(Work("bonding", tooth, surfaces, 3, 3) for tooth in (T11, T21, T22)[:count])
    found = minutes_of(lead_facts(), *work, book=BOOK.model_copy(update={"tooth_correlation": correlation}))
    for visit in found.visits:
        counted = [step.span for step in visit.steps if not step.only_if]
        if counted:
            assert sum((Fraction(span.usual) for span in counted), Fraction(0)) == visit.time.usual
            assert sum((Fraction(span.slow) for span in counted), Fraction(0)) >= visit.time.usual
        assert sum(minutes for _payee, minutes in visit.paid) == half_up(visit.time.usual)
    assert found.cost is not None
    assert found.cost.chair <= Fraction(32500, 60) * sum(minutes for _payee, minutes in found.paid)


def test_a_tooth_that_was_not_said_how_many_surfaces_counts_one(lead_case: CaseFacts) -> None:
    found = minutes_of(lead_case, Work("bonding", Tooth.from_iso("22")), key="bonding").visits[0]
    assert {step.times for step in found.steps if step.block == "per surface"} == {1}
