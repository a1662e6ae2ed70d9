"""How amounts, days, lengths and shares of 100 are written on paper."""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from babel import Locale
from babel.dates import format_date
from babel.numbers import format_decimal
from django.utils.translation import gettext as _

from planner.letters.issue import Issue
from planner.rules.evidence import denominator, whole
from planner.rules.results import Chance, OptionShape
from planner.rules.words import decimal, mm, spoken

_CORNERS = (
    (re.compile("([1-8A-E])\u23cc"), r"UR\1"),
    (re.compile("\u23bf([1-8A-E])"), r"UL\1"),
    (re.compile("([1-8A-E])\u23cb"), r"LR\1"),
    (re.compile("\u23be([1-8A-E])"), r"LL\1"),
)


def without_corners(text: str) -> str:
    """Palmer marks in plain letters (``UR3``): no font that is sure to be there can print their corner signs."""
    for pattern, plain in _CORNERS:
        text = pattern.sub(plain, text)
    return text


def initials(name: str) -> str:
    """``A. B.``: a name as far as a workshop needs it to tell two orders apart."""
    return " ".join(f"{part[0]}." for part in re.split(r"[\s\-]+", name) if part)


def amount(cents: int, language: str) -> str:
    """``1,618.25``: an amount where the currency stands in the heading."""
    return format_decimal(Decimal(cents) / 100, format="#,##0.00", locale=language)


def money(cents: int, currency: str, language: str) -> str:
    """``CAD 1,618.25``: an amount with its currency, joined so that they stay on one line."""
    return f"{currency}\u00a0{amount(cents, language)}"


def whole_money(cents: int, currency: str, language: str) -> str:
    """An expected amount to the whole unit: cents would promise more than is known."""
    rounded = (Decimal(cents) / 100).quantize(Decimal(1))
    return f"{currency}\u00a0{format_decimal(rounded, format='#,##0', locale=language)}"


_DAYS = {"es": "d 'de' MMMM 'de' y"}
"""How a day is written out where not as in English: the long form of CLDR, without its signs between."""


def day(on: date, language: str) -> str:
    """``24 February 2026``, ``24 de febrero de 2026``."""
    return format_date(on, _DAYS.get(language, "d MMMM y"), locale=language)


def language_name(language: str) -> str:
    """``English``: what a language calls itself, as the first word of a line."""
    name = Locale.parse(language).get_language_name() or language
    return name[:1].upper() + name[1:]


def version_words(issue: Issue) -> str:
    """Number and version of the estimate as the paper prints them, or that it is a draft."""
    if issue.is_draft:
        return _("draft")
    if not issue.version:
        return issue.number
    return _("%(number)s, version %(version)s") % {"number": issue.number, "version": issue.version}


def roles_said(roles: str) -> str:
    """The roles in ``roles``, as they are kept, in the language of the moment; other words stay as they are."""
    known = {
        "front desk": _("front desk"),
        "desk lead": _("desk lead"),
        "assistant": _("assistant"),
        "dentist": _("dentist"),
        "office manager": _("office manager"),
        "owner dentist": _("owner dentist"),
        "system keeper": _("system keeper"),
        "outside checker": _("outside checker"),
    }
    return ", ".join(known.get(role, role) for role in roles.split(", "))


def direction(language: str) -> str:
    """``ltr``, or ``rtl`` for a language that is written from the right."""
    return "rtl" if Locale.parse(language).character_order == "right-to-left" else "ltr"


_ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
_BARE_AMOUNT = re.compile(r"\b\d{4,}[.,]\d{2}\b")


def as_on_paper(text: str, language: str) -> str:
    """A computed sentence with its days in words and its amounts grouped by thousands."""
    text = _ISO_DAY.sub(lambda found: day(date.fromisoformat(found[0]), language), text)
    return _BARE_AMOUNT.sub(lambda found: amount(int(re.sub(r"\D", "", found[0])), language), text)


def millimetres(tenths: int) -> str:
    """``0.5 mm``."""
    return f"{mm(tenths)}\u00a0mm"


def percent(value: Decimal) -> str:
    """``13 %``, without needless noughts."""
    return f"{decimal(format(value.normalize(), 'f'))}\u00a0%"


@dataclass(frozen=True, slots=True)
class Shares:
    """A frequency as whole numbers of one denominator, both ways round."""

    of: int
    low: int
    high: int

    @property
    def happens(self) -> str:
        """``8 to 38``."""
        return (
            str(self.low) if self.low == self.high else _("%(low)d to %(high)d") % {"low": self.low, "high": self.high}
        )

    @property
    def does_not(self) -> str:
        """The rest: ``62 to 92``."""
        low, high = self.of - self.high, self.of - self.low
        return str(low) if low == high else _("%(low)d to %(high)d") % {"low": low, "high": high}

    @property
    def of_words(self) -> str:
        """``100`` or ``1,000``."""
        return format_decimal(self.of, locale=spoken())


def shares(chance: Chance, of: int) -> Shares | None:
    """The numbers of a chance, or None where no number is known."""
    low = chance.of_100_low if chance.of_100_low is not None else chance.of_100_high
    high = chance.of_100_high if chance.of_100_high is not None else low
    if low is None or high is None:
        return None
    return Shares(of, whole(low, of), whole(high, of))


def one_denominator(option: OptionShape) -> int:
    """100, or 1,000 for all numbers of ``option`` when any of them lies below 1 of 100."""
    found = [
        share
        for chance in (*option.benefits, *option.risks)
        for share in (chance.of_100_low, chance.of_100_high)
        if share is not None
    ]
    return denominator(found)
