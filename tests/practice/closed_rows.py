"""Closed rows of the practice."""

from planner.practice.books import latest_version
from planner.practice.exchange import keep_file
from tests.closed_rows import Maker
from tests.support import NOW

CLOSED_ROWS: dict[str, Maker] = {
    "practice.bookversion": lambda ground: latest_version(ground.owner.office),
    "practice.bookfile": lambda ground: keep_file(
        part="minutes", name="minutes.csv", content=b"treatment", sign=".", actor=ground.owner, now=NOW
    ),
}
