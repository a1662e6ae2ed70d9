"""Prices, materials and minutes as files: what goes out, and what comes in after it was looked at.

A file that comes in is kept byte for byte and read twice: once to show what it would change, once to take it. Between
the two nothing but its own hash and the version of the book ties them together, so that what is taken is what was seen.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import cast

from django.db import transaction

from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.catalogue import in_force
from planner.practice.models import BookFile, BookVersion, Staff
from planner.practice.table_files import CSV_TYPE, MOST_BYTES, XLSX_TYPE, lines_of, write_csv, write_xlsx
from planner.rules.book import OfficeBook
from planner.rules.book_reading import DecimalSign, RowFault, TableError, TableReader
from planner.rules.book_tables import MATERIALS, MINUTES, SERVICES, Table, head_of, rows_of, rows_of_prices
from planner.rules.book_wanted import Wanted, wanted
from planner.trail.canonical import sha256
from planner.trail.errors import Refused
from planner.trail.services import record

PARTS: dict[str, Table] = {"prices": SERVICES, "materials": MATERIALS, "minutes": MINUTES}
STEP = 500
"""So many rows are read between two words of how far it is."""


@dataclass(frozen=True, slots=True)
class Download:
    """A file that goes out."""

    name: str
    content_type: str
    content: bytes


def export(
    *, part: str, kind: str, sign: DecimalSign, versions: Sequence[int] = (), actor: Staff, now: datetime
) -> Download:
    """Prices, materials or minutes as a ``csv`` or ``xlsx`` file; of prices those lists, or else the one in effect and
    those to come. The trail says who took it.
    """
    require(actor, Act.VIEW, Thing.BOOK, subject=actor.office)
    version = books.latest_version(actor.office)
    book = books.read_book(version.data)
    table = PARTS[part]
    if table is SERVICES:
        day = books.today(actor.office, now)
        rows = rows_of_prices(book, tuple(versions) or _current_and_coming(book, day))
    else:
        rows = rows_of(table, book)
    head = head_of(table)
    content = write_csv(head, rows, sign) if kind == "csv" else write_xlsx(head, rows, part)
    with transaction.atomic():
        record(
            actor=actor,
            act="book.export",
            subject=version,
            content={"part": part, "kind": kind, "sha256": sha256(content)},
            at=now,
        )
    lists = "".join(f"-{number}" for number in versions)
    return Download(f"{part}{lists}-book-{version.number}.{kind}", CSV_TYPE if kind == "csv" else XLSX_TYPE, content)


def _current_and_coming(book: OfficeBook, day: date) -> tuple[int, ...]:
    coming = tuple(prices.version for prices in book.price_lists if prices.effective > day)
    return (book.price_list_on(day).version, *coming)


def keep_file(*, part: str, name: str, content: bytes, sign: DecimalSign, actor: Staff, now: datetime) -> BookFile:
    """Keep a file that was sent, to be looked at. Raises Refused when it is empty or too large."""
    require(actor, Act.EDIT, Thing.BOOK, subject=actor.office)
    if not content:
        raise Refused("The file is empty.", field="file")
    if len(content) > MOST_BYTES:
        raise Refused(f"The file has {len(content):,} bytes; it may have {MOST_BYTES:,} at most.", field="file")
    with transaction.atomic():
        kept = BookFile.objects.create(
            office=actor.office,
            part=part,
            name=name[-200:],
            decimal_sign=sign,
            data=content,
            sha256=sha256(content),
            sent_by=actor,
            at=now,
        )
        record(actor=actor, act="book.file", subject=kept, content={"part": part, "sha256": kept.sha256}, at=now)
    return kept


class Looking:
    """One reading of a kept file against a book. Iterating tells how many rows are read; :attr:`found` is the end."""

    def __init__(self, file: BookFile, book: OfficeBook, day: date) -> None:
        self.file, self.book, self.day = file, book, day
        self.found = Wanted(None, (), ())
        self.rows = 0

    def __iter__(self) -> Iterator[int]:
        try:
            lines = lines_of(bytes(self.file.data))
            _line, head = next(lines, (0, ()))
            reader = TableReader(
                PARTS[self.file.part],
                [str(name or "") for name in head],
                sign=cast(DecimalSign, self.file.decimal_sign),
                currency=self.book.currency,
                treatments=in_force().catalogue.treatments.keys(),
            )
            while not reader.full and (chunk := list(islice(lines, STEP))):
                reader.feed(chunk)
                self.rows = reader.count
                yield reader.count
            self.found = wanted(reader, self.book, self.day)
        except TableError as error:
            self.found = Wanted(None, (), (RowFault(0, str(error)),))

    def to_the_end(self) -> Wanted:
        """Read the whole file without a word in between."""
        for _rows in self:
            pass
        return self.found


def take_file(
    *, file: BookFile, seen_sha256: str, seen: int, effective: date | None, reason: str, actor: Staff, now: datetime
) -> BookVersion:
    """Take a kept file into the book, whole: the file with the hash that was looked at, into the version it was held
    against. Prices begin on the days in the file, other parts on ``effective``.

    Raises Refused with every fault when it has any, and StaleEdit when the book was changed since.
    """
    require(actor, Act.EDIT, Thing.BOOK, subject=actor.office)
    require_own(actor, file)
    if sha256(bytes(file.data)) != seen_sha256:
        raise Refused("This is not the file that was looked at: look at it again before it is taken.")
    day = books.today(actor.office, now)
    last = books.latest_version(actor.office)
    found = Looking(file, books.read_book(last.data), day).to_the_end()
    if found.book is None:
        faults = [(f"line {fault.line}" if fault.line else "", fault.sentence) for fault in found.faults]
        raise Refused(f"The file has {len(faults)} faults and is not taken.", faults=faults)
    if not found.changes:
        raise Refused("The file says what the book says already: there is nothing to take.")
    return books.change_book(
        office=actor.office,
        book=found.book,
        effective=max(day, last.effective) if file.part == "prices" or effective is None else effective,
        reason=f"{reason.strip()} (from the file {file.name}, SHA-256 {file.sha256})" if reason.strip() else "",
        seen=seen,
        actor=actor,
        now=now,
    )
