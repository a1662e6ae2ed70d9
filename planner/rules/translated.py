"""One frozen plan in more than one language: which of its words are said otherwise, and the plan with those put in.

A plan is frozen once, in English, with one hash. Beside its own words it carries, for the patient's language, every
text that is said otherwise there, by its place in the plan. A paper in that language is drawn from the plan with those
texts put in; whatever is no text is the same by the way it is made.
"""

from collections.abc import Iterator
from typing import Any, Final

from planner.rules.results import CasePlan, OtherWords, plain
from planner.rules.words import texts

AS_RECORDED: Final = frozenset({"facts", "other_words"})
"""What somebody wrote down, in the words in which it was."""


def other_words(plan: CasePlan, said_otherwise: CasePlan, language: str, untranslated: tuple[str, ...]) -> OtherWords:
    """The texts of ``said_otherwise`` that differ from those of ``plan``; the two are one case in two languages.

    ``untranslated`` is what turned out to have no translation while it was computed. Raises ValueError when the two
    differ in anything but texts.
    """
    missing = dict.fromkeys(untranslated)
    found = dict(_differences(plain(plan), plain(said_otherwise), (), missing))
    about = texts(language)
    return OtherWords(language, about.translator, about.reviewer, found, tuple(missing))


def put_in(plan: Any, words: dict[str, str]) -> None:
    """Put ``words`` into a plan's JSON types, each in its place. Raises KeyError for a place that is not there."""
    for place, text in words.items():
        *path, last = place.split(".")
        at = plan
        for part in path:
            at = at[int(part)] if isinstance(at, list) else at[part]
        if isinstance(at, list):
            at[int(last)] = text
        else:
            at[last] = text


def _differences(
    english: Any, other: Any, place: tuple[str, ...], missing: dict[str, None]
) -> Iterator[tuple[str, str]]:
    match english, other:
        case dict(), dict():
            if english.keys() != other.keys():
                raise ValueError(f"two languages of one plan differ at {'.'.join(place)}: {english} and {other}")
            for key, value in english.items():
                if (not place and key in AS_RECORDED) or key.endswith("_es"):
                    continue
                own = other.get(f"{key}_es") or other[key]
                if f"{key}_es" in english and own == value and value:
                    missing.update(dict.fromkeys([value] if isinstance(value, str) else value))
                yield from _differences(value, own, (*place, str(key)), missing)
        case list(), list() if len(english) == len(other):
            for index, (one, two) in enumerate(zip(english, other, strict=True)):
                yield from _differences(one, two, (*place, str(index)), missing)
        case str(), str():
            if english != other:
                yield ".".join(place), other
        case _ if english != other:
            raise ValueError(f"two languages of one plan differ at {'.'.join(place)}: {english} and {other}")
