"""Does a course answer what the patient asked for? Computed from the dentist's targets, never from the words."""

from collections.abc import Mapping

from planner.rules.courses import Course
from planner.rules.mouth import CaseFacts, Wish, WishTarget
from planner.rules.results import WishAnswer
from planner.rules.teeth import Tooth
from planner.rules.treatments import Treatment
from planner.rules.words import mm, the, told

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
        why = told("No target is set for this wish, so it cannot be computed.")
        return WishAnswer(wish.rank, wish.words, None, why)
    parts = [_target(target, course, facts, treatments) for target in wish.targets]
    met = all(held for held, _ in parts)
    why = " ".join(words for held, words in parts if held is met)
    return WishAnswer(wish.rank, wish.words, met, why)


def _target(
    target: WishTarget, course: Course, facts: CaseFacts, treatments: Mapping[str, Treatment]
) -> tuple[bool, str]:
    label = told(" and ").join(the(tooth.label(facts.numbering)) for tooth in target.teeth)
    match target.kind:
        case "gap closed":
            return _gap(target, course, label, _keys(treatments, frozenset({"teeth moved"})))
        case "tooth larger":
            yes, no = told("{teeth} become larger.", teeth=label), told("{teeth} stay as they are.", teeth=label)
            if len(target.teeth) == 1:
                yes, no = told("{tooth} becomes larger.", tooth=label), told("{tooth} stays as it is.", tooth=label)
            return _worked(target.teeth, course, _keys(treatments, ENLARGING), yes, no)
        case "edge shorter":
            yes = told("the edges of {teeth} become shorter.", teeth=label)
            no = told("the edges of {teeth} stay.", teeth=label)
            if len(target.teeth) == 1:
                yes = told("the edge of {tooth} becomes shorter.", tooth=label)
                no = told("the edge of {tooth} stays.", tooth=label)
            return _worked(target.teeth, course, _keys(treatments, SHORTENING), yes, no)
        case "colour lighter":
            held = "whitening" in course.treatments
            return held, told("The teeth become lighter.") if held else told("The colour stays as it is.")
        case "tooth replaced":
            held = set(target.teeth) <= set(course.places_filled)
            if len(target.teeth) == 1:
                words = told("{tooth} is replaced." if held else "{tooth} is not replaced.", tooth=label)
            else:
                words = told("{teeth} are replaced." if held else "{teeth} are not replaced.", teeth=label)
            return held, f"{words[0].upper()}{words[1:]}"
        case "no sound tooth cut":
            return _uncut(course, facts, treatments)


def _gap(target: WishTarget, course: Course, label: str, movers: frozenset[str]) -> tuple[bool, str]:
    wanted = frozenset(target.teeth)
    for right, left, tenths in course.gaps_left:
        if wanted == {right, left}:
            return False, told("The gap between {teeth} stays {mm} mm wide.", teeth=label, mm=mm(tenths))
    if movers & set(course.treatments):
        return True, told("The gap between {teeth} is closed by moving teeth.", teeth=label)
    if any(wanted == set(pair) for pair in course.gaps_closed):
        return True, told("The gap between {teeth} is closed.", teeth=label)
    return False, told("The gap between {teeth} stays.", teeth=label)


def _keys(treatments: Mapping[str, Treatment], kinds: frozenset[str]) -> frozenset[str]:
    return frozenset(key for key, treatment in treatments.items() if treatment.works_on in kinds)


def _worked(teeth: tuple[Tooth, ...], course: Course, kinds: frozenset[str], yes: str, no: str) -> tuple[bool, str]:
    worked = {work.tooth for work in course.work if work.treatment in kinds}
    held = bool(teeth) and set(teeth) <= worked
    words = yes if held else no
    return held, f"{words[0].upper()}{words[1:]}"


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
        return False, told("Up to {mm} mm is taken off sound teeth.", mm=mm(most))
    removed = [work for work in course.work if work.removal and not work.fills_place]
    if removed:
        named = ", ".join(
            told("{mm} mm off the {tooth}", mm=mm(work.removal), tooth=work.tooth.label(facts.numbering))
            for work in removed
            if work.tooth
        )
        return True, told("Only what was agreed is taken off: {teeth}.", teeth=named)
    return True, told("No sound tooth is cut.")
