"""Tables of the office book as files: CSV and XLSX, out and in. Nothing in a file is ever reckoned or followed.

What goes out holds no live cell: text that begins like a formula is written with an apostrophe before it (CSV) or as a
cell that is told to be text (XLSX). What comes in is read cell by cell; a cell with a formula is handed on as text that
begins with ``=``, which the reader of the table refuses by line.
"""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from planner.practice.sheets import Text, lines_of_sheet
from planner.rules.book_reading import DecimalSign, TableError, guarded
from planner.rules.book_tables import Cell

CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_BYTES = 5 * 1024 * 1024
MOST_UNPACKED = 80 * 1024 * 1024
"""A spreadsheet is packed; one that unpacks to more than this is none of ours."""
_DIVIDERS = ",;\t"
Line = tuple[int, Sequence[Cell]]


def write_csv(head: Sequence[str], rows: Iterable[Sequence[Cell]], sign: DecimalSign) -> bytes:
    """The table as CSV in UTF-8 with its mark, which spreadsheets want; divided by ``;`` where the comma is decimal."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";" if sign == "," else ",")
    writer.writerow(head)
    writer.writerows([csv_cell(cell, sign) for cell in row] for row in rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def csv_cell(cell: Cell, sign: str) -> str:
    """One cell as it may stand in CSV: never live, decimals with ``sign``."""
    if cell is None:
        return ""
    if isinstance(cell, Decimal):
        return format(cell, "f").replace(".", sign)
    if isinstance(cell, date):
        return cell.isoformat()
    return guarded(cell) if isinstance(cell, str) else str(cell)


def write_xlsx(head: Sequence[str], rows: Iterable[Sequence[Cell]], title: str) -> bytes:
    """The table as one sheet; numbers and days are such, and everything else is text that cannot be live."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"
    bold = []
    for name in head:
        cell = WriteOnlyCell(sheet, name)
        cell.font = Font(bold=True)
        bold.append(cell)
    sheet.append(bold)
    for row in rows:
        sheet.append([_safe(sheet, cell) for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _safe(sheet: Any, cell: Cell) -> Any:
    if isinstance(cell, str) and guarded(cell) != cell:
        kept = WriteOnlyCell(sheet, cell)
        kept.data_type = "s"
        kept.quotePrefix = True
        return kept
    return cell


def is_xlsx(content: bytes) -> bool:
    """Whether these are the bytes of a packed spreadsheet, whatever the file is called."""
    return content[:4] == b"PK\x03\x04"


def lines_of(content: bytes) -> Iterator[Line]:
    """The lines of a file, CSV or XLSX, the head first; empty lines are left out.

    Raises TableError with one sentence for a file that cannot be read, also half-way.
    """
    if len(content) > MOST_BYTES:
        raise TableError(f"The file has {len(content):,} bytes; it may have {MOST_BYTES:,} at most.")
    if not content.strip():
        raise TableError("The file is empty.")
    return _lines_of_xlsx(content) if is_xlsx(content) else _lines_of_csv(content)


def _lines_of_csv(content: bytes) -> Iterator[Line]:
    text = _decoded(content)
    first = text.split("\n", 1)[0]
    divider = max(_DIVIDERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=divider, strict=True)
    try:
        for cells in reader:
            if any(cells):
                yield reader.line_num, cells
    except csv.Error as error:
        raise TableError(f"Line {reader.line_num} is not CSV: {error}.") from None


def _decoded(content: bytes) -> str:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise TableError("The file is written in UTF-16: save it as CSV in UTF-8.")
    if b"\0" in content:
        raise TableError("The file is neither CSV nor XLSX: it holds bytes that no text has.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise TableError(
            f"Line {line} is not UTF-8 (byte {content[error.start]:#04x}): the file was saved in another encoding, and "
            "its accents would come out wrong. Save it as CSV in UTF-8."
        ) from None


def _lines_of_xlsx(content: bytes) -> Iterator[Line]:
    _check_package(content)
    try:
        for number, found in lines_of_sheet(content):
            # Text that is told to be text is not live here, so it is taken as the same text in CSV would be.
            cells = [guarded(cell.words) if isinstance(cell, Text) else cell for cell in found]
            if any(cell not in (None, "") for cell in cells):
                yield number, cells
    except TableError:
        raise
    except Exception as error:  # whatever the parsers of a broken file raise
        raise TableError(f"The spreadsheet cannot be read ({type(error).__name__}): save it anew as XLSX.") from None


def _check_package(content: bytes) -> None:
    try:
        package = zipfile.ZipFile(io.BytesIO(content))
        members = package.infolist()
    except zipfile.BadZipFile:
        raise TableError("The file begins like a spreadsheet and cannot be unpacked: save it anew as XLSX.") from None
    names = [member.filename.lower() for member in members]
    if sum(member.file_size for member in members) > MOST_UNPACKED:
        raise TableError(
            f"The spreadsheet unpacks to more than {MOST_UNPACKED // 1024 // 1024} MB: it is none of ours."
        )
    if any(name.endswith(("vbaproject.bin", ".bas")) for name in names):
        raise TableError("The spreadsheet holds macros: save it as plain XLSX.")
    if "xl/workbook.xml" not in names:
        raise TableError("The file is packed and no spreadsheet: send XLSX or CSV.")
    for member in members:
        if member.filename.endswith((".xml", ".rels")):
            with package.open(member) as part:
                if b"<!DOCTYPE" in part.read(1024):
                    raise TableError(
                        "The spreadsheet declares a document type, which none needs: save it anew as XLSX."
                    )
