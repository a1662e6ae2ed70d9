"""The office book's versions: which one is in force, and what a new one may change.

A book version holds everything the office sets. Inside it price lists, tax rates and legal settings carry dates of
their own: those already in effect are history and stay word for word in every later version.
"""

from collections.abc import Callable, Iterable
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django.db import transaction
from pydantic import BaseModel

from planner.practice.access import Act, Thing, may, require
from planner.practice.models import BookVersion, Office, Staff
from planner.rules.book import OfficeBook
from planner.rules.results import stable_json
from planner.trail.canonical import sha256
from planner.trail.errors import NotAllowed, Refused, StaleEdit
from planner.trail.services import hold_chain, record


def today(office: Office, now: datetime) -> date:
    """The day it is in the office at the instant ``now``."""
    return now.astimezone(office.zone).date()


def book_text(book: OfficeBook) -> str:
    """The book as stable JSON: what is stored and digested, so that its hash is the one that a case plan names."""
    return stable_json(book).decode()


@lru_cache(maxsize=32)
def read_book(text: str) -> OfficeBook:
    """The book that :func:`book_text` wrote. Frozen, so that one reading serves everybody."""
    return OfficeBook.model_validate_json(text)


def hash_as_read(version: BookVersion) -> str:
    """The hash of a stored book as this program reads it, which is what a plan carries.

    It is the stored one, unless the book was written before a setting existed that has a value of its own by now: the
    book says the same, and an office need not store it anew before it can go on.
    """
    return sha256(book_text(read_book(version.data)).encode())


def version_in_force(office: Office, day: date) -> BookVersion:
    """The book version in force on ``day``. Raises Refused when the office has none yet on that day."""
    version = BookVersion.objects.filter(office=office, effective__lte=day).order_by("-effective", "-number").first()
    if version is None:
        raise Refused(f"No office book of {office.name} is in force on {day.isoformat()}: set one that is.")
    return version


def latest_version(office: Office) -> BookVersion:
    """The newest book version, in force or still to come: what the next one is made from. Raises Refused for none."""
    version = BookVersion.objects.filter(office=office).order_by("-number").first()
    if version is None:
        raise Refused(f"{office.name} has no office book yet.")
    return version


def current_book(office: Office, day: date) -> OfficeBook:
    """The office book in force on ``day``. Raises Refused when there is none."""
    return read_book(version_in_force(office, day).data)


def adopt_book(
    *, office: Office, book: OfficeBook, effective: date, reason: str, actor: Staff, now: datetime
) -> BookVersion:
    """Set the first book of an office; it may begin in the past, with price lists that were in force before.

    Raises Refused when the office has one already or the book names another time zone.
    """
    require(actor, Act.APPROVE, Thing.BOOK, subject=office)
    with transaction.atomic():
        hold_chain()
        if BookVersion.objects.filter(office=office).exists():
            raise Refused(f"{office.name} has an office book already: change that one.")
        return _save(office, book, 1, effective, reason, actor, now)


def change_book(
    *,
    office: Office,
    book: OfficeBook,
    effective: date,
    reason: str,
    seen: int | None = None,
    actor: Staff,
    now: datetime,
) -> BookVersion:
    """Save ``book`` as the next version; ``seen`` is the number of the version a person made it from.

    What is in effect today cannot be altered or left out: price lists, tax rates, legal settings. A new price list or
    tax rate starts tomorrow at the earliest. Legal settings and taxes take somebody who may approve them, limits of
    sharing the space a dentist. Raises Refused with
    the reason.
    """
    require(actor, Act.EDIT, Thing.BOOK, subject=office)
    if not reason.strip():
        raise Refused("Changing the office book needs a reason.", field="reason")
    day = today(office, now)
    with transaction.atomic():
        hold_chain()
        last = BookVersion.objects.filter(office=office).order_by("-number").first()
        if last is None:
            raise Refused(f"{office.name} has no office book yet: the first one is adopted, not changed.")
        if seen is not None and seen != last.number:
            raise StaleEdit("The office book", yours={}, theirs={}, seen=seen, version=last.number)
        if effective < max(day, last.effective):
            raise Refused(
                f"A book cannot begin on {effective.isoformat()}: the earliest day is "
                f"{max(day, last.effective).isoformat()}, so that no day gets another book than it had.",
                field="effective",
            )
        old = read_book(last.data)
        _refuse_rewriting(old, book, day)
        if (old.legal, old.tax_rates) != (book.legal, book.tax_rates) and not may(actor, Act.APPROVE, Thing.LEGAL):
            raise NotAllowed(
                "A setting with legal weight is set by the owner dentist.", act="legal_settings.approve", subject=office
            )
        if old.office_limits != book.office_limits and not may(actor, Act.APPROVE, Thing.LOCKS):
            raise NotAllowed(
                "How far teeth may be added to or cut is set by a dentist.", act="locks.approve", subject=office
            )
        return _save(office, book, last.number + 1, effective, reason, actor, now)


def _save(
    office: Office, book: OfficeBook, number: int, effective: date, reason: str, actor: Staff, now: datetime
) -> BookVersion:
    if book.time_zone != office.time_zone:
        raise Refused(
            f"The book counts days in {book.time_zone}, the office in {office.time_zone}: they must be the same.",
            field="time_zone",
        )
    text = book_text(book)
    version = BookVersion.objects.create(
        office=office,
        number=number,
        effective=effective,
        data=text,
        sha256=sha256(text.encode()),
        set_by=actor,
        reason=reason,
        at=now,
    )
    record(
        actor=actor,
        act="book.adopt" if number == 1 else "book.change",
        subject=version,
        content={"number": number, "effective": effective.isoformat(), "sha256": version.sha256},
        reason=reason,
        at=now,
    )
    return version


def _refuse_rewriting(old: OfficeBook, new: OfficeBook, day: date) -> None:
    """Raise Refused when ``new`` alters or drops what is in effect on ``day``, or begins something before tomorrow."""
    _dated("Price list", old.price_lists, new.price_lists, day, lambda prices: str(prices.version), from_tomorrow=True)
    _dated("The tax rate", old.tax_rates, new.tax_rates, day, lambda rate: f"for {rate.tax_class}", from_tomorrow=True)
    _dated("The legal setting", old.legal, new.legal, day, lambda setting: setting.key, from_tomorrow=False)


def _dated(
    kind: str,
    old: Iterable[Any],
    new: Iterable[Any],
    day: date,
    name: Callable[[Any], str],
    *,
    from_tomorrow: bool,
) -> None:
    kept: list[BaseModel] = list(new)
    for entry in old:
        if entry in kept:
            kept.remove(entry)
        elif entry.effective <= day:
            raise Refused(
                f"{kind} {name(entry)} is in effect since {entry.effective.isoformat()} and cannot be altered or left "
                "out: add a new one with a later day."
            )
    for entry in kept:
        effective: date = getattr(entry, "effective")  # noqa: B009
        if effective < day or (from_tomorrow and effective == day):
            earliest = "tomorrow" if from_tomorrow else "today"
            raise Refused(
                f"{kind} {name(entry)} would begin on {effective.isoformat()}: {earliest} is the earliest, "
                "because what was shown today was shown under the old one.",
                field="effective",
            )
