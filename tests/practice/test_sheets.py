"""Spreadsheets are read cell by cell as openpyxl reads them, which had no part in it; formulas are never followed."""

import io
import zipfile
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from planner.practice.sheets import WIDEST, Text, lines_of_sheet
from planner.practice.table_files import lines_of
from planner.rules.book_reading import TableError

CELLS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**12), 10**12),
    st.floats(-1e9, 1e9, allow_nan=False).map(lambda value: round(value, 4)),
    st.dates(date(1901, 1, 1), date(2199, 12, 31)),
    st.datetimes(datetime(1901, 1, 1), datetime(2199, 12, 31)).map(lambda value: value.replace(microsecond=0)),  # noqa: DTZ001 - a cell has no zone
    st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co")), max_size=12),
)


def saved(rows: list[list[Any]], **cells: Any) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    for name, value in cells.items():
        sheet[name] = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def plain(cell: Any) -> Any:
    value = cell.words if isinstance(cell, Text) else cell
    return Decimal(repr(value)) if isinstance(value, float) else value


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=1, max_size=6), min_size=1, max_size=6))
def test_every_cell_is_what_openpyxl_reads(rows: list[list[Any]]) -> None:
    content = saved([[cell for cell in row if not str(cell).startswith("=")] for row in rows])
    other = load_workbook(io.BytesIO(content)).worksheets[0]
    found = {number: list(map(plain, cells)) for number, cells in lines_of_sheet(content)}
    for number, row in enumerate(other.iter_rows(values_only=True), start=1):
        wanted = [plain(cell) for cell in row]
        read = found.get(number, [])
        assert read + [None] * (len(wanted) - len(read)) == wanted


def test_cells_that_are_left_out_leave_their_place() -> None:
    content = saved([["a", None, "c"]], F3=7)
    assert [(number, list(map(plain, cells))) for number, cells in lines_of_sheet(content)] == [
        (1, ["a", None, "c"]),
        (3, [None, None, None, None, None, 7]),
    ]


def test_a_cell_far_out_is_refused_before_the_line_grows() -> None:
    with pytest.raises(TableError, match=rf"Line 1 has a cell in column 16384; a table has {WIDEST} columns at most"):
        list(lines_of(saved([["a"]], XFD1="far")))


def packed(sheet: str) -> bytes:
    """A spreadsheet whose only sheet is written by hand."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(saved([["a"]]))) as before, zipfile.ZipFile(out, "w") as after:
        for name in before.namelist():
            words = before.read(name).decode()
            if name == "xl/worksheets/sheet1.xml":
                words = (
                    f'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">{sheet}</worksheet>'
                )
            after.writestr(name, words)
    return out.getvalue()


@pytest.mark.parametrize(
    "cell",
    [
        "<c r='A1'><f>2+2</f><v>4</v></c>",
        "<c r='A1'><v>4</v><f>2+2</f></c>",
        "<c r='A1' t='str'><f>2+2</f><v>four</v></c>",
        "<c r='A1' t='inlineStr'><is><t>four</t></is><f>2+2</f></c>",
        "<c r='A1'><f t='shared' si='0'/><v>4</v></c>",
        "<c r='A1' t='e'><v>#REF!</v></c>",
    ],
)
def test_a_formula_is_handed_on_as_one_wherever_it_hides(cell: str) -> None:
    ((number, (value,)),) = lines_of(packed(f"<sheetData><row r='1'>{cell}</row></sheetData>"))
    assert number == 1
    assert str(value).startswith("=")


def test_text_in_the_sheet_itself_is_read_without_its_pronunciation() -> None:
    rich = "<is><r><t>a</t></r><r><t xml:space='preserve'> b</t></r><rPh sb='0' eb='1'><t>x</t></rPh></is>"
    ((_number, (value,)),) = lines_of(packed(f"<sheetData><row><c t='inlineStr'>{rich}</c></row></sheetData>"))
    assert value == "a b"


def test_an_entity_is_never_looked_up() -> None:
    far = " " * 2000 + "<!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/hostname'>]>"
    content = packed("<sheetData><row><c t='str'><v>&e;</v></c></row></sheetData>")
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as before, zipfile.ZipFile(out, "w") as after:
        for name in before.namelist():
            words = before.read(name).decode()
            after.writestr(name, f"<!--{far[:2000]}-->{far[2000:]}{words}" if name.endswith("sheet1.xml") else words)
    try:
        found = [cell for _number, cells in lines_of(out.getvalue()) for cell in cells]
    except TableError:
        return
    assert found in ([], [None], [""])
