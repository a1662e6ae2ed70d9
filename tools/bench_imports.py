"""Bringing in a table, beside a plain bulk insert of the same rows, in one run. The ratios are what counts.

Bringing in is everything from the bytes of the file to the stored version of the book: reading, checking every cell,
holding it against the book, and storing. The plain insert puts the same rows, already as Python values, into a table
with a column for each, through the same database layer. Both write into a database that is made for it and thrown away.

python tools/bench_imports.py
"""

import os
import sys
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
_folder = tempfile.TemporaryDirectory()
os.environ |= {
    "DJANGO_SETTINGS_MODULE": "planner.config.settings",
    "DATABASE_URL": f"sqlite:///{_folder.name}/bench.sqlite3",
    "LEASTWAYS_PLAIN_HTTP": "1",
}

import django  # noqa: E402

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, models, transaction  # noqa: E402

from planner.practice import books, exchange, services  # noqa: E402
from planner.practice.table_files import write_csv, write_xlsx  # noqa: E402
from planner.rules.book import MaterialUse, OfficeBook, Service  # noqa: E402
from planner.rules.book_tables import MATERIALS, SERVICES, Table, head_of, rows_of, rows_of_prices  # noqa: E402
from planner.rules.bookfile import load_book  # noqa: E402
from tools.timing import median_ms  # noqa: E402

DAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 15, tzinfo=UTC)
_FIELDS = {"amount": models.IntegerField, "whole": models.IntegerField, "yes or no": models.BooleanField}


def plain_table(table: Table) -> type[models.Model]:
    """A table with a column for each of the file's, and no check at all."""
    columns: dict[str, object] = {
        column.field: _FIELDS.get(column.kind, models.TextField)(null=True) for column in table.columns
    }
    meta = type("Meta", (), {"app_label": "bench"})
    model = type(f"Plain{table.name.title()}", (models.Model,), columns | {"Meta": meta, "__module__": __name__})
    with connection.schema_editor() as editor:
        editor.create_model(model)
    return model


def insert(model: type[models.Model], table: Table, rows: tuple[object, ...]) -> None:
    """Store rows that are read and checked already."""
    names = [column.field for column in table.columns]
    with transaction.atomic():
        model.objects.bulk_create([model(**{name: getattr(row, name) for name in names}) for row in rows])  # type: ignore[attr-defined]


def prices(book: OfficeBook, count: int) -> OfficeBook:
    """The book with a list to come of so many lines."""
    line = book.price_list_on(DAY).service("build-up")
    services_ = tuple(
        line.model_copy(update={"key": f"line-{n}" if n else line.key, "code": f"L{n}", "cents": 10000 + n})
        for n in range(count)
    )
    base = book.price_list_on(DAY)
    new = base.model_copy(
        update={"version": 9, "effective": DAY + timedelta(days=40), "services": services_, "packages": ()}
    )
    return book.model_copy(update={"price_lists": (base, new)})


def materials(book: OfficeBook, count: int) -> OfficeBook:
    """The book with so many materials."""
    row = book.materials[0]
    new = tuple(row.model_copy(update={"key": f"material-{n}", "pack_cents": 1000 + n}) for n in range(count))
    return book.model_copy(update={"materials": new})


def main() -> int:
    call_command("migrate", verbosity=0)
    book = load_book((ROOT / "fixtures/books/tern_row.toml").read_text(encoding="utf-8"), DAY)
    _office, owner = services.open_office(
        name="Bench",
        book=book,
        effective=DAY,
        owner_username="b",
        owner_full_name="B",
        owner_password="b" * 16,
        now=NOW,
    )
    wanted = prices(book, 5000)
    lines: tuple[Service, ...] = wanted.price_lists[1].services
    packs: tuple[MaterialUse, ...] = materials(book, 10_000).materials
    cells = {
        "prices": (SERVICES, list(rows_of_prices(wanted, (9,))), lines),
        "materials": (MATERIALS, list(rows_of(MATERIALS, materials(book, 10_000))), packs),
    }

    def bring_in(part: str, content: bytes) -> None:
        with transaction.atomic():
            file = exchange.keep_file(part=part, name=part, content=content, sign=".", actor=owner, now=NOW)
            version = books.latest_version(owner.office)
            exchange.take_file(
                file=file,
                seen_sha256=file.sha256,
                seen=version.number,
                effective=None,
                reason="bench",
                actor=owner,
                now=NOW,
            )
            transaction.set_rollback(True)

    print(f"{'':44}{'median ms':>10}{'ratio to plain insert':>24}")
    for part, (table, rows, kept) in cells.items():
        model = plain_table(table)
        csv_, xlsx = write_csv(head_of(table), rows, "."), write_xlsx(head_of(table), rows, part)
        base = median_ms(lambda model=model, table=table, kept=kept: insert(model, table, kept), 5)  # type: ignore[misc]
        print(f"{f'{len(rows):,} {part}, plain bulk insert':44}{base:10.1f}{1:24.1f}")
        for kind, content in (("CSV", csv_), ("XLSX", xlsx)):
            took = median_ms(lambda part=part, content=content: bring_in(part, content), 3)  # type: ignore[misc]
            print(f"{f'{len(rows):,} {part} brought in from {kind}':44}{took:10.1f}{took / base:24.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
