"""The first sheet of a spreadsheet, cell by cell, straight from the packed XML.

A general reader builds an object for every cell, which takes several times as long as all that is done with the table.
What a format means (is this number a day?) is left to openpyxl; nothing is reckoned, and no formula is followed.
"""

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any

from lxml import etree
from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel

from planner.rules.book_reading import TableError
from planner.rules.book_tables import Cell

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
_REL = re.compile(r"\{[^}]*\}id$")
_COLUMN = re.compile(r"[A-Z]{1,3}")
WIDEST = 200
"""Columns; a cell further out is in no table of ours, and every line would be as long."""
Line = tuple[int, Sequence[Cell]]


@dataclass(frozen=True, slots=True)
class Text:
    """A text cell as it stands; whoever reads it decides what its beginning may be."""

    words: str


@dataclass(frozen=True, slots=True)
class _Book:
    sheet: str
    strings: tuple[str, ...]
    days: frozenset[int]
    """Numbers of the cell styles that show a number as a day or an hour."""
    epoch: datetime


def lines_of_sheet(content: bytes) -> Iterator[tuple[int, list[Cell | Text]]]:
    """Number and cells of every row of the first sheet that has any; a formula or an error as text with ``=``.

    Raises TableError for a cell too far out; whatever the parsers raise for what is no spreadsheet.
    """
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        book = _book(package)
        number = 0
        with package.open(book.sheet) as part:
            for row in _elements(part, "row"):
                number = int(row.get("r") or number + 1)
                if cells := _cells(row, book, number):
                    yield number, cells
                row.clear()


def _cells(row: Any, book: _Book, number: int) -> list[Cell | Text]:
    cells: list[Cell | Text] = []
    for node in row:
        at = len(cells)
        if name := node.get("r"):
            at = _place(name.rstrip("0123456789"))
        if at >= WIDEST:
            raise TableError(f"Line {number} has a cell in column {at + 1}; a table has {WIDEST} columns at most.")
        if at > len(cells):
            cells.extend([None] * (at - len(cells)))
        cells.append(_value(node, book))
    return cells


@cache
def _place(letters: str) -> int:
    if not _COLUMN.fullmatch(letters):
        raise ValueError(f"{letters} is no column")
    at = 0
    for letter in letters:
        at = at * 26 + ord(letter) - 64
    return at - 1


def _value(node: Any, book: _Book) -> Cell | Text:
    kind, written = node.get("t", "n"), None
    for child in node:
        tag = child.tag
        if tag.endswith("}v"):
            written = child.text
        elif tag.endswith("}f"):
            return f"={(child.text or '').removeprefix('=')}"
        elif tag.endswith("}is"):
            written = _said(child)
    if written is None:
        return None
    if kind == "n":
        return _number(written, int(node.get("s") or 0), book)
    if kind == "s":
        return Text(book.strings[int(written)])
    if kind == "b":
        return written.strip() in ("1", "true")
    if kind == "e":
        return f"={written}"
    return date.fromisoformat(written[:10]) if kind == "d" else Text(written)


def _number(written: str, style: int, book: _Book) -> Cell:
    if style in book.days:
        try:
            found = from_excel(float(written), book.epoch)
        except (ValueError, OverflowError):
            return "=#VALUE!"
        return found if isinstance(found, date) else str(found)
    if written.lstrip("-").isdigit():
        return int(written)
    value = float(written)
    # Spreadsheets write a number with all the digits of its binary form; the shortest that means the same is what was
    # typed.
    return Decimal(repr(value)) if abs(value) < float("inf") else written


def _said(node: Any) -> str:
    """The text of a string, without how it is pronounced."""
    parts = []
    for child in node:
        name = child.tag.rpartition("}")[2]
        if name == "t":
            parts.append(child.text or "")
        elif name == "r":
            parts += [one.text or "" for one in child if one.tag.rpartition("}")[2] == "t"]
    return "".join(parts)


def _book(package: zipfile.ZipFile) -> _Book:
    root = _parsed(package, "xl/workbook.xml")
    links = {link.get("Id"): link for link in _parsed(package, "xl/_rels/workbook.xml.rels")}
    sheets = [links[_id(node)] for node in _named(root, "sheet")]
    first = next(link for link in sheets if link.get("Type").endswith("/worksheet"))
    kept = {link.get("Type").rpartition("/")[2]: link for link in links.values()}
    settings = next(iter(_named(root, "workbookPr")), None)
    mac = settings is not None and settings.get("date1904") in ("1", "true")
    strings: tuple[str, ...] = ()
    if "sharedStrings" in kept:
        strings = tuple(_said(node) for node in _parsed(package, _path(kept["sharedStrings"])))
    days = _days(_parsed(package, _path(kept["styles"]))) if "styles" in kept else frozenset()
    return _Book(_path(first), strings, days, CALENDAR_MAC_1904 if mac else CALENDAR_WINDOWS_1900)


def _days(styles: Any) -> frozenset[int]:
    own = {int(node.get("numFmtId")): node.get("formatCode") for node in _named(styles, "numFmt")}
    formats = next(iter(_named(styles, "cellXfs")), ())
    found = set()
    for place, node in enumerate(formats):
        number = int(node.get("numFmtId") or 0)
        if is_date_format(own.get(number) or BUILTIN_FORMATS.get(number, "General")):
            found.add(place)
    return frozenset(found)


def _named(root: Any, name: str) -> list[Any]:
    return list(root.iter(f"{_MAIN}{name}", f"{_STRICT}{name}"))


def _id(node: Any) -> str:
    return str(next(value for name, value in node.attrib.items() if _REL.search(name)))


def _path(link: Any) -> str:
    target = str(link.get("Target"))
    return target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join("xl", target))


def _parsed(package: zipfile.ZipFile, name: str) -> Any:
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    return etree.fromstring(package.read(name), parser)


def _elements(part: Any, name: str) -> Iterator[Any]:
    tags = (f"{_MAIN}{name}", f"{_STRICT}{name}")
    for _event, node in etree.iterparse(part, tag=tags, resolve_entities=False, no_network=True, load_dtd=False):
        yield node
        # What is done with is let go, so that a long table takes no more memory than a short one.
        while node.getprevious() is not None:
            del node.getparent()[0]
