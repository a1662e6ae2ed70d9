"""Where the numbers of a paper come from: numbered sources, and the words that lead a number to its own."""

from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.rules.evidence import CERTAINTY_WORDS
from planner.rules.results import CasePlan, Chance, EvidenceLine, OptionShape
from planner.rules.words import either


@dataclass(frozen=True, slots=True)
class Source:
    """One numbered source of the paper."""

    number: int
    keys: tuple[str, ...]
    """The evidence rows that rest on it."""
    words: tuple[str, ...]
    citation: str
    certainty: str
    """How it is known: a key of CERTAINTY_WORDS."""
    certainty_words: str


def sources(plan: CasePlan, options: Iterable[OptionShape], fields: Container[str] | None = None) -> tuple[Source, ...]:
    """The sources of every number that ``options`` print: the surest first, then in order of first mention.

    ``fields`` are those that the paper prints, by default all; ``chances`` stands for good sides and risks.
    """
    lines = {line.key: line for line in plan.evidence}
    keys: dict[str, None] = {}
    for option in options:
        for field, found in option.word_sources:
            keys |= dict.fromkeys(found if fields is None or field in fields else ())
        for chance in (*option.benefits, *option.risks) if fields is None or "chances" in fields else ():
            keys |= dict.fromkeys(keys_of(chance))
        keys |= dict.fromkeys(option.upkeep.sources if fields is None or "upkeep" in fields else ())
    grouped: dict[tuple[str, str], list[EvidenceLine]] = {}
    for key in keys:
        line = lines.get(key)
        if line is not None:
            # Rows without a citation stand each for itself.
            grouped.setdefault((line.citation or line.key, line.certainty), []).append(line)
    return tuple(
        Source(
            number,
            tuple(line.key for line in found),
            tuple(dict.fromkeys(_counted(line) for line in found)),
            found[0].citation.rstrip("."),
            certainty,
            certainty_words(certainty),
        )
        for number, ((_citation, certainty), found) in enumerate(sorted(grouped.items(), key=_how_sure), 1)
    )


def certainty_words(certainty: str) -> str:
    """How a number is known, in the language of the paper."""
    return either(*CERTAINTY_WORDS[certainty]) if certainty in CERTAINTY_WORDS else certainty


def keys_of(chance: Chance) -> tuple[str, ...]:
    """The evidence keys of a chance."""
    return tuple(key.strip() for key in chance.evidence.split(",") if key.strip())


def leading_to(keys: Iterable[str], numbered: tuple[Source, ...]) -> str:
    """``(source 3)`` or ``(sources 3, 7)``: which of ``numbered`` stand behind ``keys``; empty where none does."""
    wanted = set(keys)
    found = [one.number for one in numbered if wanted & set(one.keys)]
    if not found:
        return ""
    words = _("(sources\u00a0%(numbers)s)") if len(found) > 1 else _("(source\u00a0%(numbers)s)")
    return words % {"numbers": ", ".join(_runs(found))}


def _runs(numbers: list[int]) -> Iterator[str]:
    """``1, 3–5, 8``: three and more in a row as one run."""
    rest = list(numbers)
    while rest:
        length = next(size for size in range(len(rest), 0, -1) if rest[size - 1] - rest[0] == size - 1)
        run, rest = (rest[:length], rest[length:]) if length > 2 else (rest[:1], rest[1:])
        yield f"{run[0]}–{run[-1]}" if len(run) > 1 else str(run[0])


def _how_sure(group: tuple[tuple[str, str], list[EvidenceLine]]) -> int:
    known = list(CERTAINTY_WORDS)
    certainty = group[0][1]
    return known.index(certainty) if certainty in known else len(known)


def _counted(line: EvidenceLine) -> str:
    if not line.n:
        return line.words
    return _("%(words)s (counted: %(n)s)") % {"words": line.words, "n": line.n}
