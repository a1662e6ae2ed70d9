"""The page that keeps the last result of each long run: ``docs/soak.md``, a section for each, written by the run."""

import os
import platform
import re
import sqlite3
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

import django

PAGE = Path(__file__).resolve().parent.parent / "docs" / "soak.md"
HEAD = """# The long runs

The last result of each part of `make soak`, written by that part itself. A short form of each is in `make test`.
A result says what was tried on one machine on one day; it does not say that nothing else can happen.
"""


def keep(title: str, lines: Iterable[str]) -> None:
    """Put ``lines`` in the place of the section ``title``, with the machine and the day; other sections stay."""
    old = PAGE.read_text(encoding="utf-8") if PAGE.exists() else HEAD
    sections = dict(re.findall(r"^## (.+)\n([\s\S]*?)(?=^## |\Z)", old, re.MULTILINE))
    day = datetime.now(UTC).date().isoformat()
    sections[title] = "\n".join(("", f"{day}, {machine()}.", "", *lines, "", ""))
    body = "".join(f"## {name}\n{text.rstrip()}\n\n" for name, text in sections.items())
    PAGE.write_text(f"{HEAD}\n{body.rstrip()}\n", encoding="utf-8")


def machine() -> str:
    """Cores, memory, versions and how busy it was; no name of any machine."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1024**3
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    busy = "; too busy with other work for its counts and times to say what it can do" if _busy() else ""
    return (
        f"{os.cpu_count()} cores, {memory:.0f} GB, {platform.system()}, Python {platform.python_version()}, "
        f"Django {django.get_version()}, SQLite {sqlite3.sqlite_version}; "
        f"load at the end, over 1, 5 and 15 minutes: {load}{busy}"
    )


def _busy() -> bool:
    """Whether more waits for a core than the long runs bring with them, which is some five processes for each."""
    return os.getloadavg()[1] > 5 * (os.cpu_count() or 1)
