"""The treatments in force: what is shipped, with the office's own folder on top, or its last good copy.

``LEASTWAYS_TREATMENTS`` names the folder. It is read once, at the start. A folder without a fault is copied below
``LEASTWAYS_VAR``, and that copy stands in at a later start that finds the folder faulty: the office goes on working,
and dentists and managers are told what is wrong. Nothing is ever taken over half.
"""

import logging
import os
import shutil
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, Literal

from django.conf import settings
from django.core.checks import CheckMessage, Warning

from planner.rules.catalogue import Catalogue, CatalogueFaults, load_catalogue, shipped

logger = logging.getLogger(__name__)

Source = Literal["shipped", "own folder", "last good copy"]
_CURRENT = "current"
"""File that names the copy which was good last."""


@dataclass(frozen=True, slots=True)
class InForce:
    """The catalogue that plans are computed with, where it comes from, and what is wrong with the office's folder."""

    catalogue: Catalogue
    source: Source
    faults: tuple[str, ...] = ()
    """One sentence each, with file and line; empty while the folder itself is in force."""


@cache
def in_force() -> InForce:
    """The catalogue in force since this process began."""
    folder: Path | None = settings.TREATMENTS_DIR
    return InForce(shipped(), "shipped") if folder is None else settle(folder, settings.VAR_DIR / "treatments")


def settle(folder: Path, copies: Path) -> InForce:
    """``folder``, kept below ``copies``, if it is without a fault; else the last good copy, else what is shipped."""
    try:
        found = load_catalogue(folder)
    except CatalogueFaults as error:
        faults = tuple(map(str, error.faults))
    else:
        _keep(folder, copies, found.own_sha256)
        return InForce(found, "own folder")
    for fault in faults:
        logger.error("own treatments: %s", fault)
    try:
        name = (copies / _CURRENT).read_text(encoding="ascii").strip()
        return InForce(load_catalogue(copies / name), "last good copy", faults)
    except (OSError, UnicodeDecodeError, CatalogueFaults):
        # No copy yet, or a copy that no longer fits the rules of a newer version of the program.
        return InForce(shipped(), "shipped", faults)


def _keep(folder: Path, copies: Path, name: str) -> None:
    """Copy the folder under its hash; a disk that refuses is logged and stops nobody's work."""
    if not name:
        return
    try:
        copies.mkdir(parents=True, exist_ok=True)
        if not (copies / name).is_dir():
            aside = Path(mkdtemp(dir=copies, prefix="new-"))
            shutil.copytree(folder, aside, dirs_exist_ok=True, ignore=_only_toml)
            try:
                os.replace(aside, copies / name)
            except OSError:  # another process was first, with the same bytes
                shutil.rmtree(aside, ignore_errors=True)
        pointer = copies / f"{_CURRENT}.{os.getpid()}"
        pointer.write_text(name, encoding="ascii")
        os.replace(pointer, copies / _CURRENT)
    except OSError:
        logger.exception("own treatments: the last good copy could not be kept in %s", copies)


def _only_toml(folder: str, names: list[str]) -> list[str]:
    return [name for name in names if not (name.endswith(".toml") or (Path(folder) / name).is_dir())]


def check_own_treatments(**_: Any) -> list[CheckMessage]:
    """What ``manage.py check`` says of the office's folder."""
    found = in_force()
    hint = f"In force instead: {found.source}."
    return [Warning(fault, hint=hint, id="practice.W001") for fault in found.faults]
