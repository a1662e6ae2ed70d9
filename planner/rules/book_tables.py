"""The parts of the office book that are tables: their columns, and a row of each as cells.

One list of columns serves everything that shows or takes such a row: the file that goes out, the file that comes in,
the table on a page, and the comparison of two versions. A cell is text, or a number, day or truth value where a
spreadsheet keeps such; what is blank was not typed.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any, Literal, get_args

from pydantic import BaseModel

from planner.rules.book import (
    BlockMinutes,
    DiscountKind,
    DiscountLimit,
    EarningStage,
    MaterialUse,
    OfficeBook,
    PackageRule,
    PriceList,
    Service,
    Shape,
    TaxClass,
)
from planner.rules.units import format_cents

Cell = str | int | Decimal | date | None
"""One cell; a truth value is a whole number to Python and is told apart by its type."""
Kind = Literal["text", "choice", "amount", "number", "whole", "yes or no", "several"]
MOST_CENTS = 100_000_000
MOST_NUMBER = 1_000_000
"""Above these an amount or a number in a table is a slip: no pack and no fee of an office comes near."""

SHOWN = 300
"""Changes that a page shows one by one."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: what its head says in a file, which field it fills, and what may stand in it."""

    name: str
    field: str
    kind: Kind = "text"
    choices: tuple[str, ...] = ()
    required: bool = False
    identity: bool = False
    """It belongs to what names the row, so that it cannot be changed without naming another."""


@dataclass(frozen=True)
class Table:
    """One table of the book."""

    name: str
    model: type[BaseModel]
    columns: tuple[Column, ...]
    currency: bool = False
    """Its amounts are in the office's currency, which a file states in every row."""

    @cached_property
    def identity(self) -> tuple[str, ...]:
        """The fields that name a row."""
        return tuple(column.field for column in self.columns if column.identity)

    def name_of(self, row: object) -> tuple[str, ...]:
        """What names a row among the others."""
        return tuple(str(getattr(row, field)) for field in self.identity)

    def column(self, field: str) -> Column | None:
        """The column that fills ``field``, if one does."""
        return next((column for column in self.columns if column.field == field), None)


SERVICES = Table(
    "services",
    Service,
    (
        Column("key", "key", required=True, identity=True),
        Column("code", "code", required=True),
        Column("words", "words", required=True),
        Column("words_es", "words_es"),
        Column("shape", "shape", "choice", get_args(Shape), required=True),
        Column("price", "cents", "amount"),
        Column("further_price", "further_cents", "amount"),
        Column("further_code", "further_code"),
        Column("laboratory", "lab_cents", "amount"),
        Column("tax_class", "tax_class", "choice", get_args(TaxClass), required=True),
        Column("least", "least", "whole"),
        Column("step_minutes", "step_minutes", "whole"),
        Column("cap", "cap_cents", "amount"),
        Column("handling_percent", "handling_percent", "number"),
        Column("outside_code", "outside_code"),
    ),
    currency=True,
)
MATERIALS = Table(
    "materials",
    MaterialUse,
    (
        Column("key", "key", required=True, identity=True),
        Column("words", "words", required=True),
        Column("unit", "unit", required=True),
        Column("pack_amount", "pack_amount", "number", required=True),
        Column("pack_price", "pack_cents", "amount"),
        Column("per_tooth", "per_tooth", "number"),
        Column("per_visit", "per_visit", "number"),
        Column("per_arch", "per_arch", "number"),
        Column("by_geometry", "by_geometry", "yes or no"),
        Column("whole", "whole", "yes or no"),
        Column("reorder_at", "reorder_at", "whole"),
        Column("treatments", "treatments", "several"),
    ),
    currency=True,
)
MINUTES = Table(
    "minutes",
    BlockMinutes,
    (
        Column("treatment", "treatment", required=True, identity=True),
        Column("visit", "visit", required=True, identity=True),
        Column("block", "block", "choice", ("set-up", "per tooth", "finish"), required=True, identity=True),
        Column("fast", "fast", "whole", required=True),
        Column("usual", "usual", "whole", required=True),
        Column("slow", "slow", "whole", required=True),
        Column("source", "source", required=True),
    ),
)
PACKAGES = Table(
    "packages",
    PackageRule,
    (
        Column("code", "code", required=True, identity=True),
        Column("words", "words", required=True),
        Column("words_es", "words_es"),
        Column("service", "service", required=True),
        Column("at_least", "at_least", "whole", required=True),
        Column("percent", "percent", "number", required=True),
    ),
)
DISCOUNTS = Table(
    "discounts",
    DiscountLimit,
    (
        Column("kind", "kind", "choice", get_args(DiscountKind), required=True, identity=True),
        Column("most_percent", "most_percent", "number", required=True, identity=True),
        Column("most_amount", "most_cents", "amount"),
        Column("asked_by", "asked_by", "several"),
        Column("allowed_by", "allowed_by", "several"),
        Column("why", "why"),
    ),
)
STAGES = Table(
    "stages",
    EarningStage,
    (
        Column("stage", "stage", required=True, identity=True),
        Column("percent", "percent", "number", required=True),
    ),
)

LIST_COLUMNS = ("list", "from", "until")
"""A file of prices says in every row to which list it belongs and when that list holds."""
CURRENCY = "currency"


def head_of(table: Table) -> tuple[str, ...]:
    """The heads of a file of this table, in order."""
    names = tuple(column.name for column in table.columns)
    return (*(LIST_COLUMNS if table is SERVICES else ()), *names, *((CURRENCY,) if table.currency else ()))


def cell_of(column: Column, row: object) -> Cell:
    """What stands in one cell; None where nothing was typed."""
    value = getattr(row, column.field)
    if value is None or value == "" or value == ():
        return None
    match column.kind:
        case "amount":
            return Decimal(format_cents(value))
        case "yes or no":
            return "yes" if value else "no"
        case "several":
            return "; ".join(value)
        case _:
            kept: Cell = value
            return kept


def shown(column: Column, row: object) -> str:
    """What stands in one cell, as text for a reader."""
    cell = cell_of(column, row)
    if cell is None:
        return ""
    return format(cell, "f") if isinstance(cell, Decimal) else str(cell)


def until(lists: tuple[PriceList, ...], prices: PriceList) -> date | None:
    """The last day on which ``prices`` holds; None while no later list ends it."""
    later = [one.effective for one in lists if one.effective > prices.effective]
    return min(later) - timedelta(days=1) if later else None


def rows_of_prices(book: OfficeBook, versions: tuple[int, ...]) -> Iterator[tuple[Cell, ...]]:
    """The lines of these price lists as a file carries them, in the order of :func:`head_of`."""
    for prices in sorted(book.price_lists, key=lambda one: one.effective):
        if prices.version in versions:
            start = (prices.version, prices.effective, until(book.price_lists, prices))
            for line in prices.services:
                yield (*start, *(cell_of(column, line) for column in SERVICES.columns), book.currency)


def rows_of(table: Table, book: OfficeBook) -> Iterator[tuple[Cell, ...]]:
    """The rows of materials or minutes as a file carries them, in the order of :func:`head_of`."""
    end: tuple[Cell, ...] = (book.currency,) if table.currency else ()
    for row in _PARTS[table.name](book):
        yield (*(cell_of(column, row) for column in table.columns), *end)


_PARTS: Mapping[str, Callable[[OfficeBook], tuple[Any, ...]]] = {
    "materials": lambda book: book.materials,
    "minutes": lambda book: book.minutes,
}


@dataclass(frozen=True, slots=True)
class CellChange:
    """One cell that is otherwise than before, as text; empty where nothing stood or stands."""

    column: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row that came, went or changed."""

    what: Literal["added", "changed", "removed"]
    table: Table
    was: object | None
    row: object | None

    @property
    def name(self) -> str:
        """What names the row, in words."""
        return " / ".join(part for part in self.table.name_of(self.row if self.was is None else self.was) if part)

    @property
    def cells(self) -> tuple[CellChange, ...]:
        """The cells that are otherwise; worked out when somebody looks, since a long file has many."""
        found = []
        for column in self.table.columns:
            before = "" if self.was is None else shown(column, self.was)
            after = "" if self.row is None else shown(column, self.row)
            if before != after:
                found.append(CellChange(column.name, before, after))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Comparison:
    """What a new table says otherwise than an old one, in the order of the new, what is gone at the end."""

    changes: tuple[RowChange, ...]
    unchanged: int
    """Rows that stay word for word."""

    @property
    def counts(self) -> tuple[tuple[str, int], ...]:
        """How many rows were added, changed, removed and left alone."""
        names = ("added", "changed", "removed")
        found = tuple((name, sum(change.what == name for change in self.changes)) for name in names)
        return (*found, ("unchanged", self.unchanged))

    @property
    def first(self) -> tuple[RowChange, ...]:
        """As many changes as a page can show."""
        return self.changes[:SHOWN]

    @property
    def more(self) -> int:
        """How many changes there are beyond those."""
        return max(0, len(self.changes) - SHOWN)


def compare(table: Table, old: tuple[Any, ...], new: tuple[Any, ...]) -> Comparison:
    """What ``new`` says otherwise than ``old``, row by row and cell by cell."""
    before = {table.name_of(row): row for row in old}
    changes: list[RowChange] = []
    unchanged = 0
    for row in new:
        was = before.pop(table.name_of(row), None)
        if was == row:
            unchanged += 1
        else:
            changes.append(RowChange("added" if was is None else "changed", table, was, row))
    gone = (RowChange("removed", table, row, None) for row in before.values())
    return Comparison((*changes, *gone), unchanged)
