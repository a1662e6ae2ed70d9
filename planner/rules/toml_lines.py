"""On which line of a TOML file a value stands: the standard reader does not say.

Only what the data files of the rules use is followed: table headers, tables in arrays, and one key a line.
"""

import re
from collections.abc import Iterator, Sequence

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_-]+)\s*=")
_AT_LINE = re.compile(r"at line (\d+)")

Where = tuple[str | int, ...]


def line_of(text: str, where: Sequence[str | int]) -> int:
    """The line (from 1) of the value at ``where``, names and indices as pydantic gives them; the nearest one above it
    where it has no line of its own, and 1 where nothing matches."""
    known = dict(_positions(text))
    wanted = tuple(where)
    while wanted:
        if wanted in known:
            return known[wanted]
        wanted = wanted[:-1]
    return 1


def line_said(message: str) -> int:
    """The line that a message of the standard reader names, or 1."""
    found = _AT_LINE.search(message)
    return int(found[1]) if found else 1


def line_with(text: str, part: str) -> int:
    """The first line that holds ``part``, or 1."""
    return next((number for number, line in enumerate(text.splitlines(), 1) if part and part in line), 1)


def _positions(text: str) -> Iterator[tuple[Where, int]]:
    counts: dict[Where, int] = {}
    table: Where = ()
    for number, line in enumerate(text.splitlines(), 1):
        if header := _HEADER.match(line):
            table = _entered(header[2].split("."), header[1] == "[[", counts)
            yield table, number
        elif key := _KEY.match(line):
            yield (*table, key[1]), number


def _entered(parts: Sequence[str], in_array: bool, counts: dict[Where, int]) -> Where:
    """The path of a header; a name that is an array stands for its last table."""
    path: Where = ()
    for place, part in enumerate(name.strip() for name in parts):
        path = (*path, part)
        if in_array and place == len(parts) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path
