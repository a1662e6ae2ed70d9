"""What sharing the spaces came to, laid out for the page: pictures, tables, figures, and how each was reached.

Nothing is computed anew here but sums of what stands beside them.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _now

from planner.plans.space_names import RULES, SIDES, WORDS, plan_name
from planner.rules.contradictions import doubts
from planner.rules.mouth import CaseFacts
from planner.rules.results import SpacePlanShape, SpaceShape, ToothShape
from planner.rules.segments import front_teeth
from planner.rules.strip import StripTable, Words, budget, plan_of_today, strip_table
from planner.rules.strip_svg import SCREEN, strip_svg
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a plan and how it was reached."""

    words: str
    value: str
    how: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SideRow:
    """The free space of one side and where it goes."""

    side: str
    free: str
    spent: str


@dataclass(frozen=True, slots=True)
class ShownPlan:
    """One plan, drawn, tabled and counted."""

    key: str
    name: str
    offered: bool
    why_not: str
    strip: SafeString
    table: StripTable
    figures: tuple[Figure, ...]
    sides: tuple[SideRow, ...]


@dataclass(frozen=True, slots=True)
class OverviewRow:
    """One tooth in every plan: what is done, and the word for how it comes out."""

    tooth: str
    stands: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Conflict:
    """Rules and locks that would have to give way together."""

    words: str
    rules: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ShownSpaces:
    """The whole answer."""

    verdict: str
    sentence: str
    questions: tuple[str, ...]
    today: SafeString | None
    plans: tuple[ShownPlan, ...]
    overview: tuple[OverviewRow, ...]
    conflicts: tuple[Conflict, ...]
    movement: str
    comfortable: str
    doubts: tuple[str, ...]
    request: tuple[str, ...]
    how: tuple[str, ...]


def shown_spaces(shape: SpaceShape, facts: CaseFacts) -> ShownSpaces:
    """The answer ``shape`` to ``facts``, ready for the page."""
    words = strip_words_of(facts)
    moves = _moves(shape.movement, words)
    comfortable = _moves(shape.comfortable_movement, words)
    return ShownSpaces(
        verdict=shape.verdict,
        sentence=shape.sentence,
        questions=shape.questions,
        today=_today(facts, words),
        plans=tuple(_plan(plan, words, facts) for plan in shape.plans),
        overview=tuple(_overview(shape, words)),
        conflicts=tuple(_conflict(rules) for rules in shape.conflicts),
        movement=moves,
        comfortable=comfortable if comfortable != moves else "",
        doubts=tuple(sentence for _path, sentence in doubts(facts.examination)),
        request=shape.request,
        how=shape.how,
    )


def strip_words_of(facts: CaseFacts) -> Words:
    """How the teeth of the drawings are written, and where those stand that stand in another's place."""
    places = {found.tooth: found.place for found in facts.examination.teeth if found.place is not None}
    return Words({}, Numbering(facts.numbering), places)


def _drawn(plan: SpacePlanShape, words: Words, prefix: str, heading: str, facts: CaseFacts) -> SafeString:
    offset = facts.examination.midline_offset
    drawing = strip_svg(plan, words, prefix, scale=SCREEN, heading=heading, midline_offset=offset)
    return mark_safe(drawing)  # noqa: S308 - every text in it is escaped there


def _today(facts: CaseFacts, words: Words) -> SafeString | None:
    teeth = front_teeth(facts)
    if not any(tooth.width for tooth in teeth):
        return None
    return _drawn(plan_of_today(teeth, facts.examination.gaps), words, "today", _now("Today"), facts)


def _plan(plan: SpacePlanShape, words: Words, facts: CaseFacts) -> ShownPlan:
    name = name_of(plan)
    return ShownPlan(
        key=plan.key,
        name=name,
        offered=plan.offered,
        why_not=_now("Computed, not offered: %(why)s.") % {"why": plan.not_offered_because}
        if plan.not_offered_because
        else "",
        strip=_drawn(plan, words, plan.key, name, facts),
        table=strip_table(plan, words),
        figures=tuple(_figures(plan, words)),
        sides=tuple(_sides(plan, words)),
    )


def _overview(shape: SpaceShape, words: Words) -> Iterator[OverviewRow]:
    for index, tooth in enumerate(shape.plans[0].teeth if shape.plans else ()):
        shapes = [plan.teeth[index] for plan in shape.plans]
        cells = tuple((_in_short(each), str(WORDS[each.word]) if each.word else "") for each in shapes)
        yield OverviewRow(words.both(tooth.tooth), words.stands(tooth.tooth), cells)


def _in_short(shape: ToothShape) -> str:
    wider = shape.width_after_tenths - shape.width_tenths
    longer = shape.lengthening_tenths - shape.shortening_tenths
    parts = [
        f"{words} {'+' if tenths > 0 else '−'}{format_mm(abs(tenths))}"
        for words, tenths in ((_now("width"), wider), (_now("length"), longer))
        if tenths
    ]
    return ", ".join(parts)


def name_of(plan: SpacePlanShape) -> str:
    """What a plan is best at, as a heading."""
    name = ", ".join(map(plan_name, plan.names))
    return name[:1].upper() + name[1:]


def _figures(plan: SpacePlanShape, words: Words) -> Iterator[Figure]:
    touched = [shape for shape in plan.teeth if _touched(shape)]
    yield Figure(_now("teeth touched"), str(len(touched)), tuple(_done(shape, words) for shape in touched))
    yield Figure(
        _now("mm taken away"),
        format_mm(plan.removed_tenths),
        tuple(
            _now("%(tooth)s is shortened by %(mm)s mm")
            % {"tooth": words.both(shape.tooth), "mm": format_mm(shape.shortening_tenths)}
            for shape in touched
            if shape.shortening_tenths
        ),
    )
    yield Figure(_now("mm added in all"), format_mm(plan.material_tenths), _added(plan, words))
    yield Figure(_now("mm, largest share"), format_mm(plan.largest_share_tenths), _largest(plan, words))
    yield Figure(
        _now("shares beyond comfort"),
        str(plan.comfort),
        tuple(
            f"{words.both(shape.tooth)}, {shape.word}: {shape.word_reason}"
            for shape in touched
            if shape.word_reason and plan.comfort
        ),
    )
    parts = tuple(
        _now("%(words)s: %(points)s points") % {"words": part, "points": format_mm(points)}
        for part, points in plan.misfit_parts
    )
    yield Figure(_now("points of misfit"), format_mm(plan.misfit), parts)


def _touched(shape: ToothShape) -> bool:
    return bool(shape.right_tenths or shape.left_tenths or shape.lengthening_tenths or shape.shortening_tenths)


def _done(shape: ToothShape, words: Words) -> str:
    parts = [
        f"{label} {format_mm(tenths)}"
        for label, tenths in (
            (_now("toward the midline"), shape.mesial_tenths),
            (_now("away from it"), shape.distal_tenths),
            (_now("longer by"), shape.lengthening_tenths),
            (_now("shorter by"), shape.shortening_tenths),
        )
        if tenths
    ]
    return f"{words.both(shape.tooth)}: {', '.join(parts)} mm"


def _added(plan: SpacePlanShape, words: Words) -> tuple[str, ...]:
    parts = [
        (words.number(shape.tooth), tenths)
        for shape in plan.teeth
        for tenths in (shape.right_tenths, shape.left_tenths, shape.lengthening_tenths)
        if tenths
    ]
    if not parts:
        return ()
    summed = " + ".join(f"{format_mm(tenths)} ({number})" for number, tenths in parts)
    return (f"{summed} = {format_mm(sum(tenths for _number, tenths in parts))}",)


def _largest(plan: SpacePlanShape, words: Words) -> tuple[str, ...]:
    most = plan.largest_share_tenths
    sides = [
        _now("%(tooth)s, on the patient's %(side)s") % {"tooth": words.both(shape.tooth), "side": side}
        for shape in plan.teeth
        for side, tenths in ((_now("right"), shape.right_tenths), (_now("left"), shape.left_tenths))
        if most and tenths == most
    ]
    return tuple(sides)


def _sides(plan: SpacePlanShape, words: Words) -> Iterator[SideRow]:
    for side in budget(plan):
        spent = [
            f"{format_mm(tenths)} {_now('to %(tooth)s') % {'tooth': words.number(tooth)}}"
            if tooth is not None
            else f"{format_mm(tenths)} {_now('stays open')}"
            for tooth, tenths in side.spent
        ]
        yield SideRow(str(SIDES[side.side]), format_mm(side.free_tenths), ", ".join(spent) or "–")


def _conflict(names: tuple[str, ...]) -> Conflict:
    rules = tuple((name, str(RULES.get(name, ""))) for name in names)
    return Conflict(", ".join(names), rules)


def _moves(moves: tuple[tuple[Tooth, Tooth, int], ...], words: Words) -> str:
    close = _now("close %(mm)s mm between %(right)s and %(left)s")
    open_ = _now("open %(mm)s mm between %(right)s and %(left)s")
    said = [
        (close if by < 0 else open_) % {"mm": format_mm(abs(by)), "right": words.both(right), "left": words.both(left)}
        for right, left, by in moves
    ]
    total = sum(abs(by) for _right, _left, by in moves)
    return f"{', '.join(said)} ({format_mm(total)} mm)" if len(said) > 1 else "".join(said)
