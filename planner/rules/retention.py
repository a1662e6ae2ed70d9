"""How long somebody's file is kept, why, and from which day it may be erased.

The years are dated settings of the office with legal weight; where it has set none, those of ``data/retention.toml``
hold. None of it is legal advice.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from planner.rules.book import OfficeBook
from planner.rules.settings import read_settings

MOST_YEARS: Final = 100
"""More is a slip of the pen."""
UNDER_AGE: Final = 18
"""Whose file is kept as a child's. The later of the two days counts, so a lower age in local law shortens nothing."""
KEYS: Final = {
    "keep-treated-years": "keep_treated",
    "keep-child-until-age": "keep_child_until",
    "keep-untreated-years": "keep_untreated",
    "keep-money-years": "keep_money",
}
"""Settings with legal weight, each with its shipped value's name."""


@dataclass(frozen=True, slots=True)
class Term:
    """One number of years that holds on a day, and by whose word."""

    years: int
    source: str


@dataclass(frozen=True, slots=True)
class Terms:
    """All that hold on a day."""

    treated: Term
    child_until: Term
    untreated: Term
    money: Term


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What the years are counted from; None for what never was."""

    born: date
    used: date
    """The last day on which anything was entered."""
    signed: date | None = None
    """The last day on which a letter was signed."""
    treated: date | None = None
    """The last day on which something was done or a visit was kept."""
    coming: date | None = None
    """The last day of what is still to come: a visit that is booked."""
    paid: date | None = None


@dataclass(frozen=True, slots=True)
class Hold:
    """Why a file is kept, and through which day."""

    words: str
    through: date

    @property
    def free_from(self) -> date:
        """The first day on which this no longer stands against erasing."""
        return self.through + timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Retention:
    """What holds of one file on a day."""

    holds: tuple[Hold, ...]
    """What stands against erasing at all, the one that lasts longest first; none: it may be erased."""
    listed_from: date
    """The first day on which the office is reminded that it may be erased."""
    money: Hold | None
    """Through when what was paid is kept, without a name, also after the file is erased."""

    @property
    def may_go_from(self) -> date | None:
        """The day from which it may be erased; None where nothing stands against it."""
        return self.holds[0].free_from if self.holds else None


def years_later(day: date, years: int) -> date:
    """The same day so many years later; 29 February becomes 1 March in a year without one."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def usual_words(key: str) -> str:
    """What holds for a setting where the office has set none, in words."""
    shipped = read_settings("retention.toml")[KEYS[key]]
    return f"{shipped.value} {shipped.unit} ({shipped.source})"


def number_fault(key: str, value: str) -> str:
    """What is wrong with the value of one of these settings, in one sentence; empty when nothing is."""
    if key in KEYS and not (value.isdecimal() and value.isascii() and int(value) <= MOST_YEARS):
        return f"“{value}” is no number of years: write a whole number from 0 to {MOST_YEARS}, such as 10."
    return ""


def terms_on(book: OfficeBook, day: date) -> Terms:
    """The years that hold for the office on ``day``."""
    return Terms(*(_term(book, key, day) for key in KEYS))


def _term(book: OfficeBook, key: str, day: date) -> Term:
    own = book.legal_on(key, day)
    if own is not None and not number_fault(key, own.value):
        return Term(int(own.value), f"{own.reason}; {own.set_by}, from {own.effective.isoformat()}")
    shipped = read_settings("retention.toml")[KEYS[key]]
    return Term(int(shipped.value), shipped.source)


def retention(facts: FileFacts, terms: Terms, day: date) -> Retention:
    """What stands against erasing a file on ``day``, from when it is listed, and through when its money is kept."""
    found: list[Hold] = []
    last = max((one for one in (facts.signed, facts.treated) if one is not None), default=None)
    if last is not None:
        found.append(
            Hold(
                f"Something was signed or done on {last.isoformat()}: kept {terms.treated.years} years from then "
                f"({terms.treated.source}).",
                years_later(last, terms.treated.years),
            )
        )
        if last < years_later(facts.born, UNDER_AGE):
            found.append(
                Hold(
                    f"This person was under age then: kept until the {terms.child_until.years}th birthday "
                    f"({terms.child_until.source}).",
                    years_later(facts.born, terms.child_until.years),
                )
            )
    if facts.coming is not None and facts.coming >= day:
        found.append(Hold(f"A visit is booked for {facts.coming.isoformat()}: cancel it first.", facts.coming))
    standing = sorted((one for one in found if one.through >= day), key=lambda one: one.through, reverse=True)
    ends = [one.free_from for one in found] or [years_later(facts.used, terms.untreated.years) + timedelta(days=1)]
    return Retention(tuple(standing), max(ends), _money(facts, terms, day))


def _money(facts: FileFacts, terms: Terms, day: date) -> Hold | None:
    if facts.paid is None:
        return None
    through = date(facts.paid.year + terms.money.years, 12, 31)
    if through < day:
        return None
    return Hold(
        f"What was paid is kept without the name until {through.isoformat()}: {terms.money.years} years after the end "
        f"of {facts.paid.year} ({terms.money.source}).",
        through,
    )
