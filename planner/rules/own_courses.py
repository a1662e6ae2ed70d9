"""Options a dentist puts together: held against the catalogue's exclusions, then made into courses like any other.

Such a course goes through the same gates, the same price list and the same order. What contradicts itself (two works
that cannot stand on one tooth, a place filled twice, more material than a gap has room for) is refused with a sentence;
nobody can set that aside. Treatments that no shipped combination joins are joined here: in calendar order, with the
longest wait that is known between the one and the like of the other.
"""

from collections.abc import Iterable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from itertools import combinations as pairs_of
from itertools import permutations

from planner.rules.choices import Lock, OwnOption, OwnWork
from planner.rules.courses import Course, Work
from planner.rules.evidence import Line
from planner.rules.mouth import CaseFacts, Gap
from planner.rules.segments import front_teeth
from planner.rules.standing import place_of
from planner.rules.teeth import Tooth
from planner.rules.together import clashes, rules
from planner.rules.treatments import Combination, Treatment, Wait
from planner.rules.units import format_mm


def own_courses(
    facts: CaseFacts, treatments: Mapping[str, Treatment], combinations: Mapping[str, Combination]
) -> tuple[Course, ...]:
    """The courses of the case's own options, those left out that contradict themselves."""
    return tuple(
        own_course(own, facts, treatments, combinations)
        for own in facts.choices.own_options
        if not own_faults(own, facts, treatments, combinations)
    )


def own_notes(
    facts: CaseFacts, treatments: Mapping[str, Treatment], combinations: Mapping[str, Combination]
) -> Iterator[str]:
    """Why each own option that is left out is left out: none is passed over in silence."""
    for own in facts.choices.own_options:
        if faults := own_faults(own, facts, treatments, combinations):
            yield f"The option put together by {own.by} ({own.key}) is left out: {' '.join(faults)}"


def own_course(
    own: OwnOption,
    facts: CaseFacts,
    treatments: Mapping[str, Treatment],
    combinations: Mapping[str, Combination],
) -> Course:
    """``own`` as plain work, its treatments in calendar order."""
    order = calendar_order((item.treatment for item in own.work), treatments, combinations)
    movers = [key for key in order if treatments[key].works_on == "teeth moved"]
    works = sorted(own.work, key=lambda item: order.index(item.treatment))
    work = [_work(item, facts, treatments[item.treatment]) for item in works]
    places = tuple(item.tooth for item in work if item.fills_place and item.tooth is not None)
    if movers and places:
        work += [Work(movers[0], tooth, irreversible=True, extracted=True) for tooth in displaced_primaries(facts)]
    closed, left = _gaps(own, facts, moved=bool(movers))
    return Course(own.key, order, tuple(work), gaps_closed=closed, gaps_left=left, places_filled=places)


def displaced_primaries(facts: CaseFacts) -> tuple[Tooth, ...]:
    """Baby teeth that must go when the tooth standing elsewhere returns to its own place."""
    present = {tooth.tooth for tooth in front_teeth(facts)}
    return tuple(tooth.tooth for tooth in front_teeth(facts) if tooth.tooth.is_primary and place_of(tooth) in present)


def _work(item: OwnWork, facts: CaseFacts, treatment: Treatment) -> Work:
    if _fills(item, facts, treatment):
        return Work(item.treatment, item.tooth, fills_place=True)
    sides = (item.mesial > 0) + (item.distal > 0) + (item.lengthening > 0)
    off, irreversible, surfaces = 0, False, 0
    match treatment.works_on:
        case "spaces":
            surfaces = item.surfaces or sides or 2
        case "edges":
            off, irreversible = item.removal, item.removal > 0
        case "places":
            off, irreversible = treatment.removal.planned_tenths, treatment.removal.crown_percent[1] > 0
        case "gum line":
            irreversible = True
        case "faces" | "crowns":
            off = treatment.removal.planned_tenths
            irreversible = off > 0
        case _:
            pass
    cut = treatment.works_on in ("faces", "crowns", "places")
    return Work(
        item.treatment,
        item.tooth,
        surfaces=surfaces,
        mesial=item.mesial,
        distal=item.distal,
        lengthening=item.lengthening,
        removal=off,
        crown_percent=treatment.removal.crown_percent if cut else (0, 0),
        irreversible=irreversible,
    )


def _fills(item: OwnWork, facts: CaseFacts, treatment: Treatment) -> bool:
    return treatment.fills_place and item.tooth is not None and facts.tooth(item.tooth) is None


# ------------------------------------------------------------------------------------- what contradicts itself


def own_faults(
    own: OwnOption,
    facts: CaseFacts,
    treatments: Mapping[str, Treatment],
    combinations: Mapping[str, Combination],
) -> tuple[str, ...]:
    """Everything in ``own`` that cannot be, one sentence each; empty when it can stand."""
    unknown = [item.treatment for item in own.work if item.treatment not in treatments or item.treatment == "none"]
    if unknown:
        return tuple(f'"{key}" is no treatment of the catalogue.' for key in dict.fromkeys(unknown))
    course = own_course(own, facts, treatments, combinations)
    parts = tuple(treatments[key] for key in course.treatments)
    known = next((each for each in combinations.values() if each.treatments == course.treatments), None)
    together = known or (joined(parts, combinations) if len(parts) > 1 else None)
    found = (
        *clashes(course, treatments, together),
        *_places(own, facts, treatments),
        *_amounts(own, facts, treatments),
    )
    return tuple(dict.fromkeys(found))


def _places(own: OwnOption, facts: CaseFacts, treatments: Mapping[str, Treatment]) -> Iterator[str]:
    empty = {each.place for each in facts.examination.empty_places}
    absent = {each.tooth for each in facts.examination.absent}
    standing = {place_of(each) for each in facts.examination.teeth}
    filled = [item for item in own.work if _fills(item, facts, treatments[item.treatment])]
    moved = any(treatments[item.treatment].works_on == "teeth moved" for item in own.work)
    for item in own.work:
        if item.tooth is None or item in filled:
            continue
        if facts.tooth(item.tooth) is None:
            label = item.tooth.label(facts.numbering)
            yield f"The {label} is not among the recorded teeth, so nothing can be done to it."
    for item in filled:
        assert item.tooth is not None  # a place is filled
        label = item.tooth.label(facts.numbering)
        if item.tooth not in empty | absent:
            yield f"No tooth is recorded as missing at the {label}, so its place cannot be filled."
        elif item.tooth in standing and not moved:
            yield f"Another tooth stands in the place of the {label} and must be moved first: add braces."
        yield from _carried(item.tooth, treatments[item.treatment], own, facts)


def _carried(place: Tooth, filling: Treatment, own: OwnOption, facts: CaseFacts) -> Iterator[str]:
    """Whether a false tooth that stands on no root of its own has the neighbours it needs."""
    wanted = {"": 0, "one neighbour": 1, "both neighbours": 2}[filling.carried_by]
    chosen = [facts.tooth(item.tooth) for item in own.work if item.treatment == filling.key and item.tooth is not None]
    filled = {item.tooth.arch_index for item in own.work if item.tooth is not None and facts.tooth(item.tooth) is None}
    sides = set()
    for found in chosen:
        for spot in (place_of(found), found.tooth) if found is not None else ():
            between = range(min(spot.arch_index, place.arch_index) + 1, max(spot.arch_index, place.arch_index))
            if spot.upper == place.upper and spot != place and not spot.is_extra and set(between) <= filled:
                sides.add(spot.arch_index > place.arch_index)
    if len(sides) < wanted:
        needs = "a neighbour" if wanted == 1 else "a neighbour on either side"
        yield (
            f"“{filling.name}” in the place of the {place.label(facts.numbering)} needs {needs} to carry it: choose "
            "it for that tooth as well."
        )


def _amounts(own: OwnOption, facts: CaseFacts, treatments: Mapping[str, Treatment]) -> Iterator[str]:
    for item in own.work:
        works_on = treatments[item.treatment].works_on
        label = f"the {item.tooth.label(facts.numbering)}" if item.tooth is not None else "no tooth"
        if works_on == "edges" and (item.tooth is None or not item.removal):
            yield f"“{treatments[item.treatment].name}” ({label}): say which tooth and how much comes off its edge."
        if works_on != "edges" and item.removal:
            yield f"Only an edge's shortening says how much comes off; for {label} the catalogue says it."
        if item.tooth is None and works_on not in ("whole mouth", "teeth moved", "edges"):
            yield f"“{treatments[item.treatment].name}” is done to a tooth or place: say which one."
        if item.tooth is not None and works_on in ("whole mouth", "teeth moved"):
            yield f"“{treatments[item.treatment].name}” is done to the whole mouth, not to {label} alone."
    if any(treatments[item.treatment].works_on == "teeth moved" for item in own.work):
        return
    for gap in facts.examination.gaps:
        if gap.width is not None and (added := sum(_facing(own, gap, facts))) > gap.width:
            between = " and ".join(f"the {tooth.label(facts.numbering)}" for tooth in gap.between)
            wide = format_mm(gap.width)
            yield f"Between {between} {format_mm(added)} mm is added, the gap is {wide} mm wide."


def _facing(own: OwnOption, gap: Gap, facts: CaseFacts) -> tuple[int, int]:
    """What the option adds on the two sides that face each other across ``gap``, tenths of a millimetre."""
    found = [facts.tooth(tooth) for tooth in gap.between]
    if None in found:
        return (0, 0)
    spots = [place_of(tooth) for tooth in found if tooth is not None]
    added = []
    for tooth, spot, other in zip(gap.between, spots, reversed(spots), strict=True):
        # Of two neighbours on one side the one nearer the midline turns its far side; across it both turn the near one.
        far = spot.side == other.side and spot.position < other.position
        added.append(sum((item.distal if far else item.mesial) for item in own.work if item.tooth == tooth))
    return (added[0], added[1])


def _gaps(
    own: OwnOption, facts: CaseFacts, *, moved: bool
) -> tuple[tuple[tuple[Tooth, Tooth], ...], tuple[tuple[Tooth, Tooth, int], ...]]:
    """The gaps that the option closes, and those it leaves with their width; gaps that are to stay are neither."""
    closed, left = [], []
    for gap in facts.examination.gaps:
        if not gap.width:
            continue
        stays = 0 if moved else gap.width - sum(_facing(own, gap, facts))
        if stays == 0:
            closed.append(gap.between)
        else:
            left.append((*gap.between, stays))
    return tuple(closed), tuple(left)


def as_locks(own: OwnOption, facts: CaseFacts, treatments: Mapping[str, Treatment]) -> CaseFacts:
    """The facts with everything the option adds and takes off fixed, so that sharing the space can be held against it.

    What the option does not touch stays as it is: a gap nothing is added to has nothing to share, and one that is not
    filled stays as wide as the option leaves it.
    """

    def fixed(what: str, value: int | None = None, *, at: Tooth | tuple[Tooth, Tooth]) -> Lock:
        where = {"between": at} if isinstance(at, tuple) else {"tooth": at}
        return Lock.model_construct(what=what, value=value, reason=own.reason, by=own.by, on=own.on, **where)  # type: ignore[arg-type]

    locks = [lock for lock in facts.choices.locks if lock.tooth is None and lock.between is None]
    worked = {item.tooth for item in own.work}
    edges = [item for item in own.work if treatments[item.treatment].works_on == "edges"]
    reshaped = {item.tooth for item in edges}
    locks += [fixed("untouched", at=each.tooth) for each in facts.examination.teeth if each.tooth not in worked]
    for item in own.work:
        if item.tooth is None or facts.tooth(item.tooth) is None:
            continue
        if item in edges:
            locks.append(fixed("shorten", item.removal, at=item.tooth))
            continue
        locks.append(fixed("mesial share", item.mesial, at=item.tooth))
        locks.append(fixed("distal share", item.distal, at=item.tooth))
        if item.tooth not in reshaped:
            locks.append(fixed("lengthen", item.lengthening, at=item.tooth))
    gaps = []
    for gap in facts.examination.gaps:
        added = sum(_facing(own, gap, facts))
        if gap.width and added:
            locks.append(fixed("gap left", gap.width - added, at=gap.between))
        # Where nothing is added nothing changes: such a gap is the dentist's to leave, whatever its width.
        gaps.append(gap if added else gap.model_copy(update={"may_stay": True, "width": 0}))
    choices = facts.choices.model_copy(update={"locks": tuple(locks)})
    examination = facts.examination.model_copy(update={"gaps": tuple(gaps)})
    return facts.model_copy(update={"choices": choices, "examination": examination})


def has_amounts(own: OwnOption, treatments: Mapping[str, Treatment]) -> bool:
    """Whether everything that adds says how much; where one does not, sharing the space cannot be held against it."""
    added = [item for item in own.work if treatments[item.treatment].adds]
    return all(item.mesial or item.distal or item.lengthening for item in added)


# ------------------------------------------------------------------------- treatments that nothing shipped joins


def calendar_order(
    keys: Iterable[str], treatments: Mapping[str, Treatment], combinations: Mapping[str, Combination]
) -> tuple[str, ...]:
    """``keys`` in calendar order, as the rules and the shipped combinations have it.

    Where several orders of the same treatments are shipped the one in which ``keys`` stand holds, else the first of
    them; where nothing is said, by name.
    """
    wanted = tuple(dict.fromkeys(keys))
    exact = [each.treatments for each in combinations.values() if set(each.treatments) == set(wanted)]
    if exact:
        return wanted if wanted in exact else exact[0]
    shipped = {pair for each in combinations.values() for pair in pairs_of(each.treatments, 2)}
    shipped |= {
        (one, two)
        for rule in rules().order
        for one, two in permutations(wanted, 2)
        if (treatments[one].works_on, treatments[two].works_on) == (rule.first, rule.then)
    }
    before: dict[str, set[str]] = {key: set() for key in wanted}
    for one, two in pairs_of(wanted, 2):
        if (one, two) in shipped:
            before[two].add(one)
        elif (two, one) in shipped:
            before[one].add(two)
    first = {key for each in combinations.values() for key in each.treatments[:-1]}
    sorter = TopologicalSorter(before)
    try:
        sorter.prepare()
    except CycleError:
        return tuple(sorted(wanted))
    order: list[str] = []
    waiting: list[str] = []
    while sorter.is_active() or waiting:
        waiting += sorter.get_ready()
        # What elsewhere stands before something goes first: teeth are moved and whitened before anything is made.
        waiting.sort(key=lambda key: (key not in first, _leads(key, combinations), key))
        order.append(waiting.pop(0))
        sorter.done(order[-1])
    return tuple(order)


def _leads(key: str, combinations: Mapping[str, Combination]) -> int:
    """How early a treatment stands in the shipped combinations: the more follow it anywhere, the earlier."""
    return -len(
        {
            later
            for each in combinations.values()
            if key in each.treatments
            for later in each.treatments[each.treatments.index(key) + 1 :]
        }
    )


def joined(parts: tuple[Treatment, ...], combinations: Mapping[str, Combination]) -> Combination:
    """The treatments ``parts`` as one course: words, waits and common visits put together from what is shipped."""
    keys = tuple(part.key for part in parts)
    names = [part.name for part in parts]
    names_es = [part.name_es for part in parts]
    said = [set(part.does_not) for part in parts]
    return Combination.model_construct(
        key="-then-".join(keys),
        name=", then ".join([names[0], *(_lower(name) for name in names[1:])]),
        name_es=" y después ".join([names_es[0], *(_lower(name) for name in names_es[1:])]),
        plain=_joined_lines([part.plain for part in parts]),
        treatments=keys,
        # What one part does not do another may: only what none of them does is said of the whole.
        does_not=tuple(line for line in parts[0].does_not if all(line in each for each in said)),
        benefits=(),
        waits=tuple(_waits(parts, combinations)),
        same_visit=tuple(
            dict.fromkeys(
                pair
                for each in combinations.values()
                for pair in each.same_visit
                if pair[0] in keys and pair[1] in keys
            )
        ),
        charges=tuple(
            dict.fromkeys(
                charge for each in combinations.values() if set(each.treatments) <= set(keys) for charge in each.charges
            )
        ),
        months=None,
    )


def _lower(name: str) -> str:
    return f"{name[0].lower()}{name[1:]}"


def _joined_lines(lines: list[Line]) -> Line:
    return Line.model_construct(
        words=" ".join(line.words for line in lines),
        words_es=" ".join(line.words_es for line in lines),
        keys=tuple(dict.fromkeys(key for line in lines for key in line.keys)),
    )


def _waits(parts: tuple[Treatment, ...], combinations: Mapping[str, Combination]) -> Iterator[Wait]:
    """For each two parts the wait shipped for exactly them, else the longest shipped between the one and anything."""
    shipped = [wait for each in combinations.values() for wait in each.waits]
    for one, two in pairs_of(parts, 2):
        if any((one.key, two.key) in each.same_visit for each in combinations.values()):
            continue
        after = [wait for wait in shipped if wait.after == one.key]
        exact = [wait for wait in after if wait.before == two.key]
        if after:
            longest = max(exact or after, key=lambda wait: wait.days.value)
            yield longest.model_copy(update={"before": two.key})
