"""What one paper is drawn from, and what is fixed about each kind of paper."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from planner.letters.carried import Carried
from planner.letters.issue import Issue
from planner.practice.access import Act, Thing
from planner.rules.mouth import CaseFacts
from planner.rules.results import CasePlan, OptionShape, SpacePlanShape
from planner.rules.strip import Words

Right = tuple[Act, Thing]


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that one paper is drawn from."""

    plan: CasePlan
    facts: CaseFacts
    words: Words
    issue: Issue
    language: str
    points: int
    sha256: str
    """Of the frozen JSON."""

    @property
    def chosen(self) -> OptionShape | None:
        """The option that the paper is about: the chosen, else the recommended one, if there is any."""
        key = self.issue.chosen or self.plan.recommended
        return self.plan.option(key) if key else None

    @property
    def space_plan(self) -> SpacePlanShape | None:
        """The way of sharing the gaps that this option carries out, if it carries out any."""
        key = self.chosen.space_plan if self.chosen is not None else ""
        return next((plan for plan in self.plan.spaces.plans if key and plan.key == key), None)


def _always(_sheet: Sheet) -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of paper."""

    key: str
    title: Any
    template: str
    context: Callable[[Sheet], dict[str, Any]]
    made_by: Right
    """What somebody must be allowed to do to make one."""
    seen_by: Right
    carries: Carried
    named: bool = True
    """Whether the patient's name and birth date stand on it; else initials and the number alone."""
    points: int | None = None
    """Print size where there is only one; None: any size that papers come in."""
    language: str | None = None
    """Language where there is only one, as for what a workshop, a colleague or a payer reads; None: the reader's."""
    why_not: Callable[[Sheet], str] = _always
    """Why a plan has no such paper, in one sentence; empty where it has."""
