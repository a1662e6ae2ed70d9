"""A day of the office as a table: chairs side by side, one row from each change to the next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from planner.rules.booking import Stretch


@dataclass(frozen=True, slots=True)
class Entry:
    """What takes a chair for a while."""

    time: Stretch
    chair: str
    key: str
    """Whatever finds it again."""


@dataclass(frozen=True, slots=True)
class Cell:
    """So many rows of one chair: an entry, free time, or time in which the office is closed."""

    rows: int
    time: Stretch
    entry: Entry | None = None
    open: bool = True

    @property
    def minutes(self) -> int:
        return (self.time.ends - self.time.starts) // timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Row:
    """One row: when it begins, and the cells that begin in it, by chair; None where one from above goes on."""

    starts: datetime
    cells: tuple[Cell | None, ...]


def day_sheet(open_hours: Sequence[Stretch], chairs: Sequence[str], entries: Sequence[Entry]) -> tuple[Row, ...]:
    """The rows of a day, each as long as nothing changes in any chair. Entries of one chair do not overlap."""
    edges = sorted({edge for each in (*open_hours, *(entry.time for entry in entries)) for edge in _edges(each)})
    pieces = [Stretch(one, two) for one, two in pairwise(edges)]
    columns = [_column(pieces, open_hours, [entry for entry in entries if entry.chair == chair]) for chair in chairs]
    return tuple(
        Row(piece.starts, tuple(column.get(number) for column in columns)) for number, piece in enumerate(pieces)
    )


def _edges(stretch: Stretch) -> tuple[datetime, datetime]:
    return (stretch.starts, stretch.ends)


def _column(pieces: Sequence[Stretch], open_hours: Sequence[Stretch], entries: Sequence[Entry]) -> dict[int, Cell]:
    """The cells of one chair by the number of the row they begin in."""
    found: dict[int, Cell] = {}
    what: list[tuple[Entry | None, bool]] = []
    for piece in pieces:
        entry = next((each for each in entries if each.time.overlaps(piece)), None)
        # An entry stays whole even where it reaches beyond opening hours.
        what.append((entry, entry is not None or any(each.overlaps(piece) for each in open_hours)))
    start = 0
    for number in range(1, len(pieces) + 1):
        if number == len(pieces) or what[number] != what[start]:
            entry, is_open = what[start]
            whole = Stretch(pieces[start].starts, pieces[number - 1].ends)
            found[start] = Cell(number - start, whole, entry, is_open)
            start = number
    return found
