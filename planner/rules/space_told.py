"""The answer of the space-sharing model in the words and teeth of a case.

:mod:`planner.rules.segments` puts the case before the model.
"""

import re
from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise

from planner.rules.mouth import CaseFacts
from planner.rules.ortho_request import orthodontic_request
from planner.rules.results import GapShape, SpacePlanShape, SpaceShape, ToothShape
from planner.rules.segments import teeth_by_key
from planner.rules.space_limits import SpaceLimits
from planner.rules.space_model import Segment, mesial_is_left
from planner.rules.space_results import Movement, Remeasure, Rule, SpacePlan, SpaceResult, SpaceVerdict, ToothChange
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm
from planner.rules.words import decimal, drawn_together, mm, the, told

_VERDICTS = {
    SpaceVerdict.FITS: "shared",
    SpaceVerdict.ASK_FILM: "film question",
    SpaceVerdict.MEASURE_AGAIN: "measure again",
    SpaceVerdict.TEETH_FIRST: "orthodontics first",
    SpaceVerdict.IMPOSSIBLE: "impossible",
}

PLAN_WORDS = {
    "fewest-teeth": ("fewest teeth", "menos dientes"),
    "best-proportion": ("best proportion", "mejor proporción"),
    "smallest-shares": ("smallest shares", "añadidos más pequeños"),
    "part-closing": ("closing a part", "cerrar una parte"),
}
"""What each plan is best at, by its key, in English and Spanish."""

_RULES_IN_WORDS = {
    Rule.SHARE_CAP: "how much may be added to one side",
    Rule.EMERGENCE: "how steep a side may rise from the gum",
    Rule.LENGTHEN_CAP: "how much longer an edge may get",
    Rule.SHAPE: "how wide a tooth may be for its length",
    Rule.PROPORTION: "how wide a side tooth may be beside its middle tooth",
    Rule.TWINS: "how alike right and left must stay",
    Rule.MIDLINE: "how far the middle line may move",
}
"""The limits of the model for somebody who does not know their names."""


def in_numbers(words: str, facts: CaseFacts) -> str:
    """A sentence of the model with every tooth as a number of the case's numbering: short, for the dentist's screen."""
    return _told(words, facts, lambda tooth: tooth.written(facts.numbering), "{}·{}")


def in_full(words: str, facts: CaseFacts) -> str:
    """A sentence of the model with teeth by name and both numbers, limits in words: for whatever leaves the house."""
    for rule, meant in _RULES_IN_WORDS.items():
        words = re.sub(rf"\b{rule.value}\b", told(meant), words)
    gap = told("the gap between {right} and {left}", right="{}", left="{}")
    return drawn_together(_told(words, facts, lambda tooth: the(tooth.label(facts.numbering)), gap))


def _told(words: str, facts: CaseFacts, written: Callable[[Tooth], str], gap: str) -> str:
    teeth = teeth_by_key(facts)
    if not teeth:
        return words
    one = "|".join(sorted(map(re.escape, teeth), key=len, reverse=True))

    def put(found: re.Match[str]) -> str:
        names = [written(teeth[key]) for key in found.groups() if key]
        return gap.format(*names) if len(names) == 2 else names[0]

    return re.sub(rf"\b({one})(?:·({one}))?\b", put, words)


def plan_key(plan: SpacePlan) -> str:
    """A stable name for a plan: its first goal, or closing a part."""
    return plan.goals[0].value.replace(" ", "-") if plan.goals else "part-closing"


def chosen_plan(result: SpaceResult) -> SpacePlan | None:
    """The plan that the bonding option carries out unless the dentist picks another: the first that does anything."""
    return next((plan for plan in result.offered if plan.touched), None)


def space_shape(
    result: SpaceResult, facts: CaseFacts, limits: SpaceLimits, remeasure: tuple[Remeasure, ...] = ()
) -> SpaceShape:
    """The answer in the words and teeth of the case plan."""
    teeth = teeth_by_key(facts)
    plans = [*result.plans, *([result.part_closing] if result.part_closing else [])]
    chosen = chosen_plan(result)
    return SpaceShape(
        verdict=_VERDICTS[result.verdict],
        sentence=in_numbers(result.sentence, facts),
        plans=tuple(_plan_shape(plan, teeth, facts) for plan in plans),
        chosen=plan_key(chosen) if chosen else "",
        conflicts=tuple(
            (
                *(rule.value for rule in conflict.rules),
                *(f"lock: {in_numbers(words, facts)}" for words in conflict.locks),
            )
            for conflict in result.conflicts
        ),
        movement=_moves(result.movement, result.segment, teeth),
        comfortable_movement=_moves(result.comfortable_movement, result.segment, teeth),
        questions=tuple(
            in_full(
                told(
                    "{mm} mm at {gap}: is the contact tight to a {strip} mm strip, or may a film of resin close it?",
                    mm=mm(result.segment.gaps[index]),
                    gap=result.segment.gap_name(index),
                    strip=decimal("0.05"),
                ),
                facts,
            )
            for index in result.ask_gaps
        ),
        remeasure=tuple(remeasure_words(item, facts) for item in remeasure),
        request=orthodontic_request(result, limits, facts.examination, lambda key: _both(teeth[key], facts)),
        how=tuple(in_numbers(words, facts) for words in _how(result)),
    )


def _both(tooth: Tooth, facts: CaseFacts) -> str:
    """A tooth with both common numbers: a request that leaves the house must not be read in the wrong one."""
    other = f"ISO {tooth.iso}" if facts.numbering is Numbering.UNIVERSAL else f"Universal {tooth.universal}"
    return f"{tooth.written(facts.numbering)} ({other})"


def _how(result: SpaceResult) -> tuple[str, ...]:
    segment = result.segment
    widths = ", ".join(f"{tooth.key} {format_mm(tooth.width)}" for tooth in segment.teeth)
    shared = [(j, gap) for j, gap in enumerate(segment.gaps) if not segment.places[j]]
    gaps = ", ".join(f"{segment.gap_name(j)} {format_mm(gap)}" for j, gap in shared)
    empty = [
        f"Empty place at {segment.gap_name(j)}, {format_mm(gap)} mm: nothing is added into it."
        for j, gap in enumerate(segment.gaps)
        if segment.places[j]
    ]
    return (
        f"Widths today: {widths} mm.",
        f"Gaps at contact height: {gaps} mm, {format_mm(sum(gap for _, gap in shared))} mm in all.",
        *empty,
        "Each gap is shared between its two neighbours in tenths of a millimetre; every way is weighed exactly.",
    )


def _moves(
    movement: Movement | None, segment: Segment, teeth: dict[str, Tooth]
) -> tuple[tuple[Tooth, Tooth, int], ...]:
    if movement is None:
        return ()
    return tuple(
        (teeth[segment.teeth[move.gap].key], teeth[segment.teeth[move.gap + 1].key], move.by) for move in movement.moves
    )


def remeasure_words(item: Remeasure, facts: CaseFacts) -> str:
    """One measurement that decides, and what a little more or less of it changes."""
    effects = [
        f"{words} at {', '.join(map(_signed, steps))}"
        for words, steps in (
            ("the answer changes", item.flips_verdict),
            ("other teeth are touched", item.changes_teeth),
            ("a contact moves by 0.3 mm or more", item.moves_contact),
        )
        if steps
    ]
    return in_numbers(f"{item.what}, read as {format_mm(item.value)} mm: {'; '.join(effects)}.", facts)


def _to(change: ToothChange, *, left: bool) -> int:
    """What one side of a tooth gets of the gap beside it; minus where enamel is taken off it."""
    locks = change.tooth.locks
    return change.share_left - (locks.slender_left or 0) if left else change.share_right - (locks.slender_right or 0)


def _signed(step: int) -> str:
    return format_mm(step) if step < 0 else f"+{format_mm(step)}"


def _plan_shape(plan: SpacePlan, teeth: dict[str, Tooth], facts: CaseFacts) -> SpacePlanShape:
    shapes = tuple(
        ToothShape(
            tooth=teeth[change.key],
            role=change.tooth.role.value,
            width_tenths=change.tooth.width,
            length_tenths=change.tooth.length,
            mesial_tenths=_to(change, left=mesial_is_left(change.tooth)),
            distal_tenths=_to(change, left=not mesial_is_left(change.tooth)),
            right_tenths=_to(change, left=False),
            left_tenths=_to(change, left=True),
            lengthening_tenths=change.lengthening,
            shortening_tenths=change.shortening,
            width_after_tenths=change.width,
            length_after_tenths=change.length,
            ratio_percent=_percent(change.tooth.width, change.tooth.length),
            ratio_after_percent=_percent(change.width, change.length),
            word=change.word.value if change.touched else "",
            word_reason=in_numbers("; ".join(change.reasons), facts) if change.touched else "",
        )
        for change in plan.changes
    )
    gaps = tuple(
        GapShape(
            right_tooth=teeth[right.key],
            left_tooth=teeth[left.key],
            # What the plan shares out: nothing of a gap that is tight to a strip, which counts as a contact.
            width_tenths=_to(right, left=True) + _to(left, left=False) + plan.gaps_left[index],
            to_right_tooth_tenths=_to(right, left=True),
            to_left_tooth_tenths=_to(left, left=False),
            left_open_tenths=plan.gaps_left[index],
        )
        for index, (right, left) in enumerate(pairwise(plan.changes))
    )
    return SpacePlanShape(
        key=plan_key(plan),
        names=tuple(goal.value for goal in plan.goals) or ("closing a part",),
        offered=plan.offered,
        not_offered_because=in_numbers(plan.not_offered_because, facts),
        teeth=shapes,
        gaps=gaps,
        removed_tenths=plan.removed,
        comfort=plan.comfort,
        misfit=plan.misfit,
        touching=plan.touching,
        material_tenths=plan.material,
        largest_share_tenths=plan.largest_share,
        misfit_parts=tuple((in_numbers(item.words, facts), item.points) for item in plan.items),
    )


def _percent(width: int, length: int) -> Decimal:
    return (Decimal(width) * 100 / Decimal(length)).quantize(Decimal("0.1"))
