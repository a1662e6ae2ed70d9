"""A frozen case plan read back: from stored JSON to the typed plan that pages and papers are drawn from."""

import json
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from planner.rules.mouth import CaseFacts
from planner.rules.results import FORMAT, VERSION, CasePlan
from planner.rules.teeth import Numbering
from planner.rules.translated import put_in
from planner.rules.words import ENGLISH

_ADAPTER: Final = TypeAdapter(CasePlan)


class FrozenPlanError(ValueError):
    """Bytes that are no frozen case plan of this format and version."""


def thaw(content: bytes, language: str = ENGLISH) -> CasePlan:
    """The case plan that ``content`` holds, as :meth:`~planner.rules.results.CasePlan.to_json` wrote it.

    In another ``language`` than English its texts are those that were frozen beside it. Raises
    :class:`FrozenPlanError` with the first fault and where it stands, and when it was frozen without that language.
    """
    try:
        plan = _ADAPTER.validate_json(content)
        if language != ENGLISH:
            plan = _ADAPTER.validate_python(_in_language(content, plan, language), strict=False)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole file"
        raise FrozenPlanError(f"this is no frozen case plan: {where}: {first['msg']}") from None
    if (plan.format, plan.version) != (FORMAT, VERSION):
        raise FrozenPlanError(
            f"this is {plan.format} version {plan.version}; only {FORMAT} version {VERSION} can be read here"
        )
    return plan


def _in_language(content: bytes, plan: CasePlan, language: str) -> Any:
    words = next((found.words for found in plan.other_words if found.language == language), None)
    if words is None:
        raise FrozenPlanError(
            f'this plan was frozen without its texts in "{language}": say in the patient\'s file that it is '
            "their language, then make a new estimate"
        )
    read = json.loads(content)
    put_in(read, words)
    return read


def facts_in(plan: CasePlan) -> CaseFacts:
    """The facts that the plan was computed from, typed. Raises pydantic's ValidationError for none of this version."""
    numbering = Numbering(plan.facts.get("numbering", Numbering.ISO))
    return CaseFacts.model_validate(plan.facts, context={"numbering": numbering})
