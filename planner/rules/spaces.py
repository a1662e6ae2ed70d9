"""Sharing space: can adding material alone close the gaps between upper front teeth, how best, and if not, what then.

:func:`share_space` is the one call. It reads a :class:`~planner.rules.space_model.Segment` and answers up to three
plans, each the exact optimum of its own order of goals, or says which rules stand in the way and how far teeth would
have to move first. Nothing is removed by the model unless the dentist named the tooth. Source of the model: common
practice; the figures and their sources are in ``data/space_limits.toml``.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Protocol

from planner.rules.space_conflicts import Explanation, explain
from planner.rules.space_limits import SpaceLimits, default_limits
from planner.rules.space_model import Film, Segment
from planner.rules.space_plan import build_plan
from planner.rules.space_results import Goal, SpacePlan, SpaceResult, SpaceVerdict, moves_in_words
from planner.rules.space_search import search
from planner.rules.space_tables import Tables
from planner.rules.space_task import Found, Quantity, Task
from planner.rules.units import format_mm
from planner.rules.words import decimal, listed, mm, told

_FEWEST = (Quantity.REMOVED, Quantity.COMFORT, Quantity.TOUCHING, Quantity.MISFIT, Quantity.MATERIAL)
_PROPORTION = (Quantity.REMOVED, Quantity.COMFORT, Quantity.MISFIT, Quantity.TOUCHING, Quantity.MATERIAL)


def share_space(segment: Segment, limits: SpaceLimits | None = None) -> SpaceResult:
    """Share the space of one segment: plans, or why not and what would have to move.

    Lengths in 0.1 mm. ``limits`` are the shipped settings where left out. A gap of 0.1 or 0.2 mm whose film question
    was not asked gives the verdict that asks it, and no plan. Never raises for a segment that could be built.
    """
    limits = limits or default_limits()
    asked = film_questions(segment, limits)
    if asked:
        return SpaceResult(segment, SpaceVerdict.ASK_FILM, _film_sentence(segment, asked), ask_gaps=asked)
    tight = settled(segment, limits)
    plans = space_plans(tight, limits)
    if plans:
        return SpaceResult(segment, SpaceVerdict.FITS, _fits_sentence(plans), plans=plans)
    why = explain(tight, limits)
    verdict = _refusal(why, limits)
    return SpaceResult(
        segment,
        verdict,
        _refusal_sentence(tight, why, verdict),
        part_closing=why.part_closing,
        conflicts=why.conflicts,
        lock_faults=why.lock_faults,
        shut_in_gaps=why.shut_in_gaps,
        movement=why.movement,
        comfortable_movement=why.comfortable_movement,
    )


def film_questions(segment: Segment, limits: SpaceLimits) -> tuple[int, ...]:
    """Indices of the gaps so narrow that the film question must be asked first, and was not."""
    narrow = (0 < gap <= limits.film_max and not place for gap, place in zip(segment.room, segment.places, strict=True))
    pairs = enumerate(zip(narrow, segment.films, strict=True))
    return tuple(index for index, (asks, film) in pairs if asks and film is Film.NOT_ASKED)


def settled(segment: Segment, limits: SpaceLimits) -> Segment:
    """The segment with every narrow gap that is tight to a strip counted as a contact."""
    tight = [
        0 < gap <= limits.film_max and film is Film.TIGHT for gap, film in zip(segment.gaps, segment.films, strict=True)
    ]
    if not any(tight):
        return segment
    return replace(
        segment,
        gaps=tuple(0 if shut else gap for gap, shut in zip(segment.gaps, tight, strict=True)),
        gap_locks=tuple(None if shut else lock for lock, shut in zip(segment.locked_gaps, tight, strict=True)),
    )


# ------------------------------------------------------------------------------------------------ the three plans


def space_plans(segment: Segment, limits: SpaceLimits) -> tuple[SpacePlan, ...]:
    """The plans of the three goals, merged where they do not differ; empty when nothing fits.

    The segment's film questions must be settled. Order: fewest teeth, best proportion, smallest shares.
    """
    tables = Tables(limits)
    best = best_found(segment, limits, Goal.BEST_PROPORTION, tables)
    if best is None:
        return ()
    fewest = best_found(segment, limits, Goal.FEWEST_TEETH, tables)
    smallest = _smallest_shares(segment, limits, best, tables)
    assert fewest is not None  # the same limits: what fits one order of goals fits them all
    answers = (Goal.FEWEST_TEETH, fewest), (Goal.BEST_PROPORTION, best), (Goal.SMALLEST_SHARES, smallest)
    return _merged(limits, *(build_plan(segment, limits, found, (goal,)) for goal, found in answers))


def best_plan(segment: Segment, limits: SpaceLimits, goal: Goal) -> SpacePlan | None:
    """The plan of one goal alone, or None when nothing fits. The segment's film questions must be settled."""
    found = best_found(segment, limits, goal, Tables(limits))
    return None if found is None else build_plan(segment, limits, found, (goal,))


def best_found(segment: Segment, limits: SpaceLimits, goal: Goal, tables: Tables) -> Found | None:
    """The bare answer behind :func:`best_plan`. ``tables`` may serve many segments under the same limits."""
    if goal is Goal.FEWEST_TEETH:
        return search(segment, limits, Task(order=_FEWEST, ties=True), tables)
    best = search(segment, limits, Task(order=_PROPORTION, ties=True), tables)
    if best is None or goal is Goal.BEST_PROPORTION:
        return best
    return _smallest_shares(segment, limits, best, tables)


def _smallest_shares(segment: Segment, limits: SpaceLimits, best: Found, tables: Tables) -> Found:
    # The largest share is no sum, so it is found by halving: the least cap that costs neither removal nor comfort.
    first = Task(order=_PROPORTION[:2])

    def does(cap: int) -> bool:
        return search(segment, limits, replace(first, largest_share=cap, at_most=lost), tables) is not None

    reference = search(segment, limits, first, tables)
    assert reference is not None
    lost = reference.cost
    high = max(max(choice.share_right, choice.share_left) for choice in best.choices)
    low = 0  # the best proportion itself lies within its own largest share
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if does(middle) else (middle + 1, high)
    found = search(segment, limits, Task(order=_PROPORTION, ties=True, largest_share=high), tables)
    assert found is not None
    return found


def _merged(limits: SpaceLimits, *plans: SpacePlan) -> tuple[SpacePlan, ...]:
    # Best proportion gathers first, then fewest teeth: the gatherer's numbers are the ones shown.
    by_goal = {plan.goals[0]: plan for plan in plans}
    best = by_goal[Goal.BEST_PROPORTION]
    groups: list[SpacePlan] = []
    for goal in (Goal.BEST_PROPORTION, Goal.FEWEST_TEETH, Goal.SMALLEST_SHARES):
        plan = by_goal[goal]
        for index, other in enumerate(groups):
            if not plans_differ(plan, other, limits):
                groups[index] = replace(other, goals=(*other.goals, goal))
                break
        else:
            groups.append(plan)
    order = list(Goal)
    told = [replace(plan, goals=tuple(sorted(plan.goals, key=order.index))) for plan in groups]
    told.sort(key=lambda plan: order.index(plan.goals[0]))
    return tuple(_offer(limits, plan, best) for plan in told)


def _offer(limits: SpaceLimits, plan: SpacePlan, best: SpacePlan) -> SpacePlan:
    over = plan.misfit - best.misfit
    if plan.goals != (Goal.SMALLEST_SHARES,) or over <= limits.smallest_shares_margin:
        return plan
    return replace(
        plan,
        offered=False,
        not_offered_because=(
            f"its misfit of {format_mm(plan.misfit)} is {format_mm(over)} above the best proportion's; "
            f"at most {format_mm(limits.smallest_shares_margin)} above is offered"
        ),
    )


def plans_differ(one: SpacePlan, other: SpacePlan, limits: SpaceLimits) -> bool:
    """Whether two plans of one segment differ: in a touched tooth, at some contact, or in a lengthening."""
    if one.touched != other.touched:
        return True
    pairs = list(zip(one.changes, other.changes, strict=True))
    if any(abs(a.lengthening - b.lengthening) >= limits.plans_differ_lengthening for a, b in pairs):
        return True
    return bool(moved_contacts(one.changes, other.changes, limits.plans_differ_contact))


class _Shared(Protocol):
    """A tooth with its shares: a choice of the search, or the change of a plan."""

    @property
    def share_right(self) -> int: ...
    @property
    def share_left(self) -> int: ...


def moved_contacts(one: Sequence[_Shared], other: Sequence[_Shared], least: int) -> tuple[int, ...]:
    """The gaps at which a finished side lies at least ``least`` (0.1 mm) elsewhere in the other plan."""
    found = []
    for gap, ((a, b), (c, d)) in enumerate(zip(pairwise(one), pairwise(other), strict=True)):
        if max(abs(a.share_left - c.share_left), abs(b.share_right - d.share_right)) >= least:
            found.append(gap)
    return tuple(found)


# ------------------------------------------------------------------------------------------------ sentences


def _film_sentence(segment: Segment, asked: tuple[int, ...]) -> str:
    where = listed([f"{segment.gap_name(gap)} ({mm(segment.room[gap])} mm)" for gap in asked])
    return told(
        "Ask first about {gaps}: is it tight to a {strip} mm strip, or may a film of resin close it?",
        gaps=where,
        strip=decimal("0.05"),
    )


def _fits_sentence(plans: tuple[SpacePlan, ...]) -> str:
    first = plans[0]
    bonded = [change.key for change in first.changes if change.bonded]
    reshaped = [change.key for change in first.changes if change.touched and not change.bonded]
    if not bonded and not reshaped:
        return told("Nothing needs to be added: the teeth already stand within every limit.")
    parts = ([told("adding to {teeth}", teeth=listed(bonded))] if bonded else []) + (
        [told("shortening {teeth}", teeth=listed(reshaped))] if reshaped else []
    )
    how = told(" and ").join(parts)
    ways = sum(plan.offered for plan in plans)
    if ways == 1:
        return told("The space can be shared without moving teeth by {how}.", how=how)
    return told("The space can be shared without moving teeth by {how}; {n} ways are offered.", how=how, n=ways)


def _refusal(why: Explanation, limits: SpaceLimits) -> SpaceVerdict:
    if why.movement is None:
        return SpaceVerdict.IMPOSSIBLE
    return SpaceVerdict.MEASURE_AGAIN if why.movement.total <= limits.gap_error else SpaceVerdict.TEETH_FIRST


def _refusal_sentence(segment: Segment, why: Explanation, verdict: SpaceVerdict) -> str:
    if why.lock_faults:
        return told("The locks cannot be met: {faults}.", faults="; ".join(why.lock_faults))
    parts = [told("Adding material alone cannot share this space{reason}", reason=_reason(segment, why))]
    if why.movement is None:
        parts.append(told("no movement of the teeth within reach changes that"))
    elif verdict is SpaceVerdict.MEASURE_AGAIN:
        gaps = listed([f"{'·'.join(move.between)}" for move in why.movement.moves])
        template = (
            "measure this gap again ({gaps}): {mm} mm decides, within the error of a gap"
            if len(why.movement.moves) == 1
            else "measure these gaps again ({gaps}): {mm} mm decides, within the error of a gap"
        )
        parts.append(told(template, gaps=gaps, mm=mm(why.movement.total)))
    else:
        parts.append(told("orthodontics first: {moves}", moves=moves_in_words(why.movement)))
        comfortable = why.comfortable_movement
        if comfortable is not None and comfortable.total > why.movement.total:
            parts.append(told("comfortable after {mm} mm", mm=mm(comfortable.total)))
    if why.part_closing is not None:
        stays = [
            told("{mm} mm at {gap}", mm=mm(left), gap=segment.gap_name(gap))
            for gap, left in enumerate(why.part_closing.gaps_left)
            if left and not segment.places[gap]
        ]
        parts.append(told("closing only a part would leave {gaps}", gaps=listed(stays)))
    return "; ".join(parts) + "."


def _reason(segment: Segment, why: Explanation) -> str:
    if why.shut_in_gaps:
        where = listed([segment.gap_name(gap) for gap in why.shut_in_gaps])
        return told(" ({gap} lies between teeth that are not to be touched)", gap=where)
    if not why.conflicts:
        return ""
    first = why.conflicts[0]
    names = [*(str(rule) for rule in first.rules), *first.locks]
    template = " ({rules} stands in the way)" if len(names) == 1 else " ({rules} stand in the way)"
    if len(why.conflicts) > 1:
        template = (
            " ({rules} stands in the way, or other sets of rules)"
            if len(names) == 1
            else " ({rules} stand in the way, or other sets of rules)"
        )
    return told(template, rules=listed(names))
