"""How hard a text is to read: the Flesch-Kincaid grade, for English.

``0.39 * words / sentences + 11.8 * syllables / words - 15.59`` (Kincaid and others 1975; as printed in
PMC5849699, table 1). A grade of 6 or below is the target for a letter, above 8 it must not go out. Syllables are
counted by the groups of vowels with the common silent endings taken off; dictionaries differ from that by a few in a
hundred, and the formula itself is good to about one grade and a half.
"""

import re
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

TARGET = Decimal(6)
CEILING = Decimal(8)

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


def grade(passages: Iterable[str]) -> Decimal:
    """The Flesch-Kincaid grade of ``passages`` taken together, to one decimal; each passage ends a sentence.

    Figures are not words. Raises ValueError when there is no word at all.
    """
    words = sentences = spoken = 0
    for passage in passages:
        found = _WORD.findall(passage)
        if not found:
            continue
        words += len(found)
        spoken += sum(syllables(word) for word in found)
        sentences += sum(1 for part in _SENTENCE_END.split(passage) if _WORD.search(part))
    if not words:
        raise ValueError("there is no word to measure")
    value = Decimal("0.39") * words / sentences + Decimal("11.8") * spoken / words - Decimal("15.59")
    return value.quantize(Decimal("0.1"), ROUND_HALF_UP)
