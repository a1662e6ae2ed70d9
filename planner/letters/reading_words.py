"""Reading what papers print: sentences, days, amounts, lengths and teeth, in the language that a paper is written in.

A sentence is found by the very text it was printed from, translated as the paper was; nothing here knows a language.
"""

import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from functools import cache, cached_property

from babel import Locale
from babel.numbers import get_decimal_symbol, get_group_symbol
from django.utils import translation
from django.utils.translation import gettext

from planner.rules.teeth import Numbering, Tooth, ToothNumberError
from planner.rules.words import languages, speaking, told

_PLACE = re.compile(r"%\((\w+)\)[sd]")
_LENGTH = re.compile(r"([+\-−–]?\d+(?:[.,]\d)?)\s?mm\b")
_CELL = re.compile(r"([+\-−])?(\d+)(?:[.,](\d))?")
_NUMBER = r"(?:[UL][RL][1-8A-E]|\d{1,2}|[A-T]S?)"
_SIDE = r"(?:,\s(?:mesial|distal))?"


def _extra_words() -> Iterator[str]:
    """What stands before a number that an extra tooth has none of its own for, in each language."""
    for language in languages():
        with speaking(language):
            yield told("extra beside {number}", number="").strip()


_EXTRA = "|".join(re.escape(words).replace(r"\ ", r"\s") for words in _extra_words())
_BESIDE = re.compile(rf"(?:{_EXTRA})\s")
_BOTH = re.compile(
    rf"(?<![\w.,])((?:(?:{_EXTRA})\s)?{_NUMBER}{_SIDE})(?:,\s|\s\()"
    rf"(Universal|ISO)\s((?:(?:{_EXTRA})\s)?(?:\d{{1,2}}S?|[A-T]S?){_SIDE})\)"
)
_CORNERS = ("UR", "UL", "LR", "LL")


class Reader:
    """Reads papers of one language."""

    def __init__(self, language: str) -> None:
        self.language = language
        self._locale = Locale.parse(language)
        self._patterns: dict[str, re.Pattern[str]] = {}

    def said(self, text: str) -> str:
        """``text`` as papers of this language print it."""
        with translation.override(self.language):
            return " ".join(gettext(text).split())

    def find(self, sentence: str, text: str) -> re.Match[str] | None:
        """Where ``text`` holds ``sentence``, with a group for every place that was filled in: ``%(name)s``."""
        if sentence not in self._patterns:
            told = _PLACE.split(self.said(sentence).replace("%%", "%"))
            parts = [re.escape(told[0])]
            for number, (name, after) in enumerate(zip(told[1::2], told[2::2], strict=True)):
                last = not after and number == len(told) // 2 - 1
                parts += [f"(?P<{name}>.+{'' if last else '?'})", re.escape(after)]
            self._patterns[sentence] = re.compile("".join(parts).replace(r"\ ", r"\s"))
        return self._patterns[sentence].search(text)

    def day(self, text: str) -> str:
        """The first day in ``text``, as ISO writes it; empty where there is none."""
        match = self._days.search(text)
        if match is None:
            return ""
        return date(int(match[3]), self._months[match[2].casefold()], int(match[1])).isoformat()

    def cents(self, text: str) -> int | None:
        """The first amount with two decimals in ``text``; None where there is none."""
        match = self.amount(text)
        if match is None:
            return None
        plain = re.sub(r"[\s\u00a0\u202f]", "", match[0]).replace(self._group, "").replace(self._point, ".")
        return int(Decimal(plain.replace("−", "-")) * 100)

    def amount(self, text: str) -> re.Match[str] | None:
        """Where the first amount with two decimals stands in ``text``."""
        return self._amounts.search(text)

    @cached_property
    def _months(self) -> dict[str, int]:
        found = {}
        for form in ("format", "stand-alone"):
            for number, name in self._locale.months[form]["wide"].items():
                found[name.casefold()] = number
        return found

    @cached_property
    def _days(self) -> re.Pattern[str]:
        names = "|".join(re.escape(name) for name in sorted(self._months, key=len, reverse=True))
        return re.compile(rf"\b(\d{{1,2}})\.?\s(?:de\s)?({names})\s(?:de\s)?(\d{{4}})\b", re.IGNORECASE)

    @cached_property
    def _point(self) -> str:
        return get_decimal_symbol(self._locale)

    @cached_property
    def _group(self) -> str:
        return get_group_symbol(self._locale)

    @cached_property
    def _amounts(self) -> re.Pattern[str]:
        group = re.escape(self._group) if self._group.strip() else r"[\s\u00a0\u202f]"
        return re.compile(rf"[\-−]?\d{{1,3}}(?:{group}\d{{3}})+{re.escape(self._point)}\d\d\b"
                          rf"|[\-−]?\d+{re.escape(self._point)}\d\d\b")  # fmt: skip


@cache
def reader(language: str) -> Reader:
    """The reader of papers in ``language``."""
    return Reader(language)


def lengths(text: str) -> tuple[int, ...]:
    """Every length in ``text`` that is followed by mm, in tenths."""
    return tuple(_tenths(found) for found in _LENGTH.findall(text))


def cell(text: str) -> int | None:
    """The length in a cell of a column of millimetres, in tenths; a dash is none; None for anything else."""
    if text in ("–", "-", "−"):
        return 0
    return _tenths(text) if _CELL.fullmatch(text.replace("\u00a0mm", "").replace(" mm", "")) else None


def _tenths(text: str) -> int:
    match = _CELL.match(text.replace("–", "−"))
    assert match is not None
    value = int(match[2]) * 10 + int(match[3] or 0)
    return -value if match[1] in ("-", "−") else value


def teeth_of(text: str) -> tuple[Tooth, ...]:
    """Every tooth that ``text`` writes with both its numbers, in order; the number whose system is named counts."""
    return tuple(tooth for _said, tooth, _other in both_numbers(text))


def both_numbers(text: str) -> Iterator[tuple[str, Tooth, Tooth | None]]:
    """Each tooth written with two numbers: as printed, the tooth by the second, and by the first if it is another."""
    for match in _BOTH.finditer(text):
        second = _read(match[3], Numbering.UNIVERSAL if match[2] == "Universal" else Numbering.ISO)
        if second is None:
            continue
        first = _read(match[1], _system(match[1], match[2]))
        other = first if first is not None and first != second else None
        said = match[0]
        if other is None and (named := _name_before(text[: match.start()])) not in (None, second.neighbour or second):
            other, said = named, f"{named.name} ({match[0]}"
        yield said, second, other


def own_numbering(text: str) -> Numbering | None:
    """In which system a paper writes a tooth first: that of most of the teeth it writes with both numbers."""
    found = Counter(_system(match[1], match[2]) for match in _BOTH.finditer(text))
    return found.most_common(1)[0][0] if found else None


def bare(text: str, numbering: Numbering) -> tuple[Tooth, ...]:
    """The teeth of a list of bare numbers of a known system: ``13, 11, 21, 22``; nothing if it is no such list."""
    found = [_read(part, numbering) for part in text.split(", ")]
    return tuple(one for one in found if one is not None) if all(found) else ()


def _system(first: str, second_system: str) -> Numbering:
    if second_system == "ISO":
        return Numbering.UNIVERSAL
    return Numbering.PALMER if _BESIDE.sub("", first)[:2] in _CORNERS else Numbering.ISO


def _read(text: str, numbering: Numbering) -> Tooth | None:
    try:
        return Tooth.parse(_BESIDE.sub("extra beside ", " ".join(text.split())), numbering)
    except ToothNumberError:
        return None


@cache
def _names() -> dict[str, Tooth]:
    found = {}
    for quadrant in range(1, 9):
        for place in range(1, 9 if quadrant < 5 else 6):
            tooth = Tooth.from_iso(f"{quadrant}{place}")
            found[tooth.name] = tooth
    return found


def _name_before(text: str) -> Tooth | None:
    """The tooth whose name stands right before a bracket; None where no name is known to stand there."""
    if not text.endswith("("):
        return None
    words = text[:-1].split()
    for length in (5, 4, 3, 2):
        if (found := _names().get(" ".join(words[-length:]))) is not None and len(words) >= length:
            return found
    return None


def named(text: str) -> tuple[Tooth, ...]:
    """Every tooth that ``text`` calls by its full name, in order; a longer name is not read as a shorter one."""
    known = "|".join(re.escape(name) for name in sorted(_names(), key=len, reverse=True))
    return tuple(_names()[match[0].casefold()] for match in re.finditer(rf"\b(?:{known})\b", text, re.IGNORECASE))
