"""A line of an answer, and how days and instants are written in it."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence, and the address of the row or paper behind it; empty where that has no page."""

    words: str
    url: str = ""


def day_of(on: date) -> str:
    """``2 March 2026``."""
    return f"{on.day} {on:%B %Y}"


def at(instant: datetime, zone: ZoneInfo) -> str:
    """``2 March 2026, 10:05`` on the office's clock."""
    local = instant.astimezone(zone)
    return f"{day_of(local.date())}, {local:%H:%M}"


def lasting(span: timedelta) -> str:
    """``2 days and 3 hours``, ``40 minutes``: how long something took, rounded down."""
    hours, minutes = divmod(int(span.total_seconds()) // 60, 60)
    days, hours = divmod(hours, 24)
    parts = [_count(days, "day"), _count(hours, "hour")] if days or hours else [_count(minutes, "minute")]
    return " and ".join(part for part in parts if part) or "less than a minute"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}" if number else ""
