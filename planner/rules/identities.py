"""What a tooth is, where it stands and what it must look like: what of it cannot be true, and what may be a slip."""

from collections import Counter
from collections.abc import Iterator, Mapping

from planner.rules.mouth import CaseFacts, Examination, ToothFacts
from planner.rules.settings import read_settings
from planner.rules.standing import place_named, place_of, role_of, turned_space
from planner.rules.teeth import Kind, Numbering, Tooth
from planner.rules.units import format_mm, many

Finding = tuple[str, str]
"""Path into the case file, and one sentence."""

_WITH_PALATAL_CUSP = frozenset({Kind.PREMOLAR, Kind.MOLAR, Kind.PRIMARY_MOLAR})


def identity_contradictions(examination: Examination) -> Iterator[Finding]:
    """What cannot be true of where teeth stand, of double teeth, and of cusps that a tooth does not have."""
    present = {found.tooth for found in examination.teeth}
    for index, found in enumerate(examination.teeth):
        path = f"examination.teeth[{index}]"
        if found.place is not None and found.place.upper != found.tooth.upper:
            yield (
                f"{path}.place",
                f"The {_named(found.tooth)} cannot stand in the place of the {_named(found.place)}, which is in the "
                "other jaw.",
            )
        if found.palatal_cusp is not None and found.tooth.kind not in _WITH_PALATAL_CUSP:
            yield (
                f"{path}.palatal_cusp",
                f"The {_named(found.tooth)} has no palatal cusp; premolars and molars do. Leave it empty here.",
            )
        yield from _double(path, found, examination, present)


def _double(path: str, found: ToothFacts, examination: Examination, present: set[Tooth]) -> Iterator[Finding]:
    """A double tooth counts once, or twice together with its neighbour, which is then neither there nor absent."""
    name, other = _named(found.tooth), found.double_with
    if not found.double and (found.double_counts or other):
        yield f"{path}.double", f"The {name} is said to count as a double tooth and is not marked as one: mark it."
    if other is None:
        if found.double_counts == "twice":
            yield (
                f"{path}.double_with",
                f"The {name} counts as two teeth: say which one it has grown together with, or let it count once.",
            )
        return
    if found.double_counts != "twice":
        yield (
            f"{path}.double_counts",
            f"The {name} has grown together with the {_named(other)}, so it counts twice: say so.",
        )
    if other.is_extra or other.upper != found.tooth.upper or abs(other.arch_index - found.tooth.arch_index) != 1:
        yield (
            f"{path}.double_with",
            f"The {name} and the {_named(other)} are not neighbours, so they cannot have grown together.",
        )
    if other in present:
        yield (
            f"{path}.double_with",
            f"The {_named(other)} is recorded by itself and as a part of the {name}: it can be one of the two only.",
        )
    if any(absent.tooth == other for absent in examination.absent):
        yield (
            f"{path}.double_with",
            f"The {_named(other)} is declared absent and is a part of the {name} as well: it can be one of the two "
            "only.",
        )
    if any(empty.place == place_named(other) for empty in examination.empty_places):
        yield (
            f"{path}.double_with",
            f"The place of the {_named(other)} is called empty, but the {name} reaches into it, counting twice.",
        )


def identity_doubts(examination: Examination) -> Iterator[Finding]:
    """Likely slips about identity and place, each a question; the value may stay."""
    apart = read_settings("proportions.toml")["arch_space_apart"].value
    for index, found in enumerate(examination.teeth):
        path = f"examination.teeth[{index}]"
        if found.place is not None and not found.tooth.is_extra and found.place.side is not found.tooth.side:
            yield (
                f"{path}.place",
                f"The {_named(found.tooth)} stands on the other side of the middle, in the place of the "
                f"{_named(found.place)}: is that so, or are right and left swapped?",
            )
        if found.arch_space is not None and found.width and found.thickness and found.rotation:
            computed = turned_space(found.width, found.thickness, found.rotation)
            if abs(computed - found.arch_space) > apart:
                yield (
                    f"{path}.arch_space",
                    f"The {_named(found.tooth)} is said to take up {format_mm(found.arch_space)} mm of the arch; by "
                    f"its width, thickness and turn it would be {format_mm(computed)} mm. Is one of them misread?",
                )
    yield from _too_many(examination)


def _too_many(examination: Examination) -> Iterator[Finding]:
    most = read_settings("proportions.toml")["most_teeth_in_arch"].value
    counted: Counter[bool] = Counter()
    for found in examination.teeth:
        counted[found.tooth.upper] += 2 if found.double_counts == "twice" else 1
    for upper, count in sorted(counted.items(), reverse=True):
        if count > most:
            yield (
                "examination.teeth",
                f"{count} teeth are recorded in the {'upper' if upper else 'lower'} jaw; a full row has {most}. Are "
                "the extra ones extra teeth that were really seen?",
            )


def case_doubts(facts: CaseFacts) -> Iterator[Finding]:
    """What pictures say against the record: a tooth read as absent that was measured, perhaps on the wrong side."""
    present = {found.tooth for found in facts.examination.teeth}
    declared = {absent.tooth for absent in facts.examination.absent}
    for index, picture in enumerate(facts.pictures):
        for tooth in picture.absent:
            if tooth not in present:
                continue
            words = (
                f"The picture of {picture.on.isoformat()} was read to show that the {_named(tooth)} is absent, and "
                "that tooth was measured."
            )
            if tooth.twin in declared:
                words += f" Declared absent is the {_named(tooth.twin)}: are right and left swapped?"
            else:
                words += " One of the two is a slip."
            yield f"pictures[{index}].absent", words


def swapped_sides(now: Examination, before: Examination) -> str:
    """A question when the widths of ``now`` are those of ``before`` with right and left exchanged; empty for none.

    Every tooth measured now fits what its twin measured before, and at least two do not fit what they themselves did,
    or are not the same teeth. How far readings may differ: setting ``readings_apart``.
    """
    most = read_settings("proportions.toml")["readings_apart"].value
    here, there = _widths(now), _widths(before)
    mirrored = {tooth.twin: width for tooth, width in there.items()}
    if not here or not _all_fit(here, mirrored, most):
        return ""
    changed = [tooth for tooth, width in here.items() if tooth not in there or abs(there[tooth] - width) > most]
    if len(changed) < 2:
        return ""
    return (
        f"Beside the readings of {before.on.isoformat()} right and left have changed places on "
        f"{many(len(changed), 'tooth')}: are the sides swapped? A mirror shows the patient's right on the other side."
    )


def _widths(examination: Examination) -> dict[Tooth, int]:
    return {found.tooth: found.width for found in examination.teeth if found.width is not None}


def _all_fit(here: Mapping[Tooth, int], there: Mapping[Tooth, int], most: int) -> bool:
    return all(tooth in there and abs(there[tooth] - width) <= most for tooth, width in here.items())


def plays_canine(facts: ToothFacts) -> bool:
    """Whether it is an upper premolar that stands in the canine's place and must look like one."""
    return facts.tooth.upper and facts.tooth.kind is Kind.PREMOLAR and role_of(facts) == "canine"


def transposed_pairs(examination: Examination) -> tuple[tuple[ToothFacts, ToothFacts], ...]:
    """Pairs of teeth that have changed places with each other, from the patient's right."""
    by_place = {place_of(found): found for found in examination.teeth if not found.tooth.is_extra}
    pairs = []
    for found in sorted(examination.teeth, key=lambda each: each.tooth):
        home = by_place.get(place_named(found.tooth))
        if home is not None and home.tooth != found.tooth and place_named(home.tooth) == place_of(found):
            pairs.append((found, home))
    return tuple(pair for index, pair in enumerate(pairs) if pair[::-1] not in pairs[:index])


def _named(tooth: Tooth) -> str:
    return tooth.label(Numbering.ISO)
