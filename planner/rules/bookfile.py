"""Reading an office book from TOML or JSON: taken whole, or refused with every fault.

A book in a fixture may count its days from a day zero (``d-120``), because price lists and closed days grow old; a book
proper holds dates.
"""

import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from planner.rules.book import Book, OfficeBook
from planner.rules.typed_files import UnreadableError, faults_of, json_values

LARGEST_CHARACTERS = 1_000_000


class BookError(ValueError):
    """A book that cannot be taken; :attr:`faults` says everything that is wrong with it, one sentence each."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


def load_book(text: str, day_zero: date | None = None) -> OfficeBook:
    """The office book in ``text``, TOML or JSON; ``d-120`` in it is 120 days before ``day_zero``.

    Raises BookError with every fault: its path, what was written, why that cannot be and what would be right.
    """
    data = _parse(text)
    try:
        book = OfficeBook.model_validate(data, context={"day_zero": day_zero})
    except ValidationError as error:
        raise BookError(map(str, faults_of(error, "planner/rules/book.py"))) from None
    return agreed(book)


def agreed(book: OfficeBook) -> OfficeBook:
    """``book``, whose settings are right each by itself, if they are so together. Raises BookError with every fault."""
    if wrong := tuple(_contradictions(book)):
        raise BookError(wrong)
    return book


def with_changes(book: OfficeBook, **changed: Any) -> OfficeBook:
    """``book`` with some settings given anew as plain data; the rest is taken over as it was checked before.

    Raises BookError with every fault.
    """
    rows = {name: value for name, value in book if isinstance(value, tuple) and value and isinstance(value[0], Book)}
    plain = book.model_dump(mode="json", exclude=set(rows))
    try:
        return agreed(OfficeBook.model_validate(plain | rows | changed))
    except ValidationError as error:
        raise BookError(map(str, faults_of(error, "planner/rules/book.py"))) from None


def _parse(text: str) -> dict[str, Any]:
    if len(text) > LARGEST_CHARACTERS:
        raise BookError([f"The book has {len(text):,} characters; it may have {LARGEST_CHARACTERS:,} at most."])
    if not text.strip():
        raise BookError(['The book is empty. A book begins: format = "leastways-book"'])
    if text.lstrip().startswith("{"):
        try:
            return dict(json_values(text))
        except UnreadableError as error:
            raise BookError([str(error)]) from None
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise BookError([f"The book is not TOML: {error}."]) from None
    except RecursionError:
        raise BookError(["The book is nested deeper than any book is."]) from None
    except ValueError as error:  # a numeral longer than Python converts
        raise BookError([f"The book holds a number that cannot be read: {error}."]) from None


_Named = TypeVar("_Named")


def _twice(names: Iterable[_Named]) -> Iterator[_Named]:
    yield from (name for name, count in Counter(names).items() if count > 1)


def _contradictions(book: OfficeBook) -> Iterator[str]:
    """What each setting alone cannot show: names used twice, and names that nothing answers to."""
    try:
        ZoneInfo(book.time_zone)
    except (LookupError, ValueError, OSError):
        yield f'time_zone: "{book.time_zone}" is not a time zone; write one such as America/Toronto.'
    yield from (
        f"price_lists: version {version} is there twice; a new list has a new version."
        for version in _twice(prices.version for prices in book.price_lists)
    )
    yield from (
        f"price_lists: two lists start on {day.isoformat()}; one of them would never hold."
        for day in _twice(prices.effective for prices in book.price_lists)
    )
    for place, prices in enumerate(book.price_lists):
        path = f"price_lists[{place}]"
        keys = {service.key for service in prices.services}
        for key in _twice(service.key for service in prices.services):
            yield f'{path}.services: "{key}" is there twice, so that its price is not certain; keep one.'
        codes = [code for service in prices.services for code in (service.code, service.further_code) if code]
        for code in _twice([*codes, *(package.code for package in prices.packages)]):
            yield f'{path}.services: the code "{code}" stands for two lines; give one of them another.'
        for package in prices.packages:
            if package.service not in keys:
                yield f'{path}.packages: "{package.code}" is on "{package.service}", which this list has no line for.'
    for key in _twice(material.key for material in book.materials):
        yield f'materials: "{key}" is there twice; keep one.'
    for block in _twice((row.treatment, row.block, row.visit) for row in book.minutes):
        yield f"minutes: {' / '.join(filter(None, block))} is there twice; keep one."
    for key, day in _twice((setting.key, setting.effective) for setting in book.legal):
        yield f'legal: "{key}" is set twice for {day.isoformat()}; keep one.'
    for tax_class, day in _twice((rate.tax_class, rate.effective) for rate in book.tax_rates):
        yield f'tax_rates: "{tax_class}" has two rates from {day.isoformat()}; keep one.'
    if book.earning_stages and sum(stage.percent for stage in book.earning_stages) != 100:
        total = sum(stage.percent for stage in book.earning_stages)
        yield f"earning_stages: the shares come to {total} percent; together they must come to 100."
    if len(set(book.open_weekdays)) != len(book.open_weekdays) or not book.open_weekdays:
        yield "open_weekdays: name each open weekday once (Monday is 0), and at least one."
