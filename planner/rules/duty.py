"""The local duty of a written estimate: what it has to say, by when it is due, and what is still missing.

Which duty holds is a dated setting of the office. Not legal advice: the list follows the published rule, and business
days are Monday to Friday without the holidays that the office lists, because the rule's text does not define them.
"""

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Literal

from planner.rules.instalments import add_months
from planner.rules.settings import CERTAINTIES
from planner.rules.units import format_cents

Event = Literal["booked", "asked"]
_SATURDAY = 5


@dataclass(frozen=True, slots=True)
class DutyItem:
    """One thing the estimate has to say."""

    key: str
    words: str
    source: str
    only_if: str = ""
    """``booked`` or ``repeated``: it is asked for only then."""


@dataclass(frozen=True, slots=True)
class Duty:
    """One place's duty as its data file carries it."""

    key: str
    name: str
    for_whom: str
    source: str
    certainty: str
    items: tuple[DutyItem, ...]
    says: tuple[str, ...]
    ahead: tuple[tuple[int, int], ...] = ()
    """(booked at least so many business days ahead, due within so many after booking), longest first."""
    asked_within: int | None = None
    """Due so many business days after it was asked for; None where no day is set."""
    changed_before: int | None = None
    """A new one is due so many business days before the service when something expected changes."""
    most_months: int | None = None
    """How long one estimate may cover services that are repeated."""
    keep_years: int | None = None
    dispute_cents: int | None = None
    dispute_days: int | None = None


@cache
def duties() -> Mapping[str, Duty]:
    """Every duty by its key, read once. Raises ValueError for one without a source, a known certainty or items."""
    text = resources.files("planner.rules").joinpath("data", "duties.toml").read_text(encoding="utf-8")
    return parse_duties(text)


def parse_duties(text: str) -> Mapping[str, Duty]:
    """The duties in the TOML ``text``. Raises ValueError as :func:`duties` does."""
    found = {}
    for key, row in tomllib.loads(text, parse_float=Decimal)["duties"].items():
        items = tuple(DutyItem(**item) for item in row.pop("items", []))
        ahead = tuple((step["least"], step["within"]) for step in row.pop("ahead"))
        duty = Duty(key=key, items=items, ahead=ahead, says=tuple(row.pop("says")), **row)
        if not items or not duty.source or duty.certainty not in CERTAINTIES or not all(i.source for i in items):
            raise ValueError(f'duty "{key}" needs a source, a certainty and items with their sources')
        found[key] = duty
    return MappingProxyType(found)


# ---------------------------------------------------------------- business days


def is_business_day(day: date, holidays: Collection[date]) -> bool:
    """Whether ``day`` is one of Monday to Friday and none of ``holidays``."""
    return day.weekday() < _SATURDAY and day not in holidays


def business_days_between(first: date, later: date, holidays: Collection[date]) -> int:
    """Business days after ``first`` up to and with ``later``; 0 when ``later`` is not after it."""
    days = (first + timedelta(days=n) for n in range(1, (later - first).days + 1))
    return sum(is_business_day(day, holidays) for day in days)


def add_business_days(day: date, count: int, holidays: Collection[date]) -> date:
    """The day ``count`` business days after ``day``, or before it where ``count`` is below zero."""
    step = timedelta(days=1 if count >= 0 else -1)
    left = abs(count)
    while left:
        day += step
        left -= is_business_day(day, holidays)
    return day


@dataclass(frozen=True, slots=True)
class Deadline:
    """By when the estimate is due."""

    by: date | None
    """None where no day is set."""
    words: str


def deadline(duty: Duty, event: Event, on: date, service_on: date | None, holidays: Collection[date]) -> Deadline:
    """By when an estimate is due that was asked for, or whose visit was booked, ``on`` a day.

    Raises ValueError for a booking without the day of service, or with one before it.
    """
    if event == "asked":
        if duty.asked_within is None:
            return Deadline(None, "no day is set for it")
        by = add_business_days(on, duty.asked_within, holidays)
        return Deadline(by, f"asked for on {on.isoformat()}: within {duty.asked_within} business days")
    if service_on is None:
        raise ValueError("a booking needs the day of the service")
    if service_on < on:
        raise ValueError(f"the service on {service_on.isoformat()} lies before its booking on {on.isoformat()}")
    away = business_days_between(on, service_on, holidays)
    for least, within in duty.ahead:
        if away >= least:
            by = add_business_days(on, within, holidays)
            days = "1 business day" if within == 1 else f"{within} business days"
            return Deadline(by, f"booked on {on.isoformat()}, {away} business days ahead: within {days}")
    if not duty.ahead:
        return Deadline(None, "no day is set for it")
    return Deadline(None, f"booked on {on.isoformat()}, {away} business days ahead: due only if it is asked for")


def new_one_by(duty: Duty, service_on: date, holidays: Collection[date]) -> date | None:
    """Until when a new estimate is due if something expected changes before the service; None without such a rule."""
    return None if duty.changed_before is None else add_business_days(service_on, -duty.changed_before, holidays)


def covers_through(duty: Duty, first_service: date) -> date | None:
    """The last day one estimate may cover services that are repeated; None where there is no limit."""
    if duty.most_months is None:
        return None
    return add_months(first_service, duty.most_months) - timedelta(days=1)


def estimates_needed(duty: Duty, months: int) -> int:
    """How many estimates one after the other a service repeated over ``months`` needs."""
    return 1 if duty.most_months is None else max(1, -(-months // duty.most_months))


def may_be_disputed(duty: Duty, estimated_cents: int, billed_cents: int) -> bool:
    """Whether one provider's bill lies so far above that provider's total on the estimate that it may be disputed."""
    return duty.dispute_cents is not None and billed_cents - estimated_cents >= duty.dispute_cents


# ---------------------------------------------------------------- the annex


@dataclass(frozen=True, slots=True)
class AnnexItem:
    """One thing asked for, and what the estimate says to it: empty is missing."""

    words: str
    source: str
    said: str

    @property
    def missing(self) -> bool:
        return not self.said


@dataclass(frozen=True, slots=True)
class Annex:
    """The duty laid against one estimate."""

    duty: Duty
    items: tuple[AnnexItem, ...]
    says: tuple[str, ...]
    """Sentences the duty asks for, with its figures in them."""

    @property
    def missing(self) -> tuple[str, ...]:
        """What is asked for and not said."""
        return tuple(item.words for item in self.items if item.missing)


def annex(duty: Duty, said: Mapping[str, str], *, booked: bool, repeated: bool, currency: str) -> Annex:
    """What ``duty`` asks for, each with what is ``said`` by the key of its item. Nothing said is missing."""
    wanted = {"": True, "booked": booked, "repeated": repeated}
    items = tuple(
        AnnexItem(item.words, item.source, said.get(item.key, "").strip())
        for item in duty.items
        if wanted[item.only_if]
    )
    figures: dict[str, Any] = {
        "dispute": f"{currency} {format_cents(duty.dispute_cents or 0)}",
        "days": duty.dispute_days,
        "years": duty.keep_years,
    }
    return Annex(duty, items, tuple(sentence.format(**figures) for sentence in duty.says))
