"""The strip: the upper front teeth to true scale, as plain numbers, and the table behind the picture.

A strip shows the teeth from the patient's right (left in the picture) to the patient's left, with their measured
widths and the gaps between them. :mod:`planner.rules.strip_svg` turns it into a picture.

The gum line is drawn level for every tooth; :mod:`planner.rules.strip_outlines` makes the shapes. Drawing coordinates
are binary floats: they are positions of ink, not measurements, and are only added, multiplied and rounded.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from planner.rules.mouth import Gap, ToothFacts
from planner.rules.results import GapShape, SpacePlanShape, ToothShape, ToothWords
from planner.rules.strip_outlines import Polygon, outlines
from planner.rules.teeth import Kind, Numbering, Side, Tooth
from planner.rules.words import decimal, mm, told

# ---------------------------------------------------------------- what is drawn


def plan_of_today(teeth: Sequence[ToothFacts], gaps: Sequence[Gap]) -> SpacePlanShape:
    """The plan that changes nothing: every gap stays. For a picture of the teeth before any plan exists.

    Teeth without a measured width cannot be placed and are left out; a length that was not measured is 0 and is drawn
    by the kind's usual proportion. Raises ValueError when no tooth has a width.
    """
    shown = sorted((found for found in teeth if found.width is not None), key=lambda found: found.place or found.tooth)
    if not shown:
        raise ValueError("no tooth has a measured width, so that nothing can be drawn")
    widths = {frozenset(gap.between): gap.width for gap in gaps}
    shapes = tuple(_untouched(found) for found in shown)
    between = tuple(
        GapShape(a.tooth, b.tooth, width, 0, 0, width)
        for a, b in pairwise(shapes)
        for width in (widths.get(frozenset((a.tooth, b.tooth)), 0),)
    )
    return SpacePlanShape("today", (), False, shapes, between, 0, 0, 0, 0, 0, 0, ())


def _untouched(found: ToothFacts) -> ToothShape:
    width, length = found.width or 0, found.length or 0
    ratio = (Decimal(width) * 100 / length).quantize(Decimal("0.1"), ROUND_HALF_UP) if length else Decimal(0)
    role = found.role or (found.place or found.tooth).kind.value.removeprefix("primary-")
    return ToothShape(found.tooth, role, width, length, 0, 0, 0, 0, 0, 0, width, length, ratio, ratio, "")


@dataclass(frozen=True, slots=True)
class StripTooth:
    """One tooth as drawn: its shape now and after, in millimetres from the drawing's own left edge and gum line."""

    shape: ToothShape
    now: Polygon
    after: Polygon
    middle: float
    edge: float
    """Lowest point of either outline."""


@dataclass(frozen=True, slots=True)
class StripContact:
    """Where two teeth meet, or the gap that stays between them."""

    gap: GapShape
    left: float
    right: float
    """The open gap after the plan runs from ``left`` to ``right``; the two are equal where the teeth touch."""


@dataclass(frozen=True, slots=True)
class Strip:
    """The geometry of one plan."""

    teeth: tuple[StripTooth, ...]
    contacts: tuple[StripContact, ...]
    width: float
    depth: float
    """Longest tooth, millimetres."""


@dataclass(frozen=True, slots=True)
class SideBudget:
    """The free space of one side and where the plan spends it, tenths of a millimetre."""

    side: str
    """``right``, ``middle`` (between the two centrals) or ``left``."""
    free_tenths: int
    """The gaps, and what is taken off the sides of teeth beside them."""
    spent: tuple[tuple[Tooth | None, int], ...]
    """Tooth that gets it, or None for what stays open."""
    won_tenths: int = 0
    """How much of it is taken off the sides of teeth."""


def geometry(plan: SpacePlanShape) -> Strip:
    """Place every tooth of ``plan`` and compute its outlines. Raises ValueError when teeth and gaps do not match."""
    _check_pairs(plan)
    teeth: list[StripTooth] = []
    contacts: list[StripContact] = []
    x = 0.0
    for index, shape in enumerate(plan.teeth):
        drawn = outlines(shape, x)
        teeth.append(StripTooth(shape, drawn.now, drawn.after, x + shape.width_tenths / 20, drawn.edge))
        x += shape.width_tenths / 10
        if index < len(plan.gaps):
            gap = plan.gaps[index]
            left = x + gap.to_right_tooth_tenths / 10
            contacts.append(StripContact(gap, left, left + gap.left_open_tenths / 10))
            x += gap.width_tenths / 10
    return Strip(tuple(teeth), tuple(contacts), x, max(tooth.edge for tooth in teeth))


def budget(plan: SpacePlanShape) -> tuple[SideBudget, ...]:
    """Free space per side and what the plan does with it; every side's parts sum to its free space."""
    found = []
    for side in ("right", "middle", "left"):
        gaps = [gap for gap in plan.gaps if _side(gap) == side]
        spent: list[tuple[Tooth | None, int]] = []
        for gap in gaps:
            spent += [
                (gap.right_tooth, gap.to_right_tooth_tenths),
                (None, gap.left_open_tenths),
                (gap.left_tooth, gap.to_left_tooth_tenths),
            ]
        won = sum(-tenths for _, tenths in spent if tenths < 0)
        free = sum(gap.width_tenths for gap in gaps) + won
        found.append(SideBudget(side, free, tuple(part for part in spent if part[1] > 0), won))
    return tuple(found)


def _side(gap: GapShape) -> str:
    if gap.right_tooth.side is not gap.left_tooth.side:
        return "middle"
    return "right" if gap.right_tooth.side is Side.RIGHT else "left"


def _check_pairs(plan: SpacePlanShape) -> None:
    if not plan.teeth:
        raise ValueError("a strip needs at least one tooth")
    pairs = list(pairwise(plan.teeth))
    if len(plan.gaps) != len(pairs) or any(
        (gap.right_tooth, gap.left_tooth) != (a.tooth, b.tooth) for gap, (a, b) in zip(plan.gaps, pairs, strict=True)
    ):
        raise ValueError("the gaps of a strip must lie between its teeth, one for each pair of neighbours, in order")
    for gap in plan.gaps:
        if gap.to_right_tooth_tenths + gap.to_left_tooth_tenths + gap.left_open_tenths != gap.width_tenths:
            raise ValueError(f"the gap beside the {gap.right_tooth.name} is not shared out exactly")


@dataclass(frozen=True, slots=True)
class Midline:
    """The middle of the face and the middle of the teeth, millimetres from the drawing's own left edge."""

    face: float
    teeth: float
    words: str


def midline(plan: SpacePlanShape, strip: Strip, offset_tenths: int | None) -> Midline | None:
    """Where the two middles lie; None without a measured offset or where the two centrals are not neighbours.

    ``offset_tenths`` is today's, plus when the teeth stand too far to the patient's left. The plan moves the contact
    of the centrals by half the difference of their two shares.
    """
    contact = next((one for one in strip.contacts if _is_middle(one.gap)), None)
    if offset_tenths is None or contact is None:
        return None
    gap = contact.gap
    shift = gap.to_right_tooth_tenths - gap.to_left_tooth_tenths
    teeth = (contact.left + contact.right) / 2
    face = teeth - shift / 20 - offset_tenths / 10
    now, after = _aside(2 * offset_tenths), _aside(2 * offset_tenths + shift)
    template = "Middle of the teeth beside the face's: {now}, then {then}."
    if not shift:
        template = "Middle of the teeth beside the face's: {now}."
    return Midline(face, teeth, told(template, now=now, then=after))


def _is_middle(gap: GapShape) -> bool:
    return all(one.kind is Kind.CENTRAL for one in (gap.right_tooth, gap.left_tooth)) and _side(gap) == "middle"


def _aside(twentieths: int) -> str:
    amount = _halves(twentieths)
    if not twentieths:
        return f"{amount} mm"
    return told("{mm} mm left", mm=amount) if twentieths > 0 else told("{mm} mm right", mm=amount)


def half_difference(one: int, other: int) -> str:
    """Half the difference of two shares (0.1 mm), in millimetres: ``0.25``."""
    return _halves(one - other)


def _halves(twentieths: int) -> str:
    tenths, half = divmod(abs(twentieths), 2)
    return f"{mm(tenths)}{'5' if half else ''}"


# ---------------------------------------------------------------- words


@dataclass(frozen=True, slots=True)
class ToothRow:
    """One tooth's line of the table behind the picture; lengths are text in millimetres."""

    tooth: str
    stands: str
    width_now: str
    added_right: str
    added_left: str
    width_after: str
    length_now: str
    length_change: str
    length_after: str
    ratio_now: str
    ratio_after: str
    word: str
    reason: str


@dataclass(frozen=True, slots=True)
class GapRow:
    """One gap's line of the table behind the picture."""

    between: str
    width_now: str
    to_right_tooth: str
    to_left_tooth: str
    left_open: str


@dataclass(frozen=True, slots=True)
class StripTable:
    teeth: tuple[ToothRow, ...]
    gaps: tuple[GapRow, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """How the teeth of one drawing are written."""

    teeth: Mapping[str, ToothWords]
    numbering: str = Numbering.ISO
    places: Mapping[Tooth, Tooth] | None = None
    """Where a tooth stands, for those that stand in another's place."""

    def number(self, tooth: Tooth) -> str:
        """The number in the office's numbering."""
        found = self.teeth.get(tooth.key)
        if found is None:
            return tooth.written(Numbering(self.numbering))
        return {"iso": found.iso, "universal": found.universal, "palmer": found.palmer}[self.numbering]

    def other_number(self, tooth: Tooth) -> str:
        """The number in the other common system, with that system's name: ``Universal 6``."""
        found = self.teeth.get(tooth.key)
        iso, universal = (found.iso, found.universal) if found else (tooth.iso, tooth.universal)
        return f"ISO {iso}" if self.numbering == Numbering.UNIVERSAL else f"Universal {universal}"

    def both(self, tooth: Tooth) -> str:
        """Both numbers, the office's first: ``13 (Universal 6)``."""
        return f"{self.number(tooth)} ({self.other_number(tooth)})"

    def name(self, tooth: Tooth) -> str:
        """The tooth in plain words: ``upper right canine``."""
        found = self.teeth.get(tooth.key)
        return found.name if found else tooth.name

    def label(self, tooth: Tooth) -> str:
        """Name and both numbers."""
        found = self.teeth.get(tooth.key)
        return found.label if found else tooth.label(Numbering(self.numbering))

    def place(self, tooth: Tooth) -> Tooth | None:
        """The other tooth's place in which ``tooth`` stands; None where it stands in its own."""
        place = (self.places or {}).get(tooth)
        return None if place == tooth else place

    def stands(self, tooth: Tooth) -> str:
        """``in place of 12 (Universal 7)`` where the tooth stands in another's place, else empty."""
        place = self.place(tooth)
        return "" if place is None else told("in place of {tooth}", tooth=self.both(place))


def strip_table(plan: SpacePlanShape, words: Words) -> StripTable:
    """The real table that stands behind the picture: everything the picture says, row by row."""
    return StripTable(
        tuple(_tooth_row(shape, words) for shape in plan.teeth),
        tuple(
            GapRow(
                told(" and ").join((words.both(gap.right_tooth), words.both(gap.left_tooth))),
                mm(gap.width_tenths),
                share(gap.to_right_tooth_tenths),
                share(gap.to_left_tooth_tenths),
                mm(gap.left_open_tenths),
            )
            for gap in plan.gaps
        ),
    )


def _tooth_row(shape: ToothShape, words: Words) -> ToothRow:
    change = shape.lengthening_tenths - shape.shortening_tenths
    stands = words.stands(shape.tooth)
    return ToothRow(
        words.label(shape.tooth),
        f"standing {stands}, to look like a {shape.role}" if stands else "",
        mm(shape.width_tenths),
        share(shape.right_tenths),
        share(shape.left_tenths),
        mm(shape.width_after_tenths),
        mm(shape.length_tenths) if shape.length_tenths else told("not measured"),
        signed(change) if change else mm(0),
        mm(shape.length_after_tenths) if shape.length_after_tenths else told("not measured"),
        ratio(shape.ratio_percent),
        ratio(shape.ratio_after_percent),
        shape.word,
        shape.word_reason,
    )


def share(tenths: int) -> str:
    """What one side gets: ``0.3``, or ``−0.2`` where enamel is taken off it."""
    return mm(tenths) if tenths >= 0 else signed(tenths)


def is_added_to(shape: ToothShape) -> bool:
    """Whether a plan adds material to the tooth."""
    return max(shape.right_tenths, shape.left_tenths, shape.lengthening_tenths) > 0


def is_taken_from(shape: ToothShape) -> bool:
    """Whether a plan takes enamel off its edge or a side."""
    return shape.shortening_tenths > 0 or min(shape.right_tenths, shape.left_tenths) < 0


def signed(tenths: int) -> str:
    """A change in millimetres with its sign: ``+0.6``, ``−0.5`` (a true minus sign)."""
    return f"{'+' if tenths >= 0 else '−'}{mm(abs(tenths))}"


def ratio(percent: Decimal) -> str:
    """Width over length to two decimals: 84.8 percent is ``0.85``; a dash where the length is not known."""
    return decimal(str((percent / 100).quantize(Decimal("0.01"), ROUND_HALF_UP))) if percent else "–"


def change_words(before: int, after: int) -> str:
    """``8.3 → 8.9 (+0.6)``, or one figure where nothing changes; lengths in tenths."""
    if before == after:
        return mm(before)
    return f"{mm(before)} → {mm(after)} ({signed(after - before)})"


def strip_words(plan: SpacePlanShape, words: Words, middle: Midline | None = None) -> str:
    """What the picture shows, in sentences: its text alternative."""
    return " ".join(strip_sentences(plan, words, middle))


def strip_sentences(plan: SpacePlanShape, words: Words, middle: Midline | None = None) -> tuple[str, ...]:
    """The same, one by one."""
    first = "The upper front teeth, {n} of them, from the patient's right to the patient's left."
    said = [told(first, n=len(plan.teeth))]
    for shape in plan.teeth:
        changes = [
            told(added if tenths > 0 else taken_off, mm=mm(abs(tenths)))
            for added, taken_off, tenths in (
                (
                    "{mm} mm added toward the patient's right",
                    "{mm} mm taken off toward the patient's right",
                    shape.right_tenths,
                ),
                (
                    "{mm} mm added toward the patient's left",
                    "{mm} mm taken off toward the patient's left",
                    shape.left_tenths,
                ),
            )
            if tenths
        ]
        if shape.width_after_tenths != shape.width_tenths:
            changes.append(
                told("width {now} to {then} mm", now=mm(shape.width_tenths), then=mm(shape.width_after_tenths))
            )
        if shape.length_after_tenths != shape.length_tenths:
            changes.append(
                told("length {now} to {then} mm", now=mm(shape.length_tenths), then=mm(shape.length_after_tenths))
            )
        stands = words.stands(shape.tooth)
        name = f"{words.label(shape.tooth)}{' ' + stands if stands else ''}"
        said.append(f"{name}: {', '.join(changes) or told('not changed')}.")
    for gap in plan.gaps:
        if gap.left_open_tenths:
            said.append(
                told(
                    "Between the {right} and the {left} a gap of {mm} mm stays.",
                    right=words.label(gap.right_tooth),
                    left=words.label(gap.left_tooth),
                    mm=mm(gap.left_open_tenths),
                )
            )
    return (*said, *([middle.words] if middle else []))
