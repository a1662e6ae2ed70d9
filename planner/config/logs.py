"""How the log is written: one line an event, the time in UTC, and nothing that a patient or a password may stand in.

The message of an exception repeats what was being stored or read, above all one that comes from the database. So an
exception is told by its kind and the places in the code it went through, which is what a repair needs, and its message
is left out. Who did what to whom is in the trail and nowhere else.
"""

import logging
import traceback
from datetime import UTC, datetime

BAR = "  | "
"""Begins each further line of an entry, so that none can be taken for an entry of its own."""


class OneLine(logging.Formatter):
    """``2026-03-02T15:00:00Z WARNING django.request Not Found: /patients/x/``; control signs are written out."""

    def format(self, record: logging.LogRecord) -> str:
        """The entry; below it, for an exception, its kind and the places it went through."""
        at = datetime.fromtimestamp(record.created, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines = [f"{at} {record.levelname} {record.name} {printable(record.getMessage())}"]
        if record.exc_info and record.exc_info[1] is not None:
            lines += [f"{BAR}{line}" for line in told(record.exc_info[1])]
        return "\n".join(lines)


def printable(text: str) -> str:
    """``text`` with every sign that ends a line or steers a terminal written out, as ``\\n`` or ``\\x1b``."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


def told(error: BaseException) -> list[str]:
    """The kind of ``error`` and of what led to it, each with its places in the code, outermost first. No message."""
    chain: list[BaseException] = []
    step: BaseException | None = error
    while step is not None and step not in chain:
        chain.append(step)
        step = step.__cause__ or (None if step.__suppress_context__ else step.__context__)
    lines = []
    for each in reversed(chain):
        kind = type(each)
        lines.append(f"{kind.__module__}.{kind.__qualname__}")
        lines += [f"  {at.filename}:{at.lineno} {at.name}" for at in traceback.extract_tb(each.__traceback__)]
    return lines
