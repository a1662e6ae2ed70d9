"""Closed rows of the practice."""

from planner.practice.books import latest_version
from tests.closed_rows import Maker

CLOSED_ROWS: dict[str, Maker] = {"practice.bookversion": lambda ground: latest_version(ground.owner.office)}
