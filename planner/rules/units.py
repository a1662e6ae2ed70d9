"""Millimetres and money as they are written, and the whole numbers they are kept as.

Lengths are whole tenths of a millimetre and money is whole cents everywhere inside the program. Binary floating point
never touches either: text is parsed as decimal, and a value finer than the unit is a fault, not something to round.
"""

import re
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator, PlainSerializer, WithJsonSchema

_MM_TEXT = re.compile(r"[+-]?\d{1,4}([.,]\d{1,10})?", re.ASCII)
_MONEY_TEXT = re.compile(r"[+-]?\d{1,15}(\.\d{1,10})?", re.ASCII)


def parse_mm(value: object) -> int:
    """Read a length in millimetres (``8.3``, ``"8,3"``) as whole tenths of a millimetre.

    Accepts text, :class:`~decimal.Decimal` or whole numbers; a float is refused because it has already lost what
    was written.
    Raises ValueError with a sentence that says what would be right.
    """
    if isinstance(value, (bool, float)) or not isinstance(value, (str, int, Decimal)):
        raise ValueError(f'{value!r} is not a length: write millimetres with one decimal, such as "8.3"')
    text = str(value).strip()
    if not _MM_TEXT.fullmatch(text):
        raise ValueError(f'"{text}" is not a length: write millimetres with one decimal, such as "8.3"')
    tenths = Decimal(text.replace(",", ".")) * 10
    if tenths != tenths.to_integral_value():
        raise ValueError(
            f"{text} mm is finer than can be measured here: one decimal at most, such as {_nearest(tenths)}"
        )
    return int(tenths)


def _nearest(tenths: Decimal) -> str:
    return format_mm(int(tenths.to_integral_value()))


def format_mm(tenths: int) -> str:
    """Write whole tenths of a millimetre as millimetres with one decimal: ``83`` becomes ``8.3``."""
    sign = "-" if tenths < 0 else ""
    return f"{sign}{abs(tenths) // 10}.{abs(tenths) % 10}"


def positive_tenths(name: str, value: int) -> int:
    """``value`` if it is a length above 0 in whole tenths of a millimetre. Raises ValueError that calls it ``name``."""
    if not isinstance(value, int) or isinstance(value, bool) or value <= 0:
        raise ValueError(f"{name} is {value!r}: it must be a whole number of tenths of a millimetre above 0")
    return value


def parse_money(value: object) -> int:
    """Read an amount (``"1618.25"``) as whole cents.

    Raises ValueError with a sentence that says what would be right.
    """
    if isinstance(value, (bool, float)) or not isinstance(value, (str, int, Decimal)):
        raise ValueError(f'{value!r} is not an amount: write it with two decimals at most, such as "445.00"')
    text = str(value).strip()
    if not _MONEY_TEXT.fullmatch(text):
        raise ValueError(f'"{value}" is not an amount: write it with two decimals at most, such as "445.00"')
    cents = Decimal(text) * 100
    if cents != cents.to_integral_value():
        raise ValueError(f'{value} is not an amount in whole cents: two decimals at most, such as "445.00"')
    return int(cents)


def format_cents(cents: int) -> str:
    """Write whole cents as an amount with two decimals and no grouping: ``161825`` becomes ``1618.25``."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def many(count: int, word: str) -> str:
    """A number with its noun: ``1 tooth``, ``3 teeth``, ``no visits``."""
    plural = "teeth" if word == "tooth" else f"{word}s"
    return f"1 {word}" if count == 1 else f"{count or 'no'} {plural}"


Tenths = Annotated[
    int,
    BeforeValidator(parse_mm),
    PlainSerializer(format_mm, return_type=str),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "pattern": r"^-?\d{1,4}([.,]\d)?$"},
                {"type": "number", "multipleOf": 0.1},
            ],
            "description": "millimetres with at most one decimal",
        }
    ),
]
"""A length written in millimetres, kept as whole tenths of a millimetre."""

Cents = Annotated[
    int,
    BeforeValidator(parse_money),
    PlainSerializer(format_cents, return_type=str),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "pattern": r"^-?\d+(\.\d{1,2})?$"},
                {"type": "number", "multipleOf": 0.01},
            ],
            "description": "an amount of money with at most two decimals",
        }
    ),
]
"""An amount written in the office's currency, kept as whole cents."""
