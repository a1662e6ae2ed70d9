"""What in a record cannot be true, and what is probably a slip.

A *contradiction* (two teeth in one place, an absent tooth that was measured, a finding from tomorrow) makes the record
refused. A *question* (:func:`doubts`) may be true but is usually a slip; the person is asked and may keep it.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

from planner.rules import plausible
from planner.rules.choices import RAISED_LIMITS, Lock
from planner.rules.identities import Finding, identity_contradictions, identity_doubts
from planner.rules.mouth import CaseFacts, Examination, Gap, ToothFacts
from planner.rules.raised import no_raise, too_far
from planner.rules.space_limits import default_limits
from planner.rules.standing import arch_space, place_of, places_held
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm

_TOOTH_LENGTHS = (
    *("contact_height", "edge_removed_before", "sides_removed_before", "exposed_neck", "edge_thickness"),
    *("wing_enamel_height", "wing_clearance", "thickness", "arch_space", "frontal_width"),
)

SMALLEST_CROWN, LARGEST_CROWN = 10, 160
"""No crown is narrower than 1.0 or larger than 16.0 mm: beyond this a value is a slip of the pen (common practice)."""
WIDEST_GAP = 150
FARTHEST_MIDLINE = 50
"""No midline that is aimed at lies further than 5.0 mm from that of the teeth (common practice)."""
WIDEST_PLACE = 400
"""No place of one tooth, or of a few side by side, is wider than 40.0 mm (common practice)."""
LONGEST_LIFE = 120
"""Years of age beyond which a birth date is a slip of the pen."""
HIGHEST_GUM_STEP = 80
"""No gum line lies further than 8.0 mm from its neighbours' (common practice)."""
DAYS_AHEAD = 400
"""No birth, filling or night of whitening is planned further ahead than this: beyond it a date is a slip."""


def contradictions(facts: CaseFacts, today: date) -> Iterator[Finding]:
    """Everything in ``facts`` that cannot be true on ``today``."""
    yield from contradictions_of_parts(facts, today)
    yield from _gaps(facts.examination)
    yield from _absences(facts.examination)
    yield from _wishes(facts)
    yield from _choices(facts)


def contradictions_of_parts(facts: CaseFacts, today: date) -> Iterator[Finding]:
    """Those that hold whatever else is missing: dates, lengths, and teeth recorded twice or in one place."""
    yield from _dates(facts, today)
    yield from _lengths(facts)
    yield from _teeth(facts.examination)
    yield from identity_contradictions(facts.examination)


def doubts(examination: Examination) -> Iterator[Finding]:
    """Likely slips among the measurements of one examination, each a question; the value may stay."""
    by_tooth = {tooth.tooth: tooth for tooth in examination.teeth}
    for index, tooth in enumerate(examination.teeth):
        path = f"examination.teeth[{index}]"
        for question in plausible.questions(tooth.tooth, width=tooth.width, length=tooth.length, double=tooth.double):
            yield f"{path}.{question.field}", question.words
        twin = by_tooth.get(tooth.tooth.twin)
        if twin and tooth.tooth < twin.tooth and tooth.width is not None and twin.width is not None:
            pair = plausible.pair_question(tooth.tooth, tooth.width, twin.width)
            if pair:
                yield f"{path}.{pair.field}", pair.words
        for what in ("width", "length"):
            first, again = getattr(tooth, what), getattr(tooth, f"{what}_again")
            if first is not None and again is not None and plausible.readings_apart(first, again):
                yield (
                    f"{path}.{what}_again",
                    f"The two readings of the {what} of the {tooth.tooth.name} differ by "
                    f"{format_mm(abs(first - again))} mm: please measure a third time.",
                )
    for index, gap in enumerate(examination.gaps):
        if gap.width_again is not None and plausible.readings_apart(gap.width, gap.width_again):
            yield (
                f"examination.gaps[{index}].width_again",
                f"The two readings of the gap between the {gap.between[0].name} and the {gap.between[1].name} differ "
                f"by {format_mm(abs(gap.width - gap.width_again))} mm: please measure a third time.",
            )
    yield from _closure(examination)
    yield from identity_doubts(examination)


def _closure(examination: Examination) -> Iterator[Finding]:
    """The upper arch in one go against the sum of its readings, where every one of them was taken."""
    upper = [tooth for tooth in examination.teeth if tooth.tooth.upper and not tooth.tooth.is_extra and tooth.width]
    upper.sort(key=lambda tooth: place_of(tooth).arch_index)
    widths = {frozenset(gap.between): gap.width for gap in examination.gaps}
    pairs = [frozenset((one.tooth, other.tooth)) for one, other in pairwise(upper)]
    taken = [space for tooth in upper[1:-1] if (space := arch_space(tooth)) is not None]
    if examination.strip_length is None or not pairs or any(pair not in widths for pair in pairs):
        return
    if len(taken) < len(upper) - 2:
        return  # a turned tooth takes up what cannot be told without its thickness
    words = plausible.closure_question(examination.strip_length, taken, [widths[pair] for pair in pairs])
    if words:
        yield "examination.strip_length", words


def _dates(facts: CaseFacts, today: date) -> Iterator[Finding]:
    born, examined = facts.patient.birth_date, facts.examination.on
    if born > today:
        yield "patient.birth_date", f"{born} lies in the future; today is {today}. A birth date lies in the past."
    elif born > examined:
        yield (
            "patient.birth_date",
            f"The birth date {born} lies after the examination on {examined}. One of the two is a slip.",
        )
    elif today.year - born.year > LONGEST_LIFE:
        yield "patient.birth_date", f"{born} lies more than {LONGEST_LIFE} years back. Was the year mistyped?"
    examination = facts.examination
    seen: list[tuple[str, date | None]] = [
        ("examination.on", examined),
        ("history.signed_on", facts.history.signed_on),
        ("history.any_change_asked_on", facts.history.any_change_asked_on),
        ("history.hba1c_on", facts.history.hba1c_on),
        ("examination.gums.on", examination.gums.on),
        ("examination.gums.cleaned_on", examination.gums.cleaned_on),
        ("examination.decay.on", examination.decay.on),
        ("examination.bite.on", examination.bite.on),
        ("examination.colour.on", examination.colour.on),
        ("examination.orthodontics.removed_on", examination.orthodontics.removed_on),
    ]
    seen += [(f"examination.absent[{index}].lost_on", item.lost_on) for index, item in enumerate(examination.absent)]
    seen += [(f"pictures[{index}].on", picture.on) for index, picture in enumerate(facts.pictures)]
    growth = examination.growth
    seen += [(f"examination.growth.height_mm[{index}]", day) for index, (day, _) in enumerate(growth.height_mm)]
    seen += [(f"examination.growth.skull_films[{index}]", day) for index, day in enumerate(growth.skull_films)]
    for path, day in seen:
        if day is None:
            continue
        if day > today:
            yield path, f"{day} lies in the future; today is {today}. A finding has a date up to today."
        elif day < born <= today and not (path == "examination.on" and born > examined):
            yield path, f"{day} lies before the birth date {born}. One of the two is a slip."
    planned = (
        ("history.due_on", facts.history.due_on),
        ("examination.decay.filling_booked_on", examination.decay.filling_booked_on),
        ("examination.colour.last_whitening_night", examination.colour.last_whitening_night),
    )
    for path, day in planned:
        if day is not None and day > today + timedelta(days=DAYS_AHEAD):
            yield path, f"{day} lies more than {DAYS_AHEAD} days ahead. Was the year mistyped?"


def _lengths(facts: CaseFacts) -> Iterator[Finding]:
    """Lengths and amounts that no mouth and no wish has."""
    examination, bite, limits = facts.examination, facts.examination.bite, facts.limits
    found: list[tuple[str, int | None, int]] = [
        ("limits.removal", limits.removal, 0),
        ("examination.midline_offset", examination.midline_offset, -LARGEST_CROWN),
        ("examination.gums.firm_gum", examination.gums.firm_gum, 0),
        ("examination.bite.overjet", bite.overjet, -LARGEST_CROWN),
        ("examination.bite.overbite", bite.overbite, -LARGEST_CROWN),
    ]
    for index, tooth in enumerate(examination.teeth):
        for name in _TOOTH_LENGTHS:
            found.append((f"examination.teeth[{index}].{name}", getattr(tooth, name), 0))
        step = tooth.gum_step
        if step is not None and abs(step) > HIGHEST_GUM_STEP:
            yield f"examination.teeth[{index}].gum_step", _out_of_range(step, -HIGHEST_GUM_STEP, HIGHEST_GUM_STEP)
    for index, gap in enumerate(examination.gaps):
        for name in ("contact_to_bone", "connector_height"):
            found.append((f"examination.gaps[{index}].{name}", getattr(gap, name), 0))
    for path, value, least in found:
        if value is not None and not least <= value <= LARGEST_CROWN:
            yield path, _out_of_range(value, least, LARGEST_CROWN)
    for index, empty in enumerate(examination.empty_places):
        for name in ("crown_distance", "root_distance", "ridge_thickness", "height_to_bite"):
            value = getattr(empty, name)
            if value is not None and not 0 <= value <= WIDEST_PLACE:
                yield f"examination.empty_places[{index}].{name}", _out_of_range(value, 0, WIDEST_PLACE)
    if limits.money is not None and limits.money < 0:
        yield "limits.money", "An amount that may be spent is not below 0. Leave it out when none was named."


def _out_of_range(tenths: int, least: int, most: int) -> str:
    return f"{format_mm(tenths)} mm is out of range: it lies between {format_mm(least)} and {format_mm(most)} mm."


def _wishes(facts: CaseFacts) -> Iterator[Finding]:
    ranks: dict[int, int] = {}
    for index, wish in enumerate(facts.wishes):
        first = ranks.setdefault(wish.rank, index)
        if first != index:
            yield (
                f"wishes[{index}].rank",
                f"Rank {wish.rank} is given twice; wishes[{first}] has it already. Number the wishes 1, 2, 3.",
            )


def _teeth(examination: Examination) -> Iterator[Finding]:
    identities: dict[Tooth, int] = {}
    places: dict[Tooth, int] = {}
    for index, tooth in enumerate(examination.teeth):
        path = f"examination.teeth[{index}]"
        first = identities.setdefault(tooth.tooth, index)
        if first != index:
            yield f"{path}.tooth", f"The {_named(tooth.tooth)} is recorded twice; it stands in teeth[{first}] already."
            continue
        if not tooth.tooth.is_extra:
            for place in places_held(tooth):
                first = places.setdefault(place, index)
                found = examination.teeth[first]
                if first != index and tooth.tooth != found.double_with and found.tooth != tooth.double_with:
                    other = found.tooth
                    yield (
                        f"{path}.place",
                        f"The {_named(tooth.tooth)} and the {_named(other)} both stand in the place of the "
                        f"{_named(place)}. Say in which place each one stands.",
                    )
        for name in ("width", "width_again", "length", "length_again", "neck_width"):
            value = getattr(tooth, name)
            if value is not None and not SMALLEST_CROWN <= value <= LARGEST_CROWN:
                yield (
                    f"{path}.{name}",
                    f"{format_mm(value)} mm is no {name.removesuffix('_again').replace('_', ' ')} of a tooth: crowns "
                    f"measure between {format_mm(SMALLEST_CROWN)} and {format_mm(LARGEST_CROWN)} mm. "
                    "Was the decimal mark left out?",
                )
        if tooth.place is not None:
            yield from _no_place(f"{path}.place", tooth.place)


def _no_place(path: str, place: Tooth) -> Iterator[Finding]:
    """Places are named by permanent teeth; a baby or extra tooth stands in one and is none."""
    if place.is_extra or place.is_primary:
        home = Tooth(place.upper, place.side, place.position)
        yield path, f"The {_named(place)} names no place. A place has a permanent tooth's name, such as {_named(home)}."


def _gaps(examination: Examination) -> Iterator[Finding]:
    order = sorted(
        (tooth for tooth in examination.teeth if not tooth.tooth.is_extra),
        key=lambda tooth: (not place_of(tooth).upper, place_of(tooth).arch_index),
    )
    position = {tooth.tooth: index for index, tooth in enumerate(order)}
    known: dict[frozenset[Tooth], int] = {}
    for index, gap in enumerate(examination.gaps):
        path = f"examination.gaps[{index}]"
        yield from _one_gap(path, gap)
        strangers = [tooth for tooth in gap.between if tooth not in position]
        for tooth in strangers:
            yield f"{path}.between", f"The {_named(tooth)} has no entry under teeth, so no gap beside it can be placed."
        if strangers:
            continue
        one, other = (position[tooth] for tooth in gap.between)
        if abs(one - other) != 1 or place_of(order[one]).upper != place_of(order[other]).upper:
            yield (
                f"{path}.between",
                f"The {_named(gap.between[0])} and the {_named(gap.between[1])} are not neighbours: "
                "a gap lies between two teeth that stand side by side.",
            )
        first = known.setdefault(frozenset(gap.between), index)
        if first != index:
            yield f"{path}.between", f"This gap is recorded twice; it stands in gaps[{first}] already."


def _one_gap(path: str, gap: Gap) -> Iterator[Finding]:
    if not 0 <= gap.width <= WIDEST_GAP:
        yield (
            f"{path}.width",
            f"{format_mm(gap.width)} mm is no gap: it lies between 0 (teeth touch) and {format_mm(WIDEST_GAP)} mm.",
        )
    elif gap.film is not None and gap.width not in (1, 2):
        yield (
            f"{path}.film",
            f'"{gap.film}" answers the question about a gap of 0.1 or 0.2 mm; this one measures '
            f"{format_mm(gap.width)} mm. A tight contact has a gap of 0. Leave the answer out or correct the width.",
        )
    if gap.connector_height is not None and gap.width > 0 and gap.film != "tight":
        yield (
            f"{path}.connector_height",
            f"Teeth {format_mm(gap.width)} mm apart do not touch, so their contact has no height: leave it empty, or "
            "write a gap of 0.",
        )


def _absences(examination: Examination) -> Iterator[Finding]:
    present = {tooth.tooth for tooth in examination.teeth}
    stands = {place_of(tooth): tooth.tooth for tooth in examination.teeth if not tooth.tooth.is_extra}
    known: dict[tuple[str, Tooth], int] = {}
    for index, absent in enumerate(examination.absent):
        if (first := known.setdefault(("absent", absent.tooth), index)) != index:
            yield (
                f"examination.absent[{index}].tooth",
                f"The {_named(absent.tooth)} is declared absent twice; absent[{first}] has it already.",
            )
        if absent.tooth in present:
            yield (
                f"examination.absent[{index}].tooth",
                f"The {_named(absent.tooth)} is declared absent and was measured as well. "
                "If another tooth stands in its place, record that tooth with this place.",
            )
    for index, empty in enumerate(examination.empty_places):
        yield from _no_place(f"examination.empty_places[{index}].place", empty.place)
        if (first := known.setdefault(("empty", empty.place), index)) != index:
            yield (
                f"examination.empty_places[{index}].place",
                f"The place of the {_named(empty.place)} is recorded twice; empty_places[{first}] has it already.",
            )
        if empty.place in stands:
            yield (
                f"examination.empty_places[{index}].place",
                f"The place of the {_named(empty.place)} is called empty, but the {_named(stands[empty.place])} "
                "stands in it.",
            )


def _choices(facts: CaseFacts) -> Iterator[Finding]:
    present = {tooth.tooth for tooth in facts.examination.teeth}
    gaps = {frozenset(gap.between) for gap in facts.examination.gaps}
    seen: dict[tuple[object, str], int] = {}
    for index, lock in enumerate(facts.choices.locks):
        path = f"choices.locks[{index}]"
        if lock.tooth is not None and lock.tooth not in present:
            yield f"{path}.tooth", f"The {_named(lock.tooth)} has no entry under teeth, so nothing on it can be locked."
        if lock.between is not None and frozenset(lock.between) not in gaps:
            yield f"{path}.between", "There is no such gap in this examination."
        yield from _lock_amount(path, lock, facts.tooth(lock.tooth) if lock.tooth else None)
        subject = (lock.tooth or frozenset(lock.between or ()), lock.what)
        first = seen.setdefault(subject, index)
        if first != index:
            yield path, f'"{lock.what}" is locked twice on the same subject; locks[{first}] has it already. Keep one.'
    raised = [index for index, lock in enumerate(facts.choices.locks) if lock.what in RAISED_LIMITS]
    for index in raised[1:]:
        yield (
            f"choices.locks[{index}]",
            f"One limit at most is raised in a case; locks[{raised[0]}] raises one already. Let that one go first.",
        )
    for index, choice in enumerate(facts.choices.surfaces):
        if choice.tooth not in present:
            yield f"choices.surfaces[{index}].tooth", f"The {_named(choice.tooth)} has no entry under teeth."
    for index, struck in enumerate(facts.choices.struck):
        if struck.option == "none":
            yield f"choices.struck[{index}].option", "No treatment is always shown, so it cannot be struck."


def _lock_amount(path: str, lock: Lock, tooth: ToothFacts | None) -> Iterator[Finding]:
    """A fixed amount outside anything that it can be."""
    if lock.what in RAISED_LIMITS:
        if sentence := too_far(lock) or (no_raise(lock, tooth) if tooth else ""):
            yield f"{path}.{'degrees' if lock.degrees is not None else 'value'}", sentence
        return
    if lock.value is None:
        return
    least, most = (SMALLEST_CROWN if lock.what in ("width", "length") else 0), LARGEST_CROWN
    if lock.what == "midline":
        least, most = -FARTHEST_MIDLINE, FARTHEST_MIDLINE
    elif lock.what.startswith("slenderise"):
        most = default_limits().slender_cap
    if not least <= lock.value <= most:
        yield f"{path}.value", _out_of_range(lock.value, least, most)


def _named(tooth: Tooth) -> str:
    return tooth.label(Numbering.ISO)
