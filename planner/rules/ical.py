"""Appointments as a calendar file (RFC 5545): when and where, and nothing else.

A calendar lies on telephones and with mail providers, so an event never says who, what for or why. Times stand in the
zone in which they were agreed, with that zone's changes of the clock beside them, so that a reader without a table of
zones shows the right hour.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

SUMMARY = "Appointment"
PRODUCT = "-//Leastways//Diary//EN"
_WIDEST = 75
"""Octets of a line before the break (RFC 5545, 3.1)."""
_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Event:
    """One appointment."""

    uid: str
    """The same for an appointment that was moved, so that a calendar moves it instead of showing two."""
    starts: datetime
    ends: datetime
    zone: str
    """IANA name."""
    office: str
    sequence: int = 0
    """How often it was moved."""
    cancelled: bool = False
    summary: str = SUMMARY


def calendar_file(events: Sequence[Event], stamp: datetime) -> bytes:
    """The events as one file; ``stamp`` is the instant at which it is written.

    Raises ValueError for an instant without a zone or an event that ends before it starts.
    """
    for event in events:
        if event.starts.tzinfo is None or event.ends.tzinfo is None or event.ends <= event.starts:
            raise ValueError(f"an appointment from {event.starts} to {event.ends} cannot be")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    for name in dict.fromkeys(event.zone for event in events):
        mine = [event for event in events if event.zone == name]
        lines += _zone(name, min(event.starts for event in mine), max(event.ends for event in mine))
    for event in events:
        lines += _event(event, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line)).encode()


def _event(event: Event, stamp: datetime) -> Iterator[str]:
    zone = ZoneInfo(event.zone)
    yield "BEGIN:VEVENT"
    yield f"UID:{_text(event.uid)}"
    yield f"DTSTAMP:{_utc(stamp)}"
    yield f"SEQUENCE:{event.sequence}"
    yield f"DTSTART;TZID={event.zone}:{_local(event.starts, zone)}"
    yield f"DTEND;TZID={event.zone}:{_local(event.ends, zone)}"
    yield f"SUMMARY:{_text(event.summary)}"
    yield f"LOCATION:{_text(event.office)}"
    yield f"STATUS:{'CANCELLED' if event.cancelled else 'CONFIRMED'}"
    yield "CLASS:PRIVATE"
    yield "END:VEVENT"


def _text(words: str) -> str:
    """A text value: backslash, semicolon, comma and line break escaped (RFC 5545, 3.3.11), what cannot be left out."""
    kept = _UNSEEN.sub("", words.replace("\r\n", "\n").replace("\r", "\n"))
    return kept.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _folded(line: str) -> Iterator[str]:
    """The line in pieces of at most 75 octets, each but the first behind a blank; no character is torn."""
    piece, size = "", 0
    for letter in line:
        octets = len(letter.encode())
        if size + octets > _WIDEST:
            yield piece
            piece, size = " ", 1
        piece, size = piece + letter, size + octets
    yield piece


def _utc(instant: datetime) -> str:
    return f"{instant.astimezone(UTC):%Y%m%dT%H%M%S}Z"


def _local(instant: datetime, zone: ZoneInfo) -> str:
    return f"{instant.astimezone(zone):%Y%m%dT%H%M%S}"


# ------------------------------------------------------------------------------------------------------------- zones


def _zone(name: str, first: datetime, last: datetime) -> Iterator[str]:
    """The zone with every change of its clock from the year before ``first`` to the year after ``last``."""
    zone = ZoneInfo(name)
    begins = datetime(first.year - 1, 1, 1, tzinfo=UTC)
    ends = datetime(last.year + 2, 1, 1, tzinfo=UTC)
    yield "BEGIN:VTIMEZONE"
    yield f"TZID:{name}"
    yield from _observance(zone, begins, begins)
    for change in _changes(zone, begins, ends):
        yield from _observance(zone, change - timedelta(seconds=1), change)
    yield "END:VTIMEZONE"


def _observance(zone: ZoneInfo, before: datetime, after: datetime) -> Iterator[str]:
    """What the clock shows from ``after`` on, which is written as the clock of ``before`` would show it."""
    was, now = before.astimezone(zone), after.astimezone(zone)
    offset = was.utcoffset() or timedelta(0)
    kind = "DAYLIGHT" if now.dst() else "STANDARD"
    yield f"BEGIN:{kind}"
    yield f"DTSTART:{(after + offset):%Y%m%dT%H%M%S}"
    yield f"TZOFFSETFROM:{_offset(offset)}"
    yield f"TZOFFSETTO:{_offset(now.utcoffset() or timedelta(0))}"
    yield f"TZNAME:{_text(now.tzname() or 'local')}"
    yield f"END:{kind}"


def _offset(offset: timedelta) -> str:
    minutes = abs(offset) // timedelta(minutes=1)
    return f"{'-' if offset < timedelta(0) else '+'}{minutes // 60:02d}{minutes % 60:02d}"


def _changes(zone: ZoneInfo, begins: datetime, ends: datetime) -> Iterator[datetime]:
    """The instants between the two at which the clock is set otherwise, each to the second."""
    days = (ends - begins).days
    for one, two in pairwise(begins + timedelta(days=day) for day in range(days + 1)):
        if one.astimezone(zone).utcoffset() == two.astimezone(zone).utcoffset():
            continue
        low, high = one, two
        while high - low > timedelta(seconds=1):
            middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
            if middle.astimezone(zone).utcoffset() == one.astimezone(zone).utcoffset():
                low = middle
            else:
                high = middle
        yield high
