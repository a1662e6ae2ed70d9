"""The blocks of the Monday page, by hand and against a second reckoning; and when calls are due."""

from datetime import date, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules import monday
from planner.rules.calendar_days import OpenDays
from planner.rules.calls import Contact, due_days, latest_in_time, next_call
from planner.rules.figure_rows import CallRow, Ending, ItemRow, Owed, PlanRow, Repaired, ReviewDue, VisitAhead

DAY = date(2026, 3, 2)
DAYS = OpenDays(frozenset({0, 1, 2, 3}), frozenset({date(2026, 4, 6)}))


def ago(days: int) -> date:
    return DAY - timedelta(days=days)


def plan(key: str, **changes: Any) -> PlanRow:
    values: dict[str, Any] = {
        "key": key, "patient": key.title(), "option": "bonding", "state": "accepted", "accepted_on": ago(9),
        "agreed_cents": 57000, "earned_cents": 0,
    }  # fmt: skip
    return PlanRow(**values | changes)


def test_without_a_date_by_age_and_what_is_left_out() -> None:
    plans = [
        plan("linnea"),
        plan("zhenya", accepted_on=ago(20), agreed_cents=201140, earned_cents=44070),
        plan("rafael", state="resting", look_again_on=ago(4)),
        plan("wanda", state="under way"),
        plan("gus"),
    ]
    gap = DAY + timedelta(days=13)
    items = [
        ItemRow("linnea", "build-up", "to do", 57000),
        ItemRow("zhenya", "build-up", "waiting for", 100000, gap),
        ItemRow("zhenya", "wax-up", "waiting for", 57070, gap),
        ItemRow("rafael", "face", "to do", 376000),
        ItemRow("wanda", "small addition", "to do", 26500, stands_still=True),
        ItemRow("gus", "crown", "waiting for", 1000),  # for something without a day
        ItemRow("gus", "crown", "to do", 1000, DAY + timedelta(days=15)),  # a day too far off
        ItemRow("gus", "crown", "booked", 1000),
    ]
    block = monday.without_date(plans, items, DAY)
    assert [(row.patient, row.cents, row.days, row.act) for row in block.rows] == [
        ("Linnea", 57000, 9, "book"),
        ("Zhenya", 157070, 1, "book"),  # the gap ends in 13 days: it could be booked since yesterday
    ]
    assert [(one.words, one.plans, one.cents) for one in block.buckets] == [
        ("0–7", 1, 157070), ("8–14", 1, 57000), ("15–30", 0, 0), ("31–60", 0, 0), ("61–90", 0, 0), ("> 90", 0, 0),
    ]  # fmt: skip
    assert block.figures[0].n == 214070
    # Taken up again, or a visit fell away: it is not late since the yes.
    again = [plan("linnea", bookable_again_on=ago(2))]
    assert monday.without_date(again, items, DAY).rows[0].days == 2


def test_deposits_held_and_owed() -> None:
    plans = [
        plan("linnea", deposit_cents=21000),
        plan("nikhil", accepted_on=ago(12), deposit_cents=95000, next_visit_on=DAY + timedelta(days=3)),
        plan("zhenya", paid_cents=59000, deposit_cents=59000, earned_cents=44070, agreed_cents=201140),
        plan("rafael", state="resting", paid_cents=130000, earned_cents=56000, deposit_cents=107000),
        plan("waived", deposit_cents=500, deposit_waived=True),
        plan("behind", paid_cents=100, earned_cents=300, deposit_cents=100),
    ]
    block = monday.deposits(plans, [Owed("w", "Wanda", 99000, ago(5), "asked")], DAY)
    assert [(row.patient, row.cents, row.days, row.act) for row in block.rows] == [
        ("Linnea", 21000, 2, "pay"), ("Nikhil", 95000, 0, "pay"), ("Wanda", 99000, 5, "refund"),
    ]  # fmt: skip
    assert [cents for _words, cents in block.sums] == [116000, 14930 + 74000, 99000]


def test_breaking_resting_ending_calls_and_repairs() -> None:
    ahead = [
        VisitAhead("v", "p", "Nikhil", "Preparation", DAY + timedelta(days=3), ("No consent.", "No deposit.")),
        VisitAhead("w", "p", "Ready", "Preparation", DAY + timedelta(days=3)),
        VisitAhead("x", "p", "Later", "Preparation", DAY + timedelta(days=8), ("No consent.",)),
    ]
    assert [(row.patient, row.words) for row in monday.breaking(ahead, DAY).rows] == [
        ("Nikhil", "No consent. No deposit.")
    ]
    plans = [
        plan("rafael", state="resting", look_again_on=ago(4), agreed_cents=432000, earned_cents=56000),
        plan("asleep", state="resting", look_again_on=DAY),
        plan("still", state="under way", last_event_on=ago(31)),
    ]
    assert [(row.patient, row.days, row.cents) for row in monday.resting(plans, DAY).rows] == [
        ("Still", 31, 57000), ("Rafael", 4, 376000),
    ]  # fmt: skip
    ends = [
        Ending("e", "estimate", "Marguerite", DAY + timedelta(days=2), 395070),
        Ending("e", "estimate", "Over", ago(1), 1),
        Ending("e", "estimate", "Far", DAY + timedelta(days=15), 1),
        Ending("c", "comes of age", "Cormac", DAY + timedelta(days=24)),
    ]
    assert [(row.patient, row.days) for row in monday.ending(ends, DAY).rows] == [("Marguerite", 2), ("Cormac", 24)]
    due = [CallRow("e", "Anselm", ago(1), 1, True), CallRow("f", "Later", DAY + timedelta(days=1), 2)]
    assert [(row.patient, row.days) for row in monday.calls(due, DAY).rows] == [("Anselm", 1)]
    assert [row.words for row in monday.calls([CallRow("e", "A", DAY, 2, who="Dr B")], DAY).rows] == [
        "call 2 of 3: Dr B"
    ]
    looked = [
        ReviewDue("p", "Lisbet", "Bonding", "after 12 months", ago(3)),
        ReviewDue("p", "Later", "Bonding", "after 14 days", DAY + timedelta(days=1)),
    ]
    both = [(row.patient, row.act, row.days, row.words) for row in monday.calls(due, DAY, looked).rows]
    assert both == [
        ("Lisbet", "review", 3, "review after 12 months: Bonding"),
        ("Anselm", "call", 1, "call on the day the patient named"),
    ]
    mended = [Repaired("r", "Lisbet", "corner", DAY, 0, 150), Repaired("r", "Old", "corner", DAY, 100, 366)]
    assert [row.patient for row in monday.repairs(mended, ()).rows] == ["Lisbet"]


def test_three_calls_on_open_days_then_quiet() -> None:
    # Shown on a Tuesday: three open days on is the next Monday; ten days on a Friday, which is closed; thirty days on
    # Thursday.
    shown = date(2026, 3, 3)
    assert due_days(shown, DAYS) == (date(2026, 3, 9), date(2026, 3, 16), date(2026, 4, 2))
    first = next_call(shown, [], None, DAYS)
    assert first is not None
    assert (first.due, first.number) == (date(2026, 3, 9), 1)
    second = next_call(shown, [date(2026, 3, 18)], None, DAYS)
    assert second is not None
    assert second.due == date(2026, 3, 24), "three open days after one that was late"
    assert next_call(shown, [date(2026, 3, 9), date(2026, 3, 16), date(2026, 4, 2)], None, DAYS) is None
    named = next_call(shown, [date(2026, 3, 9)], date(2026, 3, 12), DAYS)
    assert named is not None
    assert (named.due, named.agreed) == (date(2026, 3, 12), True)
    assert latest_in_time(date(2026, 3, 12), DAYS) == date(2026, 3, 17)


def test_nobody_is_called_after_an_answer_or_without_leave() -> None:
    assert Contact(consented=True).why_not == ""
    for wrong in (
        Contact(consented=True, answered=True), Contact(consented=True, stop_all=True), Contact(consented=None),
        Contact(consented=False), Contact(consented=True, asked_to_stop=True), Contact(consented=True, expired=True),
    ):  # fmt: skip
        assert wrong.why_not.endswith(".")


STATES = st.sampled_from(("accepted", "booked", "under way", "resting"))


@st.composite
def _open_work(draw: st.DrawFn) -> tuple[list[PlanRow], list[ItemRow]]:
    plans = [
        plan(
            f"p{n}", state=draw(STATES), accepted_on=ago(draw(st.integers(0, 120))),
            paid_cents=draw(st.integers(0, 900)), earned_cents=draw(st.integers(0, 900)), agreed_cents=1800,
            deposit_cents=draw(st.integers(0, 900)), deposit_waived=draw(st.booleans()),
        )
        for n in range(draw(st.integers(0, 5)))
    ]  # fmt: skip
    items = []
    for _ in range(draw(st.integers(0, 10)) if plans else 0):
        state = draw(st.sampled_from(("to do", "waiting for", "booked")))
        earliest = draw(st.none() | st.integers(-40, 40).map(lambda n: DAY + timedelta(days=n)))
        key = draw(st.sampled_from(plans)).key
        items.append(ItemRow(key, "x", state, draw(st.integers(1, 900)), earliest, stands_still=draw(st.booleans())))
    return plans, items


@settings(max_examples=150, deadline=None)
@given(_open_work())
def test_a_second_naive_reckoning_of_open_work_agrees(work: tuple[list[PlanRow], list[ItemRow]]) -> None:
    plans, items = work
    total, ages = 0, {}
    for item in items:
        (of,) = [one for one in plans if one.key == item.plan]
        soon = item.earliest is None or (item.earliest - DAY).days <= 14
        wanted = item.state == "to do" or (item.state == "waiting for" and item.earliest is not None)
        if of.state != "resting" and wanted and soon and not item.stands_still:
            total += item.cents
            free = of.accepted_on
            if item.earliest is not None and item.earliest - timedelta(days=14) > free:
                free = item.earliest - timedelta(days=14)
            ages[of.key] = max(ages.get(of.key, 0), (DAY - free).days)
    block = monday.without_date(plans, items, DAY)
    assert block.figures[0].n == total == sum(one.cents for one in block.buckets)
    assert {row.about: row.days for row in block.rows} == ages
    assert sum(one.plans for one in block.buckets) == len(ages)
    money = monday.deposits(plans, [], DAY)
    held = due = 0
    for one in plans:
        held += one.paid_cents - one.earned_cents if one.paid_cents > one.earned_cents else 0
        if one.state != "resting" and not one.deposit_waived and one.deposit_cents > one.paid_cents:
            due += one.deposit_cents - one.paid_cents
    assert [cents for _words, cents in money.sums] == [due, held, 0]
