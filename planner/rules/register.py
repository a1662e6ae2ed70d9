"""The register: every clinical number of this program once, with its source, how it is known, and what uses it.

It gathers what lies in the data files: the numbers of studies and of practice (``data/evidence``), the settings, the
limits of the gates, how long findings keep, the minutes and days of visits. ``python -m planner.rules.register``
prints the whole table; it ends with 1 when a number has no source or no use, or when sources disagree and nobody says
which of them is taken, and why.
"""

import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

from planner.rules.disagreements import Disagreement, faults_of, load_disagreements
from planner.rules.evidence import DATA, PLACEHOLDER, Evidence, load_evidence, read_toml

Kind = Literal["number", "setting", "gate", "shelf life", "visit"]
KINDS: tuple[Kind, ...] = ("number", "setting", "gate", "shelf life", "visit")
_BOUNDS = {"below": "below", "above": "above", "at_least": "from", "at_most": "up to"}
EVERY = "every treatment"
"""Stands where a number concerns all treatments alike."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One number of the register, as text."""

    key: str
    kind: Kind
    words: str
    value: str
    unit: str
    span: str
    """Low to high, and what they are; empty where the source gives none."""
    n: str
    years: str
    certainty: str
    source: str
    doi: str
    note: str = ""
    treatments: tuple[str, ...] = ()
    """Keys of the treatments and combinations that use it; :data:`EVERY` alone for what holds for all."""
    disagreements: tuple[Disagreement, ...] = ()


@dataclass(frozen=True, slots=True)
class Register:
    """Every entry, sorted by kind and key, and what is wrong with the collection."""

    entries: tuple[Entry, ...]
    faults: tuple[str, ...]

    def entry(self, key: str) -> Entry:
        """The entry called ``key``. Raises KeyError when there is none."""
        for entry in self.entries:
            if entry.key == key:
                return entry
        raise KeyError(key)


def register(data: Path = DATA) -> Register:
    """Everything under ``data``, and the faults.

    A fault is a number without a source, a row that nothing uses, or a disagreement that is one-sided or unsettled.
    Whoever uses a row names its key in a data file, in words as a placeholder, or in the code of the rules.
    """
    rows = load_evidence(data / "evidence")
    settled = load_disagreements(data / "evidence")
    files = {path: read_toml(path) for path in sorted(data.rglob("*.toml")) if path.parent.name != "evidence"}
    users = _users(files)
    used = {*users, *_named_in_code(data)}
    entries = [_number(row, users.get(row.key, ()), settled) for row in rows.values()]
    for path, tables in files.items():
        entries += _settings(path, tables)
        entries += _gates(path, tables)
        entries += _shelves(path, tables)
        entries += _visits(path, tables)
    faults = [fault for row in rows.values() for fault in _faults(row, rows, used)]
    faults += faults_of(settled, rows)
    faults += [f"{entry.key}: no source is named" for entry in entries if entry.kind != "number" and not entry.source]
    entries.sort(key=lambda entry: (KINDS.index(entry.kind), entry.key))
    return Register(tuple(entries), tuple(sorted(faults)))


@cache
def whole_register() -> Register:
    """The register of the shipped data, read once."""
    return register()


# ---------------------------------------------------------------------------------------------------- the entries


def _number(row: Evidence, users: Iterable[str], settled: Iterable[Disagreement]) -> Entry:
    bounds = [format(bound, "f") for bound in (row.low, row.high) if bound is not None]
    return Entry(
        key=row.key,
        kind="number",
        words=row.words,
        value=str(row.value),
        unit=row.unit,
        span=f"{' to '.join(bounds)} ({row.interval})" if bounds else "",
        n=f"{row.n} {row.n_of}".strip() if row.n is not None else "",
        years=format(row.years.normalize(), "f") if row.years is not None else "",
        certainty=row.certainty,
        source=row.citation or row.note,
        doi=row.doi,
        note=row.note if row.citation else "",
        treatments=tuple(users) or (EVERY,),
        disagreements=tuple(each for each in settled if row.key in each.between),
    )


def _settings(path: Path, tables: Mapping[str, Any]) -> Iterator[Entry]:
    for name, setting in tables.get("settings", {}).items():
        yield _plain(
            f"{path.stem}.{name}", "setting", setting, str(setting.get("means", "")), _text(setting.get("value"))
        )


def _shelves(path: Path, tables: Mapping[str, Any]) -> Iterator[Entry]:
    for name, shelf in tables.get("shelf", {}).items():
        value = str(shelf.get("months", ""))
        if shelf.get("shorter_months") is not None:
            value += f", shorter {shelf['shorter_months']}"
        words = f"how long it keeps: {shelf.get('words', '')}"
        yield _plain(f"shelf.{name}", "shelf life", {"unit": "months", **shelf}, words, value)


def _gates(path: Path, tables: Mapping[str, Any]) -> Iterator[Entry]:
    """The gates that hold a number against a limit; those that only ask for a word have no number to source."""
    for gate in tables.get("gates", []):
        limits = [text for level in gate.get("levels", []) if (text := _limit(level))]
        limits += [f"only with {each['looks_at']} {text}" for each in gate.get("when", []) if (text := _bounds(each))]
        if limits:
            about = tuple(gate.get("treatments", ())) or (
                (path.stem,) if path.parent.name == "treatments" else (EVERY,)
            )
            yield _plain(gate["id"], "gate", gate, str(gate.get("means", "")), "; ".join(limits), about)


def _visits(path: Path, tables: Mapping[str, Any]) -> Iterator[Entry]:
    for visit in tables.get("visits", []) if path.parent.name == "treatments" else ():
        parts = [f"{visit['min_days']} days after at the least" if visit.get("min_days") else ""]
        parts += [f"{visit['typical_days']} days as a rule" if visit.get("typical_days") else ""]
        for block in ("set_up", "per_tooth", "finish"):
            if any(minutes := visit.get(block, ())):
                parts.append(f"{block.replace('_', ' ')} {'–'.join(map(str, minutes))} min")
        value = "; ".join(part for part in parts if part)
        if value:
            source = visit.get("source") or ("" if _asks_source(visit) else "starting value of this program")
            filled = {**visit, "source": source}
            yield _plain(f"{path.stem}.{visit['key']}", "visit", filled, str(visit["words"]), value, (path.stem,))


def _asks_source(table: Mapping[str, Any]) -> bool:
    return table.get("certainty") in ("published", "abstract", "secondary", None)


def _plain(
    key: str, kind: Kind, table: Mapping[str, Any], words: str, value: str, treatments: tuple[str, ...] = (EVERY,)
) -> Entry:
    return Entry(
        key=key,
        kind=kind,
        words=words,
        value=value,
        unit=str(table.get("unit", "")),
        span="",
        n="",
        years="",
        certainty=str(table.get("certainty", "")),
        source=str(table.get("source", "")).strip(),
        doi="",
        treatments=treatments,
    )


def _limit(level: Mapping[str, Any]) -> str:
    found = _bounds(level)
    return f"{found}: {level.get('verdict', '')}" if found else ""


def _bounds(table: Mapping[str, Any]) -> str:
    return " and ".join(f"{word} {table[name]}" for name, word in _BOUNDS.items() if name in table)


def _text(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name} {_text(part)}" for name, part in value.items())
    if isinstance(value, list):
        return ", ".join(map(_text, value))
    return str(value)


# --------------------------------------------------------------------------------------------------- what is wrong


def _faults(row: Evidence, rows: Mapping[str, Evidence], used: set[str]) -> Iterator[str]:
    if row.certainty in ("published", "abstract", "secondary") and not row.citation:
        yield f"{row.key}: {row.certainty}, but no source is named"
    elif not (row.citation or row.note):
        yield f"{row.key}: {row.certainty}, but neither a source nor a note says where it comes from"
    if row.key not in used and not any(other in used for other in row.conflicts):
        yield f"{row.key}: nothing uses this row"
    for other in row.conflicts:
        if other not in rows:
            yield f'{row.key}: conflicts with "{other}", which is not there'
        elif row.key not in rows[other].conflicts:
            yield f'{row.key}: conflicts with "{other}", but that row does not say so'


def _users(files: Mapping[Path, Mapping[str, Any]]) -> dict[str, tuple[str, ...]]:
    """By every text that might be a row's key: the treatments, combinations and general files that hold it."""
    found: dict[str, dict[str, None]] = {}
    for path, tables in files.items():
        if path.stem == "combinations":
            for combination in tables.get("combinations", []):
                for text in _texts(combination):
                    found.setdefault(text, {})[str(combination.get("key", ""))] = None
            continue
        user = path.stem if path.parent.name == "treatments" else EVERY
        for text in _texts(tables):
            found.setdefault(text, {})[user] = None
    return {text: tuple(names) for text, names in found.items()}


def _named_in_code(data: Path) -> Iterator[str]:
    for path in sorted(data.parent.glob("*.py")):
        yield from re.findall(r'"([a-z0-9-]+)"', path.read_text(encoding="utf-8"))


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
        yield from (match[1] for match in PLACEHOLDER.finditer(value))
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from _texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from _texts(part)


# ---------------------------------------------------------------------------------------------------- printed whole

COLUMNS = ("kind", "key", "value", "low to high", "unit", "n", "years", "certainty", "source", "doi")


def main() -> int:
    """Print the whole table, the disagreements and the faults. Returns 1 when there is a fault, else 0."""
    found = register()
    rows = [
        (one.kind, one.key, one.value, one.span, one.unit, one.n, one.years, one.certainty, one.source, one.doi)
        for one in found.entries
    ]
    # A cell longer than its column runs on; padding every row to the longest source would bury the rest.
    widths = [min(30, max(len(row[column]) for row in (COLUMNS, *rows))) for column in range(len(COLUMNS))]
    for row in (COLUMNS, *rows):
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
    for one in dict.fromkeys(each for entry in found.entries for each in entry.disagreements):
        print(f"sources disagree: {', '.join(one.between)}; taken: {', '.join(one.taken)}. {one.why}")
    for fault in found.faults:
        print(fault, file=sys.stderr)
    print(f"{len(rows)} numbers, {len(found.faults)} faults", file=sys.stderr)
    return 1 if found.faults else 0


if __name__ == "__main__":
    sys.exit(main())
