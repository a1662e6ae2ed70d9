"""A day as a table: every minute of every chair stands in it once, whatever is booked."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.booking import Stretch
from planner.rules.day_sheet import Entry, day_sheet

EIGHT = datetime(2026, 3, 2, 13, 0, tzinfo=UTC)
CHAIRS = ("one", "two")


def span(first: int, last: int) -> Stretch:
    return Stretch(EIGHT + timedelta(minutes=first), EIGHT + timedelta(minutes=last))


OPEN = (span(0, 240), span(300, 510))


def test_free_taken_and_shut_stand_beside_each_other() -> None:
    rows = day_sheet(OPEN, CHAIRS, [Entry(span(60, 120), "one", "a")])
    assert [row.starts for row in rows] == [EIGHT + timedelta(minutes=each) for each in (0, 60, 120, 240, 300)]
    one = [row.cells[0] for row in rows if row.cells[0]]
    two = [row.cells[1] for row in rows if row.cells[1]]
    assert [(cell.rows, cell.minutes, cell.entry is not None, cell.open) for cell in one] == [
        (1, 60, False, True),
        (1, 60, True, True),
        (1, 120, False, True),
        (1, 60, False, False),
        (1, 210, False, True),
    ]
    assert [(cell.rows, cell.minutes, cell.open) for cell in two] == [(3, 240, True), (1, 60, False), (1, 210, True)]


def test_nothing_open_and_nothing_booked_is_no_table() -> None:
    assert day_sheet((), CHAIRS, ()) == ()


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(1, 12), st.sampled_from(CHAIRS)), max_size=10))
@settings(max_examples=40, deadline=None)
def test_every_minute_stands_once_and_entries_whole(wanted: list[tuple[int, int, str]]) -> None:
    entries: list[Entry] = []
    for start, length, chair in wanted:
        time = span(start * 10, (start + length) * 10)
        if not any(each.chair == chair and each.time.overlaps(time) for each in entries):
            entries.append(Entry(time, chair, str(len(entries))))
    rows = day_sheet(OPEN, CHAIRS, entries)
    for number, chair in enumerate(CHAIRS):
        cells = [row.cells[number] for row in rows]
        stand = [cell for cell in cells if cell is not None]
        assert sum(cell.rows for cell in stand) == len(rows)
        assert [cell.time.ends for cell in stand[:-1]] == [cell.time.starts for cell in stand[1:]]
        shown = [(cell.entry.key, cell.time) for cell in stand if cell.entry]
        assert sorted(shown) == sorted((each.key, each.time) for each in entries if each.chair == chair)
        for cell in stand:
            assert cell.open == (cell.entry is not None or any(each.overlaps(cell.time) for each in OPEN))
