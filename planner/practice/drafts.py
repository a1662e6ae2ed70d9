"""The office book as people change it on a page: one part at a time, with what would change shown before it is saved.

Each function takes a book and what was typed and returns a whole new book, checked as a whole; nothing is stored here.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from planner.practice.column_words import COLUMN_WORDS
from planner.practice.fields import day_words
from planner.rules.book import LegalSetting, OfficeBook, OpenHours, PackageRule, PriceList, Service, TaxRate
from planner.rules.book_tables import Table, compare
from planner.rules.bookfile import load_book, with_changes
from planner.rules.office_settings import office_settings, space_limits, value_words
from planner.rules.units import format_cents

STARTER = settings.BASE_DIR / "fixtures" / "books" / "starter.toml"


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that a new book says otherwise, in words; empty means it was or is not there."""

    what: str
    before: str
    after: str


def starter_book(day: date) -> OfficeBook:
    """The book a new office starts from: every service by name, and no price."""
    return load_book(STARTER.read_text(encoding="utf-8"), day)


def checked(book: OfficeBook, **changed: Any) -> OfficeBook:
    """``book`` with some settings changed, read again as a whole. Raises BookError with every fault."""
    return with_changes(book, **{name: _plain(value) for name, value in changed.items()})


def _plain(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    if hasattr(value, "model_dump"):
        return value.model_dump(mode="json")
    return value.isoformat() if isinstance(value, (date, time)) else str(value) if isinstance(value, Decimal) else value


def with_opening(
    book: OfficeBook, *, hours: Sequence[OpenHours], closed_days: Iterable[date], chairs: Iterable[str]
) -> OfficeBook:
    """The book with other opening hours, closed days and chairs; the open weekdays are those that have hours."""
    weekdays = sorted({line.weekday for line in hours})
    return checked(book, hours=tuple(hours), open_weekdays=weekdays, closed_days=closed_days, chairs=tuple(chairs))


def next_prices(book: OfficeBook, day: date) -> PriceList:
    """The price list that is still to come on ``day``, or else the newest one: what a new list starts from."""
    coming = [prices for prices in book.price_lists if prices.effective > day]
    return max(coming or book.price_lists, key=lambda prices: (prices.effective, prices.version))


def with_prices(
    book: OfficeBook, *, services: Mapping[str, Mapping[str, Any]], effective: date, day: date
) -> OfficeBook:
    """The book with a price list that begins on ``effective``; a list still to come on ``day`` is replaced by it.

    ``services`` holds, by key, the settings of :class:`~planner.rules.book.Service` that were typed.
    """
    lines = _typed_lines(next_prices(book, day), services)
    return _with_list(book, effective, day, services=lines)


def with_first_prices(book: OfficeBook, *, services: Mapping[str, Mapping[str, Any]], effective: date) -> OfficeBook:
    """A new office's book with its one price list, in effect from ``effective``."""
    base = book.price_lists[0]
    first = base.model_copy(update={"version": 1, "effective": effective, "services": _typed_lines(base, services)})
    return checked(book, price_lists=(first,))


def _typed_lines(base: PriceList, services: Mapping[str, Mapping[str, Any]]) -> tuple[Service, ...]:
    return tuple(line.model_copy(update=dict(services.get(line.key, {}))) for line in base.services)


def with_legal(book: OfficeBook, *, legal: Iterable[LegalSetting] = (), taxes: Iterable[TaxRate] = ()) -> OfficeBook:
    """The book with further dated settings beside those it has."""
    return checked(book, legal=(*book.legal, *legal), tax_rates=(*book.tax_rates, *taxes))


def opening_changes(old: OfficeBook, new: OfficeBook) -> tuple[Change, ...]:
    """What opening hours, chairs and closed days would change."""
    found = [
        Change(weekday_name(number), hours_words(old, number), hours_words(new, number))
        for number in range(7)
        if hours_words(old, number) != hours_words(new, number)
    ]
    if old.chairs != new.chairs:
        found.append(Change(_("Chairs"), ", ".join(old.chairs), ", ".join(new.chairs)))
    gone, come = set(old.closed_days) - set(new.closed_days), set(new.closed_days) - set(old.closed_days)
    found += [
        Change(_("Closed day"), day_words(day) if day in gone else "", "" if day in gone else day_words(day))
        for day in sorted(gone | come)
    ]
    return tuple(found)


def price_changes(old: PriceList, new: PriceList) -> tuple[Change, ...]:
    """What a new price list says otherwise than an old one, line by line."""
    before = {line.key: line for line in old.services}
    found = []
    for line in new.services:
        was = before.get(line.key)
        if was is None or _line_words(was) != _line_words(line):
            found.append(Change(f"{line.words} ({line.code})", _line_words(was) if was else "", _line_words(line)))
    return tuple(found)


def legal_changes(old: OfficeBook, new: OfficeBook) -> tuple[Change, ...]:
    """What further settings with legal weight would change, each beside what holds until its day."""
    found = []
    for setting in new.legal:
        if setting not in old.legal:
            was = old.legal_on(setting.key, setting.effective)
            after = _("%(value)s, from %(day)s") % {"value": setting.value, "day": day_words(setting.effective)}
            found.append(Change(setting.key.replace("-", " "), was.value if was else "", after))
    for rate in new.tax_rates:
        if rate not in old.tax_rates:
            known = [
                one for one in old.tax_rates if one.tax_class == rate.tax_class and one.effective <= rate.effective
            ]
            held = max(known, key=lambda one: one.effective, default=None)
            after = _("%(value)s, from %(day)s") % {"value": f"{rate.percent} %", "day": day_words(rate.effective)}
            what = _("tax, %(words)s") % {"words": rate.tax_class}
            found.append(Change(what, f"{held.percent} %" if held else "", after))
    return tuple(found)


def with_line(book: OfficeBook, *, key: str, line: Service | None, effective: date, day: date) -> OfficeBook:
    """The book with a price list from ``effective`` in which the line ``key`` is ``line``: changed, new at the end, or
    left out for None. A list still to come on ``day`` is replaced by it.
    """
    known = next_prices(book, day).services
    lines = [line if one.key == key else one for one in known]
    if line is not None and key not in {one.key for one in known}:
        lines.append(line)
    return _with_list(book, effective, day, services=tuple(one for one in lines if one is not None))


def with_packages(book: OfficeBook, *, packages: Iterable[PackageRule], effective: date, day: date) -> OfficeBook:
    """The book with a price list from ``effective`` that has these packages."""
    return _with_list(book, effective, day, packages=tuple(packages))


def _with_list(book: OfficeBook, effective: date, day: date, **changed: Any) -> OfficeBook:
    base = next_prices(book, day)
    kept = tuple(prices for prices in book.price_lists if prices.effective <= day)
    version = base.version if base.effective > day else max(prices.version for prices in book.price_lists) + 1
    new = base.model_copy(update={"version": version, "effective": effective, **changed})
    return checked(book, price_lists=(*kept, new))


def table_changes(table: Table, old: tuple[Any, ...], new: tuple[Any, ...]) -> tuple[Change, ...]:
    """What a table says otherwise, cell by cell."""
    return tuple(
        Change(f"{change.name}: {COLUMN_WORDS[column.field]}", cell.before, cell.after)
        for change in compare(table, old, new).changes
        for cell in change.cells
        for column in table.columns
        if column.name == cell.column
    )


def value_changes(names: Iterable[str], old: OfficeBook, new: OfficeBook) -> tuple[Change, ...]:
    """Which settings of one value are otherwise."""
    return tuple(
        Change(
            office_settings()[name].means, value_words(name, getattr(old, name)), value_words(name, getattr(new, name))
        )
        for name in names
        if getattr(old, name) != getattr(new, name)
    )


def limit_changes(old: OfficeBook, new: OfficeBook) -> tuple[Change, ...]:
    """Which limits of sharing the space are otherwise; what the office did not set is as it comes."""
    return tuple(
        Change(
            f"{limit.means}{f' – {limit.part}' if limit.part else ''} ({limit.unit_words})",
            limit.words(old.office_limits.get(limit.name, limit.shipped)),
            limit.words(new.office_limits.get(limit.name, limit.shipped)),
        )
        for limit in space_limits()
        if old.office_limits.get(limit.name) != new.office_limits.get(limit.name)
    )


def weekday_name(number: int) -> str:
    """Name of a weekday, Monday = 0, in the reader's language."""
    return date_format(date(2026, 3, 2 + number), "l")


def hours_words(book: OfficeBook, weekday: int) -> str:
    """When the office is open on a weekday, such as ``8:30–12:30, 13:30–17:00``."""
    lines = sorted((line.opens, line.closes) for line in book.hours if line.weekday == weekday)
    if not lines:
        return _("open, hours not typed yet") if weekday in book.open_weekdays else _("closed")
    return ", ".join(f"{one.hour}:{one.minute:02d}–{two.hour}:{two.minute:02d}" for one, two in lines)


def _line_words(line: Service) -> str:
    price = _("no price yet") if line.cents is None else format_cents(line.cents)
    parts = [line.code, line.words, _("included") if line.shape == "included" else price]
    if line.further_cents is not None:
        parts.append(_("further %(price)s") % {"price": format_cents(line.further_cents)})
    if line.lab_cents:
        parts.append(_("laboratory %(price)s") % {"price": format_cents(line.lab_cents)})
    return " · ".join(parts)
