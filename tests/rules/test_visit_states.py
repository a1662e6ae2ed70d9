"""The lifecycles of visits and laboratory work, and what a label must say.

That 22 names the upper left lateral in ISO 3950 and the lower left canine in Universal numbering: ISO 3950:2016 and the
Universal system, from memory.
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from planner.rules.moves import may_move
from planner.rules.teeth import Tooth
from planner.rules.visit_states import (
    LABORATORY,
    VISIT,
    LaboratoryFacts,
    LaboratoryState,
    VisitFacts,
    VisitState,
    label_faults,
    late_cancelling,
    late_terms,
)
from tests.rules.books import DAY_ZERO, tern_row

START = datetime(2026, 3, 5, 13, 30, tzinfo=UTC)
BEFORE, AFTER = START - timedelta(minutes=1), START
DAY = date(2026, 3, 5)
TOOTH = Tooth.from_iso("22")


@pytest.mark.parametrize("to", list(VisitState))
@pytest.mark.parametrize("state", [state for state in VisitState if state is not VisitState.BOOKED])
def test_a_visit_that_is_over_stays_as_it_is(state: VisitState, to: VisitState) -> None:
    facts = VisitFacts(now=AFTER, starts=START, reason="r", next_visit=True)
    assert may_move(VISIT, state, to, facts)


@pytest.mark.parametrize(
    ("to", "now", "more", "refused"),
    [
        (VisitState.KEPT, AFTER, {}, ""),
        (VisitState.KEPT, BEFORE, {}, "has not begun"),
        (VisitState.NO_SHOW, BEFORE, {}, "has not begun"),
        (VisitState.NO_SHOW, AFTER, {}, ""),
        (VisitState.CANCELLED, BEFORE, {"reason": "ill"}, ""),
        (VisitState.CANCELLED, BEFORE, {}, "Give the reason"),
        (VisitState.CANCELLED, AFTER, {"reason": "ill"}, "has begun"),
        (VisitState.RESCHEDULED, BEFORE, {"reason": "ill"}, "takes its place"),
        (VisitState.RESCHEDULED, BEFORE, {"reason": "ill", "next_visit": True}, ""),
    ],
)
def test_moves_of_a_booked_visit(to: VisitState, now: datetime, more: dict[str, object], refused: str) -> None:
    found = " ".join(may_move(VISIT, VisitState.BOOKED, to, VisitFacts(now=now, starts=START, **more)))  # type: ignore[arg-type]
    assert refused in found
    assert bool(found) == bool(refused)


def test_laboratory_work_is_used_only_once_its_label_is_read() -> None:
    facts = LaboratoryFacts(day=DAY, due=DAY)
    assert may_move(LABORATORY, LaboratoryState.ORDERED, LaboratoryState.SENT, facts) == ()
    assert may_move(LABORATORY, LaboratoryState.SENT, LaboratoryState.CHECKED, facts)
    read = may_move(LABORATORY, LaboratoryState.RECEIVED, LaboratoryState.CHECKED, facts)
    assert read == ("Read name and both numbers off the label first.",)
    right = LaboratoryFacts(day=DAY, label_faults=())
    assert may_move(LABORATORY, LaboratoryState.RECEIVED, LaboratoryState.CHECKED, right) == ()


@pytest.mark.parametrize("due", [None, DAY - timedelta(days=1)])
def test_work_goes_out_with_a_day_to_be_back_on(due: date | None) -> None:
    assert may_move(LABORATORY, LaboratoryState.ORDERED, LaboratoryState.SENT, LaboratoryFacts(day=DAY, due=due))


@pytest.mark.parametrize(
    ("name", "iso", "universal", "words"),
    [
        ("Ann Lee", "22", "10", ""),
        ("  ann   lee ", "22", "10", ""),
        ("Bea Lee", "22", "10", "The label says “Bea Lee”, the work is for Ann Lee."),
        ("Ann Lee", "22", "22", "22 in Universal is the lower left canine, for which nothing is ordered. In ISO"),
        ("Ann Lee", "10", "10", ""),
        ("Ann Lee", "", "10", "The label has no ISO number; it should say 22."),
        ("Ann Lee", "22, 12", "10", "12 in ISO is the upper right lateral"),
    ],
)
def test_the_label(name: str, iso: str, universal: str, words: str) -> None:
    found = label_faults(name="Ann Lee", teeth=(TOOTH,), read_name=name, read_iso=iso, read_universal=universal)
    said = " ".join(found)
    if iso == "10":  # no tooth of that numbering
        assert found
    elif words:
        assert words in said
    else:
        assert found == ()


@pytest.mark.parametrize(
    ("hours", "minutes", "late"),
    [(47, 120, True), (48, 120, False), (47, 119, False), (0, 240, True), (-1, 240, False)],
)
def test_late_is_a_long_visit_with_little_time_left(hours: int, minutes: int, late: bool) -> None:
    now = START - timedelta(hours=hours)
    assert late_cancelling(START, minutes, now, within_hours=48, from_minutes=120) is late


def test_terms_of_cancelling_late_are_the_offices_own_and_none_without_a_price() -> None:
    book = tern_row()
    terms = late_terms(book, DAY_ZERO)
    assert terms is not None
    assert (terms.within_hours, terms.from_minutes, terms.service.price, terms.prices.version) == (48, 120, 9000, 7)
    assert late_terms(book.model_copy(update={"late_cancel_hours": 0}), DAY_ZERO) is None
    assert late_terms(book, DAY_ZERO - timedelta(days=121)) is None, "no list is in force yet"
    lists = tuple(
        prices.model_copy(update={"services": tuple(one for one in prices.services if one.key != "late-cancel")})
        for prices in book.price_lists
    )
    assert late_terms(book.model_copy(update={"price_lists": lists}), DAY_ZERO) is None
