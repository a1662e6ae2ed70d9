"""Facts of a tooth, a place or a gap that gates look at and that have to be worked out (see :mod:`gate_derived`)."""

from decimal import Decimal

from planner.rules.gate_facts import Datum, Situation, Subject, plain
from planner.rules.gate_names import named
from planner.rules.mouth import ToothFacts
from planner.rules.proportions import enlargement, implant_room, on_film, without_enlargement
from planner.rules.standing import role_of
from planner.rules.teeth import Kind, Tooth
from planner.rules.units import format_mm
from planner.rules.words import mm, told

# ---------------------------------------------------------------- a tooth


def _tooth_facts(s: Situation, subject: Subject) -> tuple[Tooth, ToothFacts | None]:
    if subject.tooth is None:
        raise LookupError("a fact of a tooth was asked for without a tooth")
    return subject.tooth, s.facts.tooth(subject.tooth)


@named("tooth.decay")
def _decay(s: Situation, subject: Subject) -> Datum:
    """Open decay on this tooth; no where the whole mouth has none."""
    tooth, found = _tooth_facts(s, subject)
    if found is not None and found.decay is not None:
        return Datum(s.tooth_path(tooth, "decay"), found.decay)
    none_anywhere = s.facts.examination.decay.open_lesions == 0
    return Datum(s.tooth_path(tooth, "decay"), False if none_anywhere else None)


@named("tooth.pocket")
def _pocket(s: Situation, subject: Subject) -> Datum:
    """Deepest pocket of this tooth; where it was not written down, the mouth's deepest if that was probed whole."""
    tooth, found = _tooth_facts(s, subject)
    if found is not None and found.pocket is not None:
        return Datum(s.tooth_path(tooth, "pocket"), found.pocket)
    gums = s.facts.examination.gums
    shallow = gums.probed_whole_mouth and gums.deepest_pocket is not None and gums.deepest_pocket <= 3
    return Datum(s.tooth_path(tooth, "pocket"), gums.deepest_pocket if shallow else None)


def _own_work(s: Situation, subject: Subject, name: str) -> int:
    return 0 if subject.tooth is None else s.sum_of_work(subject.tooth, name, subject.treatments)


@named("tooth.share")
def _share(s: Situation, subject: Subject) -> Datum:
    """The larger of the two additions on the sides, tenths."""
    return Datum("course.work", max(_own_work(s, subject, "mesial"), _own_work(s, subject, "distal")))


@named("tooth.lengthening")
def _lengthening(s: Situation, subject: Subject) -> Datum:
    """What is added at the edge, tenths."""
    return Datum("course.work", _own_work(s, subject, "lengthening"))


@named("tooth.removal")
def _removal(s: Situation, subject: Subject) -> Datum:
    """What the treatment takes off this tooth, tenths."""
    return Datum("course.work", _own_work(s, subject, "removal"))


@named("tooth.removal_lifetime")
def _removal_lifetime(s: Situation, subject: Subject) -> Datum:
    """What is taken off the edge by this course and was before, tenths; the sides are counted by themselves."""
    tooth, found = _tooth_facts(s, subject)
    before = found.edge_removed_before if found else 0
    now = sum(item.removal for item in s.course.work if item.tooth == tooth and not (item.fills_place or item.narrower))
    return Datum(s.tooth_path(tooth, "edge_removed_before"), before + now)


@named("tooth.side_removal_lifetime")
def _side_removal_lifetime(s: Situation, subject: Subject) -> Datum:
    """The most that one side loses by this course and lost before, tenths; 0 where this course takes nothing there.

    What was taken off the sides before is not known side by side and counts in full.
    """
    tooth, found = _tooth_facts(s, subject)
    path = s.tooth_path(tooth, "sides_removed_before")
    taken = sum(item.removal for item in s.course.work if item.tooth == tooth and item.narrower)
    sides = [
        lock.value
        for lock in s.facts.choices.locks
        if lock.tooth == tooth and lock.what in ("slenderise mesial", "slenderise distal") and lock.value is not None
    ]
    most = max(sides) if sum(sides) == taken and sides else taken
    return Datum(path, most + (found.sides_removed_before if found else 0) if taken else 0)


@named("tooth.primary")
def _primary(s: Situation, subject: Subject) -> Datum:
    """Whether it is a baby tooth."""
    tooth, _ = _tooth_facts(s, subject)
    return Datum(s.tooth_path(tooth, "tooth"), tooth.is_primary)


@named("tooth.named")
def _named_in_work(s: Situation, subject: Subject) -> Datum:
    """Whether the work names this tooth, and not only the arch it stands in."""
    return Datum("course.work", subject.tooth in s.worked(subject.treatments))


@named("tooth.undersized")
def _undersized(s: Situation, subject: Subject) -> Datum:
    """As recorded; where nothing is recorded, no on every tooth but a lateral: it is a finding of laterals."""
    tooth, found = _tooth_facts(s, subject)
    value = None if found is None else found.undersized
    if value is None and found is not None and tooth.kind is not Kind.LATERAL:
        value = False
    return Datum(s.tooth_path(tooth, "undersized"), value)


@named("tooth.player")
def _player(s: Situation, subject: Subject) -> Datum:
    """Whether it is a premolar that must look like a canine."""
    tooth, found = _tooth_facts(s, subject)
    plays = found is not None and role_of(found) == "canine" and tooth.kind is Kind.PREMOLAR
    return Datum(s.tooth_path(tooth, "role"), plays)


@named("tooth.root_pictured")
def _root_pictured(s: Situation, subject: Subject) -> Datum:
    """Whether somebody read this root in a picture."""
    tooth, _ = _tooth_facts(s, subject)
    return Datum("pictures[].roots_of", any(tooth in picture.roots_of for picture in s.facts.pictures))


@named("tooth.will_not_whiten")
def _will_not_whiten(s: Situation, subject: Subject) -> Datum:
    """Whether it carries a crown or filling that keeps its colour."""
    tooth, found = _tooth_facts(s, subject)
    listed = "examination.colour.restorations_in_smile"
    if tooth in s.facts.examination.colour.restorations_in_smile:
        return Datum(listed, True)
    recorded = {name: None if found is None else getattr(found, name) for name in ("crowned", "restored")}
    for wanted in (True, None):
        for name, value in recorded.items():
            if value is wanted:
                return Datum(s.tooth_path(tooth, name), wanted)
    return Datum(listed, False)


def lateral_players(s: Situation, treatments: frozenset[str]) -> tuple[Tooth, ...]:
    """Canines that play a lateral, where they themselves or the central beside them are worked on."""
    worked = set(s.worked(treatments))
    return tuple(
        found.tooth
        for found in s.facts.examination.teeth
        if found.tooth.kind is Kind.CANINE
        and role_of(found) == "lateral"
        and ({found.tooth, _central_of(s, found.tooth)} & worked)
    )


def _central_of(s: Situation, tooth: Tooth) -> Tooth | None:
    place = s.stands_at(tooth)
    return s.standing().get(Tooth(place.upper, place.side, 1))


def _width_after(s: Situation, tooth: Tooth | None) -> int | None:
    found = None if tooth is None else s.facts.tooth(tooth)
    if tooth is None or found is None or found.width is None:
        return None
    return found.width + s.sum_of_work(tooth, "mesial") + s.sum_of_work(tooth, "distal")


@named("tooth.lateral_ratio")
def _lateral_ratio(s: Situation, subject: Subject) -> Datum:
    """Width of a canine that plays the lateral over that of its central, both as they will be."""
    tooth, _ = _tooth_facts(s, subject)
    central = _central_of(s, tooth)
    own, other = _width_after(s, tooth), _width_after(s, central)
    if own is None:
        return Datum(s.tooth_path(tooth, "width"), None)
    if central is None or not other:
        return Datum("examination.teeth[central].width" if central is None else s.tooth_path(central, "width"), None)
    ratio = Decimal(own) / Decimal(other)
    return Datum(f"({s.tooth_path(tooth, 'width')} + added) / ({s.tooth_path(central, 'width')} + added)", ratio)


@named("tooth.beside_twin")
def _beside_twin(s: Situation, subject: Subject) -> Datum:
    """How much wider than the lateral on the other side it will be, in words."""
    tooth, _ = _tooth_facts(s, subject)
    place = s.stands_at(tooth)
    twin = s.standing().get(place.twin)
    own, other = _width_after(s, tooth), _width_after(s, twin)
    path = s.tooth_path(tooth, "width")
    if twin is None or own is None or other is None:
        return Datum(path, told("of another width than the one on the other side, by how much is not known"))
    label = s.label(twin)
    if own == other:
        return Datum(path, told("as wide as the {tooth}", tooth=label))
    template = "{mm} mm wider than the {tooth}" if own > other else "{mm} mm narrower than the {tooth}"
    return Datum(path, told(template, mm=mm(abs(own - other)), tooth=label))


def _left_of(s: Situation, subject: Subject, there: Datum) -> Datum:
    """What is left of a height of gum once its edge has gone up as far as planned, tenths."""
    tooth, found = _tooth_facts(s, subject)
    path = s.tooth_path(tooth, "gum_too_low")
    cut = None if found is None else found.gum_too_low
    if cut is None:
        return Datum(path, None)
    if not isinstance(there.value, int):
        return there
    return Datum(f"{there.path} - {path}", max(0, there.value - cut))


@named("tooth.firm_gum_left")
def _firm_gum_left(s: Situation, subject: Subject) -> Datum:
    """Firm gum that a correction of the gum line would leave, tenths."""
    return _left_of(s, subject, plain(s, "examination.gums.firm_gum", subject))


@named("tooth.bone_to_gum_left")
def _bone_to_gum_left(s: Situation, subject: Subject) -> Datum:
    """From the bone to the new edge of the gum, tenths."""
    return _left_of(s, subject, plain(s, "tooth.bone_to_gum", subject))


# ---------------------------------------------------------------- a place


def place_state(s: Situation, place: Tooth) -> str:
    """``empty``, ``to be emptied`` by the course before it is filled, or ``occupied``."""
    occupant = s.standing().get(place)
    if occupant is None:
        return "empty"
    # Braces bring a tooth home that stands in another's place; a tooth in its own place stays there.
    makes_way = occupant in s.extracted() or (s.has("braces") and occupant != place)
    return "to be emptied" if makes_way else "occupied"


@named("place.state")
def _place_state(s: Situation, subject: Subject) -> Datum:
    place = _place(subject)
    return Datum(s.place_path(place, "place"), place_state(s, place))


def _place(subject: Subject) -> Tooth:
    if subject.tooth is None:
        raise LookupError("a fact of a place was asked for without a place")
    return subject.tooth


def _distance(s: Situation, subject: Subject, name: str) -> Datum:
    place = _place(subject)
    found = s.empty_place(place)
    value = None if found is None else getattr(found, name)
    if found is None or value is None or not on_film(s.facts.examination, found):
        return Datum(s.place_path(place, name), value)
    factor = enlargement(s.facts.examination, found)
    if factor is None:
        return Datum(s.place_path(place, "film_factor_percent"), None)
    return Datum(s.place_path(place, name), without_enlargement(value, factor))


@named("place.crown_distance")
def _crown_distance(s: Situation, subject: Subject) -> Datum:
    """Between the crowns, tenths; measured on film it is taken down by the film's factor, unknown without one."""
    return _distance(s, subject, "crown_distance")


@named("place.root_distance")
def _root_distance(s: Situation, subject: Subject) -> Datum:
    """Between the roots, as the crown distance."""
    return _distance(s, subject, "root_distance")


def _short(s: Situation, distance: Datum) -> Datum:
    if not isinstance(distance.value, int):
        return distance
    needed = implant_room(s.settings["implant_narrowest"])
    return Datum(f"{format_mm(needed)} - {distance.path}", max(0, needed - distance.value))


@named("place.crown_short")
def _crown_short(s: Situation, subject: Subject) -> Datum:
    """By how much the crowns stand too close for the narrowest implant in use, tenths."""
    return _short(s, _crown_distance(s, subject))


@named("place.root_short")
def _root_short(s: Situation, subject: Subject) -> Datum:
    """By how much the roots stand too close for the narrowest implant in use, tenths."""
    return _short(s, _root_distance(s, subject))


@named("place.ridge_short")
def _ridge_short(s: Situation, subject: Subject) -> Datum:
    """By how much the ridge is too thin for the narrowest implant in use, tenths."""
    ridge = plain(s, "place.ridge_thickness", subject)
    if not isinstance(ridge.value, int):
        return ridge
    needed = s.settings["implant_narrowest"] + s.settings["implant_ridge_extra"]
    return Datum(f"{format_mm(needed)} - {ridge.path}", max(0, needed - ridge.value))


@named("place.next_is_empty")
def _next_is_empty(s: Situation, subject: Subject) -> Datum:
    """Whether a place right beside it is empty too, or is filled by the same work."""
    place = _place(subject)
    standing = s.standing(after_movement=True)
    filled = set(s.course.places_filled)
    missing = {absent.tooth for absent in s.facts.examination.absent}
    near = [t for t in (missing | filled) if t.upper == place.upper and abs(t.arch_index - place.arch_index) == 1]
    return Datum("examination.absent", any(t in filled or t not in standing for t in near))


@named("place.span")
def _span(s: Situation, subject: Subject) -> Datum:
    """How many places in a row are filled together with this one."""
    place = _place(subject)
    filled = {other.arch_index for other in s.filled(subject.treatments) if other.upper == place.upper}
    first = last = place.arch_index
    while first - 1 in filled:
        first -= 1
    while last + 1 in filled:
        last += 1
    return Datum("course.places_filled", last - first + 1)


@named("place.false_tooth_over_carrier")
def _false_tooth_over_carrier(s: Situation, subject: Subject) -> Datum:
    """How much wider the false tooth is than the tooth that carries it, tenths; unknown until both are measured."""
    distance = _crown_distance(s, subject)
    carrier = next(iter(s.worked(subject.treatments)), None)
    width = None if carrier is None else (found.width if (found := s.facts.tooth(carrier)) else None)
    if not isinstance(distance.value, int):
        return distance
    if carrier is None or width is None:
        return Datum("course.work" if carrier is None else s.tooth_path(carrier, "width"), None)
    return Datum(f"{distance.path} - {s.tooth_path(carrier, 'width')}", distance.value - width)


# ---------------------------------------------------------------- a gap


@named("gap.midline")
def _midline(s: Situation, subject: Subject) -> Datum:
    """Whether it lies between the two centrals and is open."""
    if subject.gap is None:
        raise LookupError("a fact of a gap was asked for without a gap")
    found = s.gap(subject.gap)
    centrals = all(tooth.kind is Kind.CENTRAL for tooth in subject.gap)
    return Datum(s.gap_path(subject.gap, "width"), centrals and (found is None or found.width > 0))
