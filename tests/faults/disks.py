"""A small disk that really becomes full: a file system in memory, mounted for one run and gone after it."""

import errno
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

LEFT = 128 * 1024
"""Bytes that somebody else leaves: room for a few savings."""


@dataclass(frozen=True)
class Disk:
    """Where it is mounted. Somebody else's file takes all the room that is left on it, and goes again."""

    folder: Path

    @property
    def _theirs(self) -> Path:
        return self.folder / "of-somebody-else"

    def fill(self) -> None:
        """Take what is left but for a little, so that people fill the rest themselves, if they have not yet."""
        free = os.statvfs(self.folder)
        try:
            self._theirs.write_bytes(bytes(max(0, free.f_bavail * free.f_frsize - LEFT)))
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise

    def empty(self) -> None:
        """Give it back."""
        self._theirs.unlink()


@contextmanager
def small_disk(size: int) -> Iterator[Disk | None]:
    """A disk of so many bytes; None where this user may not mount one."""
    folder = Path(tempfile.mkdtemp(prefix="leastways-disk-"))
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size},mode=0755", "leastways", str(folder)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
        folder.rmdir()
        yield None
        return
    try:
        yield Disk(folder)
    finally:
        # Lazily: whoever was killed a moment ago may still be letting go of a file.
        subprocess.run(["umount", "-l", str(folder)], check=True)
        folder.rmdir()
