"""Making a backup: one moment of the database, the office's own treatments, and the manifest that names them."""

import fcntl
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from planner.keeping.archive import Tell, disk_fault, lock_for, refuse_overwriting, write_archive
from planner.keeping.databases import copy_database, kind_of
from planner.keeping.manifest import DATABASE, TREATMENTS, Manifest, StoredFile, name_allowed
from planner.trail.errors import Refused

_CHUNK = 1024 * 1024
_PRIVATE = "keeping-"


def make_backup(
    dest: Path,
    *,
    database: Mapping[str, Any],
    treatments: Path | None,
    work: Path,
    key: Path | None,
    now: datetime,
    tell: Tell,
) -> Manifest:
    """Write a backup of ``database`` to the new file ``dest``; encrypted to the public key in the file ``key``.

    ``work`` is a folder for the copy while it is in the clear; ``treatments`` the office's own, where it has any.
    Papers, pictures and signatures lie in the database. Raises Refused with a sentence; nothing is left of it then.
    """
    refuse_overwriting(dest)
    lock = None if key is None else lock_for(key)
    with private_folder(work) as folder:
        name = DATABASE[kind_of(database)]
        try:
            counted = copy_database(database, folder / name, tell)
            files = [_stored(folder, name), *_copied(treatments, folder)]
        except OSError as error:
            raise disk_fault(error, work) from None
        manifest = Manifest(
            made_at=now,
            program=own_version(),
            database=kind_of(database),
            server=counted.server,
            migrations=counted.migrations,
            rows=counted.rows,
            trail=counted.trail,
            erased=counted.erased,
            files=tuple(files),
        )
        write_archive(dest, manifest, folder, lock=lock, tell=tell)
    return manifest


def own_version() -> str:
    """The version of this program, as far as it was installed as a package."""
    try:
        return version("leastways")
    except PackageNotFoundError:
        return "from a folder"


@contextmanager
def private_folder(work: Path) -> Iterator[Path]:
    """A folder in ``work`` that only this user can read, gone at the end. Raises Refused where it cannot be made.

    One that was left there by a process that was killed holds patients in the clear, and goes first.
    """
    try:
        work.mkdir(parents=True, exist_ok=True)
        # Nobody makes one while another looks which of them are still in use.
        with _held(work):
            for left in work.glob(f"{_PRIVATE}*"):
                with suppress(OSError), _held(left, wait=False):
                    shutil.rmtree(left)
            made = tempfile.TemporaryDirectory(prefix=_PRIVATE, dir=work)
            held = ExitStack()
            held.enter_context(_held(Path(made.name)))
    except OSError as error:
        raise disk_fault(error, work) from None
    with held, made as folder:
        yield Path(folder)


@contextmanager
def _held(folder: Path, *, wait: bool = True) -> Iterator[None]:
    """Lock ``folder`` until the end or until this process is gone. Raises OSError where somebody else has, or waits."""
    opened = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        yield
    finally:
        os.close(opened)


def _copied(treatments: Path | None, folder: Path) -> Iterator[StoredFile]:
    """Copies of the office's own treatments."""
    if treatments is None or not treatments.is_dir():
        return
    for path in sorted(treatments.rglob("*.toml")):
        name = TREATMENTS + path.relative_to(treatments).as_posix()
        if not name_allowed(name):
            raise Refused(
                f"{path} cannot go into a backup: names are letters, figures, dots, hyphens and underscores, at most "
                "four folders deep."
            )
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, folder / name)
        yield _stored(folder, name)


def _stored(folder: Path, name: str) -> StoredFile:
    digest, size = hashlib.sha256(), 0
    with (folder / name).open("rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
    return StoredFile(name=name, bytes=size, sha256=digest.hexdigest())
