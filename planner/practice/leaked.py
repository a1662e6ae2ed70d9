"""A list of leaked passwords that lies beside the program, asked without reading it whole.

One password a line as the 40 hexadecimal digits of its SHA-1, in ascending order, anything after a colon left unread:
the form in which such lists are given away. Nothing is protected by that hash here, and nothing leaves the machine.
"""

import hashlib
import os
import re
from pathlib import Path
from typing import BinaryIO

_LINE = re.compile(rb"([0-9A-Fa-f]{40})(?::[^\r\n]*)?\r?\n?")
LONGEST_LINE = 80
"""Bytes that are read of one line at most."""


class NotAList(Exception):
    """The file is not such a list; its sentence says where."""


def holds(path: Path, password: str) -> bool:
    """Whether ``password`` is in the list at ``path``: at most as many reads as its length has binary digits.

    Raises OSError where the file cannot be read, NotAList where a line that was read is none of such a list.
    """
    wanted = hashlib.sha1(password.encode(), usedforsecurity=False).hexdigest().encode().upper()
    with path.open("rb") as file:
        low, high = 0, os.fstat(file.fileno()).st_size
        # What is looked for, if it is there, begins at or after ``low`` and before ``high``.
        while low < high:
            middle = (low + high) // 2
            begins = _begins(file, middle)
            if begins >= high:
                high = middle
                continue
            found, after = _read(file, begins)
            if found == wanted:
                return True
            low, high = (after, high) if found < wanted else (low, middle)
    return False


def look(path: Path) -> str:
    """What is wrong with the list at ``path``, as far as its first and last lines tell; empty for nothing."""
    try:
        with path.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            first, second = _read(file, 0)
            last, _end = _read(file, _begins(file, max(0, size - LONGEST_LINE)))
    except OSError as error:
        return f"it cannot be read: {error.strerror}"
    except NotAList as fault:
        return str(fault)
    return "" if second >= size or first < last else "its lines do not ascend: sort it by hash"


def _begins(file: BinaryIO, at: int) -> int:
    """Where the first line begins that begins at byte ``at`` or later."""
    if at == 0:
        return 0
    file.seek(at - 1)
    file.readline()
    return file.tell()


def _read(file: BinaryIO, at: int) -> tuple[bytes, int]:
    """The hash of the line that begins at byte ``at``, in capitals, and where the next begins."""
    file.seek(at)
    line = file.readline(LONGEST_LINE)
    if (match := _LINE.fullmatch(line)) is None:
        raise NotAList(f"the line at byte {at} is not the SHA-1 of a password in 40 hexadecimal digits")
    return match[1].upper(), file.tell()
