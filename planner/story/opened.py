"""Who opened a file: the list a patient may ask for. It says who, when and what sort of act, and nothing clinical."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from planner.letters.wording import day, roles_said
from planner.patients.models import Patient
from planner.story.file_rows import entries_of_file
from planner.trail.acts import OPENINGS
from planner.trail.models import TrailEntry

MOST: Final = 2000
"""Entries that one list holds; beyond it the list says from which day on it is."""

_WORDS: Final[Mapping[str, str | Promise]] = {
    "patient.view": _("looked at the file"),
    "patient.emergency": _("looked at it in an emergency"),
    "document.make": _("printed a paper"),
    "document.download": _("took a paper out as a file"),
    "steps.draw_up": _("printed the step sheet of a visit"),
    "story.print": _("printed from this record"),
    "case.export": _("took the measurements and plan out as a file"),
    "picture.original": _("took a picture out as a file"),
    "visit.calendar": _("took the appointment out as a calendar file"),
}
_OTHER: Final = _("took something out as a file")


@dataclass(frozen=True, slots=True)
class Opened:
    """What one person did on one day: the first and the last time, and how often each."""

    on: date
    who: str
    role: str
    first: datetime
    last: datetime
    acts: tuple[tuple[str | Promise, int], ...]
    """What, and how often; said in the language of whoever reads."""
    from_outside: bool
    """Somebody of another office."""


@dataclass(frozen=True, slots=True)
class OpenedSaid:
    """One line as a paper says it."""

    day: str
    hours: str
    who: str
    role: str
    acts: str


@dataclass(frozen=True, slots=True)
class OpenedList:
    """Newest day first. ``complete`` says whether everything since the file was opened stands in it."""

    rows: tuple[Opened, ...]
    complete: bool
    entries: int

    def said(self, language: str) -> tuple[OpenedSaid, ...]:
        """Each row in words, in the language of the moment; ``language`` is that of the days."""
        return tuple(
            OpenedSaid(
                day=day(row.on, language),
                hours=f"{row.first:%H:%M}"
                + (f"–{row.last:%H:%M}" if f"{row.last:%H:%M}" != f"{row.first:%H:%M}" else ""),
                who=row.who or gettext("somebody not signed in"),
                role=roles_said(row.role) + (f"; {gettext('another office')}" if row.from_outside else ""),
                acts="; ".join(_times(words, count) for words, count in row.acts),
            )
            for row in self.rows
        )


def who_opened(patient: Patient, entries: QuerySet[TrailEntry] | None = None, *, most: int = MOST) -> OpenedList:
    """Who looked at, printed from or took files out of this file, read from the ``entries`` about it. Two queries."""
    zone = patient.office.zone
    about = entries_of_file(patient) if entries is None else entries
    found = list(about.filter(act__in=OPENINGS).order_by("-sequence")[: most + 1])
    groups: dict[tuple[date, int | None], list[TrailEntry]] = {}
    for entry in found[:most]:
        groups.setdefault((entry.at.astimezone(zone).date(), entry.actor_id), []).append(entry)
    rows = tuple(_row(on, group, zone, patient) for (on, _actor), group in groups.items())
    return OpenedList(rows, len(found) <= most, min(len(found), most))


def _times(words: str | Promise, count: int) -> str:
    return str(words) if count == 1 else gettext("%(what)s (%(n)d times)") % {"what": words, "n": count}


def _row(on: date, group: list[TrailEntry], zone: ZoneInfo, patient: Patient) -> Opened:
    counted: dict[str | Promise, int] = {}
    for entry in reversed(group):
        words = _WORDS.get(entry.act, _OTHER)
        counted[words] = counted.get(words, 0) + 1
    newest = group[0]
    return Opened(
        on=on,
        who=newest.actor_name,
        role=newest.role,
        first=min(entry.at for entry in group).astimezone(zone),
        last=max(entry.at for entry in group).astimezone(zone),
        acts=tuple(counted.items()),
        from_outside=newest.office_id != patient.office_id,
    )
