"""How easy a Spanish text is to read: the perspicuity of Szigriszt-Pazos, told on the INFLESZ scale.

``206.835 - 62.3 * syllables / words - words / sentences`` (Szigriszt Pazos 1993, doctoral thesis, Universidad
Complutense de Madrid). It is a scale of its own, from about 0 to 100, on which more is easier; it is no school grade,
and no limit of grades is held against it. Its words are those of the INFLESZ scale, made for texts that patients read
(Barrio-Cantalejo and others 2008, An Sist Sanit Navar 31(2):135-152): below 40 very hard, 40 rather hard, 55 normal,
65 fairly easy, 80 very easy.

Syllables follow the spelling: every strong vowel (a, e, o, and i or u with an accent beside one) makes one, weak vowels
beside a strong one belong to it.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

_WORD = re.compile(r"[A-Za-zÁÉÍÓÚÜÑáéíóúüñ]+")
_SENTENCE_END = re.compile(r"[.!?;:]+(?=[\s»”]|$)")
_SILENT_U = re.compile(r"([gq])u(?=[eiéí])")
_VOWELS = re.compile(r"[aeiouáéíóúü]+(?:y(?![aeiouáéíóúü]))?|y(?![aeiouáéíóúü])")
_STRONG = frozenset("aeoáéó")
_ACCENTED_WEAK = frozenset("íú")

BANDS = ((80, "very easy"), (65, "fairly easy"), (55, "normal"), (40, "rather hard"))
"""From which value on a text is called so; what lies below is very hard."""


@dataclass(frozen=True, slots=True)
class Ease:
    """How easy a text is."""

    value: Decimal
    """Perspicuity, to one decimal."""
    band: str
    """Its word on the INFLESZ scale: ``very easy``, ``fairly easy``, ``normal``, ``rather hard`` or ``very hard``."""
    words: int
    sentences: int


def syllables(word: str) -> int:
    """Syllables of a Spanish word, at least one."""
    plain = _SILENT_U.sub(r"\1", word.lower())
    return max(sum(_nuclei(run) for run in _VOWELS.findall(plain)), 1)


def _nuclei(run: str) -> int:
    """How many syllables a run of vowels makes."""
    strong = sum(vowel in _STRONG for vowel in run)
    accented = sum(vowel in _ACCENTED_WEAK for vowel in run) if strong else 0
    return max(strong + accented, 1)


def perspicuity(syllables_: int, words: int, sentences: int) -> Decimal:
    """The formula itself, to one decimal."""
    value = Decimal("206.835") - Decimal("62.3") * syllables_ / words - Decimal(words) / sentences
    return value.quantize(Decimal("0.1"), ROUND_HALF_UP)


def ease(passages: Iterable[str]) -> Ease:
    """How easy ``passages`` are, taken together; each ends a sentence. Raises ValueError when there is no word."""
    words = sentences = spoken = 0
    for passage in passages:
        found = _WORD.findall(passage)
        if found:
            words += len(found)
            spoken += sum(map(syllables, found))
            sentences += sum(1 for part in _SENTENCE_END.split(passage) if _WORD.search(part))
    if not words:
        raise ValueError("there is no word to measure")
    value = perspicuity(spoken, words, sentences)
    band = next((name for least, name in BANDS if value >= least), "very hard")
    return Ease(value, band, words, sentences)
