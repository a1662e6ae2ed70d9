"""What a tooth is, and the three ways of writing it down.

A `Tooth` is an identity (anatomy), not a place in the arch and not the part it plays in the smile: a first
premolar standing where the canine belongs is still the first premolar (ISO 3950:2016). It is stored by a key
made of words, never by a numeral: ISO 3950 and the Universal system share eighteen numerals for permanent
teeth (and seventeen more that are baby teeth in one and extra teeth in the other), and by none of them do
they mean the same tooth.

Sources: ISO 3950:2016 for the two-digit numbers; the American Dental Association's code system as published
by HL7 Terminology (v1.0.1, 2024-05-23) for Universal numbers, letters and extra teeth; Unicode's dentistry
symbols (block Miscellaneous Technical) for Palmer's corners, and box drawings, which look alike and which more fonts
and keyboards have, for reading them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import total_ordering
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, NoReturn

from pydantic_core import core_schema

from planner.rules.words import told

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler


class Numbering(StrEnum):
    """A system for writing a tooth down."""

    ISO = "iso"
    UNIVERSAL = "universal"
    PALMER = "palmer"

    @property
    def printed(self) -> str:
        """The system's name as printed."""
        return {"iso": "ISO", "universal": "Universal", "palmer": "Palmer"}[self.value]


class Side(StrEnum):
    """The patient's own right or left."""

    RIGHT = "right"
    LEFT = "left"


class Kind(StrEnum):
    """The kind of tooth by anatomy. An extra tooth is of no other kind."""

    CENTRAL = "central"
    LATERAL = "lateral"
    CANINE = "canine"
    PREMOLAR = "premolar"
    MOLAR = "molar"
    PRIMARY_CENTRAL = "primary-central"
    PRIMARY_LATERAL = "primary-lateral"
    PRIMARY_CANINE = "primary-canine"
    PRIMARY_MOLAR = "primary-molar"
    EXTRA = "extra"


class Beside(StrEnum):
    """On which side of its neighbour an extra tooth stands: mesial is toward the midline, distal away."""

    MESIAL = "mesial"
    DISTAL = "distal"
    UNSTATED = "unstated"


class ToothNumberError(ValueError):
    """A text that names no tooth, or might name more than one.

    `text` is what was given, `readings` every (system, tooth) it could stand for, so that a page can ask.
    """

    def __init__(self, message: str, *, text: str = "", readings: Iterable[tuple[Numbering, Tooth]] = ()) -> None:
        super().__init__(message)
        self.text = text
        self.readings = tuple(readings)


_PERMANENT_WORDS: Final = (
    "central incisor",
    "lateral incisor",
    "canine",
    "first premolar",
    "second premolar",
    "first molar",
    "second molar",
    "third molar",
)
_PRIMARY_WORDS: Final = ("central incisor", "lateral incisor", "canine", "first molar", "second molar")
_PERMANENT_KINDS: Final = (
    Kind.CENTRAL,
    Kind.LATERAL,
    Kind.CANINE,
    Kind.PREMOLAR,
    Kind.PREMOLAR,
    Kind.MOLAR,
    Kind.MOLAR,
    Kind.MOLAR,
)
_PRIMARY_KINDS: Final = (
    Kind.PRIMARY_CENTRAL,
    Kind.PRIMARY_LATERAL,
    Kind.PRIMARY_CANINE,
    Kind.PRIMARY_MOLAR,
    Kind.PRIMARY_MOLAR,
)
_UNIVERSAL_LETTERS: Final = "ABCDEFGHIJKLMNOPQRST"
_PALMER_LETTERS: Final = "ABCDE"
# Corner of the cross that the tooth lies in, drawn by the two lines nearest the midline.
_CORNERS: Final[Mapping[tuple[bool, Side], str]] = MappingProxyType(
    {
        (True, Side.RIGHT): "\u23cc",
        (True, Side.LEFT): "\u23bf",
        (False, Side.RIGHT): "\u23cb",
        (False, Side.LEFT): "\u23be",
    }
)
# Box drawings that stand for the same corners where a keyboard or a letter has no dentistry symbols.
_BOXES: Final = str.maketrans({"\u2518": "\u23cc", "\u2514": "\u23bf", "\u2510": "\u23cb", "\u250c": "\u23be"})


@total_ordering
@dataclass(frozen=True, slots=True, repr=False)
class Tooth:
    """One tooth by anatomy. Compare, hash and sort freely; store and send `key`.

    Sorts upper arch first, then from the patient's right to left; at one position the permanent tooth before
    the baby tooth. `position` counts from the midline: 1 to 8, baby teeth 1 to 5. An extra tooth carries the
    arch, side, position and is_primary of the tooth it stands beside.
    """

    upper: bool
    side: Side
    position: int
    is_primary: bool = False
    extra: Beside | None = None

    def __post_init__(self) -> None:
        last = 5 if self.is_primary else 8
        if not isinstance(self.side, Side) or not 1 <= self.position <= last:
            raise ToothNumberError(
                f"There is no {'baby' if self.is_primary else 'permanent'} tooth {self.position!r} from the "
                f"midline on side {self.side!r}: positions run from 1 to {last}, sides are right and left."
            )

    # Ways in

    @classmethod
    def from_iso(cls, text: str) -> Tooth:
        """The tooth of an ISO 3950 number ('11'..'48', '51'..'85') or of 'extra beside nn'.

        A known side of an extra tooth follows as ', mesial' or ', distal'. Raises ToothNumberError.
        """
        return _read(text, Numbering.ISO)

    @classmethod
    def from_universal(cls, text: str) -> Tooth:
        """The tooth of a Universal number: '1'..'32', 'A'..'T', extra teeth '51'..'82' and 'AS'..'TS'.

        Letters are capitals only: a small l is too easily a 1. A known side of an extra tooth follows as
        ', mesial' or ', distal', which the published numbers leave out. Raises ToothNumberError.
        """
        return _read(text, Numbering.UNIVERSAL)

    @classmethod
    def from_palmer(cls, text: str) -> Tooth:
        """The tooth of a Palmer mark: 1-8 or A-E with its corner, or in plain letters UR3, ULC, LR1, LLE.

        The corner is Unicode's dentistry symbol or the box drawing that looks like it. Extra teeth as 'extra beside' a
        mark, and the side where it is known. Raises ToothNumberError.
        """
        return _read(text, Numbering.PALMER)

    @classmethod
    def parse(cls, text: str, system: Numbering) -> Tooth:
        """The tooth that `text` names in the stated system. Raises ToothNumberError."""
        return _read(text, Numbering(system))

    @classmethod
    def from_key(cls, key: str) -> Tooth:
        """The tooth of an internal key such as 'upper-right-canine'. Raises ToothNumberError."""
        tooth = _BY_KEY.get(key) if isinstance(key, str) else None
        if tooth is None:
            raise ToothNumberError(
                f"{key!r} is no tooth key. A key is made of words, such as 'upper-right-canine', "
                "'upper-right-primary-canine' or 'extra-beside-upper-right-canine-mesial'.",
                text=str(key),
            )
        return tooth

    @classmethod
    def guess(cls, text: str) -> NoReturn:
        """Refuse a number that came without its system, as in a referral letter, and say what it could mean.

        Always raises ToothNumberError: with both readings when two systems know the text, else with the one
        reading and the question whether that system is meant. `readings` on the error carries the teeth.
        """
        _refuse(text)

    # Ways out

    @property
    def key(self) -> str:
        """The internal key: words only, stable, the same in every numbering system."""
        words = (_PRIMARY_WORDS if self.is_primary else _PERMANENT_WORDS)[self.position - 1].replace(" ", "-")
        key = f"{self._arch_word}-{self.side}-{'primary-' if self.is_primary else ''}{words}"
        if self.extra is None:
            return key
        return f"extra-beside-{key}" + ("" if self.extra is Beside.UNSTATED else f"-{self.extra}")

    @property
    def iso(self) -> str:
        """The ISO 3950 number, or 'extra beside nn': the two digits have no number for a tooth too many.

        Those two words are in the language spoken, also before a Palmer mark; they are read in English alone.
        """
        quadrant = {
            (True, Side.RIGHT): 1,
            (True, Side.LEFT): 2,
            (False, Side.LEFT): 3,
            (False, Side.RIGHT): 4,
        }[self.upper, self.side]
        return self._beside(f"{quadrant + (4 if self.is_primary else 0)}{self.position}")

    @property
    def universal(self) -> str:
        """The Universal number or letter. Extra teeth: neighbour's number + 50, or its letter + S."""
        if self.is_primary:
            letter = _UNIVERSAL_LETTERS[self._universal_index(5)]
            return letter if self.extra is None else f"{letter}S{self._on_its_side}"
        number = self._universal_index(8) + 1
        return str(number) if self.extra is None else f"{number + 50}{self._on_its_side}"

    @property
    def palmer(self) -> str:
        """The Palmer mark: 1-8 or A-E with the corner on its midline side, or 'extra beside' that mark."""
        sign = _PALMER_LETTERS[self.position - 1] if self.is_primary else str(self.position)
        corner = _CORNERS[self.upper, self.side]
        return self._beside(f"{sign}{corner}" if self.side is Side.RIGHT else f"{corner}{sign}")

    @property
    def palmer_letters(self) -> str:
        """The Palmer mark where a font lacks the corners: 'UR3', 'LLE', 'extra beside UR3'."""
        quarter = ("U" if self.upper else "L") + ("R" if self.side is Side.RIGHT else "L")
        sign = _PALMER_LETTERS[self.position - 1] if self.is_primary else str(self.position)
        return self._beside(f"{quarter}{sign}")

    @property
    def name(self) -> str:
        """The tooth in plain words, e.g. 'upper right canine', 'upper right baby canine'."""
        words = (_PRIMARY_WORDS if self.is_primary else _PERMANENT_WORDS)[self.position - 1]
        where = {"arch": told(self._arch_word), "side": told(self.side.value)}
        template = "{arch} {side} baby {tooth}" if self.is_primary else "{arch} {side} {tooth}"
        name = told(template, tooth=told(words), **where)
        match self.extra:
            case None:
                return name
            case Beside.MESIAL:
                return told("extra tooth beside the {tooth}, toward the midline", tooth=name)
            case Beside.DISTAL:
                return told("extra tooth beside the {tooth}, away from the midline", tooth=name)
            case _:
                return told("extra tooth beside the {tooth}", tooth=name)

    def written(self, system: Numbering) -> str:
        """The tooth as `system` writes it, for a place that states the system itself."""
        return {Numbering.ISO: self.iso, Numbering.UNIVERSAL: self.universal, Numbering.PALMER: self.palmer}[system]

    def label(self, system: Numbering) -> str:
        """Name and both numbers, `system` first: 'upper left lateral incisor (22, Universal 10)'."""
        others = [other for other in (Numbering.ISO, Numbering.UNIVERSAL) if other is not system]
        numbers = [self.written(system), *(f"{other.printed} {self.written(other)}" for other in others)]
        return f"{self.name} ({', '.join(numbers)})"

    # What it is

    @property
    def kind(self) -> Kind:
        """The kind by anatomy."""
        if self.extra is not None:
            return Kind.EXTRA
        return (_PRIMARY_KINDS if self.is_primary else _PERMANENT_KINDS)[self.position - 1]

    @property
    def is_extra(self) -> bool:
        """Whether this is a tooth too many."""
        return self.extra is not None

    @property
    def neighbour(self) -> Tooth | None:
        """For an extra tooth the tooth it stands beside, else None."""
        return None if self.extra is None else Tooth(self.upper, self.side, self.position, self.is_primary)

    @property
    def twin(self) -> Tooth:
        """The same tooth on the other side of the mouth."""
        other = Side.LEFT if self.side is Side.RIGHT else Side.RIGHT
        return Tooth(self.upper, other, self.position, self.is_primary, self.extra)

    @property
    def arch_index(self) -> int:
        """Order in its arch from the patient's right (third molar 0) to left (15).

        Permanent, baby and extra teeth of one position share it.
        """
        return 8 - self.position if self.side is Side.RIGHT else 7 + self.position

    @property
    def _arch_word(self) -> str:
        return "upper" if self.upper else "lower"

    def _beside(self, number: str) -> str:
        if self.extra is None:
            return number
        return told("extra beside {number}", number=f"{number}{self._on_its_side}")

    @property
    def _on_its_side(self) -> str:
        return "" if self.extra in (None, Beside.UNSTATED) else f", {self.extra}"

    def _universal_index(self, a_side: int) -> int:
        """Count from the upper right back round to the lower right back, `a_side` teeth in each quarter."""
        from_right = a_side - self.position if self.side is Side.RIGHT else a_side - 1 + self.position
        return from_right if self.upper else 4 * a_side - 1 - from_right

    def _order(self) -> tuple[int, int, int, bool, bool]:
        toward_left = {None: 0, Beside.UNSTATED: 0, Beside.MESIAL: 1, Beside.DISTAL: -1}[self.extra]
        if self.side is Side.LEFT:
            toward_left = -toward_left
        return (0 if self.upper else 1, self.arch_index, toward_left, self.is_extra, self.is_primary)

    def __lt__(self, other: object) -> bool:
        if not isinstance(other, Tooth):
            return NotImplemented
        return self._order() < other._order()

    def __str__(self) -> str:
        return self.name

    def __repr__(self) -> str:
        return f"Tooth({self.key!r})"

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        """In a pydantic model a tooth is read from its key and written as its key."""
        return core_schema.no_info_plain_validator_function(
            lambda value: value if isinstance(value, cls) else cls.from_key(value),
            json_schema_input_schema=core_schema.str_schema(),
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda tooth: tooth.key, return_schema=core_schema.str_schema()
            ),
        )


def _row(upper: bool, primary: bool = False) -> tuple[Tooth, ...]:
    count = 5 if primary else 8
    right = [Tooth(upper, Side.RIGHT, n, primary) for n in range(count, 0, -1)]
    return (*right, *(tooth.twin for tooth in reversed(right)))


# Every row runs from the patient's right to left.
UPPER_PERMANENT: Final = _row(upper=True)
LOWER_PERMANENT: Final = _row(upper=False)
UPPER_PRIMARY: Final = _row(upper=True, primary=True)
LOWER_PRIMARY: Final = _row(upper=False, primary=True)
UPPER_FRONT: Final = UPPER_PERMANENT[5:11]
LOWER_FRONT: Final = LOWER_PERMANENT[5:11]
PERMANENT: Final = UPPER_PERMANENT + LOWER_PERMANENT
PRIMARY: Final = UPPER_PRIMARY + LOWER_PRIMARY
# The 52 teeth of the two dentitions, and every extra tooth that can stand beside one of them.
NORMAL: Final = PERMANENT + PRIMARY
EXTRA: Final = tuple(Tooth(t.upper, t.side, t.position, t.is_primary, where) for t in NORMAL for where in Beside)
ALL: Final = NORMAL + EXTRA

_BY_KEY: Final[Mapping[str, Tooth]] = MappingProxyType({tooth.key: tooth for tooth in ALL})


def _tables() -> Mapping[Numbering, Mapping[str, Tooth]]:
    tables = {system: {tooth.written(system): tooth for tooth in ALL} for system in Numbering}
    tables[Numbering.PALMER] |= {tooth.palmer_letters: tooth for tooth in ALL}
    return MappingProxyType(tables)


_TABLES: Final = _tables()
_WHAT_IS_RIGHT: Final[Mapping[Numbering, str]] = MappingProxyType(
    {
        Numbering.ISO: "ISO 3950 numbers are 11-18, 21-28, 31-38, 41-48, for baby teeth 51-55, 61-65, 71-75, "
        "81-85, and 'extra beside nn' for a tooth too many.",
        Numbering.UNIVERSAL: "Universal numbers are 1-32, capital A-T for baby teeth, 51-82 or a letter with "
        "S for extra teeth.",
        Numbering.PALMER: "Palmer marks are 1-8, or A-E for baby teeth, with a corner sign or with UR, UL, "
        "LL or LR before, and 'extra beside' such a mark for a tooth too many.",
    }
)


def _readings(text: str) -> tuple[tuple[Numbering, Tooth], ...]:
    known = _plain_corners(text)
    return tuple((system, table[known]) for system, table in _TABLES.items() if known in table)


def _plain_corners(text: str) -> str:
    return text.translate(_BOXES)


def _spoken(text: str, system: Numbering, tooth: Tooth) -> str:
    other = Numbering.UNIVERSAL if system is Numbering.ISO else Numbering.ISO
    return f"{system.printed} {text} is the {tooth.name} ({other.printed} {tooth.written(other)})"


def _read(text: str, system: Numbering) -> Tooth:
    if not isinstance(text, str):
        raise ToothNumberError(f"A tooth is given as text together with its system, not as {text!r}.", text=repr(text))
    stripped = text.strip()
    tooth = _TABLES[system].get(_plain_corners(stripped))
    if tooth is not None:
        return tooth
    readings = _readings(stripped)
    elsewhere = "".join(f" {_spoken(stripped, other, found)}: is that meant?" for other, found in readings)
    raise ToothNumberError(
        f"{stripped!r} is no {system.printed} tooth number. {_WHAT_IS_RIGHT[system]}{elsewhere}",
        text=stripped,
        readings=readings,
    )


def _refuse(text: str) -> NoReturn:
    stripped = text.strip() if isinstance(text, str) else repr(text)
    readings = _readings(stripped)
    spoken = [_spoken(stripped, system, tooth) for system, tooth in readings]
    if len(spoken) > 1:
        message = f"{stripped!r} has no numbering system: {'; '.join(spoken)}. Which system is meant?"
    elif spoken:
        message = f"{stripped!r} has no numbering system. Only one knows it: {spoken[0]}. Is that system meant?"
    else:
        message = f"{stripped!r} is no tooth in any numbering system. {' '.join(_WHAT_IS_RIGHT.values())}"
    raise ToothNumberError(message, text=stripped, readings=readings)
