"""Does a course answer what the patient asked for? Computed from the dentist's targets, never from the words."""

from collections.abc import Mapping

from planner.rules.courses import Course
from planner.rules.mouth import CaseFacts, Wish, WishTarget
from planner.rules.results import WishAnswer
from planner.rules.teeth import Tooth
from planner.rules.treatments import Treatment
from planner.rules.units import format_mm

ENLARGING = frozenset({"spaces", "faces", "crowns"})
SHORTENING = frozenset({"edges", "faces", "crowns"})
"""What makes a tooth larger, and what an edge shorter, by what a treatment works on."""


def answers(course: Course, facts: CaseFacts, treatments: Mapping[str, Treatment]) -> tuple[WishAnswer, ...]:
    """For each wish, by rank: met, not met, or None where it has no targets; with the reason in words."""
    return tuple(_answer(wish, course, facts, treatments) for wish in sorted(facts.wishes, key=lambda wish: wish.rank))


def meets_all(found: tuple[WishAnswer, ...]) -> bool:
    """Whether every wish that can be computed is met; without any such wish nothing is known to be met."""
    computed = [answer.met for answer in found if answer.met is not None]
    return bool(computed) and all(computed)


def _answer(wish: Wish, course: Course, facts: CaseFacts, treatments: Mapping[str, Treatment]) -> WishAnswer:
    if not wish.targets:
        why = "No target is set for this wish, so it cannot be computed."
        return WishAnswer(wish.rank, wish.words, None, why)
    parts = [_target(target, course, facts, treatments) for target in wish.targets]
    met = all(held for held, _ in parts)
    why = " ".join(words for held, words in parts if held is met)
    return WishAnswer(wish.rank, wish.words, met, why)


def _target(
    target: WishTarget, course: Course, facts: CaseFacts, treatments: Mapping[str, Treatment]
) -> tuple[bool, str]:
    label = " and ".join(f"the {tooth.label(facts.numbering)}" for tooth in target.teeth)
    match target.kind:
        case "gap closed":
            return _gap(target, course, label, _keys(treatments, frozenset({"teeth moved"})))
        case "tooth larger":
            yes, no = (f"{label} become larger", f"{label} stay as they are")
            if len(target.teeth) == 1:
                yes, no = f"{label} becomes larger", f"{label} stays as it is"
            return _worked(target.teeth, course, _keys(treatments, ENLARGING), yes, no)
        case "edge shorter":
            yes, no = (f"the edges of {label} become shorter", f"the edges of {label} stay")
            if len(target.teeth) == 1:
                yes, no = f"the edge of {label} becomes shorter", f"the edge of {label} stays"
            return _worked(target.teeth, course, _keys(treatments, SHORTENING), yes, no)
        case "colour lighter":
            held = "whitening" in course.treatments
            return held, "The teeth become lighter." if held else "The colour stays as it is."
        case "tooth replaced":
            held = set(target.teeth) <= set(course.places_filled)
            verb = "is" if len(target.teeth) == 1 else "are"
            words = f"{label} {verb} {'replaced' if held else 'not replaced'}."
            return held, f"{words[0].upper()}{words[1:]}"
        case "no sound tooth cut":
            return _uncut(course, facts, treatments)


def _gap(target: WishTarget, course: Course, label: str, movers: frozenset[str]) -> tuple[bool, str]:
    wanted = frozenset(target.teeth)
    for right, left, tenths in course.gaps_left:
        if wanted == {right, left}:
            return False, f"The gap between {label} stays {format_mm(tenths)} mm wide."
    if movers & set(course.treatments):
        return True, f"The gap between {label} is closed by moving teeth."
    if any(wanted == set(pair) for pair in course.gaps_closed):
        return True, f"The gap between {label} is closed."
    return False, f"The gap between {label} stays."


def _keys(treatments: Mapping[str, Treatment], kinds: frozenset[str]) -> frozenset[str]:
    return frozenset(key for key, treatment in treatments.items() if treatment.works_on in kinds)


def _worked(teeth: tuple[Tooth, ...], course: Course, kinds: frozenset[str], yes: str, no: str) -> tuple[bool, str]:
    worked = {work.tooth for work in course.work if work.treatment in kinds}
    held = bool(teeth) and set(teeth) <= worked
    words = yes if held else no
    return held, f"{words[0].upper()}{words[1:]}."


def _uncut(course: Course, facts: CaseFacts, treatments: Mapping[str, Treatment]) -> tuple[bool, str]:
    """Sound teeth keep their substance, but for what the patient agreed to."""
    agreed = facts.limits.removal or 0
    sound = {tooth.tooth for tooth in facts.examination.teeth if not tooth.crowned and not tooth.crown_lost_percent}
    cut = [
        work
        for work in course.work
        if work.tooth in sound and not work.extracted and not work.fills_place and work.removal > agreed
    ]
    if cut:
        most = max(work.removal for work in cut)
        return False, f"Up to {format_mm(most)} mm is taken off sound teeth."
    removed = [work for work in course.work if work.removal and not work.fills_place]
    if removed:
        named = ", ".join(
            f"{format_mm(work.removal)} mm off the {work.tooth.label(facts.numbering)}"
            for work in removed
            if work.tooth
        )
        return True, f"Only what was agreed is taken off: {named}."
    return True, "No sound tooth is cut."
