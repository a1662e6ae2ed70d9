"""Reading typed files that people write: what is wrong, where, and what would be right.

Case files and office books are JSON or TOML held against pydantic models. This module turns whatever goes wrong into
sentences; what each file calls itself and what contradicts within it is its own module's business.
"""

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pydantic import ValidationError


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in a file."""

    path: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.path}: {self.sentence}" if self.path else self.sentence


class UnreadableError(ValueError):
    """Text that is no JSON as it is taken here; the message is one sentence, beginning with what it is about."""


def json_values(text: str) -> Any:
    """The values in JSON ``text``: numbers with a decimal mark as Decimal, no name given twice, no NaN or Infinity.

    Raises UnreadableError with one sentence.
    """
    try:
        return json.loads(text, parse_float=Decimal, parse_constant=_no_constant, object_pairs_hook=_once_each)
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise UnreadableError(f"The file is not JSON: {error.msg} at {place}.") from None
    except RecursionError:
        raise UnreadableError("The file is nested deeper than any such file is.") from None
    except UnreadableError:
        raise
    except ValueError:  # a numeral longer than Python converts
        raise UnreadableError("The file holds a number that cannot be read: it has thousands of digits.") from None


def _no_constant(name: str) -> object:
    raise UnreadableError(f"The file holds {name}, which is no number. Leave out what is not known.")


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    twice = [name for name, count in Counter(name for name, _ in pairs).items() if count > 1]
    if twice:
        raise UnreadableError(
            f'The name "{twice[0]}" is given twice in one object; one of the two would be lost. Keep one.'
        )
    return dict(pairs)


def faults_of(error: ValidationError, names: str) -> Iterator[Fault]:
    """Every fault that pydantic found, in plain words; ``names`` says where the known names are listed."""
    items = error.errors(include_url=False)
    for item in items:
        depth = len(item["loc"])
        inside = any(len(other["loc"]) > depth and other["loc"][:depth] == item["loc"] for other in items)
        if item["type"] == "too_short" and inside:
            continue  # the list is short only because its entries were refused
        yield Fault(_path(item["loc"]), _sentence(item, names))


def _path(location: Iterable[int | str]) -> str:
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in location).lstrip(".")


def _shown(value: object) -> str:
    if isinstance(value, (dict, list)):
        return "what stands here"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _sentence(item: Any, names: str) -> str:
    kind, value, about = item["type"], item.get("input"), item.get("ctx", {})
    if kind == "value_error":
        return f"{str(about['error']).rstrip('.')}."
    if kind == "missing":
        return "This is missing and has no default; write it."
    if kind == "extra_forbidden":
        return f"There is no such entry; {names} has the names. Correct it or leave it out."
    if kind in ("literal_error", "enum"):
        return f"{_shown(value)} is not one of {about['expected']}."
    limits = {"ge": "at least", "le": "at most", "gt": "more than", "lt": "less than"}
    for name, words in limits.items():
        if name in about:
            return f"{_shown(value)} is out of range: it must be {words} {about[name]}."
    if kind.startswith("date"):
        return f"{_shown(value)} is not a date: write year-month-day, such as 2026-03-02."
    if kind.startswith("int"):
        return f"{_shown(value)} is not a whole number."
    if kind.startswith("bool"):
        return f"{_shown(value)} is not true or false. Leave it out when it is not known."
    return f"{_shown(value)} is not right here: {item['msg']}."
