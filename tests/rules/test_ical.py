"""Calendar files, read back by icalendar (https://icalendar.readthedocs.io), which had no part in writing them."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.ical import Event, calendar_file

STAMP = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
TORONTO = ZoneInfo("America/Toronto")
EVENT = Event(
    "abc@leastways",
    datetime(2026, 3, 5, 8, 30, tzinfo=TORONTO),
    datetime(2026, 3, 5, 12, 0, tzinfo=TORONTO),
    "America/Toronto",
    "Tern Row Dental, Wexcombe Harbour",
)


def read(content: bytes) -> list[icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(content)
    assert not calendar.errors
    return list(calendar.walk("VEVENT"))


def test_an_appointment_is_read_back_as_it_was() -> None:
    (event,) = read(calendar_file([EVENT], STAMP))
    assert event["SUMMARY"] == "Appointment"
    assert event["LOCATION"] == "Tern Row Dental, Wexcombe Harbour"
    assert event["UID"] == "abc@leastways"
    assert event["DTSTART"].dt == EVENT.starts
    assert event["DTEND"].dt == EVENT.ends
    assert event["DTSTART"].params["TZID"] == "America/Toronto"
    assert (event["STATUS"], event["CLASS"], event["SEQUENCE"]) == ("CONFIRMED", "PRIVATE", 0)
    assert set(event) == {
        "UID", "DTSTAMP", "SEQUENCE", "DTSTART", "DTEND", "SUMMARY", "LOCATION", "STATUS", "CLASS",
    }  # fmt: skip


def test_what_every_calendar_must_say_is_there() -> None:
    """RFC 5545: 3.6 wants PRODID and VERSION once; 3.6.1 UID and DTSTAMP; 3.1 CRLF and lines of at most 75 octets."""
    content = calendar_file([EVENT], STAMP)
    assert content.count(b"\r\nVERSION:2.0\r\n") == content.count(b"\r\nPRODID:") == 1
    assert b"\r\nDTSTAMP:20260302T140000Z\r\n" in content
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))


def test_no_appointments_are_a_calendar_too() -> None:
    assert read(calendar_file([], STAMP)) == []


@settings(max_examples=60, deadline=None)
@given(words=st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=200))
def test_any_words_come_back_whole_on_short_lines(words: str) -> None:
    content = calendar_file([Event("u", EVENT.starts, EVENT.ends, EVENT.zone, words)], STAMP)
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
    (event,) = read(content)
    assert str(event["LOCATION"]) == words


def test_a_line_break_and_what_separates_values_are_escaped() -> None:
    """The worked rules of RFC 5545, 3.3.11."""
    content = calendar_file([Event("u", EVENT.starts, EVENT.ends, EVENT.zone, "a;b,c\\d\ne\r\nSUMMARY:f")], STAMP)
    assert b"LOCATION:a\\;b\\,c\\\\d\\ne\\nSUMMARY:f\r\n" in content
    assert str(read(content)[0]["LOCATION"]) == "a;b,c\\d\ne\nSUMMARY:f"


ZONES = ("America/Toronto", "Europe/Madrid", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "UTC")


@settings(max_examples=60, deadline=None)
@given(
    zone=st.sampled_from(ZONES),
    starts=st.datetimes(datetime(2024, 1, 1), datetime(2030, 12, 30)),  # noqa: DTZ001
    minutes=st.integers(5, 480),
)
def test_the_zone_that_is_carried_gives_the_same_instant(zone: str, starts: datetime, minutes: int) -> None:
    """Read without a table of zones: from the VTIMEZONE alone, whatever the clock does that year."""
    begins = starts.replace(second=0, microsecond=0, tzinfo=UTC)
    ends = begins + timedelta(minutes=minutes)
    content = calendar_file([Event("u", begins, ends, zone, "o")], STAMP)
    calendar = icalendar.Calendar.from_ical(content)
    (carried,) = calendar.walk("VTIMEZONE")
    own = carried.to_tz(lookup_tzid=False)
    (event,) = calendar.walk("VEVENT")
    wall = event["DTSTART"].dt.replace(tzinfo=None)
    known = begins.astimezone(ZoneInfo(zone))
    assert wall == known.replace(tzinfo=None)
    # An hour that the clock shows twice is ambiguous in the format itself (RFC 5545, 3.3.5): the first is meant.
    if known.fold == 0 and known.utcoffset() == known.replace(fold=1).utcoffset():
        assert wall.replace(tzinfo=own).utcoffset() == known.utcoffset()


@pytest.mark.parametrize("ends", [EVENT.starts, EVENT.starts - timedelta(minutes=5)])
def test_what_cannot_be_is_refused(ends: datetime) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        calendar_file([Event("u", EVENT.starts, ends, EVENT.zone, "o")], STAMP)
