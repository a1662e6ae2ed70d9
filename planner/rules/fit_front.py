"""Fit of the upper front teeth: width to length, right against left, neighbours by caliper, and from the front.

Caliper widths and what a photograph shows are two measures with bounds of their own; neither is turned into the other.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from planner.rules.fit_results import FitCheck, FitGroup, FitNote, FitWord, fit_setting, rounded, tenths
from planner.rules.frontal import FrontalWidth, frontal_scheme, scheme_names
from planner.rules.mouth import CaseFacts, ToothFacts
from planner.rules.proportions import CaliperWidth, lateral_central, width_length_percent
from planner.rules.space_limits import Band, SpaceLimits
from planner.rules.standing import place_named, place_of, role_of, standing_in
from planner.rules.teeth import UPPER_FRONT, Kind, Numbering, Side, Tooth
from planner.rules.units import format_mm

ROLES = ("central", "lateral", "canine")
_NAMES = {"central": "central incisors", "lateral": "lateral incisors", "canine": "canines"}


@dataclass(frozen=True)
class Mouth:
    """The facts and limits that the checks look at, and how teeth are said."""

    facts: CaseFacts
    limits: SpaceLimits

    @cached_property
    def standing(self) -> Mapping[Tooth, ToothFacts]:
        """The recorded tooth of every place."""
        return standing_in(self.facts.examination)

    def label(self, tooth: Tooth) -> str:
        """Name and both numbers, the case's numbering first."""
        return tooth.label(self.facts.numbering)

    def about(self, found: ToothFacts) -> str:
        """Name and both numbers of a tooth, and those of the place where that is another's."""
        place = place_of(found)
        if place == place_named(found.tooth):
            return self.label(found.tooth)
        return f"{self.label(found.tooth)}, standing in place of {self.listed([place])}"

    def listed(self, teeth: Iterable[Tooth]) -> str:
        """Several teeth by both numbers: ``43, 42 (Universal 27, 26)``."""
        first = self.facts.numbering
        second = Numbering.ISO if first is Numbering.UNIVERSAL else Numbering.UNIVERSAL
        named = list(teeth)
        numbers, others = (", ".join(tooth.written(system) for tooth in named) for system in (first, second))
        return f"{numbers} ({second.printed} {others})"

    def in_role(self, role: str, side: Side) -> ToothFacts | None:
        """The tooth of one side of the upper front that must look like ``role``, the innermost of several."""
        row = [place for place in UPPER_FRONT if place.side is side]
        row.sort(key=lambda place: place.position)
        found = (self.standing[place] for place in row if place in self.standing)
        return next((each for each in found if role_of(each) == role), None)

    @property
    def front(self) -> tuple[ToothFacts, ...]:
        """The recorded teeth of the six upper front places, from the patient's right; a double tooth once."""
        found = [self.standing[place] for place in UPPER_FRONT if place in self.standing]
        return tuple(dict.fromkeys(found))


def capital(words: str) -> str:
    """``words`` with its first letter large."""
    return words[0].upper() + words[1:]


def missing(about: str, what: str, sentence: str, source: str, *teeth: Tooth) -> FitCheck:
    """What nobody measured, and what to measure."""
    return FitCheck(about, what, FitWord.ASK, sentence, source, fit_setting(source).certainty, teeth=teeth)


def by_bounds(value: Decimal, good: tuple[Decimal | int, Decimal | int], further: tuple[Decimal | int, ...]) -> FitWord:
    """Good within the first bounds, acceptable within the second, else at its limit."""
    if good[0] <= value <= good[1]:
        return FitWord.GOOD
    return FitWord.ACCEPTABLE if further[0] <= value <= further[1] else FitWord.LIMIT


# ---------------------------------------------------------------- width to length


def shape_group(mouth: Mouth) -> FitGroup:
    """Width to length of every upper front tooth as it stands."""
    checks, notes = [], []
    for found in mouth.front:
        name = f"The {mouth.label(found.tooth)}"
        if found.tooth.is_primary:
            notes.append(FitNote(f"{name} is a baby tooth: its shape is its own, and no bounds hold for it."))
        elif found.double:
            notes.append(FitNote(f"{name} is a double tooth: bounds of shape do not hold; judge it by eye."))
        elif role_of(found) in ROLES:
            checks.append(_shape(mouth, found))
    return FitGroup(
        "shape",
        "Width to length",
        "Measured on the crowns as they stand today, by what each tooth must look like.",
        tuple(checks),
        tuple(notes),
    )


def _shape(mouth: Mouth, found: ToothFacts) -> FitCheck:
    role, about, what = role_of(found), mouth.about(found), "width to length"
    central = role == "central"
    source = "width_length_accepted" if central else "width_length_natural"
    if not found.width or not found.length:
        unknown = [word for word, value in (("width", found.width), ("length", found.length)) if not value]
        words = f"The {' and the '.join(unknown)} {'were' if len(unknown) > 1 else 'was'} not measured: measure this."
        return missing(about, what, words, source, found.tooth)
    value = width_length_percent(found.width, found.length)
    natural = Decimal(fit_setting("width_length_natural").value[role])
    near = fit_setting("width_length_near").value
    low, high = fit_setting(source).value["central"] if central else (natural - near, natural + near)
    floor, ceiling = (limits.of(role) or 0 for limits in (mouth.limits.shape_floor, mouth.limits.shape_ceiling))
    word = by_bounds(value, (low, high), (floor, ceiling))
    side = "wide" if value > high else "slender"
    judged = {
        FitWord.GOOD: "as such teeth are",
        FitWord.ACCEPTABLE: f"a little {side} for its length",
        FitWord.LIMIT: f"too {side} for its length",
    }[word]
    return FitCheck(
        about,
        what,
        word,
        f"{format_mm(found.width)} by {format_mm(found.length)} mm, {judged}; healthy {_NAMES[role]} have "
        f"{natural}\u00a0% on average.",
        source,
        fit_setting(source).certainty,
        rounded(value),
        "%",
        Decimal(low),
        Decimal(high),
        teeth=(found.tooth,),
    )


# ---------------------------------------------------------------- right against left


def pair_group(mouth: Mouth) -> FitGroup:
    """How much the teeth of one role differ between right and left."""
    limits = mouth.limits
    widths, lengths = limits.twin_width, limits.twin_length
    compared: tuple[tuple[str, str, Band, int, str], ...] = (
        ("central", "width", limits.band_central_width, widths.central or 0, "twin_width"),
        ("central", "length", limits.band_central_length, lengths.central or 0, "twin_length"),
        ("lateral", "width", limits.band_lateral_width, widths.lateral or 0, "twin_width"),
        ("lateral", "length", limits.band_lateral_length, limits.band_lateral_length.over, "band_lateral_length"),
        ("canine", "width", limits.band_canine_width, widths.canine or 0, "twin_width"),
    )
    checks = [check for each in compared if (check := _pair(mouth, *each)) is not None]
    return FitGroup("pairs", "Right against left", "Teeth that must look alike, by caliper.", tuple(checks))


def _pair(mouth: Mouth, role: str, what: str, band: Band, most: int, source: str) -> FitCheck | None:
    right, left = (mouth.in_role(role, side) for side in Side)
    if right is None or left is None or right.tooth == left.tooth:
        return None
    if any(found.double or found.tooth.is_primary for found in (right, left)):
        return None
    about, title = f"{mouth.label(right.tooth)} and {mouth.label(left.tooth)}", f"difference in {what}"
    one, other = getattr(right, what), getattr(left, what)
    if one is None or other is None:
        unknown = [mouth.label(each.tooth) for each, value in ((right, one), (left, other)) if value is None]
        words = f"The {what} of the {' and of the '.join(unknown)} was not measured: measure this."
        return missing(about, title, words, source, right.tooth, left.tooth)
    apart = abs(one - other)
    word = FitWord.GOOD if apart <= band.over else FitWord.ACCEPTABLE if apart <= most else FitWord.LIMIT
    words = f"They differ by {format_mm(apart)} mm" if apart else "They are alike"
    words += f"; up to {format_mm(band.over)} mm counts as alike." if band.over else "."
    if right.tooth.kind is not left.tooth.kind:
        words += " They are teeth of different kinds, and one must look like the other."
    return FitCheck(
        about,
        title,
        word,
        words,
        source,
        fit_setting(source).certainty,
        tenths(apart),
        "mm",
        high=tenths(most),
        teeth=(right.tooth, left.tooth),
    )


# ---------------------------------------------------------------- neighbours by caliper


def neighbour_group(mouth: Mouth) -> FitGroup:
    """Lateral over central on each side, both by caliper."""
    checks = [check for side in Side if (check := _neighbours(mouth, side)) is not None]
    return FitGroup(
        "neighbours",
        "Lateral beside central, by caliper",
        "Widths read on the teeth. What a photograph shows from the front is another measure with other bounds.",
        tuple(checks),
    )


def _neighbours(mouth: Mouth, side: Side) -> FitCheck | None:
    central, lateral = mouth.in_role("central", side), mouth.in_role("lateral", side)
    if central is None or lateral is None or central.double or lateral.double:
        return None
    source, what = "lateral_central_natural", "width over its central's"
    about = mouth.about(lateral)
    if not central.width or not lateral.width:
        unknown = [mouth.label(each.tooth) for each in (lateral, central) if not each.width]
        words = f"The width of the {' and of the '.join(unknown)} was not measured: measure this."
        return missing(about, what, words, source, lateral.tooth)
    setting, limits = fit_setting(source), mouth.limits
    value = lateral_central(CaliperWidth(lateral.width), CaliperWidth(central.width))
    near = fit_setting("lateral_central_near").value
    low = max(limits.proportion_floor, setting.value - near)
    high = min(limits.proportion_ceiling, setting.value + near)
    plays = lateral.tooth.kind is not Kind.LATERAL
    ceiling = limits.proportion_ceiling_canine if plays else limits.proportion_ceiling
    word = by_bounds(value, (low, high), (limits.proportion_floor, ceiling))
    judged = {
        FitWord.GOOD: "as laterals are",
        FitWord.ACCEPTABLE: "wide beside it" if value > high else "narrow beside it",
        FitWord.LIMIT: "too wide beside it" if value > high else "too narrow beside it",
    }[word]
    words = f"{format_mm(lateral.width)} mm wide beside {format_mm(central.width)} mm of its central, {judged}; the "
    words += f"natural median is {setting.value}\u00a0%."
    if plays and word is not FitWord.GOOD:
        words += f" A canine in the lateral's place may come to {ceiling}\u00a0%, with care."
    return FitCheck(
        about,
        what,
        word,
        words,
        source,
        setting.certainty,
        rounded(value),
        "%",
        Decimal(low),
        Decimal(high),
        teeth=(lateral.tooth, central.tooth),
    )


# ---------------------------------------------------------------- from the front, in a photograph


def front_view_group(mouth: Mouth) -> FitGroup:
    """Apparent widths in a photograph from the front, where they were measured."""
    lead = "Apparent widths in a true-scale photograph; the arch turns away, so they are no caliper widths."
    title = "Seen from the front"
    widths = {(role, side): _frontal(mouth, role, side) for side in Side for role in ROLES}
    if not any(widths.values()):
        words = "No widths were measured in a photograph from the front: measure all six in a true-scale one."
        return FitGroup(
            "front-view", title, lead, (missing("the six upper front teeth", "frontal widths", words, _RECURRING),)
        )
    checks: list[FitCheck] = []
    for side in Side:
        checks += _frontal_ratio(mouth, side, widths, "lateral", "central")
        checks += _frontal_ratio(mouth, side, widths, "canine", "lateral")
    notes: tuple[FitNote, ...] = ()
    six = [value for value in widths.values() if value]
    if len(six) == len(widths):
        checks.append(_even(widths))
        notes = (_nearest_scheme(widths),)
    return FitGroup("front-view", title, lead, tuple(checks), notes)


_RECURRING = "recurring_range"
_Frontal = Mapping[tuple[str, Side], int | None]


def _frontal(mouth: Mouth, role: str, side: Side) -> int | None:
    found = mouth.in_role(role, side)
    return None if found is None else found.frontal_width


def _frontal_ratio(mouth: Mouth, side: Side, widths: _Frontal, outer: str, inner: str) -> Iterator[FitCheck]:
    own, beside = mouth.in_role(outer, side), mouth.in_role(inner, side)
    if own is None or beside is None or own.double or beside.double:
        return
    about, what = mouth.about(own), f"{outer} over {inner}, from the front"
    one, other = widths[outer, side], widths[inner, side]
    if not one or not other:
        unknown = [mouth.label(each.tooth) for each, value in ((own, one), (beside, other)) if not value]
        words = (
            f"The frontal width of the {' and of the '.join(unknown)} was not measured: measure it in the photograph."
        )
        yield missing(about, what, words, _RECURRING, own.tooth)
        return
    low, high = fit_setting(_RECURRING).value
    natural = fit_setting("frontal_ratios").value["natural"][0 if outer == "lateral" else 1]
    near = fit_setting("frontal_near").value
    high = max(high, natural)
    value = Decimal(one) * 100 / Decimal(other)
    # Published in whole percents, and judged so.
    word = by_bounds(rounded(value, "1"), (low, high), (low - near, high + near))
    yield FitCheck(
        about,
        what,
        word,
        f"It looks {format_mm(one)} mm wide beside {format_mm(other)} mm. A constant proportion is taught between "
        f"{fit_setting(_RECURRING).value[0]} and {fit_setting(_RECURRING).value[1]}\u00a0%; the natural one here is "
        f"{natural}\u00a0%.",
        _RECURRING,
        fit_setting(_RECURRING).certainty,
        rounded(value),
        "%",
        Decimal(low),
        Decimal(high),
        teeth=(own.tooth, beside.tooth),
    )


def _even(widths: _Frontal) -> FitCheck:
    sides = {side: sum(widths[role, side] or 0 for role in ROLES) for side in Side}
    whole = sum(sides.values())
    value = Decimal(sides[Side.RIGHT]) * 100 / whole
    allowed = fit_setting("frontal_even").value
    off = abs(value - 50)
    word = by_bounds(off, (0, allowed["good"]), (0, allowed["acceptable"]))
    return FitCheck(
        "the six upper front teeth",
        "share of the patient's right",
        word,
        f"From the front the right side looks {format_mm(sides[Side.RIGHT])} mm wide and the left "
        f"{format_mm(sides[Side.LEFT])} mm; each is half of an even front.",
        "frontal_even",
        fit_setting("frontal_even").certainty,
        rounded(value),
        "%",
        Decimal(50 - allowed["good"]),
        Decimal(50 + allowed["good"]),
    )


def _nearest_scheme(widths: _Frontal) -> FitNote:
    """Which published proportion the six come nearest to; shares that do not add to 50 are brought to it."""
    whole = FrontalWidth(tenths(sum(value or 0 for value in widths.values())))
    mean = {role: tenths(sum(widths[role, side] or 0 for side in Side)) / 2 for role in ROLES}
    apart: dict[str, Decimal] = {}
    for name in scheme_names():
        ideal = frontal_scheme(whole, name)
        apart[name] = sum((abs(mean[role] - getattr(ideal, role).mm) for role in ROLES), Decimal(0)) / len(ROLES)
    name = min(apart, key=lambda each: apart[each])
    source = "frontal_ratios" if name in fit_setting("frontal_ratios").value else "frontal_shares"
    return FitNote(
        f"Of the published proportions the six come nearest to \u201c{name}\u201d: each tooth is "
        f"{rounded(apart[name])} mm off on average. None of them is a rule for a mouth.",
        source,
    )
