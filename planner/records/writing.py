"""Writing a copy: one zip in a temporary file, row by row, so that memory stays bounded however much there is.

All rows are read in one moment, so that what refers to each other is there. Bytes never change once they are stored and
are read afterwards, one file at a time, and each is held against the hash that its row keeps.
"""

import csv
import hashlib
import io
import json
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import IO, Any, Final

from django.db import connection, transaction
from django.db.models import ForeignKey

from planner.patients.models import Patient
from planner.practice.models import Office, Staff
from planner.practice.table_files import csv_cell
from planner.records import fhir
from planner.records.readme import fhir_readme, readme
from planner.records.tables import RAW, FileKind, Table, file_kinds, tables
from planner.rules.fhir import written
from planner.trail.models import TrailEntry

CHUNK: Final = 500
"""So many rows are read at once."""
BLOCK: Final = 64 * 1024
IN_MEMORY: Final = 1024 * 1024
"""A table's CSV is written to the disk beyond this."""


@dataclass(slots=True)
class Entry:
    """One file of a copy, as the manifest tells of it."""

    name: str
    bytes: int
    sha256: str
    rows: int | None = None
    as_recorded: bool | None = None
    """Whether the row's own hash fits; None where no row keeps one."""


@dataclass(slots=True)
class Copy:
    """A copy that was written: where it lies, what it is, and what does not fit in it."""

    file: IO[bytes]
    sha256: str = ""
    bytes: int = 0
    entries: list[Entry] = field(default_factory=list)

    @property
    def faults(self) -> tuple[str, ...]:
        """The files whose bytes are not those that were recorded."""
        return tuple(entry.name for entry in self.entries if entry.as_recorded is False)


class _Zip:
    """A zip that is written member by member and hashes what goes in."""

    def __init__(self, file: IO[bytes], at: datetime) -> None:
        self.zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED)
        self.at = at
        self.entries: list[Entry] = []

    @contextmanager
    def member(self, name: str) -> Iterator["_Member"]:
        """Write one member; it is hashed as it goes."""
        info = zipfile.ZipInfo(name, date_time=max(self.at.timetuple()[:6], (1980, 1, 1, 0, 0, 0)))
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        with self.zip.open(info, "w", force_zip64=True) as out:
            member = _Member(out)
            yield member
        self.entries.append(Entry(name, member.bytes, member.hash.hexdigest(), member.rows, member.as_recorded))

    def put(self, name: str, content: bytes, recorded: str = "") -> None:
        """One member whose bytes are at hand; ``recorded`` is the SHA-256 that its row keeps."""
        with self.member(name) as member:
            member.write(content)
            member.as_recorded = member.hash.hexdigest() == recorded if recorded else None


class _Member:
    def __init__(self, out: IO[bytes]) -> None:
        self.out, self.hash, self.bytes = out, hashlib.sha256(), 0
        self.rows: int | None = None
        self.as_recorded: bool | None = None

    def write(self, content: bytes) -> None:
        self.out.write(content)
        self.hash.update(content)
        self.bytes += len(content)

    def copy(self, file: IO[bytes]) -> None:
        while block := file.read(BLOCK):
            self.write(block)


def write_copy(*, office: Office, patient: Patient | None, now: datetime) -> Copy:
    """Everything of ``patient``, or of the whole office, as one zip in a temporary file, open at its beginning.

    Whoever calls closes the file, which removes it.
    """
    file = tempfile.TemporaryFile()  # noqa: SIM115 - it outlives this function
    try:
        out = _Zip(file, now.astimezone(office.zone))
        with out.zip:
            with one_moment():
                subjects = _write_rows(out, office, patient, now)
                for kind in file_kinds(patient):
                    _write_files(out, kind, office, patient)
                if patient is not None:
                    _write_opened(out, office, subjects)
            _write_about(out, office, patient, now)
        copy = Copy(file, entries=out.entries)
        copy.bytes = file.seek(0, io.SEEK_END)
        copy.sha256 = _hash_of(file)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    return copy


def _hash_of(file: IO[bytes]) -> str:
    file.seek(0)
    found = hashlib.sha256()
    while block := file.read(BLOCK):
        found.update(block)
    return found.hexdigest()


@contextmanager
def one_moment() -> Iterator[None]:
    """All that is read inside is as it was at one moment, whoever writes meanwhile; nobody waits for it to end."""
    if connection.in_atomic_block:  # whoever opened that one decides
        yield
        return
    mode = getattr(connection, "transaction_mode", None)
    if connection.vendor == "sqlite":
        connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
    try:
        with transaction.atomic():
            if connection.vendor == "postgresql":
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    finally:
        if connection.vendor == "sqlite":
            connection.transaction_mode = mode  # type: ignore[attr-defined]


def _write_rows(out: _Zip, office: Office, patient: Patient | None, now: datetime) -> set[str]:
    subjects: set[str] = set()
    for table in tables(patient):
        subjects |= _write_table(out, table, office, patient)
    people = (patient,) if patient is not None else Patient.objects.filter(office=office).order_by("pk").iterator(50)
    for one in people:
        name = "bundle" if patient is not None else f"patient-{one.public_id}"
        out.put(f"fhir/{name}.json", written(fhir.bundle_of(one, now)).encode() + b"\n")
    return subjects if patient is not None else set()


def _write_table(out: _Zip, table: Table, office: Office, patient: Patient | None) -> set[str]:
    """Both files of a table in one reading; the public ids of its rows. A person's own copy leaves out empty tables."""
    raw = table.label in RAW
    columns = table.columns if not raw else (table.model._meta.get_field("office"), *table.columns)
    heads = [column.name for column in columns]
    wanted = [_asked_for(column, raw=raw, names=patient is not None) for column in columns]
    found, count, at = set[str](), 0, heads.index("public_id") if "public_id" in heads else None
    asked = table.rows(office, patient)
    if patient is not None and not asked.exists():
        return found
    rows = asked.values_list(*wanted).iterator(chunk_size=CHUNK)
    with tempfile.SpooledTemporaryFile(max_size=IN_MEMORY) as spool:
        text = io.TextIOWrapper(spool, "utf-8", newline="", write_through=True)
        text.write("\ufeff")
        sheet = csv.writer(text)
        sheet.writerow(heads)
        with out.member(f"tables/{table.name}.json") as member:
            member.write(b"[")
            for row in rows:
                plain = dict(zip(heads, (_plain(value) for value in row), strict=True))
                member.write(b",\n" if count else b"\n")
                member.write(json.dumps(plain, ensure_ascii=False).encode())
                sheet.writerow([csv_cell(_cell(value), ".") for value in row])
                count += 1
                if at is not None and patient is not None:
                    found.add(row[at])
            member.write(b"\n]\n")
            member.rows = count
        text.flush()
        spool.seek(0)
        with out.member(f"tables/{table.name}.csv") as member:
            member.copy(spool)
            member.rows = count
        text.detach()
    return found


def _asked_for(column: Any, *, raw: bool, names: bool) -> str:
    """How a query asks for a column: rows are named by their public ids, people by name in a patient's own copy."""
    if raw or not isinstance(column, ForeignKey):
        return str(column.attname)
    related = column.related_model
    if related is Staff and names:
        return f"{column.name}__full_name"
    has = {one.name for one in related._meta.concrete_fields}
    return f"{column.name}__public_id" if "public_id" in has else str(column.attname)


def _plain(value: Any) -> Any:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    return format(value, "f") if isinstance(value, Decimal) else value


def _cell(value: Any) -> Any:
    if isinstance(value, (dict, list)):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, datetime):
        return value.isoformat()
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else value


def _write_files(out: _Zip, kind: FileKind, office: Office, patient: Patient | None) -> None:
    keys = list(kind.rows(office, patient).values_list("pk", flat=True))
    for key in keys:
        row = kind.rows(office, patient).get(pk=key)
        recorded: Any = row
        for step in kind.hashed.split("__") if kind.hashed else ():
            recorded = getattr(recorded, step)
        out.put(fhir.path_of(kind, row), bytes(getattr(row, kind.column)), recorded if kind.hashed else "")


OPENED: Final = ("at", "act", "who", "role", "what", "reason")
"""Columns of the list of who opened what, and who was refused."""


def _write_opened(out: _Zip, office: Office, subjects: Iterable[str]) -> None:
    """Who did what with this file, and when: the entries of the record about its rows, without what was written."""
    known, wanted = sorted(subjects), []
    for first in range(0, len(known), CHUNK):
        entries = TrailEntry.objects.filter(office=office, subject_id__in=known[first : first + CHUNK])
        wanted += list(
            entries.values_list("sequence", "at", "act", "actor_name", "role", "subject_kind", "reason").iterator()
        )
    rows = [row[1:] for row in sorted(wanted)]
    plain = [dict(zip(OPENED, (_plain(value) for value in row), strict=True)) for row in rows]
    out.put("who-opened.json", (json.dumps(plain, ensure_ascii=False, indent=1) + "\n").encode())
    text = io.StringIO(newline="")
    sheet = csv.writer(text)
    sheet.writerow(OPENED)
    sheet.writerows([csv_cell(_cell(value), ".") for value in row] for row in rows)
    out.put("who-opened.csv", b"\xef\xbb\xbf" + text.getvalue().encode())


def _write_about(out: _Zip, office: Office, patient: Patient | None, now: datetime) -> None:
    """The plain words, the manifest, and the same hashes as other programs check them."""
    out.put("fhir/README.txt", fhir_readme().encode())
    out.put("README.txt", readme(office, patient, now, out.entries).encode())
    manifest = {
        "format": "leastways-records",
        "version": 1,
        "of": {"kind": "office", "id": office.public_id}
        if patient is None
        else {"kind": "patient", "id": patient.public_id, "office": office.public_id},
        "made_at": now.isoformat(),
        "files": [_told(entry) for entry in out.entries],
    }
    out.put("manifest.json", (json.dumps(manifest, ensure_ascii=False, indent=1) + "\n").encode())
    out.put("SHA256SUMS", "".join(f"{entry.sha256}  {entry.name}\n" for entry in out.entries).encode())


def _told(entry: Entry) -> dict[str, Any]:
    told: dict[str, Any] = {"name": entry.name, "bytes": entry.bytes, "sha256": entry.sha256}
    if entry.rows is not None:
        told["rows"] = entry.rows
    if entry.as_recorded is not None:
        told["as_recorded"] = entry.as_recorded
    return told
