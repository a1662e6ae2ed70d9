"""The base of every fact, and how a tooth and a text are written in a case file."""

from typing import Annotated

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    SerializationInfo,
    ValidationInfo,
    WithJsonSchema,
)

from planner.rules.teeth import Tooth
from planner.rules.words import ENGLISH, speaking


class Facts(BaseModel):
    """Base of every fact: frozen, and a field nobody knows is a fault rather than ignored."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, use_attribute_docstrings=True)


STORED = "key"
"""As the numbering of a reading context: teeth are written as keys, as in the database, where no numeral stands."""


def _read_tooth(value: object, info: ValidationInfo) -> object:
    if isinstance(value, Tooth):
        return value
    if not isinstance(value, str):
        raise ValueError(
            f'{value!r} is not a tooth: write it as text, such as "22", in the numbering the file declares'
        )
    numbering = (info.context or {}).get("numbering")
    if numbering is None:
        return Tooth.guess(value)
    if numbering == STORED:
        return Tooth.from_key(value)
    return Tooth.parse(value, numbering)


def _write_tooth(tooth: Tooth, info: SerializationInfo) -> str:
    numbering = (info.context or {}).get("numbering") if isinstance(info.context, dict) else None
    with speaking(ENGLISH):  # A case file is read in English alone, whatever is spoken while it is written.
        return tooth.key if numbering is None else tooth.written(numbering)


ToothRef = Annotated[
    Tooth,
    BeforeValidator(_read_tooth),
    PlainSerializer(_write_tooth, return_type=str),
    WithJsonSchema({"type": "string", "description": "a tooth, written in the numbering the file declares"}),
]
"""A tooth as written in the numbering system that the case file declares."""

Percent = Annotated[int, Field(ge=0, le=100)]
ShortText = Annotated[str, Field(max_length=200)]
LongText = Annotated[str, Field(max_length=2000)]
LONGEST_WISH = 4000
"""Characters of one wish: a patient who has much to say is written down whole."""
