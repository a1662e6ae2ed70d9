"""The catalogue as a whole: treatments, combinations and numbers that fit together, or every fault of the files.

An office may keep a folder of its own, laid out as the shipped ``data``::

    treatments/*.toml      a file more is a treatment more; a file called as a shipped one replaces it
    evidence/*.toml        the numbers it rests on
    combinations.toml      courses of several treatments

:func:`load_catalogue` reads it on top of what is shipped. It raises with *all* faults, each with file, line and reason,
and never hands out half a catalogue; what goes on working meanwhile is the caller's to keep.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from hashlib import sha256
from pathlib import Path
from tomllib import TOMLDecodeError, loads
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from planner.rules.catalogue_checks import faults_within
from planner.rules.evidence import DATA, Evidence, all_evidence
from planner.rules.gate_rules import GateError
from planner.rules.gates import own_gates
from planner.rules.toml_lines import line_of, line_said, line_with
from planner.rules.treatments import Combination, Treatment, all_combinations, all_treatments

_M = TypeVar("_M", bound=BaseModel)
_PLAIN = {
    "extra_forbidden": "is not known here: check how it is spelt, or leave it out",
    "missing": "is missing",
}
"""What the checker's own words do not say plainly, by the type of the fault."""


@dataclass(frozen=True, slots=True)
class CatalogueFault:
    """What is wrong with one file, where, and what would be right."""

    file: str
    """Below the folder, such as ``treatments/gum-mask.toml``."""
    line: int
    words: str

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}: {self.words}"


class CatalogueFaults(ValueError):
    """A folder that cannot be used; :attr:`faults` holds everything that is wrong with it."""

    def __init__(self, faults: Iterable[CatalogueFault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.file, fault.line, fault.words)))
        super().__init__("\n".join(map(str, self.faults)))


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything a plan is computed from beside the case and the office book."""

    treatments: Mapping[str, Treatment]
    combinations: Mapping[str, Combination]
    evidence: Mapping[str, Evidence]
    own_sha256: str = ""
    """Over the office's own files by name; empty where only what is shipped is in force."""


@cache
def shipped() -> Catalogue:
    """What comes with the program."""
    return Catalogue(all_treatments(), all_combinations(), all_evidence())


def load_catalogue(folder: Path, services: Mapping[str, str] | None = None) -> Catalogue:
    """The shipped catalogue with the office's ``folder`` on top.

    ``services`` are further services that the office's price list carries, by key and shape. Raises CatalogueFaults
    with everything that is wrong: not TOML, a key twice, a field nobody knows, no source, steps in a circle, a wait
    that is not in days, an exclusion that can never be met, a charge for a service nobody knows.
    """
    found = _Reader(folder).read()
    known = {**known_services(), **(services or {})}
    faults = [
        CatalogueFault(found.file_of(kind, key), found.line(kind, key, where, part), words)
        for kind, key, where, part, words in faults_within(found.catalogue(), known, found.own, found.failed)
    ]
    found.faults += faults
    if found.faults:
        raise CatalogueFaults(found.faults)
    return found.catalogue()


def known_services() -> Mapping[str, str]:
    """The services every office book carries, by key, with the shape their fee has as a rule."""
    services: Mapping[str, str] = loads((DATA / "services.toml").read_text(encoding="utf-8"))["services"]
    return services


def hash_of(folder: Path) -> str:
    """SHA-256 over the names and bytes of every TOML file below ``folder``."""
    parts = [
        f"{path.relative_to(folder).as_posix()} {sha256(path.read_bytes()).hexdigest()}"
        for path in sorted(folder.rglob("*.toml"))
    ]
    return sha256("\n".join(parts).encode()).hexdigest()


class _Reader:
    """Reads one folder; every fault is kept and reading goes on with the next table."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.faults: list[CatalogueFault] = []
        self.treatments = dict(all_treatments())
        self.combinations = dict(all_combinations())
        self.evidence = dict(all_evidence())
        self.own: set[tuple[str, str]] = set()
        """Kind and key of everything that comes from the folder."""
        self.texts: dict[str, str] = {}
        self.places: dict[tuple[str, str], tuple[str, tuple[str | int, ...]]] = {}
        """File and position of what comes from the folder."""
        self.failed: set[str] = set()
        """Keys of tables that are wrong themselves: whoever names one of them is not to blame."""

    def read(self) -> "_Reader":
        if not self.folder.is_dir():
            self._fault(str(self.folder), 1, "there is no such folder: make it, or leave the setting out")
            return self
        known = [*self.folder.glob("treatments/*.toml"), *self.folder.glob("evidence/*.toml")]
        for path in sorted(set(self.folder.rglob("*.toml")) - {*known, self.folder / "combinations.toml"}):
            words = "lies where nothing is read: treatments/, evidence/ or combinations.toml is right"
            self._fault(self._name(path), 1, words)
        for path in sorted(self.folder.glob("evidence/*.toml")):
            for place, table in enumerate(self._tables(path, "evidence")):
                self._row(path, place, table)
        for path in sorted(self.folder.glob("treatments/*.toml")):
            self._treatment(path)
        for place, table in enumerate(self._tables(self.folder / "combinations.toml", "combinations")):
            self._combination(place, table)
        return self

    def catalogue(self) -> Catalogue:
        own = hash_of(self.folder) if self.own else ""
        return Catalogue(
            MappingProxyType(dict(sorted(self.treatments.items()))),
            MappingProxyType(self.combinations),
            MappingProxyType(self.evidence),
            own,
        )

    def file_of(self, kind: str, key: str) -> str:
        return self.places[kind, key][0]

    def line(self, kind: str, key: str, where: tuple[str | int, ...], part: str) -> int:
        file, start = self.places[kind, key]
        text = self.texts[file]
        return line_with(text, part) if part else line_of(text, (*start, *where))

    # ------------------------------------------------------------------------------------------------ one file

    def _name(self, path: Path) -> str:
        return path.relative_to(self.folder).as_posix()

    def _fault(self, file: str, line: int, words: str) -> None:
        self.faults.append(CatalogueFault(file, line, words))

    def _toml(self, path: Path) -> dict[str, Any]:
        name = self._name(path)
        try:
            text = path.read_text(encoding="utf-8")
        except FileNotFoundError:
            return {}
        except (OSError, UnicodeDecodeError) as error:
            self._fault(name, 1, f"cannot be read as text: {error}")
            return {}
        self.texts[name] = text
        try:
            return loads(text, parse_float=Decimal)
        except TOMLDecodeError as error:
            self._fault(name, line_said(str(error)), f"not readable as TOML: {error}")
            return {}

    def _tables(self, path: Path, kind: str) -> Iterator[dict[str, Any]]:
        tables = self._toml(path)
        for name in tables:
            if name not in (kind, "disagreements", "schema"):
                self._fault(
                    self._name(path), line_of(self.texts[self._name(path)], (name,)), f'"{name}" is not known here'
                )
        rows = tables.get(kind, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self._fault(self._name(path), 1, f"write each as a table of its own: [[{kind}]]")
            return
        yield from rows

    def _checked(self, model: type[_M], table: dict[str, Any], path: Path, start: tuple[str | int, ...]) -> _M | None:
        name = self._name(path)
        try:
            return model.model_validate(table, context={"evidence": self.evidence})
        except ValidationError as fault:
            self.failed.add(str(table.get("key", path.stem)))
            follow = tuple(f'no evidence row is called "{key}"' for key in self.failed)
            followed = any(words in each["msg"] for each in fault.errors() for words in follow)
            for each in fault.errors():
                # A row that is wrong itself is told once, not again by everybody who names it.
                if any(words in each["msg"] for words in follow) or (followed and each["type"] == "too_short"):
                    continue
                where = (*start, *each["loc"])
                said = ".".join(map(str, each["loc"]))
                words = _PLAIN.get(each["type"]) or each["msg"].removeprefix("Value error, ")
                self._fault(name, line_of(self.texts[name], where), f"{said}: {words}" if said else words)
            return None

    def _keep(self, kind: str, key: str, path: Path, start: tuple[str | int, ...]) -> bool:
        """Note where something comes from; False when the folder holds it already."""
        name = self._name(path)
        if (kind, key) in self.own:
            first = self.places[kind, key][0]
            line = line_of(self.texts[name], (*start, "key"))
            self._fault(name, line, f'the {kind} "{key}" stands twice, first in {first}: keep one')
            return False
        self.own.add((kind, key))
        self.places[kind, key] = (name, start)
        return True

    def _row(self, path: Path, place: int, table: dict[str, Any]) -> None:
        start = ("evidence", place)
        row = self._checked(Evidence, table, path, start)
        if row is not None and self._keep("evidence", row.key, path, start):
            self.evidence[row.key] = row

    def _treatment(self, path: Path) -> None:
        table = self._toml(path)
        self.failed |= set() if table else {path.stem}
        treatment = self._checked(Treatment, table, path, ()) if table else None
        if treatment is None:
            return
        name = self._name(path)
        if treatment.key != path.stem:
            words = f'the treatment calls itself "{treatment.key}": key and file name must agree'
            self._fault(name, line_of(self.texts[name], ("key",)), words)
            self.failed.add(path.stem)
            return
        self._keep("treatment", treatment.key, path, ())
        self.treatments[treatment.key] = treatment
        try:
            own_gates(treatment.key, treatment)
        except GateError as fault:
            words = str(fault).removeprefix(f"data/treatments/{treatment.key}.toml").lstrip(",: ")
            named = next((str(gate["id"]) for gate in treatment.gates if str(gate.get("id")) in words), "")
            self._fault(name, line_with(self.texts[name], f'id = "{named}"' if named else "[[gates]]"), words)

    def _combination(self, place: int, table: dict[str, Any]) -> None:
        path, start = self.folder / "combinations.toml", ("combinations", place)
        combination = self._checked(Combination, table, path, start)
        if combination is not None and self._keep("combination", combination.key, path, start):
            self.combinations[combination.key] = combination
