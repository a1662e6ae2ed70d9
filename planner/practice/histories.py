"""What the office book said when: each setting's values over its versions, with who set them, from when and why."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from planner.practice.models import BookVersion, Office


@dataclass(frozen=True, slots=True)
class Held:
    """One value of one setting, from the version that brought it."""

    value: Any
    """As the stored book writes it; None where it was not set."""
    number: int
    effective: date
    set_by: str
    reason: str


def histories(office: Office, names: Sequence[str]) -> dict[str, tuple[Held, ...]]:
    """For each setting of the book by name, ``office_limits`` by ``office_limits.NAME``, its values from the oldest on.

    A value that a later version leaves as it was is there once. One query.
    """
    found: dict[str, list[Held]] = {name: [] for name in names}
    rows = BookVersion.objects.filter(office=office).order_by("number")
    for data, number, effective, who, reason in rows.values_list(
        "data", "number", "effective", "set_by__full_name", "reason"
    ):
        book = json.loads(data)
        limits = {f"office_limits.{key}": value for key, value in book.get("office_limits", {}).items()}
        for name, held in found.items():
            value = limits.get(name) if name.startswith("office_limits.") else book.get(name)
            if not held or held[-1].value != value:
                held.append(Held(value, number, effective, who, reason))
    return {name: tuple(held) for name, held in found.items()}
