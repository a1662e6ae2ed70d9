"""Reading a table of the office book from cells: the whole of it, or every fault by line and reason.

Nothing is ever reckoned: a cell that a spreadsheet would take for a formula is refused. :func:`guarded` is the other
half, for what goes out: text that begins like a formula gets an apostrophe before it, which is taken off again here.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from types import GenericAlias
from typing import Any, Literal

from pydantic import TypeAdapter, ValidationError

from planner.rules.book_tables import (
    CURRENCY,
    LIST_COLUMNS,
    MINUTES,
    MOST_CENTS,
    MOST_NUMBER,
    SERVICES,
    Cell,
    Column,
    Table,
    head_of,
)
from planner.rules.typed_files import faults_of
from planner.rules.units import format_cents

DecimalSign = Literal[".", ","]
MOST_FAULTS = 200
"""Reading stops there: who sent the wrong file learns no more from the next thousand."""
MOST_ROWS = 20_000
_LIVE = frozenset("=+-@\t\r")
"""A spreadsheet takes text that begins with one of these for a formula."""
_NUMBERS: Mapping[str, re.Pattern[str]] = {
    ".": re.compile(r"-?\d{1,15}(\.\d{1,10})?", re.ASCII),
    ",": re.compile(r"-?\d{1,15}(,\d{1,10})?", re.ASCII),
}
_WHOLE = re.compile(r"-?\d{1,15}", re.ASCII)
_PLACE = re.compile(r"\[(\d+)\](?:\.(\w+))?.*")


@dataclass(frozen=True, slots=True)
class RowFault:
    """One thing that is wrong in a file. Line 0 is the file as a whole."""

    line: int
    sentence: str


class TableError(ValueError):
    """A file that is not this table; the message is one sentence."""


def guarded(text: str) -> str:
    """``text`` as it may stand in a file: never live, and :func:`unguarded` gives it back."""
    return f"'{text}" if text.lstrip("'")[:1] in _LIVE and text else text


def unguarded(text: str) -> str:
    """The text that :func:`guarded` wrote."""
    return text[1:] if text.startswith("'") and text.lstrip("'")[:1] in _LIVE and text.lstrip("'") else text


class _CellError(ValueError):
    pass


@dataclass(frozen=True, slots=True)
class Typed:
    """A file that was read whole: each row with its line, and for prices the list it belongs to."""

    rows: tuple[Any, ...]
    lines: tuple[int, ...]
    lists: tuple[tuple[int, date, date | None], ...]
    """For prices, beside each row: version, first day, last day or None."""


class TableReader:
    """Reads one table, some rows at a time, so that whoever waits can be told how far it is."""

    def __init__(
        self,
        table: Table,
        head: Sequence[str],
        *,
        sign: DecimalSign,
        currency: str,
        treatments: Collection[str] | None = None,
    ) -> None:
        """``treatments``: keys that minutes may name. Raises TableError for a head that is not this table's."""
        self.table, self.sign, self.currency, self.treatments = table, sign, currency, treatments
        self.faults: list[RowFault] = []
        self.count = 0
        self._rows: list[Any] = []
        self._lines: list[int] = []
        self._lists: list[tuple[int, date, date | None]] = []
        self._seen: dict[tuple[Any, ...], int] = {}
        self._codes: dict[tuple[Any, str], int] = {}
        self._places = _places(table, head)
        self._width = len(head)
        self._cells = [(self._places[column.name], column, _READERS[column.kind]) for column in table.columns]

    @property
    def full(self) -> bool:
        """Whether so much is wrong that reading on tells nothing."""
        return len(self.faults) >= MOST_FAULTS

    def feed(self, rows: Iterable[tuple[int, Sequence[Cell]]]) -> None:
        """Read some more rows, each with its line in the file."""
        values: list[dict[str, Any]] = []
        lines: list[int] = []
        for line, cells in rows:
            self.count += 1
            if self.count > MOST_ROWS:
                self._fault(line, f"This is row {MOST_ROWS + 1}; a file may have {MOST_ROWS} at most. Cut it in two.")
                break
            if self.full:
                break
            data = self._row(line, cells)
            if data is not None:
                values.append(data)
                lines.append(line)
        self._take(values, lines)

    def result(self) -> Typed:
        """What was read, to be used only when there is no fault."""
        return Typed(tuple(self._rows), tuple(self._lines), tuple(self._lists))

    def _fault(self, line: int, sentence: str) -> None:
        if not self.full:
            self.faults.append(RowFault(line, sentence))

    def _take(self, values: list[dict[str, Any]], lines: list[int]) -> None:
        try:
            self._rows += _adapter(self.table)(values)
        except ValidationError as error:
            for fault in faults_of(error, "the list of columns"):
                found = _PLACE.fullmatch(fault.path)
                column = self.table.column(found[2]) if found and found[2] else None
                where = f"{column.name}: " if column else ""
                self._fault(lines[int(found[1])] if found else 0, f"{where}{fault.sentence}")
        self._lines += lines

    def _row(self, line: int, cells: Sequence[Cell]) -> dict[str, Any] | None:
        if len(cells) != self._width and any(cell not in (None, "") for cell in cells[self._width :]):
            self._fault(
                line, f"It has {len(cells)} cells, and the head has {self._width}: one sign too many divides it."
            )
            return None
        if len(cells) < self._width:
            cells = (*cells, *(None for _ in range(self._width - len(cells))))
        before = len(self.faults)
        data: dict[str, Any] = {}
        for place, column, reader in self._cells:
            cell = cells[place]
            if cell is None or cell == "":
                if column.required:
                    self._fault(line, _missing(column))
                continue
            try:
                data[column.field] = reader(cell, self.sign)
            except _CellError as error:
                self._fault(line, f"{column.name}: {error}")
        of_list = self._of_list(line, cells)
        if len(self.faults) == before:
            self._only_once(line, data, of_list)
        if len(self.faults) > before:
            return None
        if of_list is not None:
            self._lists.append(of_list)
        return data

    def _of_list(self, line: int, cells: Sequence[Cell]) -> tuple[int, date, date | None] | None:
        if self.table.currency:
            written = cells[self._places[CURRENCY]]
            if written != self.currency:
                self._fault(
                    line,
                    f'currency: "{written or ""}" stands here, and the office counts in {self.currency}: '
                    "amounts in another currency are not taken.",
                )
        if self.table is not SERVICES:
            return None
        try:
            version, start, end = (cells[self._places[name]] for name in LIST_COLUMNS)
            number = int(_read_whole(version or "", self.sign))
            if number < 1:
                raise _CellError(f'list: "{version}" is no number of a list: write 1 or more.')
            return number, _read_day("from", start), None if end in (None, "") else _read_day("until", end)
        except _CellError as error:
            self._fault(line, str(error) if ": " in str(error)[:8] else f"list: {error}")
            return None

    def _only_once(self, line: int, data: Mapping[str, Any], of_list: tuple[int, date, date | None] | None) -> None:
        version = of_list[0] if of_list else 0
        name = (version, *(data.get(field, "") for field in self.table.identity))
        if (first := self._seen.setdefault(name, line)) != line:
            words = " / ".join(str(part) for part in name[1:] if part)
            self._fault(line, f'"{words}" stands in line {first} already: keep one of the two.')
        if self.table is SERVICES:
            for code in filter(None, (data["code"], data.get("further_code"))):
                if (first := self._codes.setdefault((version, code), line)) != line:
                    self._fault(line, f'code: "{code}" stands for line {first} already: give one of the two another.')
        if self.table is MINUTES and self.treatments is not None and data["treatment"] not in self.treatments:
            self._fault(line, f'treatment: "{data["treatment"]}" is no treatment here: write the key of one that is.')


@cache
def _adapter(table: Table) -> Callable[[list[dict[str, Any]]], list[Any]]:
    rows: Any = GenericAlias(list, (table.model,))
    return TypeAdapter(rows).validate_python


def _places(table: Table, head: Sequence[str]) -> dict[str, int]:
    """Where each column stands. Raises TableError when the head names others, or one twice."""
    names = [str(name or "").strip().lower() for name in head]
    while names and not names[-1]:
        names.pop()
    wanted = head_of(table)
    missing = [name for name in wanted if name not in names]
    unknown = [name for name in names if name not in wanted]
    twice = sorted({name for name in names if names.count(name) > 1})
    told = [
        words + ", ".join(f'"{name}"' for name in of)
        for words, of in (("missing: ", missing), ("unknown: ", unknown), ("there twice: ", twice))
        if of
    ]
    if told:
        raise TableError(
            f"Its first line is not the head of a file of {table.name}. {'; '.join(told).capitalize()}. "
            f"The head has these columns, in any order: {', '.join(wanted)}."
        )
    return {name: names.index(name) for name in wanted}


def _missing(column: Column) -> str:
    if column.choices:
        told = ", ".join(column.choices)
        return f"{column.name}: nothing stands here: write one of {told}."
    return f"{column.name}: nothing stands here, and a row cannot be without it."


def _text(cell: Cell, sign: str) -> str:
    if type(cell) is str and cell[0] not in _LIVE and cell[0] != "'":
        return cell  # as nearly every cell is
    written = str(cell) if not isinstance(cell, datetime) else cell.isoformat()
    if isinstance(cell, str) and written[0] in _LIVE:
        raise _CellError(
            f'"{_short(written)}" begins with "{written[0].strip() or "a tab"}", which a spreadsheet reckons as a '
            "formula; nothing is reckoned here. If it is text, put an apostrophe before it."
        )
    return unguarded(written)


def _read_number(cell: Cell, sign: str) -> str:
    if type(cell) is str and len(cell) < len(str(MOST_NUMBER)) and _NUMBERS[sign].fullmatch(cell):
        return cell.replace(",", ".")  # as nearly every cell is
    if isinstance(cell, (bool, date)):
        raise _CellError(f'"{cell}" is not a number.')
    if isinstance(cell, (int, Decimal)):
        written, ready = format(cell, "f") if isinstance(cell, Decimal) else str(cell), True
    else:
        written, ready = (cell or "").strip(), False
    if written.startswith("="):
        raise _CellError(f'"{_short(written)}" is a formula, and nothing is reckoned here: write the number.')
    if not ready and not _NUMBERS[sign].fullmatch(written):
        other = "," if sign == "." else "."
        if _NUMBERS[other].fullmatch(written):
            raise _CellError(
                f'"{written}" has "{other}" before its decimals, and this file was said to write "{sign}": '
                "say the other when sending it, or correct the cell."
            )
        raise _CellError(f'"{_short(written)}" is not a number: write it plain, such as 1480{sign}50.')
    canonical = written.replace(",", ".")
    if Decimal(canonical) > MOST_NUMBER:
        raise _CellError(f"{written} is more than any number here: {MOST_NUMBER} is the most.")
    return canonical


def _read_amount(cell: Cell, sign: str) -> str:
    canonical = _read_number(cell, sign)
    if len(canonical) >= len(str(MOST_NUMBER)) and Decimal(canonical) * 100 > MOST_CENTS:
        raise _CellError(f"{canonical} is more than any amount here: {format_cents(MOST_CENTS)} is the most.")
    return canonical


def _read_whole(cell: Cell, sign: str) -> str:
    canonical = _read_number(cell, sign)
    if not _WHOLE.fullmatch(canonical.removesuffix(".0")):
        raise _CellError(f'"{canonical}" is not a whole number.')
    return canonical.removesuffix(".0")


def _read_truth(cell: Cell, sign: str) -> bool:
    if isinstance(cell, bool):
        return cell
    written = _text(cell, sign).strip().lower()
    if written not in ("yes", "no"):
        raise _CellError(f'"{_short(written)}" is neither "yes" nor "no".')
    return written == "yes"


def _read_several(cell: Cell, sign: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in _text(cell, sign).split(";") if part.strip())


def _read_day(name: str, cell: Cell) -> date:
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    try:
        return date.fromisoformat(str(cell or "").strip())
    except ValueError:
        raise _CellError(f'{name}: "{_short(str(cell or ""))}" is not a day: write it as 2026-03-02.') from None


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:37]}..."


_READERS: Mapping[str, Callable[[Cell, str], Any]] = {
    "text": _text,
    "choice": _text,
    "amount": _read_amount,
    "number": _read_number,
    "whole": _read_whole,
    "yes or no": _read_truth,
    "several": _read_several,
}
