"""The diary: what stands against a visit, and free time, held against plain enumeration of every slot.

Nights in which clocks change are those of the IANA time zone database (America/Toronto 2026: 8 March forward,
1 November back); how an hour that comes twice or never is told apart follows PEP 495.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.book import OpenHours
from planner.rules.booking import (
    Absent,
    ClockChange,
    Diary,
    NotBefore,
    Stretch,
    Taken,
    Wanted,
    Week,
    conflicts,
    free_slots,
    free_within,
    instant,
)
from planner.rules.calendar_days import OpenDays

ZONE = ZoneInfo("America/Toronto")
MONDAY = date(2026, 3, 2)
THURSDAY = MONDAY + timedelta(days=3)
CHAIRS = ("Chair 1", "Chair 2")
ANN, BEN = "ann", "ben"
HOURS = tuple(
    OpenHours(weekday=weekday, opens=opens, closes=closes)
    for weekday in range(4)
    for opens, closes in ((time(8, 30), time(12, 30)), (time(13, 30), time(17)))
)
NOW = datetime(2026, 3, 2, 8, 45, tzinfo=ZONE).astimezone(UTC)


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), ZONE).astimezone(UTC)


def diary(**changes: object) -> Diary:
    values: dict[str, object] = {
        "zone": ZONE,
        "open_days": OpenDays(frozenset(range(4)), frozenset({MONDAY + timedelta(days=2)})),
        "hours": HOURS,
        "chairs": CHAIRS,
        "slot_minutes": 5,
        "names": {ANN: "Dr Ann", BEN: "Dr Ben"},
    }
    return Diary(**(values | changes))  # type: ignore[arg-type]


def wanted(**changes: object) -> Wanted:
    values: dict[str, object] = {
        "clinician": ANN,
        "chair": "Chair 1",
        "patient": "p1",
        "starts": at(THURSDAY, 8, 30),
        "minutes": 210,
    }
    return Wanted(**(values | changes))  # type: ignore[arg-type]


def taken(start: datetime, minutes: int, **who: str) -> Taken:
    return Taken(Stretch(start, start + timedelta(minutes=minutes)), **who)


def test_nothing_stands_against_a_visit_in_free_time() -> None:
    assert conflicts(wanted(), diary(), NOW) == ()


@pytest.mark.parametrize(
    ("changes", "book", "field", "words"),
    [
        ({"starts": at(MONDAY, 8, 30)}, {}, "day", "2026-03-02, 8:30 is over: a visit is booked ahead."),
        ({"starts": at(MONDAY + timedelta(2), 9)}, {}, "day", "The office is closed on 2026-03-04."),
        (
            {"starts": at(MONDAY + timedelta(4), 9)},
            {},
            "day",
            "The office is not open on Fridays, and 2026-03-06 is one.",
        ),
        ({}, {"hours": ()}, "day", "The office book says no hours for Thursdays: type them first."),
        (
            {"starts": at(THURSDAY, 11)},
            {},
            "hour",
            "11:00 to 14:30 does not lie within opening hours: on 2026-03-05 the office is open 8:30 to 12:30 and "
            "13:30 to 17:00.",
        ),
        ({"clinician": "zoe"}, {}, "clinician", "zoe treats nobody in this office."),
        (
            {},
            {"weeks": (Week(ANN, MONDAY, frozenset({0, 1})),)},
            "clinician",
            "Dr Ann does not work on Thursdays.",
        ),
        (
            {},
            {"absent": (Absent(ANN, MONDAY, THURSDAY),)},
            "clinician",
            "Dr Ann is absent from 2026-03-02 through 2026-03-05.",
        ),
        ({"chair": "Chair 3"}, {}, "chair", 'The office book has no chair called "Chair 3"; it has: Chair 1, Chair 2.'),
        (
            {},
            {"taken": (taken(at(THURSDAY, 11), 60, clinician=ANN, chair="Chair 2"),)},
            "clinician",
            "Dr Ann is taken from 11:00 to 12:00: another appointment.",
        ),
        (
            {},
            {"taken": (taken(at(THURSDAY, 11), 60, clinician=BEN, chair="Chair 1"),)},
            "chair",
            "Chair 1 is taken from 11:00 to 12:00: another appointment.",
        ),
        (
            {},
            {"taken": (taken(at(THURSDAY, 11), 60, clinician=BEN, chair="Chair 2", patient="p1"),)},
            "hour",
            "The patient has another visit from 11:00 to 12:00.",
        ),
        (
            {"waits": (NotBefore(THURSDAY + timedelta(4), "whitening gap"),)},
            {},
            "day",
            "Not before 2026-03-09: whitening gap.",
        ),
        (
            {"laboratory": "wax-up", "laboratory_due": THURSDAY + timedelta(1)},
            {},
            "day",
            "Laboratory work (wax-up) is due on 2026-03-06, after the visit.",
        ),
        ({"minutes": 0}, {}, "minutes", "A visit of 0 minutes does not last."),
    ],
)
def test_what_stops_a_visit(changes: dict[str, object], book: dict[str, object], field: str, words: str) -> None:
    found = conflicts(wanted(**changes), diary(**book), NOW)
    assert [(each.field, each.words, each.stops) for each in found] == [(field, words, True)]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"wish_by": THURSDAY - timedelta(2)}, "That is 2 days after 2026-03-03, the day wished for."),
        ({"eight_in_ten": 215}, "210 minutes is short: 8 of 10 such visits are over within 215 minutes."),
        (
            {"laboratory": "wax-up"},
            "It is not known when laboratory work (wax-up) comes: nothing is ordered yet.",
        ),
    ],
)
def test_what_a_reason_sets_aside(changes: dict[str, object], words: str) -> None:
    found = conflicts(wanted(**changes), diary(), NOW)
    assert [(each.words, each.stops) for each in found] == [(words, False)]


def test_what_touches_does_not_overlap() -> None:
    before = taken(at(THURSDAY, 8, 30), 60, clinician=ANN, chair="Chair 1", patient="p1")
    after = taken(at(THURSDAY, 10, 30), 60, clinician=ANN, chair="Chair 1", patient="p1")
    assert conflicts(wanted(starts=at(THURSDAY, 9, 30), minutes=60), diary(taken=(before, after)), NOW) == ()
    assert conflicts(wanted(laboratory="x", laboratory_due=THURSDAY), diary(), NOW) == ()
    here = wanted(laboratory="x", laboratory_here=True)
    assert conflicts(here, diary(), NOW) == ()


def test_the_newest_week_in_force_holds() -> None:
    weeks = (Week(ANN, MONDAY, frozenset({0})), Week(ANN, THURSDAY, frozenset({3})))
    kept = diary(weeks=weeks)
    assert [kept.works_on(ANN, MONDAY + timedelta(ahead)) for ahead in range(4)] == [True, False, False, True]
    assert kept.works_on(BEN, MONDAY + timedelta(1))


class TestClockChanges:
    spring, autumn = date(2026, 3, 8), date(2026, 11, 1)

    def test_an_hour_that_does_not_come(self) -> None:
        with pytest.raises(ClockChange, match="2:30 does not come that day"):
            instant(self.spring, time(2, 30), ZONE)

    def test_an_hour_that_comes_twice(self) -> None:
        with pytest.raises(ClockChange, match="1:30 comes twice that day"):
            instant(self.autumn, time(1, 30), ZONE)

    @pytest.mark.parametrize("day", [spring, autumn, MONDAY])
    def test_every_other_hour_reads_back(self, day: date) -> None:
        for hour in (0, 3, 9, 23):
            found = instant(day, time(hour), ZONE)
            assert found.tzinfo is UTC
            assert found.astimezone(ZONE).time() == time(hour)

    def test_minutes_are_real_ones(self) -> None:
        hours = (OpenHours(weekday=6, opens=time(0), closes=time(4)),)
        nights = diary(hours=hours, open_days=OpenDays(frozenset({6})))
        lengths = [
            (each.ends - each.starts) // timedelta(hours=1)
            for day in (self.spring, self.autumn, self.spring + timedelta(7))
            for each in nights.open_stretches(day)
        ]
        assert lengths == [3, 5, 4]


# ------------------------------------------------------------------------------------------------------ free time

MINUTES = st.integers(0, 4 * 24 * 12).map(lambda steps: timedelta(minutes=5 * steps))
TAKEN = st.builds(
    lambda offset, length, who, chair, patient: Taken(
        Stretch(at(MONDAY, 0) + offset, at(MONDAY, 0) + offset + timedelta(minutes=5 * length)), who, chair, patient
    ),
    MINUTES,
    st.integers(1, 80),
    st.sampled_from([ANN, BEN, ""]),
    st.sampled_from([*CHAIRS, ""]),
    st.sampled_from(["p1", "p2", ""]),
)


@given(
    st.lists(TAKEN, max_size=12),
    st.sampled_from([5, 20, 60, 120, 210, 240]),
    st.integers(0, 3 * 24 * 60).map(lambda minutes: at(MONDAY, 0) + timedelta(minutes=minutes)),
    st.lists(st.integers(0, 6), max_size=3),
)
@settings(max_examples=60, deadline=None)
def test_free_time_is_free_and_none_comes_earlier(
    busy: list[Taken], minutes: int, after: datetime, off: list[int]
) -> None:
    absent = tuple(Absent(ANN, MONDAY + timedelta(day), MONDAY + timedelta(day)) for day in off)
    known = diary(taken=tuple(busy), absent=absent)
    found = free_slots(
        known, clinician=ANN, chairs=CHAIRS, minutes=minutes, after=after, patient="p1", count=4, days=14
    )
    assert list(found) == sorted(found)
    assert len({slot.starts for slot in found}) == len(found)
    for slot in found:
        assert slot.starts >= after
        asked = wanted(starts=slot.starts, chair=slot.chair, minutes=minutes)
        assert conflicts(asked, known, after) == ()
    assert (found[0].starts if found else None) == _first_by_trying(known, minutes, after)


def _first_by_trying(known: Diary, minutes: int, after: datetime) -> datetime | None:
    """The earliest start, by asking for every slot of 14 days one after the other."""
    for ahead in range(14):
        day = known.day_of(after) + timedelta(days=ahead)
        for stretch in known.open_stretches(day):
            start = stretch.starts
            while start < stretch.ends:
                asked = [wanted(starts=start, chair=chair, minutes=minutes) for chair in CHAIRS]
                if start >= after and any(not conflicts(each, known, after) for each in asked):
                    return start
                start += timedelta(minutes=known.slot_minutes)
    return None


@given(st.lists(TAKEN, max_size=8))
@settings(max_examples=40, deadline=None)
def test_what_is_left_of_a_day_and_what_is_taken_make_the_day(busy: list[Taken]) -> None:
    whole = Stretch(at(MONDAY, 0), at(MONDAY + timedelta(4), 0))
    free = free_within(whole, [each.time for each in busy])
    assert all(not gap.overlaps(each.time) for gap in free for each in busy)
    step = timedelta(minutes=5)
    ticks = [whole.starts + step * number for number in range((whole.ends - whole.starts) // step)]
    for tick in ticks:
        inside = any(gap.starts <= tick < gap.ends for gap in free)
        assert inside != any(each.time.starts <= tick < each.time.ends for each in busy)


def test_faults_of_the_caller_are_told() -> None:
    with pytest.raises(ValueError, match="at least one"):
        free_slots(diary(), clinician=ANN, chairs=CHAIRS, minutes=0, after=NOW)
    with pytest.raises(ValueError, match="aware"):
        Stretch(datetime(2026, 3, 2), datetime(2026, 3, 3))  # noqa: DTZ001
    with pytest.raises(ValueError, match="does not last"):
        Stretch(NOW, NOW)
