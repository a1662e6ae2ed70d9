"""Names as people write them, and the plain form in which they are sorted, searched and compared."""

import re
import unicodedata
from difflib import SequenceMatcher

_WORD = re.compile(r"[^\W_]+")
# How alike two whole names must be to be shown as a possible twin: common practice, no source.
_ALIKE = 0.8


def plain(name: str) -> str:
    """The name without case, accents and signs: ``Zoë O'Brien`` becomes ``zoe obrien``."""
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(sign))
    return " ".join(_WORD.findall(re.sub(r"['’ʼ`]", "", bare)))


def words(name: str) -> tuple[str, ...]:
    """The words of a name in plain form, each once, in order. A name with a hyphen gives its parts."""
    return tuple(dict.fromkeys(plain(name).split()))


def sort_key(name: str) -> str:
    """What a name is sorted by unless the office says otherwise: its last word, then the rest."""
    parts = plain(name).split()
    return " ".join([*parts[-1:], *parts[:-1]])


def label_name(name: str, sorted_as: str) -> str:
    """The name for a label or a slip, with the first name in capitals, so that twins differ at a glance.

    Whose family name stands first is known by what the name is sorted by.
    """
    parts = name.split()
    if len(parts) < 2:
        return name
    family = sorted_as.split()[:1]
    first = 1 if family == plain(parts[0]).split()[:1] else 0
    parts[first] = parts[first].upper()
    return " ".join(parts)


def alike(one: str, other: str) -> bool:
    """Whether two names share their last word, or are nearly the same altogether."""
    first, second = plain(one), plain(other)
    if not first or not second:
        return first == second
    if first.split()[-1] == second.split()[-1]:
        return True
    return SequenceMatcher(None, first, second, autojunk=False).ratio() >= _ALIKE
