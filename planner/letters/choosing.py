"""Which options a paper tells in full, and why the others are not.

A person can compare about seven things at most (common practice, no source). All that may be offered comes first,
gentlest first, then what waits or asks, then what only the patient's own limit rules out. What is refused for any
other reason is never laid out as a choice. Every other option keeps one line with its reason.
"""

from collections.abc import Callable

from planner.rules.results import CasePlan, OptionShape
from planner.rules.verdicts import Verdict

MOST = 7
NOTHING = "none"
"""Key of doing nothing, which is always one of the choices."""


def told_in_full(plan: CasePlan, chosen: str = "") -> tuple[OptionShape, ...]:
    """At most :data:`MOST` options in the plan's own order; ``chosen``, the letter's subject, is always among them."""
    groups: tuple[Callable[[OptionShape], bool], ...] = (
        lambda option: option.key in (NOTHING, chosen),
        lambda option: _verdict(option) in (Verdict.OFFER, Verdict.CARE),
        lambda option: _verdict(option) in (Verdict.WAIT, Verdict.ASK),
        lambda option: option.only_own_limit,
    )
    picked = dict.fromkeys(option.key for belongs in groups for option in plan.options if belongs(option))
    kept = set(list(picked)[:MOST])
    return tuple(option for option in plan.options if option.key in kept)


def can_be_done(plan: CasePlan) -> bool:
    """Whether anything at all can be offered today, besides doing nothing."""
    return any(_verdict(option) in (Verdict.OFFER, Verdict.CARE) for option in plan.options if option.key != NOTHING)


def _verdict(option: OptionShape) -> Verdict:
    return Verdict.NO if option.struck else option.verdict
