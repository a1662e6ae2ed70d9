"""How hard a text is to read: the Flesch-Kincaid grade and SMOG, for English.

``0.39 * words / sentences + 11.8 * syllables / words - 15.59`` (Kincaid and others 1975; as printed in
PMC5849699, table 1). A grade of 6 or below is the target for a letter, above 8 it must not go out. Syllables are
counted by the groups of vowels with the common silent endings taken off; dictionaries differ from that by a few in a
hundred, and the formula itself is good to about one grade and a half.

SMOG is ``1.0430 * sqrt(words of three or more syllables * 30 / sentences) + 3.1291`` (same table; McLaughlin 1969). It
runs two to three grades higher and is told beside the first; the limits are those of the first.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

TARGET = Decimal(6)
CEILING = Decimal(8)
LONGEST = 12
"""Letters of a word that is not yet called long."""
_MANY = 3
"""Syllables from which on SMOG counts a word."""

_WORD = re.compile(r"[A-Za-z]+(?:['’][A-Za-z]+)*")
_SENTENCE_END = re.compile(r"[.!?;:]+(?=\s|$)")
_VOWELS = re.compile(r"[aeiouy]+")
_SILENT_END = re.compile(r"([^aeiouyl]|[aeiouy]l)e$|[^aeiouytd]ed$|[^aeiouylszxcgh]es$")
"""A last e, ed or es that is not spoken: *tape*, *shaped*, *takes*; but *little*, *wanted*, *places*."""


def syllables(word: str) -> int:
    """Syllables of an English word, at least one."""
    plain = re.sub("[^a-z]", "", word.lower())
    count = len(_VOWELS.findall(plain))
    return max(count - 1 if _SILENT_END.search(plain) else count, 1)


@dataclass(frozen=True, slots=True)
class Counted:
    """What the formulas count in a text."""

    words: int
    sentences: int
    syllables: int
    many: int
    """Words of three or more syllables."""

    @property
    def grade(self) -> Decimal:
        """Flesch-Kincaid, to one decimal."""
        value = Decimal("0.39") * self.words / self.sentences + Decimal("11.8") * self.syllables / self.words
        return (value - Decimal("15.59")).quantize(Decimal("0.1"), ROUND_HALF_UP)

    @property
    def smog(self) -> Decimal:
        """SMOG, to one decimal; a text of fewer than thirty sentences is scaled to thirty."""
        value = Decimal("1.0430") * (Decimal(self.many) * 30 / self.sentences).sqrt() + Decimal("3.1291")
        return value.quantize(Decimal("0.1"), ROUND_HALF_UP)


def counted(passages: Iterable[str]) -> Counted:
    """``passages`` taken together; each ends a sentence, and figures are not words.

    Raises ValueError when there is no word at all.
    """
    words = sentences = spoken = many = 0
    for passage in passages:
        found = [syllables(word) for word in _WORD.findall(passage)]
        if not found:
            continue
        words += len(found)
        spoken += sum(found)
        many += sum(each >= _MANY for each in found)
        sentences += sum(1 for part in _SENTENCE_END.split(passage) if _WORD.search(part))
    if not words:
        raise ValueError("there is no word to measure")
    return Counted(words, sentences, spoken, many)


def grade(passages: Iterable[str]) -> Decimal:
    """The Flesch-Kincaid grade of ``passages`` taken together, to one decimal. Raises ValueError as :func:`counted`."""
    return counted(passages).grade


def long_words(passages: Iterable[str], longest: int = LONGEST) -> tuple[str, ...]:
    """The words of more than ``longest`` letters, each once, in order of first mention."""
    found = (word for passage in passages for word in re.findall(r"[^\W\d_]+", passage))
    return tuple(dict.fromkeys(word.lower() for word in found if len(word) > longest))
