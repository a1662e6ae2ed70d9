"""What a backup says about itself: its files with their hashes, the versions it was made by, what it counted.

It stands first in the archive and holds no person's name, so that it can be read, and compared, by whoever carries
backups from here to there.
"""

import re
from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, ValidationError, model_validator

NAME = "manifest.json"
LARGEST = 4 * 1024 * 1024
"""Bytes of a manifest; one of an office is a few thousand."""
DATABASE: Mapping[str, str] = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}
"""The name under which the copy of the database lies in a backup, by kind of database."""
TREATMENTS = "treatments/"

# Every part begins with a letter or figure, so that no name leads out of the folder it is written to.
_PART = r"[A-Za-z0-9][A-Za-z0-9_.\-]{0,99}"
_FILE_NAME = re.compile(rf"(?:{'|'.join(map(re.escape, DATABASE.values()))}|{TREATMENTS}(?:{_PART}/){{0,3}}{_PART})\Z")
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class NotABackup(Exception):
    """What was given is not a whole backup of this program. The message is a sentence."""


class _Told(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class StoredFile(_Told):
    """One file inside a backup."""

    name: str
    bytes: Annotated[int, Field(ge=0)]
    sha256: Sha256

    @model_validator(mode="after")
    def _is_ours(self) -> "StoredFile":
        if not name_allowed(self.name):
            raise ValueError(f"{self.name!r} is no name of a file in a backup")
        return self


class TrailHead(_Told):
    """How far the record of who did what had come."""

    entries: Annotated[int, Field(ge=0)]
    head: Sha256 | Literal[""]


class Manifest(_Told):
    """The whole of what a backup says about itself."""

    kind: Literal["leastways backup"] = "leastways backup"
    schema_: Literal[1] = Field(default=1, alias="schema")
    made_at: AwareDatetime
    program: str
    """Version of this program."""
    database: Literal["sqlite", "postgresql"]
    server: str
    """Version of the database that was copied."""
    migrations: Mapping[str, tuple[str, ...]]
    """Names of the migrations that had run, by app."""
    rows: Mapping[str, int]
    """How many rows each table had."""
    trail: TrailHead
    erased: tuple[str, ...] = ()
    """Public ids of people who had been erased when this was made."""
    files: tuple[StoredFile, ...]

    @model_validator(mode="after")
    def _names_once(self) -> "Manifest":
        names = [one.name for one in self.files]
        if len(set(names)) < len(names):
            raise ValueError("a file is named twice")
        if not names or names[0] != DATABASE[self.database]:
            raise ValueError(f"the first file is not {DATABASE[self.database]}")
        return self

    def to_json(self) -> bytes:
        """As it is written: readable lines, the same bytes for the same backup."""
        return self.model_dump_json(indent=1, by_alias=True).encode() + b"\n"


def read_manifest(content: bytes) -> Manifest:
    """The manifest in ``content``. Raises NotABackup with every fault."""
    try:
        return Manifest.model_validate_json(content)
    except ValidationError as error:
        faults = "; ".join(
            f"{'.'.join(str(part) for part in fault['loc']) or 'whole'}: {fault['msg']}" for fault in error.errors()[:5]
        )
        raise NotABackup(
            f"The manifest cannot be read ({faults}). This is no backup, or one that was changed."
        ) from None


def name_allowed(name: str) -> bool:
    """Whether a backup may hold a file of this name: none leads anywhere but into the folder it is unpacked to."""
    return _FILE_NAME.match(name) is not None
