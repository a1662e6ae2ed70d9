"""Fit of places: turned, double and swapped teeth, a premolar as canine, room for implants, what was taken off."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import pairwise

from planner.rules.fit_front import Mouth, capital, missing
from planner.rules.fit_results import FitCheck, FitGroup, FitNote, FitWord, fit_setting, rounded, tenths
from planner.rules.identities import plays_canine, transposed_pairs
from planner.rules.mouth import EmptyPlace, ToothFacts
from planner.rules.proportions import (
    HeightVerdict,
    closing_months,
    enlargement,
    implant_heights,
    implant_table,
    on_film,
    stripping_verdict,
    without_enlargement,
)
from planner.rules.standing import arch_space, place_of
from planner.rules.units import format_mm, many
from planner.rules.verdicts import Verdict

_WORDS = {
    Verdict.OFFER: FitWord.GOOD,
    Verdict.CARE: FitWord.ACCEPTABLE,
    Verdict.NO: FitWord.LIMIT,
    Verdict.ASK: FitWord.ASK,
}

# ---------------------------------------------------------------- tooth, place and role


def identity_group(mouth: Mouth) -> FitGroup:
    """What is unusual about which tooth stands where, with what has to be recorded of it."""
    checks: list[FitCheck] = []
    for found in mouth.facts.examination.teeth:
        checks += _turned(mouth, found)
        if found.double and found.double_counts is None:
            name = mouth.label(found.tooth)
            words = "Whether it counts as one tooth or as two was not recorded: count the roots on a film."
            checks.append(missing(name, "double tooth", words, "plausible_width_double", found.tooth))
        if plays_canine(found):
            checks += _as_canine(mouth, found)
    lead = "What a tooth is, where it stands and what it must look like are three facts. An absent tooth is no empty "
    lead += "place."
    return FitGroup("identity", "Tooth, place and role", lead, tuple(checks), tuple(_identity_notes(mouth)))


def _turned(mouth: Mouth, found: ToothFacts) -> Iterator[FitCheck]:
    if not found.rotation and found.arch_space is None:
        return
    about, what, source = mouth.label(found.tooth), "taken up in the arch", "arch_space_apart"
    space = arch_space(found)
    if space is None:
        lacking = " and ".join(
            word for word, value in (("width", found.width), ("thickness", found.thickness)) if not value
        )
        words = f"It is turned by {found.rotation}\u00b0: measure its {lacking}, or what it takes up directly."
        yield missing(about, what, words, source, found.tooth)
        return
    how = "measured directly" if found.arch_space is not None else "width \u00d7 cosine + thickness \u00d7 sine"
    width = f" against {format_mm(found.width)} mm of width" if found.width else ""
    turn = f"Turned by {found.rotation}\u00b0 it" if found.rotation else "It"
    yield FitCheck(
        about,
        what,
        FitWord.ACCEPTABLE if found.rotation else FitWord.GOOD,
        f"{turn} takes up {format_mm(space)} mm{width} ({how}).",
        source,
        fit_setting(source).certainty,
        tenths(space),
        "mm",
        teeth=(found.tooth,),
    )


def _as_canine(mouth: Mouth, found: ToothFacts) -> Iterator[FitCheck]:
    """What is recorded of a premolar in the canine's place; its gum step stands with the others."""
    about, source = mouth.about(found), "premolar_as_canine"
    turn = None if found.rotation is None else f"{found.rotation}\u00b0"
    answers: tuple[tuple[str, str | None, bool, str], ...] = (
        ("turn", turn, found.rotation == 0, "how far it is turned"),
        ("palatal cusp", found.palatal_cusp, found.palatal_cusp == "low", "how high its palatal cusp is"),
        (
            "root bulge",
            None if found.root_bulge is None else "as a canine's" if found.root_bulge else "none",
            bool(found.root_bulge),
            "whether its root bulges as a canine's",
        ),
        ("shade", found.shade or None, True, "its own shade"),
        (
            "side guidance",
            found.side_guidance,
            found.side_guidance != "this tooth",
            "what carries the jaw to its side",
        ),
    )
    for what, said, good, asked in answers:
        if said is None:
            yield missing(about, what, f"Not recorded: record {asked}.", source, found.tooth)
            continue
        word = FitWord.GOOD if good else FitWord.ACCEPTABLE
        if said == "in the bite":
            word = FitWord.LIMIT
        yield FitCheck(
            about,
            what,
            word,
            _CANINE_WORDS[what] if not good else f"{capital(what)} recorded: {said}.",
            source,
            fit_setting(source).certainty,
            said=said,
            teeth=(found.tooth,),
        )


_CANINE_WORDS = {
    "turn": "A turned premolar shows more of its side; a turn may be wanted to hide the palatal cusp.",
    "palatal cusp": "The palatal cusp shows or meets the lower teeth; what is ground off it counts as removal.",
    "root bulge": "Without a canine's root the corner of the arch looks flat; resin cannot change that.",
    "side guidance": "This tooth alone carries the jaw to its side: record the guidance before and after.",
}


def _identity_notes(mouth: Mouth) -> Iterator[FitNote]:
    examination = mouth.facts.examination
    for one, other in transposed_pairs(examination):
        yield FitNote(f"The {mouth.label(one.tooth)} and the {mouth.label(other.tooth)} have changed places.")
    paired = {found.tooth for pair in transposed_pairs(examination) for found in pair}
    for found in examination.teeth:
        tooth = found.tooth
        if tooth.is_extra:
            yield FitNote(
                f"An extra tooth is recorded: {mouth.label(tooth)}. How space beside it is shared is for the dentist."
            )
        elif tooth.is_primary:
            yield FitNote(f"The {mouth.label(tooth)} is a kept baby tooth: its root is looked at on a film.")
        elif place_of(found) != tooth and tooth not in paired:
            yield FitNote(f"{capital(mouth.about(found))}: it counts as what stands there and stays what it is.")
        if plays_canine(found):
            yield FitNote("A premolar in the canine's place: no study of how long this lasts was found.")
        if found.double_with is not None:
            both = f"{mouth.label(tooth)} and {mouth.label(found.double_with)}"
            yield FitNote(f"{both} have grown together: one crown, counted as two teeth.")
    standing, empty = mouth.standing, {line.place for line in examination.empty_places}
    for absent in examination.absent:
        place = absent.tooth
        if place in standing and place not in empty:
            words = f"The {mouth.label(place)} is absent, and its place is not empty: "
            yield FitNote(f"{words}the {mouth.label(standing[place].tooth)} stands there.")


# ---------------------------------------------------------------- room for implants


def implant_group(mouth: Mouth) -> FitGroup:
    """Room for an implant in every empty place: crowns and roots, the smaller deciding, and height to the bite."""
    checks: list[FitCheck] = []
    for run in _runs(mouth):
        checks += _room(mouth, run)
        checks += [_height(mouth, line) for line in run]
    notes = () if checks else (FitNote("No place is recorded as empty, so there is no room to measure."),)
    return FitGroup(
        "implant",
        "Room for an implant",
        "1.5 mm to each tooth and 3.0 mm between two implants, at the crowns and at the roots; the smaller decides.",
        tuple(checks),
        notes,
    )


def _runs(mouth: Mouth) -> Iterator[tuple[EmptyPlace, ...]]:
    """Empty places side by side, each run from the patient's right."""
    places = sorted(mouth.facts.examination.empty_places, key=lambda line: line.place)
    run: list[EmptyPlace] = []
    for line in places:
        if run and not _side_by_side(run[-1], line):
            yield tuple(run)
            run = []
        run.append(line)
    if run:
        yield tuple(run)


def _side_by_side(one: EmptyPlace, other: EmptyPlace) -> bool:
    return one.place.upper == other.place.upper and other.place.arch_index - one.place.arch_index == 1


def _room(mouth: Mouth, run: Sequence[EmptyPlace]) -> Iterator[FitCheck]:
    about, source = " and ".join(mouth.label(line.place) for line in run), "implant_to_tooth"
    about = f"place of the {about}" if len(run) == 1 else f"places of the {about}"
    factor = [line for line in run if _needs_factor(mouth, line)]
    if factor:
        words = f"Measured on a film, and by how much it enlarges was not said: measure the {about} against a ball or "
        words += "a marker of known size."
        yield missing(about, "room for an implant", words, source, *(line.place for line in run))
        return
    crowns, roots = (_distance(mouth, run, name) for name in ("crown_distance", "root_distance"))
    for room in implant_table(crowns, roots, len(run)):
        what = f"implant of {format_mm(room.diameter)} mm"
        if len(run) > 1:
            what = f"{len(run)} implants of {format_mm(room.diameter)} mm"
        # One distance alone can say no; it is the one that was measured.
        known = [value for value in (crowns, roots) if value is not None]
        word = _WORDS[room.verdict]
        teeth = tuple(line.place for line in run)
        if word is FitWord.ASK:
            yield missing(about, what, f"{room.words} Measure it.", source, *teeth)
            continue
        yield FitCheck(
            about,
            what,
            word,
            room.words,
            source,
            fit_setting(source).certainty,
            tenths(min(known)),
            "mm",
            low=tenths(room.needed),
            teeth=teeth,
        )


def _distance(mouth: Mouth, run: Sequence[EmptyPlace], name: str) -> int | None:
    """The distance across a run in life size: of one line where only one carries it, else all together."""
    examination = mouth.facts.examination
    found = [
        value if factor is None else without_enlargement(value, factor)
        for line in run
        if (value := getattr(line, name)) is not None
        for factor in (enlargement(examination, line) if on_film(examination, line) else None,)
    ]
    return sum(found) if found and len(found) in (1, len(run)) else None


def _needs_factor(mouth: Mouth, line: EmptyPlace) -> bool:
    measured = line.crown_distance is not None or line.root_distance is not None
    examination = mouth.facts.examination
    return measured and on_film(examination, line) and enlargement(examination, line) is None


_FIXED = {
    "screw_implant_level": "screwed to the implant",
    "screw_abutment_level": "screwed to an abutment",
    "cemented": "cemented",
}


def _height(mouth: Mouth, line: EmptyPlace) -> FitCheck:
    about, what, source = f"place of the {mouth.label(line.place)}", "height to the bite", "implant_height"
    if line.height_to_bite is None:
        words = "The height to the bite was not measured: measure this on the models or a scan."
        return missing(about, what, words, source, line.place)
    found = implant_heights(line.height_to_bite)
    fits = [name for name, verdict in found.items() if verdict is not HeightVerdict.TOO_LOW]
    sure = all(verdict is HeightVerdict.ENOUGH for verdict in found.values())
    words = "; ".join(f"{_FIXED[name]}: {verdict}" for name, verdict in found.items())
    least = min(low for low, _high in fit_setting(source).value.values())
    return FitCheck(
        about,
        what,
        FitWord.GOOD if sure else FitWord.ACCEPTABLE if fits else FitWord.LIMIT,
        f"{format_mm(line.height_to_bite)} mm for a crown {words}.",
        source,
        fit_setting(source).certainty,
        tenths(line.height_to_bite),
        "mm",
        low=tenths(least),
        teeth=(line.place,),
    )


# ---------------------------------------------------------------- taken off over a lifetime


def removal_group(mouth: Mouth) -> FitGroup:
    """What was and is to be taken off edges and sides, tooth by tooth, against the limits of a lifetime."""
    checks: list[FitCheck] = []
    for found in mouth.facts.examination.teeth:
        checks += _shortened(mouth, found)
        checks += _slenderised(mouth, found)
    side = fit_setting("stripping_per_side")
    notes = [
        FitNote(
            f"Between teeth at most {side.value} mm come off one side; above "
            f"{fit_setting('stripping_measure_above').value} mm the enamel is measured first, and never more than half "
            "of it goes.",
            side.name,
        )
    ]
    if not checks:
        notes.insert(0, FitNote("Nothing is recorded as taken off any tooth, and nothing is decided."))
    return FitGroup(
        "removal",
        "Taken off over a lifetime",
        "Earlier visits count, whoever did them; a dentist's decisions of this case are added.",
        tuple(checks),
        tuple(notes),
    )


def _decided(mouth: Mouth, found: ToothFacts, what: str) -> int:
    return sum(lock.value or 0 for lock in mouth.facts.choices.locks if (lock.tooth, lock.what) == (found.tooth, what))


def _shortened(mouth: Mouth, found: ToothFacts) -> Iterator[FitCheck]:
    before, now = found.edge_removed_before, _decided(mouth, found, "shorten")
    if before or now:
        yield _lifetime(mouth, found, "off the edge", before, now, tenths(mouth.limits.shorten_lifetime))


def _slenderised(mouth: Mouth, found: ToothFacts) -> Iterator[FitCheck]:
    sides = {side: _decided(mouth, found, f"slenderise {side}") for side in ("mesial", "distal")}
    before, now = found.sides_removed_before, sum(sides.values())
    about, source = mouth.label(found.tooth), "stripping_per_side"
    for side, planned in sides.items():
        if planned:
            yield FitCheck(
                about,
                f"off the {side} side",
                _WORDS[stripping_verdict(tenths(planned))],
                f"{format_mm(planned)} mm are decided for this side.",
                source,
                fit_setting(source).certainty,
                tenths(planned),
                "mm",
                high=fit_setting(source).value,
                teeth=(found.tooth,),
            )
    if before or now:
        yield _lifetime(mouth, found, "off both sides", before, now, fit_setting("stripping_lifetime").value)


def _lifetime(mouth: Mouth, found: ToothFacts, what: str, before: int, now: int, most: Decimal) -> FitCheck:
    source = "shorten_lifetime" if what == "off the edge" else "stripping_lifetime"
    total, about = tenths(before + now), mouth.label(found.tooth)
    left = most - total
    said = f"{format_mm(before)} mm before and {format_mm(now)} mm decided now" if now else f"{format_mm(before)} mm"
    rest = f"{rounded(left)} mm of its lifetime remain" if left > 0 else "nothing of its lifetime remains"
    if left < 0:
        rest = f"{rounded(-left)} mm more than a lifetime allows"
    return FitCheck(
        about,
        what,
        FitWord.GOOD if left > 0 else FitWord.ACCEPTABLE if left == 0 else FitWord.LIMIT,
        f"{capital(what)}: {said}; {rest}.",
        source,
        fit_setting(source).certainty,
        total,
        "mm",
        high=rounded(most, "0.01"),
        teeth=(found.tooth,),
    )


# ---------------------------------------------------------------- how long moving teeth would take


def movement_group(mouth: Mouth) -> FitGroup:
    """How long closing the gaps of the upper front by moving teeth would take, that phase alone."""
    pair = {(right.tooth, left.tooth) for right, left in pairwise(mouth.front)}
    gaps = [gap for gap in mouth.facts.examination.gaps if pair & {gap.between, gap.between[::-1]} and gap.width > 0]
    notes = []
    if gaps:
        widest = max(gaps, key=lambda gap: gap.width)
        together = sum(gap.width for gap in gaps)
        between = " and ".join(mouth.label(tooth) for tooth in widest.between)
        rate = fit_setting("closing_rate").value["upper"]
        notes.append(
            FitNote(
                f"{many(len(gaps), 'gap')} of the upper front, {format_mm(together)} mm together. The widest, "
                f"{format_mm(widest.width)} mm between {between}, would take about "
                f"{rounded(closing_months(widest.width))} months to close at {rate} mm a month: that phase alone, at a "
                "rate read for canines drawn into extraction spaces.",
                "closing_rate",
            )
        )
    else:
        notes.append(FitNote("The upper front has no gap that moving teeth would close."))
    return FitGroup("movement", "Closing gaps by moving teeth", "", (), tuple(notes))
