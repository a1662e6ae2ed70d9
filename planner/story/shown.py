"""Entries of the trail as pages and papers of this floor lay them out."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from planner.story.links import kind_words, page_about
from planner.trail.reading import Row


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One entry with what it was about, and the address of that."""

    row: Row
    about: str
    url: str


def shown_rows(rows: Iterable[Row], *, linked: bool = True) -> tuple[ShownRow, ...]:
    """``rows`` with what each is about; without ``linked`` only what sort of thing it was."""
    return tuple(ShownRow(row, kind_words(row.entry.subject_kind), _url(row) if linked else "") for row in rows)


def _url(row: Row) -> str:
    return page_about(row.entry.subject_kind, row.entry.subject_id)


def as_data(rows: Iterable[ShownRow]) -> dict[str, Any]:
    """The same entries as plain data, with their hashes, so that each can be found in the chain again."""
    return {
        "entries": [
            {
                "sequence": one.row.entry.sequence,
                "at": one.row.entry.at.isoformat(),
                "actor": one.row.entry.actor_name,
                "role": one.row.entry.role,
                "act": one.row.entry.act,
                "about": [one.row.entry.subject_kind, one.row.entry.subject_id],
                "reason": one.row.reason,
                "changed": [[each.what, each.before, each.after] for each in one.row.changed],
                "said": [list(each) for each in one.row.said],
                "hash": one.row.entry.hash,
            }
            for one in rows
        ]
    }
