"""A frozen case plan read back: from stored JSON to the typed plan that pages and papers are drawn from."""

from typing import Final

from pydantic import TypeAdapter, ValidationError

from planner.rules.mouth import CaseFacts
from planner.rules.results import FORMAT, VERSION, CasePlan
from planner.rules.teeth import Numbering

_ADAPTER: Final = TypeAdapter(CasePlan)


class FrozenPlanError(ValueError):
    """Bytes that are no frozen case plan of this format and version."""


def thaw(content: bytes) -> CasePlan:
    """The case plan that ``content`` holds, as :meth:`~planner.rules.results.CasePlan.to_json` wrote it.

    Raises :class:`FrozenPlanError` with the first fault and where it stands.
    """
    try:
        plan = _ADAPTER.validate_json(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole file"
        raise FrozenPlanError(f"this is no frozen case plan: {where}: {first['msg']}") from None
    if (plan.format, plan.version) != (FORMAT, VERSION):
        raise FrozenPlanError(
            f"this is {plan.format} version {plan.version}; only {FORMAT} version {VERSION} can be read here"
        )
    return plan


def facts_in(plan: CasePlan) -> CaseFacts:
    """The facts that the plan was computed from, typed. Raises pydantic's ValidationError for none of this version."""
    numbering = Numbering(plan.facts.get("numbering", Numbering.ISO))
    return CaseFacts.model_validate(plan.facts, context={"numbering": numbering})
