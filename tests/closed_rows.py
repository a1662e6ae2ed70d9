"""A closed row of every guarded table, for the test that tries to change each of them.

Each floor with guards of its own adds a ``tests/<floor>/closed_rows*.py`` with a mapping ``CLOSED_ROWS`` from model
label to a function that takes :class:`Ground` and returns a saved row, in the state in which the database must refuse
to change it.
"""

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from django.db.models import Model

from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts

Maker = Callable[["Ground"], Model]


@dataclass(frozen=True)
class Ground:
    """What the makers build on."""

    owner: Staff
    lead_case: CaseFacts


def every_maker() -> Mapping[str, Maker]:
    """The makers of all floors."""
    makers: dict[str, Maker] = {}
    for path in sorted(Path(__file__).parent.glob("*/closed_rows*.py")):
        makers |= importlib.import_module(f"tests.{path.parent.name}.{path.stem}").CLOSED_ROWS
    return makers
