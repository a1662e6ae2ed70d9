"""What was read from a file, as a new book: what would change, or what stands in its way.

A table is replaced whole. Of price lists those in effect stay; the lists to come are those of the file, and together
they leave no day without one and none with two.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from planner.rules.book import OfficeBook, PriceList
from planner.rules.book_reading import RowFault, TableReader, Typed
from planner.rules.book_tables import SERVICES, Comparison, compare
from planner.rules.bookfile import BookError, agreed


@dataclass(frozen=True, slots=True)
class Section:
    """One table that would change: its name for a reader, what it is held against, and how they differ."""

    name: str
    against: str
    comparison: Comparison


@dataclass(frozen=True, slots=True)
class Wanted:
    """A new book as a file wants it, or the faults that stand in its way."""

    book: OfficeBook | None
    sections: tuple[Section, ...]
    faults: tuple[RowFault, ...]

    @property
    def changes(self) -> int:
        """How many rows would be otherwise."""
        return sum(len(section.comparison.changes) for section in self.sections)


def wanted(reader: TableReader, old: OfficeBook, day: date) -> Wanted:
    """The book that the file makes of ``old`` on ``day``: its table replaced whole, nothing else touched."""
    if reader.faults:
        return Wanted(None, (), tuple(reader.faults))
    typed = reader.result()
    if not typed.rows:
        return Wanted(None, (), (RowFault(0, "It has a head and no row: nothing would be left of the table."),))
    if reader.table is SERVICES:
        return _with_prices(typed, old, day)
    part = reader.table.name
    section = Section(part, "", compare(reader.table, getattr(old, part), typed.rows))
    return _whole(old.model_copy(update={part: typed.rows}), (section,))


def _whole(book: OfficeBook, sections: tuple[Section, ...]) -> Wanted:
    try:
        return Wanted(agreed(book), sections, ())
    except BookError as error:
        return Wanted(None, (), tuple(RowFault(0, sentence) for sentence in error.faults))


@dataclass(frozen=True, slots=True)
class _ListRead:
    version: int
    start: date
    end: date | None
    line: int
    services: tuple[Any, ...]


def _with_prices(typed: Typed, old: OfficeBook, day: date) -> Wanted:
    faults: list[RowFault] = []
    lists = _lists_of(typed, faults)
    faults += _faults_of_days(lists)
    known = {prices.version: prices for prices in old.price_lists}
    in_effect = [prices for prices in old.price_lists if prices.effective <= day]
    highest = max((prices.version for prices in in_effect), default=0)
    new: list[PriceList] = []
    for read in lists:
        was = known.get(read.version)
        if was is not None and was.effective <= day:
            if (was.effective, was.services) != (read.start, read.services):
                faults.append(
                    RowFault(
                        read.line,
                        f"List {read.version} is in effect since {was.effective.isoformat()} and is never altered: "
                        "leave it out, or leave it as it was, and give the new prices a list of their own.",
                    )
                )
        elif read.start <= day:
            faults.append(
                RowFault(
                    read.line,
                    f"List {read.version} would begin on {read.start.isoformat()}: "
                    f"{(day + timedelta(days=1)).isoformat()} is the earliest, because what was shown today was shown "
                    "under the list in effect.",
                )
            )
        elif was is None and read.version <= highest:
            faults.append(
                RowFault(
                    read.line, f"A list {read.version} to come stands before list {highest}: give it a later number."
                )
            )
        else:
            base = was or max(in_effect or old.price_lists, key=lambda one: (one.effective, one.version))
            new.append(
                base.model_copy(update={"version": read.version, "effective": read.start, "services": read.services})
            )
    if faults:
        return Wanted(None, (), tuple(faults))
    sections = _price_sections(old, new, day)
    return _whole(old.model_copy(update={"price_lists": (*in_effect, *new)}), sections)


def _lists_of(typed: Typed, faults: list[RowFault]) -> list[_ListRead]:
    """The lists in the file, in the order of their days; a row whose days differ from its list's is a fault."""
    first: dict[int, tuple[int, date, date | None]] = {}
    services: dict[int, list[Any]] = {}
    for row, line, (version, start, end) in zip(typed.rows, typed.lines, typed.lists, strict=True):
        of = first.setdefault(version, (line, start, end))
        if of[1:] != (start, end):
            faults.append(
                RowFault(
                    line, f"List {version} has other days here than in line {of[0]}: a list has one from and until."
                )
            )
        services.setdefault(version, []).append(row)
    read = [
        _ListRead(version, start, end, line, tuple(services[version])) for version, (line, start, end) in first.items()
    ]
    return sorted(read, key=lambda one: (one.start, one.version))


def _faults_of_days(lists: Sequence[_ListRead]) -> list[RowFault]:
    """Lists that overlap, days that no list would cover, and lists that are not numbered in the order of their days."""
    found = []
    for one, later in zip(lists, [*lists[1:], None], strict=True):
        if one.end is not None and one.end < one.start:
            found.append(RowFault(one.line, f"List {one.version} ends on {one.end.isoformat()}, before it begins."))
        elif later is None:
            if one.end is not None:
                found.append(
                    RowFault(
                        one.line,
                        f"After {one.end.isoformat()} no list would hold: leave the until of list {one.version} empty.",
                    )
                )
        elif one.start == later.start or (one.end is not None and one.end >= later.start):
            found.append(
                RowFault(
                    later.line,
                    f"Lists {one.version} and {later.version} overlap on {later.start.isoformat()}: "
                    "only one can hold on a day.",
                )
            )
        elif one.end is not None and one.end + timedelta(days=1) < later.start:
            found.append(
                RowFault(
                    later.line,
                    f"Between {one.end.isoformat()} and {later.start.isoformat()} no list would hold: "
                    f"list {one.version} has to hold until the day before.",
                )
            )
        if later is not None and later.version <= one.version:
            found.append(
                RowFault(later.line, f"List {later.version} begins after list {one.version}: give it a higher number.")
            )
    return found


def _price_sections(old: OfficeBook, new: Sequence[PriceList], day: date) -> tuple[Section, ...]:
    known = {prices.version: prices for prices in old.price_lists}
    sections = []
    for prices in new:
        before = known.get(prices.version) or max(
            old.price_lists, key=lambda one: (one.effective <= prices.effective, one.effective, one.version)
        )
        against = f"list {before.version}" if before.version != prices.version else "as it was to be"
        name = f"Price list {prices.version}, from {prices.effective.isoformat()}"
        sections.append(Section(name, against, compare(SERVICES, before.services, prices.services)))
    kept = {prices.version for prices in new}
    sections += [
        Section(
            f"Price list {prices.version}, which was to begin on {prices.effective.isoformat()}, falls away",
            "as it was to be",
            compare(SERVICES, prices.services, ()),
        )
        for prices in old.price_lists
        if prices.effective > day and prices.version not in kept
    ]
    return tuple(sections)
