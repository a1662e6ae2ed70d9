"""Every clinical number, once, with its source and how it is known.

The rows live in ``data/evidence/*.toml``. Other data files name a row by its key, and words that are shown to a person
take their numbers from it through a placeholder, so that no number is typed twice and none without a source:

``{key}``          the value, a share as a whole number of 100
``{key:kept}``     of 100, how many still stand at the row's year; ``{key:lost}`` the others
``{key:kept@10}``  the same at another year, the row's own yearly rate held constant
``{key:range}``    low to high as printed in the source
``{key:exact}``    the value as printed in the source

Where two rows say different things, both stay and name each other in ``conflicts``; which of them is taken is settled
in :mod:`planner.rules.disagreements`. The whole table, with everything else that is a number, is
:mod:`planner.rules.register`.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationError,
    ValidationInfo,
    model_validator,
)

from planner.rules.settings import Certainty

DATA = Path(__file__).parent / "data"

Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
Language = Literal["en", "es"]

CERTAINTY_WORDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "published": ("read in the study", "leído en el estudio"),
        "abstract": ("summary read, not the full study", "se leyó el resumen, no el estudio completo"),
        "secondary": ("read in another text that quotes it", "leído en otro texto que lo cita"),
        "memory": ("from memory, not looked up", "de memoria, sin consultar"),
        "common practice": ("common practice, no study", "práctica habitual, sin estudio"),
        "office": ("this office's own figure", "cifra propia de la clínica"),
    }
)
"""How each certainty is printed beside a number, in English and Spanish."""


class Knowledge(BaseModel):
    """Base of what the data files hold: frozen, and a field nobody knows is a fault rather than ignored."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class DataFault(ValueError):
    """A data file of the rules that cannot be used; the message names the file, the field and why."""


class Evidence(Knowledge):
    """One number as its source prints it.

    ``measure`` says how to read ``value``: ``kept`` and ``happened`` are shares of 100 over ``years``; ``yearly rate``
    is the yearly probability in percent (1 - S^(1/t)); ``hazard`` is events per 100 object-years (S = exp(-rate * t));
    ``amount`` is a length, a time, a dose or a ratio in ``unit``.
    """

    key: Key
    words: str
    words_es: str = ""
    """Needed where a paper prints the row among its sources."""
    measure: Literal["kept", "happened", "yearly rate", "hazard", "amount"]
    value: Decimal
    unit: str
    low: Decimal | None = None
    high: Decimal | None = None
    interval: Literal["95 % interval", "range", ""] = ""
    """What ``low`` and ``high`` are."""
    n: Annotated[int, Field(gt=0)] | None = None
    n_of: str = ""
    """What was counted: teeth, people, implants, studies."""
    years: Annotated[Decimal, Field(gt=0)] | None = None
    """After how many years, or over which mean time; None when the source names none."""
    design: str = ""
    citation: str = ""
    published_in: Annotated[int, Field(ge=1900, le=2100)] | None = None
    doi: str = ""
    certainty: Certainty
    note: str = ""
    conflicts: tuple[Key, ...] = ()
    """Other rows that say otherwise; both are shown."""

    @model_validator(mode="after")
    def _plausible(self) -> "Evidence":
        if self.measure != "amount" and not 0 <= self.value <= 100:
            raise ValueError(f"{self.value} of 100 cannot be: a share lies between 0 and 100")
        for bound, name in ((self.low, "low"), (self.high, "high")):
            if bound is not None and (bound > self.value if name == "low" else bound < self.value):
                raise ValueError(f"{name} is {bound}, on the wrong side of the value {self.value}")
        if (self.low is not None or self.high is not None) and not self.interval:
            raise ValueError('say what low and high are: interval = "95 % interval" or "range"')
        if self.measure in ("yearly rate", "hazard") and self.years is None:
            raise ValueError("a yearly rate needs the years over which it was observed")
        return self

    @property
    def of_100(self) -> Decimal:
        """The value as a share of 100, unrounded. Raises ValueError for an amount."""
        if self.measure == "amount":
            raise ValueError(f'"{self.key}" is an amount in {self.unit}, not a share of 100')
        return self.value

    def kept(self, years: Decimal | int | None = None) -> Decimal:
        """Of 100, how many are still there at ``years`` (by default the row's own year), percent, unrounded.

        For another year the row's constant yearly rate is used. Raises ValueError for an amount, and for another year
        than the source's where the source names no year.
        """
        base = self.years
        if self.measure == "yearly rate":
            return 100 * (1 - self.value / 100) ** (Decimal(years) if years is not None else _known(base))
        if self.measure == "hazard":
            return 100 * (-self.value / 100 * (Decimal(years) if years is not None else _known(base))).exp()
        share = self.of_100 if self.measure == "kept" else 100 - self.of_100
        if years is None or years == base:
            return share
        if base is None:
            raise ValueError(f'"{self.key}" names no year, so it cannot be read at {years} years')
        return 100 * (share / 100) ** (Decimal(years) / base)

    @property
    def source(self) -> str:
        """Citation and how it is known, as one line."""
        return "; ".join(part for part in (self.citation, CERTAINTY_WORDS[self.certainty][0]) if part)

    def is_share(self, form: str = "") -> bool:
        """Whether the number that ``form`` prints is a share of 100, and not a length, a time or a rate."""
        return form.partition("@")[0] in ("kept", "lost") or (
            self.measure in ("kept", "happened") and form in ("", "range")
        )

    def shares(self, form: str = "") -> tuple[int, int]:
        """Lowest and highest whole number of 100 that ``form`` prints, the same twice where it is one number."""
        if form == "range" and self.low is not None and self.high is not None:
            return whole(self.low), whole(self.high)
        only = int(self.printed(form))
        return only, only

    def printed(self, form: str = "") -> str:
        """The number for a sentence; ``form`` as in the placeholders of this module. Raises ValueError when unknown."""
        what, _, at = form.partition("@")
        if what in ("kept", "lost"):
            kept = self.kept(Decimal(at) if at else None)
            return str(whole(kept if what == "kept" else 100 - kept))
        if what == "range" and self.low is not None and self.high is not None:
            return f"{_decimal(self.low)}–{_decimal(self.high)}"
        if what == "exact" or (what == "" and self.measure in ("amount", "yearly rate", "hazard")):
            return _decimal(self.value)
        if what == "":
            return str(whole(self.value))
        raise ValueError(f'"{self.key}" cannot be printed as "{form}"')


def _known(years: Decimal | None) -> Decimal:
    assert years is not None  # held by Evidence._plausible
    return years


def _decimal(value: Decimal) -> str:
    return format(value.normalize(), "f")


def whole(share: Decimal, denominator: int = 100) -> int:
    """A share in percent as a whole number of ``denominator``, halves up."""
    return int((share * denominator / 100).quantize(Decimal(1), ROUND_HALF_UP))


def denominator(shares: Iterable[Decimal]) -> Literal[100, 1000]:
    """One denominator for a whole table of shares (percent): 100, or 1,000 when any of them is above 0 and below 1.

    Trevena and others 2013 (BMC Med Inform Decis Mak 13(S2):S7): one denominator throughout, never "1 in X".
    """
    return 1000 if any(0 < share < 1 for share in shares) else 100


# ------------------------------------------------------------------------------------------ words that carry numbers

PLACEHOLDER = re.compile(r"\{([a-z0-9-]+)(?::([a-z]+(?:@\d+)?))?\}")
"""A number in words: the row's key, and the form it is printed in."""
_TYPED_NUMBER = re.compile(r"\d+")


def fill(text: str, rows: Mapping[str, Evidence]) -> str:
    """``text`` with its placeholders filled. Raises ValueError for an unknown row or form, or a number typed by hand.

    "100" may be typed, since every share is printed as "of 100".
    """
    typed = [number for number in _TYPED_NUMBER.findall(PLACEHOLDER.sub("", text)) if number != "100"]
    if typed:
        raise ValueError(f'the number {typed[0]} is typed in "{text}": take it from an evidence row, as {{key}}')

    def number(match: re.Match[str]) -> str:
        row = rows.get(match[1])
        if row is None:
            raise ValueError(f'no evidence row is called "{match[1]}" (in "{text}")')
        return row.printed(match[2] or "")

    filled = PLACEHOLDER.sub(number, text)
    if "{" in filled or "}" in filled:
        raise ValueError(f'a placeholder in "{text}" cannot be read: write {{key}} or {{key:kept@10}}')
    return filled


def _rows(info: ValidationInfo) -> Mapping[str, Evidence]:
    rows: Mapping[str, Evidence] | None = (info.context or {}).get("evidence")
    return all_evidence() if rows is None else rows


def _read_row(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str):
        return value
    row = _rows(info).get(value)
    if row is None:
        raise ValueError(f'no evidence row is called "{value}": add it to data/evidence, with its source')
    return row


def _read_prose(text: str, info: ValidationInfo) -> str:
    return fill(text, _rows(info))


def _with_commas(text: str, info: ValidationInfo) -> str:
    return re.sub(r"(?<=\d)\.(?=\d)", ",", _read_prose(text, info))


EvidenceRef = Annotated[Evidence, BeforeValidator(_read_row), PlainSerializer(lambda row: row.key, return_type=str)]
"""An evidence row, named in a data file by its key."""
Prose = Annotated[str, AfterValidator(_read_prose)]
"""Words whose numbers come from evidence rows."""
SpanishProse = Annotated[str, AfterValidator(_with_commas)]
"""The same in Spanish, which writes decimals with a comma."""


_SENTENCE = re.compile(r"(?<=\.)\s+")


class Counted(Knowledge):
    """A sentence that says of how many of 100 something holds, so that a paper can say the others too."""

    words: Prose
    words_es: SpanishProse
    of_100: tuple[tuple[int, int], ...]
    """Lowest and highest of each share it says, in order; empty where the sentence itself says both."""


def _counted(table: Mapping[str, object], rows: Mapping[str, Evidence]) -> Iterator[dict[str, object]]:
    """The sentences of a line that carry shares of 100, as both languages say them."""
    told = [
        [(one, shares) for one in _SENTENCE.split(str(table.get(field, ""))) if (shares := _shares(one, rows))]
        for field in ("words", "words_es")
    ]
    if table.get("words_es") and [shares for _, shares in told[0]] != [shares for _, shares in told[1]]:
        raise ValueError(f'"{table["words"]}" and its Spanish count otherwise: each sentence needs the same numbers')
    for (english, shares), (spanish, _) in zip(*told, strict=False):
        yield {"words": english, "words_es": spanish, "of_100": () if _both_said(shares) else shares}


def _both_said(shares: Sequence[tuple[int, int]]) -> bool:
    """Whether a sentence says of each share how many it is, and how many it is not."""
    return len(shares) > 1 and all((100 - high, 100 - low) in shares for low, high in shares)


def _shares(sentence: str, rows: Mapping[str, Evidence]) -> tuple[tuple[int, int], ...]:
    """The shares of 100 in a sentence, two of them with ``to`` between as one range. An amount is no share."""
    found: list[tuple[int, int]] = []
    before, end = False, 0
    for match in PLACEHOLDER.finditer(sentence):
        row = rows.get(match[1])
        share = row is not None and row.is_share(match[2] or "")
        if row is not None and share:
            low, high = row.shares(match[2] or "")
            if before and sentence[end : match.start()] in (" to ", " a "):
                found[-1] = (min(found[-1][0], low), max(found[-1][1], high))
            else:
                found.append((low, high))
        before, end = share, match.end()
    return tuple(found)


class Line(Knowledge):
    """One thing said, in English and Spanish, at a reading grade of at most six."""

    words: Annotated[Prose, Field(min_length=1)]
    words_es: Annotated[SpanishProse, Field(min_length=1)]
    keys: tuple[Key, ...] = ()
    """The evidence rows whose numbers stand in the words, in order; read from the placeholders, never typed."""
    counting: tuple[Counted, ...] = ()
    """The sentences among them that count how many of 100; read in the same way."""

    @model_validator(mode="before")
    @classmethod
    def _note_numbers(cls, table: object, info: ValidationInfo) -> object:
        if not isinstance(table, dict):
            return table
        if typed := {"keys", "counting"} & table.keys():
            raise ValueError(f"{min(typed)} is read from the words, not typed")
        found = PLACEHOLDER.findall(str(table.get("words", "")))
        keys = tuple(dict.fromkeys(key for key, _ in found))
        return table | {"keys": keys, "counting": tuple(_counted(table, _rows(info)))}

    def said(self, language: Language = "en") -> str:
        """The words in ``language``."""
        return self.words_es if language == "es" else self.words


# ----------------------------------------------------------------------------------------------------------- loading


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file, decimals kept exact. Raises DataFault when it is not TOML."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    except tomllib.TOMLDecodeError as fault:
        raise DataFault(f"{path.name}: not readable as TOML: {fault}") from None


def told(path: Path, fault: ValidationError) -> DataFault:
    """Every fault of a data file as one message: file, field, what is wrong."""
    lines = (f"{path.name}: {'.'.join(map(str, each['loc'])) or 'whole'}: {each['msg']}" for each in fault.errors())
    return DataFault("\n".join(lines))


def load_evidence(folder: Path) -> Mapping[str, Evidence]:
    """Every row of ``folder/*.toml`` by key. Raises DataFault for a row that is wrong or a key that stands twice."""
    rows: dict[str, Evidence] = {}
    for path in sorted(folder.glob("*.toml")):
        for table in read_toml(path).get("evidence", []):
            try:
                row = Evidence.model_validate(table)
            except ValidationError as fault:
                raise told(path, fault) from None
            if row.key in rows:
                raise DataFault(f'{path.name}: the evidence row "{row.key}" stands twice')
            rows[row.key] = row
    return MappingProxyType(rows)


@cache
def all_evidence() -> Mapping[str, Evidence]:
    """Every shipped row by key."""
    return load_evidence(DATA / "evidence")


def evidence(key: str) -> Evidence:
    """The shipped row called ``key``. Raises LookupError with a sentence when there is none."""
    try:
        return all_evidence()[key]
    except KeyError:
        raise LookupError(f'no evidence row is called "{key}"') from None
