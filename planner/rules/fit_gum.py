"""Fit of arch and gum: tooth-size sums, papilla under every contact, heights of contacts, steps of the gum line."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from planner.rules.fit_front import Mouth, by_bounds, capital, missing
from planner.rules.fit_results import FitCheck, FitGroup, FitNote, FitWord, fit_setting, rounded, tenths
from planner.rules.gumline import connector_heights, contact_lowering, gum_step_of, papilla_fill
from planner.rules.identities import plays_canine
from planner.rules.mouth import Gap, ToothFacts
from planner.rules.proportions import SumPart, SumRule, ToothSizeSums, lateral_width_from_sums, sums_in_mouth
from planner.rules.standing import places_held, role_of
from planner.rules.teeth import LOWER_FRONT, Kind, Side
from planner.rules.units import format_mm, many

# ---------------------------------------------------------------- tooth-size sums


def sum_group(mouth: Mouth, population: str | None, rule: SumRule | None) -> FitGroup:
    """Lower against upper tooth widths, front teeth and all twelve, in millimetres both ways."""
    checks = [_sums(mouth, part, population, rule) for part in SumPart]
    checks += _lateral_from_sums(mouth, population)
    return FitGroup(
        "sums",
        "Tooth-size sums, lower against upper",
        "In each place the tooth that stands there counts. The norm and the rule that calls a difference significant "
        "are choices.",
        tuple(checks),
    )


def _sums(mouth: Mouth, part: SumPart, population: str | None, rule: SumRule | None) -> FitCheck:
    name = population or fit_setting("sum_population").value
    source = f"sum_norms_{name}"
    about = "the six front teeth of each jaw" if part is SumPart.ANTERIOR else "the twelve teeth of each jaw"
    try:
        found = sums_in_mouth(mouth.facts.examination, part, population=population, rule=rule)
    except ValueError as error:
        return missing(about, "lower over upper", f"No {part} sums: {error}.", "sum_norms_1958")
    if found.sums is None:
        words = found.notes[0]
        if len(found.unmeasured) > 2:
            words = f"{many(len(found.unmeasured), 'tooth')} without a width: {mouth.listed(found.unmeasured)}."
            words += " Measure these."
        return missing(about, "lower over upper", words, source)
    sums = found.sums
    spread = _spread(sums)
    return FitCheck(
        about,
        "lower over upper",
        FitWord.LIMIT if sums.significant else FitWord.ACCEPTABLE if sums.significant_by_other_rule else FitWord.GOOD,
        " ".join((sums.words, *found.notes)),
        source,
        sums.norm.certainty,
        rounded(sums.ratio_percent, "0.01"),
        "%",
        rounded(sums.norm.percent - spread, "0.01"),
        rounded(sums.norm.percent + spread, "0.01"),
    )


def _spread(sums: ToothSizeSums) -> Decimal:
    """How far the ratio may lie from the norm before the rule in force calls it significant."""
    if sums.rule is SumRule.DEVIATIONS and sums.norm.sd is not None:
        return Decimal(fit_setting("sum_significant_sd").value) * sums.norm.sd
    # The correction of either arch counts; that of the upper one is the larger for every norm under 100 %.
    upper = Decimal(sums.upper_sum) / 10
    most: Decimal = fit_setting("sum_significant_mm").value
    return most * sums.norm.percent / upper


def _lateral_from_sums(mouth: Mouth, population: str | None) -> Iterator[FitCheck]:
    """Which width of the upper laterals the lower front teeth would ask for, where all that is needed is measured."""
    lower = [mouth.standing.get(place) for place in LOWER_FRONT]
    widths = [found.width for found in lower if found is not None and found.width and not found.double]
    centrals, canines, laterals = (_widths(mouth, role) for role in ("central", "canine", "lateral"))
    if len(widths) < len(LOWER_FRONT) or not (len(centrals) == len(canines) == len(laterals) == 2):
        return
    try:
        asked = lateral_width_from_sums(
            sum(widths), (sum(centrals) + 1) // 2, (sum(canines) + 1) // 2, population=population
        )
    except ValueError:
        return
    mean = Decimal(sum(laterals)) / 20
    source = f"sum_norms_{population or fit_setting('sum_population').value}"
    half = fit_setting("sum_significant_mm").value / 2
    word = by_bounds(mean, (asked - half / 2, asked + half / 2), (asked - half, asked + half))
    yield FitCheck(
        "the upper laterals",
        "mean width against what the sums ask for",
        word,
        f"Laterals of {rounded(asked)} mm each would bring the six front teeth to the norm; they measure "
        f"{rounded(mean, '0.01')} mm on average.",
        source,
        fit_setting(source).certainty,
        rounded(mean, "0.01"),
        "mm",
        rounded(asked - half / 2, "0.01"),
        rounded(asked + half / 2, "0.01"),
    )


def _widths(mouth: Mouth, role: str) -> list[int]:
    found = (mouth.in_role(role, side) for side in Side)
    return [each.width for each in found if each is not None and each.width and not each.double]


# ---------------------------------------------------------------- papilla and contacts


def papilla_group(mouth: Mouth) -> FitGroup:
    """How often the papilla fills the space under each contact of the upper front."""
    checks = [_papilla(mouth, right, left) for right, left in _neighbours(mouth)]
    return FitGroup(
        "papilla",
        "Papilla under the contacts",
        "From the contact, or where it will be, down to the bone. Not measured, no full papilla may be promised.",
        tuple(checks),
    )


def _neighbours(mouth: Mouth) -> list[tuple[ToothFacts, ToothFacts]]:
    """Neighbours of the upper front with no empty place between."""
    return [
        (right, left)
        for right, left in pairwise(mouth.front)
        if min(place.arch_index for place in places_held(left)) - max(place.arch_index for place in places_held(right))
        == 1
    ]


def _gap(mouth: Mouth, right: ToothFacts, left: ToothFacts) -> Gap | None:
    pair = {right.tooth, left.tooth}
    return next((gap for gap in mouth.facts.examination.gaps if set(gap.between) == pair), None)


def _between(mouth: Mouth, right: ToothFacts, left: ToothFacts) -> str:
    return f"{mouth.label(right.tooth)} and {mouth.label(left.tooth)}"


def _papilla(mouth: Mouth, right: ToothFacts, left: ToothFacts) -> FitCheck:
    gap, about, what, source = _gap(mouth, right, left), _between(mouth, right, left), "contact to bone", "papilla_fill"
    distance = gap.contact_to_bone if gap is not None else None
    if not distance:
        words = "The distance was not measured: measure this, on a film or by probing."
        return missing(about, what, words, source, right.tooth, left.tooth)
    fill, lower = papilla_fill(distance), contact_lowering(distance)
    reach = fit_setting("papilla_reach").value
    words = f"At {format_mm(distance)} mm the papilla is {fill.words}."
    if lower:
        words += f" The contact would have to come {format_mm(lower)} mm closer to the gum to fill reliably."
    word = FitWord.GOOD if not fill.dark_triangle_likely else FitWord.LIMIT
    if word is FitWord.LIMIT and (fill.of_100 or 0) >= 50:
        word = FitWord.ACCEPTABLE
    return FitCheck(
        about,
        what,
        word,
        words,
        source,
        fit_setting(source).certainty,
        tenths(distance),
        "mm",
        high=tenths(reach),
        teeth=(right.tooth, left.tooth),
    )


_PAIRS = {
    ("central", "central"): "central_central",
    ("central", "lateral"): "central_lateral",
    ("canine", "lateral"): "lateral_canine",
}


def connector_group(mouth: Mouth) -> FitGroup:
    """How high the contacts are against the height of the centrals."""
    lead = "Height over which two crowns seem to touch, seen from the front, against the height of the centrals."
    title, source = "Heights of the contacts", "connector_percent"
    lengths = [
        found.length
        for side in Side
        if (found := mouth.in_role("central", side)) is not None and found.length and not found.double
    ]
    if not lengths:
        words = "No height of a contact can be judged: the length of a central was not measured. Measure this."
        return FitGroup("connectors", title, lead, (missing("the two centrals", "length", words, source),))
    height = (2 * sum(lengths) + len(lengths)) // (2 * len(lengths))
    checks, notes = [], []
    for right, left in _neighbours(mouth):
        name = _PAIRS.get(tuple(sorted((role_of(right), role_of(left)))))  # type: ignore[arg-type]
        gap = _gap(mouth, right, left)
        if name is None or gap is None or right.tooth.is_primary or left.tooth.is_primary:
            continue
        taught = getattr(connector_heights(height), name)
        if gap.width and gap.film != "tight":
            seen = getattr(connector_heights(height, measured=True), name)
            notes.append(
                FitNote(
                    f"{capital(_between(mouth, right, left))} do not touch; once they do, a contact of about "
                    f"{rounded(seen)} to {rounded(taught)} mm is usual.",
                    source,
                )
            )
        else:
            checks.append(_connector(mouth, right, left, gap, taught, height))
    return FitGroup("connectors", title, lead, tuple(checks), tuple(notes))


def _connector(mouth: Mouth, right: ToothFacts, left: ToothFacts, gap: Gap, taught: Decimal, central: int) -> FitCheck:
    about, what, source = _between(mouth, right, left), "height of the contact", "connector_percent"
    if not gap.connector_height:
        words = "How high they touch was not measured: measure this from the front."
        return missing(about, what, words, source, right.tooth, left.tooth)
    near = fit_setting("connector_near").value
    good, further = (tenths(central) * near[word] / 100 for word in ("good", "acceptable"))
    value = tenths(gap.connector_height)
    word = by_bounds(value, (taught - good, taught + good), (taught - further, taught + further))
    side = "short" if value < taught else "high"
    judged = {FitWord.GOOD: "as taught", FitWord.ACCEPTABLE: f"rather {side}", FitWord.LIMIT: f"very {side}"}[word]
    return FitCheck(
        about,
        what,
        word,
        f"They touch over {format_mm(gap.connector_height)} mm, {judged}: {rounded(taught)} mm would be the taught "
        f"share of centrals {format_mm(central)} mm high.",
        source,
        fit_setting(source).certainty,
        value,
        "mm",
        rounded(taught - good),
        rounded(taught + good),
        teeth=(right.tooth, left.tooth),
    )


# ---------------------------------------------------------------- gum line


def gum_group(mouth: Mouth) -> FitGroup:
    """Steps of the gum line at laterals, and at a premolar in the canine's place."""
    checks = [
        _gum(mouth, found)
        for found in mouth.front
        if (role_of(found) == "lateral" or plays_canine(found)) and not found.tooth.is_primary
    ]
    others = [
        FitNote(
            f"{capital(mouth.about(found))}: {format_mm(found.gum_step)} mm toward the edge; no expected step is known "
            "for it."
        )
        for found in mouth.front
        if found.gum_step is not None and not (role_of(found) == "lateral" or plays_canine(found))
    ]
    lead = "How far the gum line lies toward the edge: at a lateral from the line between central and canine, at a "
    lead += "premolar in the canine's place from the other canine's."
    return FitGroup("gum", "Steps of the gum line", lead, tuple(checks), tuple(others))


def _gum(mouth: Mouth, found: ToothFacts) -> FitCheck:
    name = "lateral"
    if found.tooth.kind is Kind.PREMOLAR and role_of(found) == "canine":
        name = "first_premolar" if found.tooth.position == 4 else "second_premolar"
    source, what, about = f"gum_step_{name}", "step of the gum line", mouth.about(found)
    if found.gum_step is None:
        words = "How far toward the edge the gum line lies was not measured: measure this."
        return missing(about, what, words, source, found.tooth)
    near = gum_step_of(name, found.gum_step)
    further = gum_step_of(name, found.gum_step, fit_setting("gum_step_far").value)
    word = FitWord.GOOD if near.as_expected else FitWord.ACCEPTABLE if further.as_expected else FitWord.LIMIT
    judged = {
        FitWord.GOOD: "as expected",
        FitWord.ACCEPTABLE: "a little off what is expected",
        FitWord.LIMIT: "far from what is expected",
    }[word]
    return FitCheck(
        about,
        what,
        word,
        f"The gum line lies {format_mm(found.gum_step)} mm toward the edge, {judged}: {rounded(near.mean)} \u00b1 "
        f"{rounded(near.high - near.mean)} mm.",
        source,
        fit_setting(source).certainty,
        tenths(found.gum_step),
        "mm",
        rounded(near.low),
        rounded(near.high),
        teeth=(found.tooth,),
    )
