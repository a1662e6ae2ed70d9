"""Fit and proportion of one mouth: every check that can be made on what was measured, and what to measure yet.

The checks judge the teeth as they stand; what sharing the spaces makes of them is in :mod:`planner.rules.spaces`.
Bounds are settings with their sources (data/proportions.toml, data/space_limits.toml). A datum nobody took is asked
for.
"""

from planner.rules import fit_front, fit_gum, fit_place
from planner.rules.fit_front import Mouth, missing
from planner.rules.fit_results import FitChecks, FitGroup, numbered_sources
from planner.rules.mouth import CaseFacts
from planner.rules.proportions import SumPart, SumRule, sum_norm, sum_populations
from planner.rules.space_limits import SpaceLimits


def fit_checks(
    facts: CaseFacts, limits: SpaceLimits, *, population: str | None = None, rule: SumRule | None = None
) -> FitChecks:
    """All checks of ``facts``, group by group, with their sources numbered.

    ``population`` names the norm of the tooth-size sums and ``rule`` what makes a difference significant; None takes
    the settings. Raises ValueError for a population that no norm knows.
    """
    if population is not None and population not in populations():
        sum_norm(SumPart.OVERALL, population)
    mouth = Mouth(facts, limits)
    if not mouth.front:
        groups: tuple[FitGroup, ...] = (_nothing_measured(), fit_place.identity_group(mouth))
    else:
        groups = (
            fit_place.identity_group(mouth),
            fit_front.shape_group(mouth),
            fit_front.pair_group(mouth),
            fit_front.neighbour_group(mouth),
            fit_front.front_view_group(mouth),
            fit_gum.sum_group(mouth, population, rule),
            fit_gum.papilla_group(mouth),
            fit_gum.connector_group(mouth),
            fit_gum.gum_group(mouth),
        )
    groups = (
        *groups,
        fit_place.implant_group(mouth),
        fit_place.removal_group(mouth),
        fit_place.movement_group(mouth),
    )
    groups = tuple(group for group in groups if group.checks or group.notes)
    return FitChecks(groups, numbered_sources(groups))


def populations() -> tuple[str, ...]:
    """Names of every norm of the tooth-size sums, those for all twelve teeth only among them."""
    return tuple(dict.fromkeys(name for part in SumPart for name in sum_populations(part)))


def _nothing_measured() -> FitGroup:
    words = "No upper front tooth is recorded: measure the upper front teeth first."
    return FitGroup(
        "shape",
        "Width to length",
        "Nothing can be judged before something is measured.",
        (missing("the upper front teeth", "width and length", words, "width_length_accepted"),),
    )
