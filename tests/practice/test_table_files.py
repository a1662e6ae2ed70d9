"""Tables of the office book as files, held against the libraries that read such files, and every kind of bad file.

That text beginning with ``= + - @``, a tab or a carriage return is taken for a formula by spreadsheets, and that an
apostrophe before it stops that, is the advice of the OWASP page "CSV Injection" (from memory).
"""

import csv
import io
import zipfile
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from planner.practice.table_files import lines_of, write_csv, write_xlsx
from planner.rules.book import MaterialUse, OfficeBook, Service
from planner.rules.book_reading import DecimalSign, TableError, TableReader, guarded, unguarded
from planner.rules.book_tables import MATERIALS, MINUTES, SERVICES, Cell, Table, head_of, rows_of, rows_of_prices
from planner.rules.book_wanted import Wanted, wanted
from tests.rules.books import tern_row
from tests.support import TODAY

BOOK = tern_row(TODAY)
ALL = tuple(prices.version for prices in BOOK.price_lists)


def read(content: bytes, table: Table, sign: DecimalSign = ".", old: OfficeBook = BOOK) -> Wanted:
    lines = lines_of(content)
    _line, head = next(lines)
    known = {"bonding", "reshaping"}
    reader = TableReader(table, [str(name) for name in head], sign=sign, currency=old.currency, treatments=known)
    reader.feed(lines)
    return wanted(reader, old, TODAY)


def rows(table: Table, book: OfficeBook = BOOK) -> list[tuple[Cell, ...]]:
    return list(rows_of_prices(book, ALL) if table is SERVICES else rows_of(table, book))


@pytest.mark.parametrize("table", [SERVICES, MATERIALS, MINUTES])
def test_what_goes_out_comes_in_and_changes_nothing(table: Table) -> None:
    head, cells = head_of(table), rows(table)
    files = [
        (write_csv(head, cells, "."), "."),
        (write_csv(head, cells, ","), ","),
        (write_xlsx(head, cells, table.name), "."),
    ]
    for content, sign in files:
        found = read(content, table, sign)  # type: ignore[arg-type]
        assert (found.faults, found.changes, found.book) == ((), 0, BOOK)


def test_the_library_reads_numbers_days_and_text_as_what_they_are() -> None:
    sheet = load_workbook(io.BytesIO(write_xlsx(head_of(SERVICES), rows(SERVICES), "prices"))).active
    assert sheet is not None
    first = dict(zip(head_of(SERVICES), next(sheet.iter_rows(min_row=2, values_only=True)), strict=True))
    assert (first["list"], first["price"], first["currency"]) == (7, 145, "CAD")
    assert first["from"].date() == TODAY - timedelta(days=120)
    text = write_csv(head_of(SERVICES), rows(SERVICES), ".").decode("utf-8-sig")
    by_library = list(csv.DictReader(io.StringIO(text)))
    assert len(by_library) == len(rows(SERVICES))
    assert (by_library[0]["price"], by_library[0]["until"]) == ("145.00", (TODAY + timedelta(days=30)).isoformat())


LIVE = st.text(st.sampled_from("=+-@'\tab1|!(é\r\n\"; ,"), max_size=12)


@settings(max_examples=60)
@given(LIVE)
def test_what_is_guarded_is_never_live_and_comes_back(text: str) -> None:
    kept = guarded(text)
    assert not kept or kept[0] not in "=+-@\t\r"
    assert unguarded(kept) == text


@settings(max_examples=25, deadline=None)
@given(st.lists(LIVE.map(str.strip).filter(bool), min_size=1, max_size=4))
def test_no_cell_of_a_file_is_live_and_every_text_comes_back(texts: list[str]) -> None:
    materials = tuple(
        MaterialUse(key=f"m{place}", words=text, unit="g", pack_amount=Decimal(1)) for place, text in enumerate(texts)
    )
    book = BOOK.model_copy(update={"materials": materials})
    plain, packed = (
        write_csv(head_of(MATERIALS), rows(MATERIALS, book), "."),
        write_xlsx(head_of(MATERIALS), rows(MATERIALS, book), "materials"),
    )
    for cells in csv.reader(io.StringIO(plain.decode("utf-8-sig"), newline="")):
        assert not any(cell[:1] in tuple("=+-@\t\r") for cell in cells if cell)
    sheet = load_workbook(io.BytesIO(packed)).active
    assert sheet is not None
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert read(plain, MATERIALS, old=book).changes == 0
    if not any(sign in text for text in texts for sign in "\r\n"):  # a spreadsheet writes every line break as one sign
        assert read(packed, MATERIALS, old=book).changes == 0


# ---------------------------------------------------------------- bad files


def changed(table: Table, **cells: object) -> bytes:
    """The table with some cells of its first line written otherwise."""
    head, lines = head_of(table), rows(table)
    first = dict(zip(head, lines[0], strict=True)) | cells
    return _csv(head, [tuple(first[name] for name in head), *lines[1:]])


def _csv(head: Sequence[str], lines: Sequence[Sequence[object]]) -> bytes:
    """CSV as a stranger writes it: nothing is guarded."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows(lines)
    return out.getvalue().encode()


@pytest.mark.parametrize(
    ("table", "cells", "said"),
    [
        (SERVICES, {"words": '=HYPERLINK("//x")'}, 'words: "=HYPERLINK'),
        (SERVICES, {"words": "+1"}, "reckons as a formula"),
        (SERVICES, {"code": "@SUM(1)"}, "reckons as a formula"),
        (SERVICES, {"words": "\t=1"}, "reckons as a formula"),
        (SERVICES, {"price": "=1+1"}, 'price: "=1+1" is a formula'),
        (SERVICES, {"price": "145,00"}, 'price: "145,00" has "," before its decimals'),
        (SERVICES, {"price": "1,480.00"}, 'price: "1,480.00" is not a number'),
        (SERVICES, {"price": "1e12"}, 'price: "1e12" is not a number'),
        (SERVICES, {"price": "1000000000000"}, "is more than any number here"),
        (SERVICES, {"price": "-3"}, "below zero"),
        (SERVICES, {"price": "0"}, "looks like a price and is none"),
        (SERVICES, {"price": "1.005"}, "two decimals at most"),
        (SERVICES, {"least": "0"}, 'least: "0" is out of range'),
        (SERVICES, {"least": "-1"}, "at least 1"),
        (SERVICES, {"least": "1.5"}, "is not a whole number"),
        (SERVICES, {"shape": ""}, "shape: nothing stands here: write one of per tooth"),
        (SERVICES, {"shape": "weekly"}, 'shape: "weekly" is not one of'),
        (SERVICES, {"tax_class": "luxury"}, 'tax_class: "luxury" is not one of'),
        (SERVICES, {"currency": "USD"}, 'currency: "USD" stands here, and the office counts in CAD'),
        (SERVICES, {"currency": ""}, "amounts in another currency"),
        (SERVICES, {"key": "crown"}, '"crown" stands in line'),
        (SERVICES, {"code": "CRN"}, 'code: "CRN" stands for line'),
        (SERVICES, {"list": "x"}, 'list: "x" is not a number'),
        (SERVICES, {"list": "0"}, "is no number of a list"),
        (SERVICES, {"from": "1.2.2026"}, 'from: "1.2.2026" is not a day'),
        (SERVICES, {"price": "146"}, "is in effect since 2025-11-02 and is never altered"),
        (MATERIALS, {"pack_amount": "0"}, 'pack_amount: "0" is out of range: it must be more than 0'),
        (MATERIALS, {"pack_amount": "-4"}, "more than 0"),
        (MATERIALS, {"pack_amount": "1000000000000"}, "1000000 is the most"),
        (MATERIALS, {"whole": "perhaps"}, 'whole: "perhaps" is neither'),
        (MATERIALS, {"key": "adhesive"}, '"adhesive" stands in line'),
        (MINUTES, {"slow": "1"}, "are not in order"),
        (MINUTES, {"fast": "-1"}, "at least 0"),
        (MINUTES, {"treatment": "polishing"}, "is no treatment here"),
    ],
)
def test_a_cell_that_cannot_be_is_refused_by_line_and_reason(table: Table, cells: dict[str, object], said: str) -> None:
    found = read(changed(table, **cells), table)
    assert found.book is None
    assert any(said in fault.sentence for fault in found.faults), found.faults
    assert all(fault.line >= 2 for fault in found.faults)


def test_every_fault_of_a_file_is_told_at_once_and_counting_stops_at_two_hundred() -> None:
    head, lines = head_of(MATERIALS), [list(line) for line in rows(MATERIALS)]
    for line in lines[:3]:
        line[3] = "none"
    found = read(_csv(head, lines), MATERIALS)
    assert [fault.line for fault in found.faults] == [2, 3, 4]
    many = [[f"m{place}", *lines[0][1:]] for place in range(1000)]
    assert len(read(_csv(head, many), MATERIALS).faults) == 200


def lists(*of: tuple[int, date, date | None]) -> bytes:
    head = head_of(SERVICES)
    line = list(rows(SERVICES)[0])
    return _csv(head, [[version, start, end or "", *line[3:]] for version, start, end in of])


SOON, LATER = TODAY + timedelta(days=10), TODAY + timedelta(days=50)


@pytest.mark.parametrize(
    ("of", "said"),
    [
        ([(9, SOON, LATER), (10, LATER, None)], "Lists 9 and 10 overlap on"),
        ([(9, SOON, None), (10, SOON, None)], "overlap"),
        ([(9, SOON, LATER - timedelta(days=2)), (10, LATER, None)], "no list would hold: list 9 has to hold"),
        ([(9, SOON, LATER)], "no list would hold: leave the until"),
        ([(9, LATER, SOON)], "before it begins"),
        ([(10, SOON, None), (9, LATER, None)], "give it a higher number"),
        ([(9, SOON, None), (9, LATER, None)], "stands in line 2 already"),
        ([(9, TODAY, None)], "is the earliest"),
        ([(3, SOON, None)], "stands before list 7"),
    ],
)
def test_lists_never_overlap_and_leave_no_day_without_one(of: list[tuple[int, date, date | None]], said: str) -> None:
    found = read(lists(*of), SERVICES)
    assert any(said in fault.sentence for fault in found.faults), found.faults


def test_a_list_to_come_replaces_what_was_to_come_and_keeps_what_is_in_effect() -> None:
    head, lines = head_of(SERVICES), [list(line) for line in rows_of_prices(BOOK, (8,))]
    for line in lines:
        line[0], line[1] = 9, SOON
        if line[3] == "build-up":
            line[head.index("price")] = Decimal("470.50")
    lines = [line for line in lines if line[3] != "late-cancel"]
    found = read(write_xlsx(head, lines, "prices"), SERVICES)
    assert found.faults == ()
    assert found.book is not None
    assert found.book.price_lists[0] == BOOK.price_lists[0]
    assert [(prices.version, prices.effective) for prices in found.book.price_lists] == [
        (7, BOOK.price_lists[0].effective),
        (9, SOON),
    ]
    against, gone = found.sections
    told = {(change.what, change.name): change.cells for change in against.comparison.changes}
    assert [(cell.column, cell.before, cell.after) for cell in told["changed", "build-up"]] == [
        ("price", "445.00", "470.50")
    ]
    assert ("removed", "late-cancel") in told
    assert "falls away" in gone.name


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b" \n", "empty"),
        ("key,words\n".encode("utf-16"), "UTF-16"),
        (b"key,words\nx,caf\xe9\n", "Line 2 is not UTF-8 (byte 0xe9)"),
        (b"key\0,words\n", "neither CSV nor XLSX"),
        (b"key,words\n", 'Missing: "unit"'),
        (b"\n".join([changed(MATERIALS).split(b"\r\n")[0] + b",colour", b"x"]), 'Unknown: "colour"'),
        (b"PK\x03\x04 and no more", "cannot be unpacked"),
        (changed(MATERIALS).replace(b"adhesive,", b'"adhesive,'), "is not CSV"),
        (changed(MATERIALS) + b"a,b,c\r\n", "nothing stands here"),
        (changed(MATERIALS)[: changed(MATERIALS).index(b"\n") + 1], "no row"),
    ],
)
def test_files_that_are_no_such_table(content: bytes, said: str) -> None:
    try:
        told = [fault.sentence for fault in read(content, MATERIALS).faults]
    except TableError as error:
        told = [str(error)]
    assert any(said in sentence for sentence in told), told


def _packed(**members: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in members.items():
            package.writestr(name.replace("__", "/").replace("_", "."), text)
    return out.getvalue()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (_packed(a_txt="x"), "no spreadsheet"),
        (_packed(xl__workbook_xml="<!DOCTYPE x>"), "document type"),
        (_packed(xl__workbook_xml="<a/>", xl__vbaProject_bin="x"), "macros"),
        (_packed(xl__workbook_xml="<a/>"), "cannot be read"),
        (_packed(xl__workbook_xml="<a/>", xl__bomb_xml=" " * (81 * 1024 * 1024)), "unpacks to more"),
    ],
)
def test_packages_that_are_no_spreadsheet_of_ours(content: bytes, said: str) -> None:
    with pytest.raises(TableError, match=said):
        list(lines_of(content))


@cache
def _with_formula() -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(head_of(MATERIALS))
    for line in rows(MATERIALS)[:2]:
        sheet.append(list(line))
    sheet["B3"] = '=WEBSERVICE("//x")'
    sheet["D2"] = "=2+2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_formula_in_a_spreadsheet_is_refused_where_it_stands_and_not_reckoned() -> None:
    found = read(_with_formula(), MATERIALS)
    assert [fault.line for fault in found.faults] == [2, 3]
    assert 'pack_amount: "=2+2" is a formula' in found.faults[0].sentence
    assert "WEBSERVICE" in found.faults[1].sentence


@settings(max_examples=30, deadline=None)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_are_a_table_or_are_refused_with_sentences(content: bytes) -> None:
    try:
        found = read(content, MATERIALS)
    except (TableError, StopIteration):
        return
    assert found.faults


def test_a_line_that_starts_like_a_service_and_is_none_is_told_by_the_names_of_the_file() -> None:
    found = read(changed(SERVICES, shape="per surface", further_price=""), SERVICES)
    assert found.book is None
    assert Service.model_fields.keys() >= {column.field for column in SERVICES.columns}
