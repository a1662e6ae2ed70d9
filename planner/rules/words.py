"""Sentences in the language of the person they are for: what the rules say to a patient, in more than one language.

A sentence is written once, in English, as a template with named fields::

    told("Up to {mm} mm is taken off sound teeth.", mm=mm(work.removal))

In English it is filled as it stands. In any other language :func:`told` looks the template up in
``data/texts/LANGUAGE.toml`` and fills that one. Words of the data files stand there in every language already:
:func:`either` picks. The language holds for one call of :func:`planner.rules.plan.plan_case`, which sets it with
:func:`speaking`; nothing else is different in that call, so that two plans of one case differ in their words alone.

What has no translation is said in English and noted, and whoever asked is told so: :func:`speaking` yields the notes.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from planner.rules.units import format_cents, format_mm
from planner.rules.units import many as many_in_english

ENGLISH: Final = "en"
FOLDER: Final = Path(__file__).parent / "data" / "texts"


@dataclass(frozen=True, slots=True)
class Texts:
    """The texts of one language and who answers for them."""

    language: str
    translator: str
    reviewer: str
    """Who read it through, a person's name; empty until somebody did."""
    by_english: Mapping[str, str]


@dataclass(slots=True)
class _Speech:
    language: str
    missing: dict[str, None]


_SPEECH: ContextVar[_Speech | None] = ContextVar("speech", default=None)


@cache
def texts(language: str) -> Texts:
    """The texts of ``language``. Raises LookupError with a sentence when there are none."""
    path = FOLDER / f"{language}.toml"
    if language not in languages() or language == ENGLISH:
        raise LookupError(f'There are no texts in "{language}"; there are: {", ".join(languages())}.')
    read = tomllib.loads(path.read_text(encoding="utf-8"))
    about = read["translation"]
    return Texts(language, about["translator"], about["reviewer"], read["texts"])


@cache
def languages() -> tuple[str, ...]:
    """The languages that the rules can speak, English first."""
    return ENGLISH, *sorted(path.stem for path in FOLDER.glob("*.toml"))


@contextmanager
def speaking(language: str) -> Iterator[dict[str, None]]:
    """Say everything in ``language`` within the block; yields what turned out to have no translation, as it comes.

    Raises LookupError for a language without texts.
    """
    if language != ENGLISH:
        texts(language)
    speech = _Speech(language, {})
    token = _SPEECH.set(speech)
    try:
        yield speech.missing
    finally:
        _SPEECH.reset(token)


def spoken() -> str:
    """The language that is spoken now."""
    speech = _SPEECH.get()
    return ENGLISH if speech is None else speech.language


def told(template: str, /, **fields: object) -> str:
    """``template`` in the language that is spoken, with its named fields filled in.

    What stands before a ``|`` is never said: it tells apart what English says with one word and others with two.
    """
    speech = _SPEECH.get()
    if speech is None or speech.language == ENGLISH:
        return template.rpartition("|")[2].format_map(fields)
    found = texts(speech.language).by_english.get(template)
    if found is None:
        speech.missing[template] = None
        return template.rpartition("|")[2].format_map(fields)
    return drawn_together(found.format_map(fields))


def either(english: str, other: str, **fields: object) -> str:
    """The one of two texts of a data file that is in the language spoken, with its named fields filled in.

    ``other`` is Spanish, the only further language data files carry; empty is noted as missing and said in English.
    """
    speech = _SPEECH.get()
    if speech is None or speech.language == ENGLISH or not english:
        return english.format_map(fields)
    if speech.language != "es" or not other:
        speech.missing[english] = None
        return english.format_map(fields)
    return drawn_together(other.format_map(fields))


_ARTICLES: Final = re.compile(r"\b([Dd]e|[Aa]) el (?=[a-z])")


def drawn_together(text: str) -> str:
    """Spanish *de el* and *a el* as *del* and *al*: names of teeth bring their article along; other text as it is."""
    return _ARTICLES.sub(r"\1l ", text) if spoken() == "es" else text


# ------------------------------------------------------------------------------------------------ numbers and lists


def decimal(text: str) -> str:
    """A number written with a point, with the sign before decimals that the language spoken has."""
    return text.replace(".", ",") if spoken() == "es" else text


def mm(tenths: int) -> str:
    """Tenths of a millimetre as millimetres with one decimal, without the unit: ``8.3``, in Spanish ``8,3``."""
    return decimal(format_mm(tenths))


def in_cents(amount: int) -> str:
    """Whole cents with two decimals and no grouping."""
    return decimal(format_cents(amount))


_NOUNS: Final[Mapping[str, Mapping[str, tuple[str, str, str]]]] = {
    "es": {
        "tooth": ("1 diente", "{n} dientes", "ningún diente"),
        "visit": ("1 visita", "{n} visitas", "ninguna visita"),
        "month": ("1 mes", "{n} meses", "ningún mes"),
        "day": ("1 día", "{n} días", "ningún día"),
        "year": ("1 año", "{n} años", "ningún año"),
        "minute": ("1 minuto", "{n} minutos", "ningún minuto"),
        "way": ("1 forma", "{n} formas", "ninguna forma"),
    }
}
"""One, several and none of what is counted."""


def many(count: int, word: str) -> str:
    """A number with its noun, as :func:`planner.rules.units.many` says it in English."""
    nouns = _NOUNS.get(spoken(), {}).get(word)
    if nouns is None:
        return many_in_english(count, word)
    return nouns[0] if count == 1 else nouns[1].format(n=count) if count else nouns[2]


def listed(words: Sequence[str]) -> str:
    """``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return told("{first} and {last}", first=", ".join(words[:-1]), last=words[-1])


def the(label: str) -> str:
    """A tooth with its article: ``the upper right canine``. Every name of a tooth is masculine in Spanish."""
    return told("the {tooth}", tooth=label)
