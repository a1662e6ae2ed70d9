"""What the fit and proportion checks answer: frozen values with their limits, sources, words and one sentence each."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from planner.rules.settings import Setting, read_settings
from planner.rules.teeth import Tooth

_FILES = ("proportions.toml", "space_limits.toml")


class FitWord(StrEnum):
    """How a measurement fits. ``ask`` is said of everything that nobody measured, and never of a measurement."""

    GOOD = "good"
    ACCEPTABLE = "acceptable"
    LIMIT = "limit"
    ASK = "ask"


@dataclass(frozen=True, slots=True)
class FitCheck:
    """One check: what was measured, between which bounds it is good, and what that means."""

    about: str
    """The teeth or place it is about, by name and both numbers."""
    what: str
    word: FitWord
    sentence: str
    source: str
    """Name of the setting that the bounds come from."""
    certainty: str
    value: Decimal | None = None
    """None where nothing was measured, or where the finding is no number (``said``)."""
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    said: str = ""
    """A finding that is no number."""
    teeth: tuple[Tooth, ...] = ()

    def __post_init__(self) -> None:
        measured = self.value is not None or bool(self.said)
        if measured == (self.word is FitWord.ASK):
            raise ValueError(f"{self.what} of {self.about}: what is not measured is asked for, and nothing else is")

    @property
    def value_words(self) -> str:
        """What was measured, as printed; ``not measured`` where nothing was."""
        if self.value is None:
            return self.said or "not measured"
        return _with_unit(_printed(self.value, self.unit), self.unit)

    @property
    def range_words(self) -> str:
        """The bounds within which it is good, as printed; empty for none."""
        low, high = (None if bound is None else _printed(bound, self.unit) for bound in (self.low, self.high))
        if low is not None and high is not None:
            said = low if low == high else f"{low} to {high}"
        elif low is not None:
            said = f"at least {low}"
        elif high is not None:
            said = f"at most {high}"
        else:
            return ""
        return _with_unit(said, self.unit)


@dataclass(frozen=True, slots=True)
class FitNote:
    """Something to know beside the checks of a group."""

    words: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class FitGroup:
    """Checks that belong together."""

    key: str
    title: str
    lead: str
    checks: tuple[FitCheck, ...]
    notes: tuple[FitNote, ...] = ()


@dataclass(frozen=True, slots=True)
class FitSource:
    """A source as listed under the checks, numbered in the order in which it is first used."""

    number: int
    key: str
    means: str
    citation: str
    certainty: str


@dataclass(frozen=True, slots=True)
class FitChecks:
    """All checks of one mouth."""

    groups: tuple[FitGroup, ...]
    sources: tuple[FitSource, ...]

    @property
    def checks(self) -> tuple[FitCheck, ...]:
        """Every check, in the order of the page."""
        return tuple(check for group in self.groups for check in group.checks)

    @property
    def counts(self) -> Mapping[FitWord, int]:
        """How many checks came to each word."""
        return {word: sum(check.word is word for check in self.checks) for word in FitWord}

    @property
    def number_of(self) -> Mapping[str, int]:
        """The number of every source, by the name of its setting."""
        return {source.key: source.number for source in self.sources}


def fit_setting(name: str) -> Setting:
    """The setting a check goes by, from whichever file holds it. Raises KeyError for a name that none has."""
    for file in _FILES:
        if name in (found := read_settings(file)):
            return found[name]
    raise KeyError(name)


def numbered_sources(groups: tuple[FitGroup, ...]) -> tuple[FitSource, ...]:
    """The sources of checks and notes, each once, in the order in which they are first used."""
    used: list[str] = []
    for group in groups:
        used += [check.source for check in group.checks]
        used += [note.source for note in group.notes if note.source]
    settings = [fit_setting(name) for name in dict.fromkeys(used)]
    return tuple(
        FitSource(number, setting.name, setting.means, setting.source, setting.certainty)
        for number, setting in enumerate(settings, start=1)
    )


def rounded(value: Decimal, places: str = "0.1") -> Decimal:
    """``value`` to the tenth, or to ``places``, halves up."""
    return value.quantize(Decimal(places), ROUND_HALF_UP)


def tenths(value: int) -> Decimal:
    """Whole tenths of a millimetre as millimetres."""
    return Decimal(value) / 10


def _printed(value: Decimal, unit: str) -> str:
    """Millimetres with a decimal at least (``8.0``), other figures without needless noughts, and a true minus."""
    whole, _point, decimals = format(value, "f").partition(".")
    kept = decimals.rstrip("0") or ("0" if unit == "mm" else "")
    return f"{whole}.{kept}".rstrip(".").replace("-", "\u2212")


def _with_unit(text: str, unit: str) -> str:
    return f"{text}\u00a0{unit}" if unit else text
