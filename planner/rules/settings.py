"""Settings a dentist can read and correct: the data files of this package, each value with its source.

A file holds tables ``[settings.NAME]`` with ``value``, ``unit``, ``means``, ``source`` and ``certainty``. Numbers with
a decimal point are read as Decimal, never as binary floating point.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Literal, get_args

Certainty = Literal["published", "abstract", "secondary", "memory", "common practice", "office"]
"""``published`` read in the source, ``abstract`` only its summary read, ``secondary`` read in a text that quotes it."""
CERTAINTIES: frozenset[str] = frozenset(get_args(Certainty))
CountedIn = Literal["general practice", "university clinics"]
"""Whose patients figures are taken from, where sources of both kinds exist and differ."""
_FIELDS = frozenset({"value", "unit", "means", "source", "certainty"})


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting as its data file carries it."""

    name: str
    value: Any
    unit: str
    means: str
    source: str
    certainty: str


@cache
def read_settings(file_name: str) -> Mapping[str, Setting]:
    """Every setting of ``data/<file_name>`` by name, read once.

    Raises ValueError when a setting lacks a field, a source or a known certainty.
    """
    text = resources.files("planner.rules").joinpath("data", file_name).read_text(encoding="utf-8")
    return parse_settings(text, file_name)


def parse_settings(text: str, file_name: str) -> Mapping[str, Setting]:
    """The settings in the TOML ``text``; ``file_name`` is for the message. Raises ValueError as read_settings does."""
    found: dict[str, Setting] = {}
    for name, row in tomllib.loads(text, parse_float=Decimal)["settings"].items():
        if row.keys() != _FIELDS:
            odd = ", ".join(sorted(row.keys() ^ _FIELDS))
            raise ValueError(f'setting "{name}" in {file_name} has fields too many or too few: {odd}')
        if not row["source"].strip() or row["certainty"] not in CERTAINTIES:
            known = ", ".join(sorted(CERTAINTIES))
            raise ValueError(f'setting "{name}" in {file_name} needs a source and a certainty out of: {known}')
        found[name] = Setting(name=name, **row)
    return MappingProxyType(found)
