"""Between typed facts and JSON columns: one way there, one way back, teeth by their keys and no floats."""

from typing import Any, TypeVar

from pydantic import BaseModel, TypeAdapter

from planner.rules.facts import STORED, Facts
from planner.rules.teeth import Tooth
from planner.rules.units import format_mm

_CONTEXT = {"numbering": STORED}

SomeFacts = TypeVar("SomeFacts", bound=Facts)


def to_json(facts: BaseModel, *, leave_out: set[str] | None = None) -> dict[str, Any]:
    """``facts`` as plain JSON values: what was recorded and nothing else, without the fields in ``leave_out``."""
    return facts.model_dump(mode="json", exclude_defaults=True, exclude=leave_out)


def from_json(kind: type[SomeFacts], data: Any) -> SomeFacts:
    """The facts that :func:`to_json` wrote. Raises pydantic's ValidationError for anything else."""
    return kind.model_validate(data, context=_CONTEXT)


def list_to_json(facts: tuple[Facts, ...]) -> list[dict[str, Any]]:
    """Several facts, in order."""
    return [to_json(fact) for fact in facts]


def list_from_json(kind: type[SomeFacts], data: Any) -> tuple[SomeFacts, ...]:
    """The facts that :func:`list_to_json` wrote."""
    return TypeAdapter(tuple[kind, ...]).validate_python(data, context=_CONTEXT)  # type: ignore[valid-type]


def mm(tenths: int | None) -> str | None:
    """Whole tenths as the typed facts read them."""
    return None if tenths is None else format_mm(tenths)


def key(tooth: Tooth | None) -> str:
    """The stored key of a tooth; empty for none."""
    return "" if tooth is None else tooth.key


def tooth(stored: str) -> Tooth | None:
    """The tooth of a stored key; None for the empty one."""
    return Tooth.from_key(stored) if stored else None
