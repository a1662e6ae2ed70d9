"""What a dentist decided around the computation: facts of a case like those found in the mouth, and read with them.

Locks on the spaces, verdicts set aside, surfaces, options put together, discounts, and work agreed beforehand. Each
carries whose decision it is and the reason.
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, TypeAdapter, ValidationInfo, ValidatorFunctionWrapHandler, WrapValidator, model_validator

from planner.rules.book import DiscountKind
from planner.rules.facts import Facts, LongText, ShortText, ToothRef
from planner.rules.settings import CountedIn
from planner.rules.units import Cents, Tenths

LockWhat = Literal[
    "mesial share",
    "distal share",
    "width",
    "length",
    "shorten",
    "lengthen",
    "untouched",
    "build up",
    "slenderise mesial",
    "slenderise distal",
    "twins apart",
    "role",
    "share limit",
    "emergence limit",
    "lengthen limit",
    "gap left",
    "ratio",
    "midline",
]
"""What a decision of the dentist about the spaces is about."""


class Lock(Facts):
    """A value the dentist fixed, a limit raised or a rule lifted before the spaces are shared, with the reason.

    It is about one tooth, about the gap between two teeth, or, for ``ratio`` and ``midline``, about the whole front.
    """

    tooth: ToothRef | None = None
    between: tuple[ToothRef, ToothRef] | None = None
    what: LockWhat
    value: Tenths | None = None
    """Millimetres, for everything but the entries below. For ``midline``: how far the centrals' contact stands today
    to the patient's left of the midline aimed at (minus = to the right); left out, the face's midline is aimed at."""
    role: Literal["central", "lateral", "canine", "premolar"] | None = None
    """For ``role``: what the tooth must look like."""
    degrees: Annotated[int, Field(ge=0, le=60)] | None = None
    """For ``emergence limit``: the steepest side wall."""
    percent: Annotated[int, Field(ge=50, le=100)] | None = None
    """For ``ratio``: the lateral's width aimed at, of its central's."""
    reason: LongText
    by: ShortText
    on: date | None = None

    @model_validator(mode="after")
    def _one_subject(self) -> Self:
        if self.what in WHOLE_FRONT:
            if self.tooth or self.between:
                raise ValueError(f'"{self.what}" is about the whole front and names no tooth')
        elif (self.tooth is None) == (self.between is None):
            raise ValueError("a lock names either one tooth or the two teeth beside a gap")
        elif (self.what == "gap left") != (self.between is not None):
            raise ValueError('"gap left" locks a gap between two teeth; every other lock is on one tooth')
        kept = LOCK_VALUES.get(self.what, "value")
        for name in ("value", "role", "degrees", "percent"):
            given = getattr(self, name) is not None
            if given and name != kept:
                raise ValueError(f'a lock on "{self.what}" has no entry "{name}"')
            if name == kept and not given:
                raise ValueError(f'a lock on "{self.what}" needs {_NEEDED[name]}')
        return self


WHOLE_FRONT = frozenset({"ratio", "midline"})
"""Locks on no tooth and no gap."""
LOCK_VALUES: Mapping[str, str | None] = {
    "untouched": None,
    "build up": None,
    "twins apart": None,
    "role": "role",
    "emergence limit": "degrees",
    "ratio": "percent",
}
"""The entry that says how much, where it is not ``value``; None where there is nothing to say."""
RAISED_LIMITS = frozenset({"share limit", "emergence limit", "lengthen limit"})
"""Locks that raise a limit of one tooth; a case holds one of them at most."""
_NEEDED = {
    "value": "a value in millimetres",
    "role": "the role",
    "degrees": "whole degrees",
    "percent": "whole percent",
}


class Override(Facts):
    """A dentist's decision against a verdict, in that dentist's name; it stays visible wherever the option is shown."""

    option: ShortText
    gate: ShortText
    reason: Annotated[str, Field(min_length=10, max_length=2000)]
    by: ShortText
    on: date
    second_dentist: ShortText = ""


class SurfaceChoice(Facts):
    """How many surfaces of a tooth an addition counts as, where the dentist decides otherwise than the default."""

    tooth: ToothRef
    surfaces: Annotated[int, Field(ge=1, le=5)]
    reason: LongText


class Striking(Facts):
    """An option struck by the dentist, or recommended, with the reason."""

    option: ShortText
    reason: LongText
    by: ShortText


class OwnWork(Facts):
    """What one treatment does to one tooth or place of an option that a dentist put together."""

    treatment: ShortText
    """Key of the treatment in the catalogue."""
    tooth: ToothRef | None = None
    """The tooth, or the place that is filled; left out for what is done to the whole mouth."""
    mesial: Annotated[Tenths, Field(ge=0)] = 0
    distal: Annotated[Tenths, Field(ge=0)] = 0
    lengthening: Annotated[Tenths, Field(ge=0)] = 0
    """Material added on each side and at the edge."""
    removal: Annotated[Tenths, Field(ge=0)] = 0
    """Taken off the edge by reshaping; every other treatment takes what the catalogue says."""
    surfaces: Annotated[int, Field(ge=1, le=5)] | None = None
    """How many surfaces an addition counts as, where otherwise than the sides it touches and the edge."""


class OwnOption(Facts):
    """An option that a dentist put together, or changed from one that was worked out; judged and priced like any."""

    key: Annotated[str, Field(pattern=r"^own-[1-9]\d?$")]
    work: Annotated[tuple[OwnWork, ...], Field(min_length=1, max_length=40)]
    changed_from: ShortText = ""
    """Key of the option it was changed from."""
    reason: Annotated[str, Field(min_length=1, max_length=2000)]
    by: ShortText
    on: date

    @property
    def number(self) -> int:
        """Which of the case's own options it is."""
        return int(self.key.removeprefix("own-"))


class FiguresChoice(Facts):
    """Whose figures the years ahead are reckoned with, where the dentist decides otherwise than the office does."""

    counted_in: CountedIn | None = None
    """None for what is usual in the office."""
    worn: bool | None = None
    """Whether figures of worn mouths are taken; None for as found."""
    reason: LongText
    by: ShortText


class DiscountChoice(Facts):
    """A discount that somebody asked for on one option, and who allowed it; without that it takes nothing off."""

    key: Annotated[str, Field(pattern=r"^discount-[1-9]\d?$")]
    option: ShortText
    kind: DiscountKind
    percent: Annotated[Decimal, Field(gt=0, le=100)] | None = None
    cents: Annotated[Cents, Field(gt=0)] | None = None
    """An amount instead of a percentage."""
    line: ShortText = ""
    """Key of the service whose line it is on; left out, it is on the whole estimate and spread over its lines."""
    reason: Annotated[str, Field(min_length=1, max_length=2000)]
    asked_by: ShortText
    asked_role: ShortText
    asked_on: date
    allowed_by: ShortText = ""
    allowed_role: ShortText = ""
    allowed_on: date | None = None
    pass_through: bool = False
    """Ticked: bills passed on are discounted too."""
    own_family: bool = False
    """For the family of who allows it, so that a second person has to agree."""
    second_person: ShortText = ""

    @model_validator(mode="after")
    def _one_measure(self) -> Self:
        if (self.percent is None) == (self.cents is None):
            raise ValueError("a discount is either a percentage or an amount")
        return self

    @property
    def given(self) -> bool:
        """Whether everybody who has to agree did."""
        return bool(self.allowed_by) and (bool(self.second_person) or not self.own_family)


class IfThen(Facts):
    """Work agreed beforehand in case something is found, with its price: whatever goes beyond it is signed for."""

    words: Annotated[str, Field(min_length=1, max_length=2000)]
    service: Annotated[str, Field(min_length=1, max_length=200)]
    """Key of the service in the office's price list."""
    teeth: Annotated[tuple[ToothRef, ...], Field(max_length=32)] = ()
    """The teeth any of which it may be for; left out only where the fee is not counted by teeth."""
    quantity: Annotated[int, Field(ge=1, le=20)] = 1
    """At most so many, over all of these teeth."""
    options: Annotated[tuple[ShortText, ...], Field(max_length=40)] = ()
    """Keys of the options it belongs to; left out, to every option that costs something."""

    def __str__(self) -> str:
        return self.words


def _read_agreed(value: object, handler: ValidatorFunctionWrapHandler, info: ValidationInfo) -> object:
    # Told apart before they are read, so that a fault names its own field and nothing of the other kind.
    if isinstance(value, str):
        return _SENTENCE.validate_python(value.strip())
    return handler(value) if isinstance(value, IfThen) else IfThen.model_validate(value, context=info.context)


_SENTENCE = TypeAdapter(LongText)


MOST_PIECES = 12
"""Most pieces of work that can be agreed beforehand: what is likelier than that belongs into the plan."""
Agreed = Annotated[LongText | IfThen, WrapValidator(_read_agreed)]
"""An agreed sentence, or one with its priced piece. A sentence alone covers nothing."""


class Choices(Facts):
    """What the dentist decided around the computation."""

    locks: tuple[Lock, ...] = ()
    overrides: tuple[Override, ...] = ()
    surfaces: tuple[SurfaceChoice, ...] = ()
    struck: tuple[Striking, ...] = ()
    recommended: Striking | None = None
    own_options: tuple[OwnOption, ...] = ()
    reconstructive: bool = False
    """The line class of additions for tax, set by a person with the reason below; looks only when false."""
    tax_reason: LongText = ""
    figures: FiguresChoice | None = None
    if_then: tuple[Agreed, ...] = ()
    """Agreed "if we find this, then that" sentences, some with a priced piece."""
    discounts: Annotated[tuple[DiscountChoice, ...], Field(max_length=20)] = ()

    @model_validator(mode="after")
    def _few_pieces(self) -> Self:
        pieces = sum(isinstance(entry, IfThen) for entry in self.if_then)
        if pieces > MOST_PIECES:
            raise ValueError(
                f"{pieces} pieces of work are agreed beforehand; {MOST_PIECES} are the most: plan the rest"
            )
        return self
