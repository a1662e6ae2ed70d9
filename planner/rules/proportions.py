"""Checks on measured teeth: tooth-size sums, width to length, room for implants, stripping.

Lengths are whole tenths of a millimetre, caliper widths included; results finer than that are Decimal millimetres,
unrounded. Every number comes from data/proportions.toml with its source. Proportions in a photograph are another thing
and live in :mod:`planner.rules.frontal`; the limits for sharing space live in :mod:`planner.rules.space_limits`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum
from typing import Any

from planner.rules.mouth import EmptyPlace, Examination, ToothFacts
from planner.rules.settings import Setting, read_settings
from planner.rules.teeth import LOWER_PERMANENT, UPPER_PERMANENT, Tooth
from planner.rules.units import format_mm, positive_tenths
from planner.rules.verdicts import Verdict


def _setting(name: str) -> Setting:
    return read_settings("proportions.toml")[name]


def _value(name: str) -> Any:
    return _setting(name).value


# ---------------------------------------------------------------- tooth-size sums


class SumPart(StrEnum):
    """Which teeth are summed: the six front teeth of each arch, or the twelve from first molar to first molar."""

    ANTERIOR = "anterior"
    OVERALL = "overall"


class SumRule(StrEnum):
    """When a difference of the sums is called significant."""

    MILLIMETRES = "millimetres"
    DEVIATIONS = "deviations"


@dataclass(frozen=True, slots=True)
class SumNorm:
    """The mean ratio that a pair of sums is held against, and its standard deviation where one is known."""

    population: str
    percent: Decimal
    sd: Decimal | None
    source: str
    certainty: str


def sum_populations(part: SumPart) -> tuple[str, ...]:
    """Names of the norms in the data file that cover ``part``."""
    prefix = "sum_norms_"
    return tuple(
        name.removeprefix(prefix)
        for name, setting in read_settings("proportions.toml").items()
        if name.startswith(prefix) and f"{part}_percent" in setting.value
    )


def sum_norm(part: SumPart, population: str | None = None) -> SumNorm:
    """The norm of ``population`` (by default the set one) for ``part``. Raises ValueError when there is none."""
    name = population or _value("sum_population")
    if name not in sum_populations(part):
        known = ", ".join(sum_populations(part))
        raise ValueError(f'population is "{name}": there is no {part} norm for it, only for {known}')
    settings = read_settings("proportions.toml")
    setting = settings[f"sum_norms_{name}"]
    deviations = settings.get(f"sum_sds_{name}")
    sd = None if deviations is None else Decimal(deviations.value[f"{part}_percent"])
    return SumNorm(name, Decimal(setting.value[f"{part}_percent"]), sd, setting.source, setting.certainty)


@dataclass(frozen=True, slots=True)
class ToothSizeSums:
    """Lower against upper tooth widths. Sums in tenths of a millimetre, corrections in millimetres, never below 0.

    Above the norm the lower teeth are too wide by ``lower_excess``, which is the same finding as upper teeth too
    narrow by ``upper_deficiency``; below it ``upper_excess`` and ``lower_deficiency``. The two differ by the norm.
    """

    part: SumPart
    upper_sum: int
    lower_sum: int
    ratio_percent: Decimal
    norm: SumNorm
    lower_excess: Decimal
    upper_deficiency: Decimal
    upper_excess: Decimal
    lower_deficiency: Decimal
    deviations: Decimal | None
    """Distance from the norm in standard deviations, below 0 when the ratio is under it; None without one."""
    rule: SumRule
    """The rule that decided ``significant``."""
    rule_source: str
    significant: bool
    significant_by_other_rule: bool | None
    """What the other rule says; None when the norm has no standard deviation."""

    @property
    def correction(self) -> Decimal:
        """The larger of the two ways to correct, in millimetres."""
        return max(self.lower_excess, self.upper_deficiency, self.upper_excess, self.lower_deficiency)

    @property
    def words(self) -> str:
        """The finding in plain sentences, with the rule that was used."""
        teeth = "six front" if self.part is SumPart.ANTERIOR else "twelve"
        start = (
            f"The {teeth} lower teeth measure {_two(self.ratio_percent)} % of the upper ones; "
            f"the norm is {self.norm.percent} %. "
        )
        if self.lower_excess:
            middle = (
                f"Lower {_two(self.lower_excess)} mm too wide, or upper {_two(self.upper_deficiency)} mm too narrow. "
            )
        elif self.upper_excess:
            middle = (
                f"Upper {_two(self.upper_excess)} mm too wide, or lower {_two(self.lower_deficiency)} mm too narrow. "
            )
        else:
            middle = ""
        limit = (
            f"{_value('sum_significant_mm')} mm of correction"
            if self.rule is SumRule.MILLIMETRES
            else f"{_value('sum_significant_sd')} standard deviations"
        )
        end = f"{'Significant' if self.significant else 'Not significant'} by the rule of {limit}"
        if self.significant_by_other_rule not in (None, self.significant):
            end += ", though the other rule says otherwise"
        return f"{start}{middle}{end}."


def tooth_size_sums(
    upper: Sequence[int], lower: Sequence[int], *, population: str | None = None, rule: SumRule | None = None
) -> ToothSizeSums:
    """Compare the summed widths (0.1 mm) of lower and upper teeth: six a side for anterior, twelve for overall.

    The width of a place is that of the tooth standing in it. Norm, deviations and both significance rules: see the
    ``sum_`` settings. Raises ValueError for any other count, a width that is not above 0, an unknown population, or
    the deviations rule where the norm has no standard deviation.
    """
    part = {6: SumPart.ANTERIOR, 12: SumPart.OVERALL}.get(len(upper))
    if part is None or len(lower) != len(upper):
        raise ValueError(
            f"upper has {len(upper)} widths and lower {len(lower)}: both need 6 (front teeth) or 12 (to the first "
            "molars)"
        )
    for name, widths in (("upper", upper), ("lower", lower)):
        for place, width in enumerate(widths, start=1):
            positive_tenths(f"{name} width {place}", width)
    norm = sum_norm(part, population)
    rule = SumRule(_value("sum_rule")) if rule is None else SumRule(rule)
    upper_mm, lower_mm = Decimal(sum(upper)) / 10, Decimal(sum(lower)) / 10
    share = norm.percent / 100
    ratio = lower_mm * 100 / upper_mm
    lower_over = lower_mm - share * upper_mm
    upper_over = upper_mm - lower_mm / share
    zero = Decimal(0)
    deviations = None if norm.sd is None else (ratio - norm.percent) / norm.sd
    found = {
        SumRule.MILLIMETRES: max(abs(lower_over), abs(upper_over)) >= _value("sum_significant_mm"),
        SumRule.DEVIATIONS: None if deviations is None else abs(deviations) >= _value("sum_significant_sd"),
    }
    significant = found.pop(rule)
    if significant is None:
        raise ValueError(f'rule is "{rule}": the norm "{norm.population}" has no standard deviation')
    return ToothSizeSums(
        part=part,
        upper_sum=sum(upper),
        lower_sum=sum(lower),
        ratio_percent=ratio,
        norm=norm,
        lower_excess=max(lower_over, zero),
        upper_deficiency=max(-upper_over, zero),
        upper_excess=max(upper_over, zero),
        lower_deficiency=max(-lower_over, zero),
        deviations=deviations,
        rule=rule,
        rule_source=_setting("sum_significant_mm" if rule is SumRule.MILLIMETRES else "sum_significant_sd").source,
        significant=significant,
        significant_by_other_rule=found.popitem()[1],
    )


@dataclass(frozen=True, slots=True)
class MouthSums:
    """The sums of one examination, or why there are none, and what has to be said beside them."""

    sums: ToothSizeSums | None
    notes: tuple[str, ...] = ()
    unmeasured: tuple[Tooth, ...] = ()
    """Places of which no width is known, in the order of both rows."""


def sums_in_mouth(
    examination: Examination, part: SumPart, *, population: str | None = None, rule: SumRule | None = None
) -> MouthSums:
    """Tooth-size sums of the teeth as they stand: in each place the tooth standing there, named when it is another.

    No sums, with the reason, when a place is empty or unmeasured, holds two teeth, or holds a double tooth. Raises
    ValueError as :func:`tooth_size_sums` does for the norm and the rule.
    """
    reach = slice(5, 11) if part is SumPart.ANTERIOR else slice(2, 14)
    problems: list[str] = []
    unmeasured: list[Tooth] = []
    notes: list[str] = []
    widths: dict[bool, list[int]] = {True: [], False: []}
    for place in (*UPPER_PERMANENT[reach], *LOWER_PERMANENT[reach]):
        standing = [found for found in examination.teeth if _stands_in(found, place)]
        if len(standing) != 1:
            count = "no tooth is" if not standing else f"{len(standing)} teeth are"
            problems.append(f"{count} recorded in the place of the {place.name}")
            unmeasured += [] if standing else [place]
        elif standing[0].double:
            problems.append(f"the {standing[0].tooth.name} is a double tooth, so the ratio rules do not hold")
        elif standing[0].width is None:
            problems.append(f"the width of the {standing[0].tooth.name} was not measured")
            unmeasured.append(place)
        else:
            widths[place.upper].append(standing[0].width)
            if standing[0].tooth != place:
                notes.append(f"The {standing[0].tooth.name} counts in the place of the {place.name}.")
    if problems:
        return MouthSums(None, (f"No {part} tooth-size sums: {'; '.join(problems)}.",), tuple(unmeasured))
    sums = tooth_size_sums(widths[True], widths[False], population=population, rule=rule)
    return MouthSums(sums, tuple(notes))


def _stands_in(found: ToothFacts, place: Tooth) -> bool:
    where = found.place or found.tooth
    return not where.is_extra and (where.upper, where.arch_index) == (place.upper, place.arch_index)


def lateral_width_from_sums(lower_six: int, central: int, canine: int, *, population: str | None = None) -> Decimal:
    """Width (mm) of each upper lateral that brings the anterior ratio to its norm.

    From the sum of the six lower front teeth and the widths (0.1 mm) of one upper central and one canine, both sides
    taken as alike. Raises ValueError when no width above 0 does it.
    """
    for name, value in (("lower sum", lower_six), ("central width", central), ("canine width", canine)):
        positive_tenths(name, value)
    upper = Decimal(lower_six) * 10 / sum_norm(SumPart.ANTERIOR, population).percent
    lateral = (upper - Decimal(2 * (central + canine)) / 10) / 2
    if lateral <= 0:
        raise ValueError(
            f"centrals of {format_mm(central)} mm and canines of {format_mm(canine)} mm leave no width for laterals "
            f"above lower teeth of {format_mm(lower_six)} mm"
        )
    return lateral


# ---------------------------------------------------------------- widths and lengths by caliper


@dataclass(frozen=True, slots=True, order=True)
class CaliperWidth:
    """A crown width read on the tooth itself, in tenths of a millimetre. Raises ValueError unless above 0."""

    tenths: int

    def __post_init__(self) -> None:
        positive_tenths("caliper width", self.tenths)


def lateral_central(lateral: CaliperWidth, central: CaliperWidth) -> Decimal:
    """Lateral over central in percent, unrounded, both read on the teeth.

    A median of 79 % is natural. Raises TypeError for anything but caliper widths: a frontal share out of a photograph
    is another measure and its targets do not hold here.
    """
    if not isinstance(lateral, CaliperWidth) or not isinstance(central, CaliperWidth):
        raise TypeError("lateral_central compares two caliper widths; frontal widths have their own proportions")
    return Decimal(lateral.tenths) * 100 / central.tenths


def width_length_percent(width: int, length: int) -> Decimal:
    """Width over length in percent, unrounded. Both in tenths of a millimetre; raises ValueError unless above 0."""
    return Decimal(positive_tenths("width", width)) * 100 / positive_tenths("length", length)


def length_for_ratio(width: int, percent: Decimal | int) -> Decimal:
    """Length (mm) at which a tooth of ``width`` (0.1 mm) is ``percent`` as wide as long."""
    return Decimal(positive_tenths("width", width)) * 10 / Decimal(percent)


def width_for_ratio(length: int, percent: Decimal | int) -> Decimal:
    """Width (mm) at which a tooth of ``length`` (0.1 mm) is ``percent`` as wide as long."""
    return Decimal(positive_tenths("length", length)) * Decimal(percent) / 1000


def central_shape_warning(width: int, length: int) -> str | None:
    """A sentence when an upper central is outside the accepted width to length, else None. It warns, never forbids."""
    low, high = _value("width_length_accepted")["central"]
    ratio = width_length_percent(width, length)
    if low <= ratio <= high:
        return None
    side = "wide" if ratio > high else "slender"
    return f"The central is {_two(ratio)} % as wide as long, more {side} than the usual {low} to {high} %."


# ---------------------------------------------------------------- room for implants


def implant_room(diameter: int, count: int = 1) -> int:
    """Least distance (0.1 mm) between two teeth for ``count`` implants of ``diameter`` (0.1 mm) side by side.

    1.5 mm to each tooth, 3.0 mm between implants. Holds for crowns and for roots alike. Raises ValueError for a
    diameter that is not in tenths of a millimetre, or a count below 1.
    """
    low, high = _value("implant_diameter_range")
    if not low <= positive_tenths("implant diameter", diameter) <= high:
        raise ValueError(
            f"implant diameter is {diameter}: it is given in tenths of a millimetre, {low} to {high} (3.3 mm is 33)"
        )
    if not isinstance(count, int) or count < 1:
        raise ValueError(f"implant count is {count!r}: it must be a whole number of at least 1")
    between: int = _value("implant_to_implant")
    to_tooth: int = _value("implant_to_tooth")
    return count * diameter + 2 * to_tooth + (count - 1) * between


@dataclass(frozen=True, slots=True)
class ImplantRoom:
    """Whether implants fit between two neighbours. Lengths in tenths of a millimetre."""

    diameter: int
    count: int
    needed: int
    available: int | None
    """The smaller of the distances between crowns and between roots; None when one was not measured."""
    limited_by: str
    """``crowns``, ``roots`` or empty."""
    short: int
    """How much is missing, 0 when it fits."""
    verdict: Verdict
    words: str


def implant_room_verdict(
    crown_distance: int | None, root_distance: int | None, diameter: int, count: int = 1
) -> ImplantRoom:
    """Hold the smaller of crown and root distance (0.1 mm) against the room needed.

    Enough: offer. Up to 0.3 mm short: care. More: no. Not measured: ask, unless the other distance alone says no. A
    narrow implant is care where its record is worse or only single gaps are documented. Raises ValueError as
    implant_room does.
    """
    needed = implant_room(diameter, count)
    distances = {"crowns": crown_distance, "roots": root_distance}
    known = {name: distance for name, distance in distances.items() if distance is not None}
    limited_by = min(known, key=lambda name: known[name]) if known else ""
    available = known[limited_by] if len(known) == len(distances) else None
    short = max(0, needed - known[limited_by]) if known else 0
    narrow = _narrow_words(diameter, count)
    what = f"{count} of {format_mm(diameter)} mm" if count > 1 else f"{format_mm(diameter)} mm"
    need = f"an implant ({what}) needs {format_mm(needed)} mm"
    if short > _value("implant_short_care"):
        verdict = Verdict.NO
        words = f"Between the {limited_by} there are {format_mm(known[limited_by])} mm; {need}."
    elif available is None:
        missing = " and ".join(name for name, distance in distances.items() if distance is None)
        verdict = Verdict.ASK
        words = f"The distance between the {missing} was not measured; {need}."
    elif short or narrow:
        verdict = Verdict.CARE
        lack = f"{format_mm(short)} mm short: " if short else ""
        words = f"{lack}between the {limited_by} there are {format_mm(available)} mm; {need}. {narrow}".strip()
        words = words[0].upper() + words[1:]
    else:
        verdict = Verdict.OFFER
        words = f"Between the {limited_by} there are {format_mm(available)} mm; {need}."
    return ImplantRoom(diameter, count, needed, available, limited_by, short, verdict, words)


def without_enlargement(distance: int, factor_percent: int) -> int:
    """A distance (0.1 mm) read on a film that enlarges to ``factor_percent``, brought down to life size, rounded down.

    7.2 mm at 110 % are 6.5 mm. Raises ValueError for a factor that is not above 0.
    """
    if factor_percent <= 0:
        raise ValueError(f"enlargement is {factor_percent} %: it must be above 0; life size is 100")
    return distance * 100 // factor_percent


def on_film(examination: Examination, place: EmptyPlace) -> bool:
    """Whether the room of a place was measured on a film: as it says itself, else as the whole set was."""
    return (place.measured_with or examination.instrument) == "film"


def enlargement(examination: Examination, place: EmptyPlace) -> int | None:
    """Enlargement in percent of the film a place was measured on: its own, else the set's; None when nobody said."""
    own = place.film_factor_percent
    return own if own is not None else examination.film_factor_percent


class HeightVerdict(StrEnum):
    """Whether the height to the bite is enough for one way of fixing a crown on an implant."""

    ENOUGH = "enough"
    JUST = "just enough by the lower figure"
    TOO_LOW = "too low"


def implant_heights(height_to_bite: int) -> dict[str, HeightVerdict]:
    """For every way of fixing a crown on an implant whether the height to the bite (0.1 mm) is enough.

    Ways and their least heights: setting ``implant_height``.
    """
    found = {}
    for name, (least, most) in _value("implant_height").items():
        low = height_to_bite < least
        found[name] = (
            HeightVerdict.TOO_LOW if low else HeightVerdict.JUST if height_to_bite < most else HeightVerdict.ENOUGH
        )
    return found


def closing_months(distance: int, *, upper: bool = True) -> Decimal:
    """Months (unrounded) that closing a gap of ``distance`` (0.1 mm) by moving teeth takes, that phase alone.

    Distance over the published rate of the jaw; setting ``closing_rate``. Raises ValueError below 0.
    """
    if distance < 0:
        raise ValueError(f"distance is {distance}: it cannot be below 0")
    rate: Decimal = _value("closing_rate")["upper" if upper else "lower"]
    return Decimal(distance) / 10 / rate


def implant_table(crown_distance: int | None, root_distance: int | None, count: int = 1) -> tuple[ImplantRoom, ...]:
    """The verdict for every listed diameter, narrowest first."""
    return tuple(
        implant_room_verdict(crown_distance, root_distance, diameter, count)
        for diameter in sorted(_value("implant_diameters"))
    )


def _narrow_words(diameter: int, count: int) -> str:
    narrow = _value("implant_narrow")
    if diameter < narrow["worse_below"]:
        return f"Implants thinner than {format_mm(narrow['worse_below'])} mm fail more often."
    if diameter < narrow["single_only_below"] and count > 1:
        return f"Implants thinner than {format_mm(narrow['single_only_below'])} mm are documented for single gaps only."
    return ""


# ---------------------------------------------------------------- stripping between teeth


@dataclass(frozen=True, slots=True)
class StrippingLimit:
    """The most that may be taken off one side of one tooth."""

    mm: Decimal
    decided_by: str
    """``limit per side`` or ``enamel thickness``."""

    @property
    def tenths(self) -> int:
        """The limit in whole tenths of a millimetre, rounded down."""
        return int((self.mm * 10).to_integral_value(ROUND_FLOOR))


def stripping_limit(enamel: Decimal | None = None) -> StrippingLimit:
    """The limit per side: 0.25 mm, or half the enamel (mm) on that side where it is known and thinner.

    Raises ValueError for an enamel thickness below 0.
    """
    limit = StrippingLimit(Decimal(_value("stripping_per_side")), "limit per side")
    if enamel is None:
        return limit
    if enamel < 0:
        raise ValueError(f"enamel thickness is {enamel} mm: it cannot be below 0")
    half = StrippingLimit(enamel * _value("stripping_enamel_percent") / 100, "enamel thickness")
    return min(limit, half, key=lambda each: each.mm)


def stripping_verdict(planned: Decimal, enamel: Decimal | None = None) -> Verdict:
    """Judge a planned removal (mm) on one side: over the limit no, above 0.20 mm without known enamel care."""
    if planned < 0:
        raise ValueError(f"planned stripping is {planned} mm: it cannot be below 0")
    if planned > stripping_limit(enamel).mm:
        return Verdict.NO
    return Verdict.CARE if enamel is None and planned > _value("stripping_measure_above") else Verdict.OFFER


def _two(value: Decimal) -> str:
    return f"{value:.2f}"
