"""How much of an examination form is laid out, and what a button makes of what was sent. Nothing is stored here."""

from collections.abc import Mapping
from typing import Any

from django.http import QueryDict

from planner.patients import examination_parts as parts
from planner.patients.tooth_fields import read_tooth
from planner.rules import mouth
from planner.rules.standing import place_of
from planner.rules.teeth import NORMAL, Numbering, Side, Tooth, ToothNumberError


def places(upper: bool, right: int, left: int) -> tuple[Tooth, ...]:
    """The places of one arch from the patient's right to left, so many on either side of the midline."""
    return (
        *(Tooth(upper, Side.RIGHT, number) for number in range(right, 0, -1)),
        *(Tooth(upper, Side.LEFT, number) for number in range(1, left + 1)),
    )


def more(data: QueryDict, what: str) -> QueryDict:
    """What was sent, with one more place or line laid out; an unknown ``what`` changes nothing."""
    sent = data.copy()
    numbers = parts.LayoutForm(data, prefix="layout").numbers()
    before = dict(numbers)
    if what == "lower":
        numbers |= {"lower_right": 3, "lower_left": 3}
    elif what in parts.LAYOUT:
        numbers[what] = min(numbers[what] + 1, parts.LAYOUT[what][1])
    for name, number in numbers.items():
        sent[f"layout-{name}"] = str(number)
    for place in (*row_of(numbers, upper=True), *row_of(numbers, upper=False)):
        if place not in row_of(before, upper=place.upper):
            sent.setdefault(f"{place.key}-tooth", place.key)
    return sent


def row_of(numbers: Mapping[str, int], *, upper: bool) -> tuple[Tooth, ...]:
    arch = "upper" if upper else "lower"
    return places(upper, numbers[f"{arch}_right"], numbers[f"{arch}_left"])


def swapped(data: QueryDict) -> QueryDict:
    """What was sent, with the teeth and gaps of the two sides exchanged, as after reading a mirrored picture."""
    sent = data.copy()
    numbers = parts.LayoutForm(data, prefix="layout").numbers()
    for arch in ("upper", "lower"):
        right, left = numbers[f"{arch}_right"], numbers[f"{arch}_left"]
        sent[f"layout-{arch}_right"], sent[f"layout-{arch}_left"] = str(left), str(right)
    columns = {place.key: place for upper in (True, False) for place in places(upper, 8, 8)}
    for name in [name for name in sent if name.startswith(("upper-", "lower-", "gap-"))]:
        del sent[name]
    for name, values in data.lists():
        prefix, _dash, field = name.rpartition("-")
        place = columns.get(prefix.removeprefix("gap-"))
        if place is None:
            continue
        if field == "tooth":
            values = [_twin_key(value) for value in values]
        elif field == "double_with":
            values = [_twin_number(value, data.get("numbering", "")) for value in values]
        if prefix.startswith("gap-"):
            target = _next_to_left(place).twin
            sent.setlist(f"gap-{target.key}-{field}", values)
        else:
            sent.setlist(f"{place.twin.key}-{field}", values)
    return sent


def _next_to_left(place: Tooth) -> Tooth:
    if place.side is Side.LEFT:
        return Tooth(place.upper, Side.LEFT, min(place.position + 1, 8))
    return Tooth(place.upper, Side.RIGHT, place.position - 1) if place.position > 1 else place.twin


def _twin_key(key: str) -> str:
    return next((tooth.twin.key for tooth in NORMAL if tooth.key == key), key)


def _twin_number(text: str, numbering: str) -> str:
    """The twin's number for a number as typed; what names no tooth stays as it is."""
    known = Numbering(numbering) if numbering in list(Numbering) else None
    try:
        tooth = read_tooth(text, known)
    except ToothNumberError:
        return text
    return f"{Numbering.ISO} {tooth.twin.iso}" if known is None else tooth.twin.written(known)


def layout_of(facts: mouth.Examination) -> dict[str, int]:
    """How much the form must show to carry every one of ``facts``, and a spare line of each list."""
    numbers = {name: least for name, (least, _most) in parts.LAYOUT.items()}
    stand = [place_of(tooth) for tooth in facts.teeth if not tooth.tooth.is_extra]
    stand += [line.place for line in facts.empty_places if not line.place.is_extra]
    for place in stand:
        name = f"{'upper' if place.upper else 'lower'}_{place.side}"
        numbers[name] = max(numbers[name], place.position)
    for name in ("lower_right", "lower_left"):
        if numbers["lower_right"] or numbers["lower_left"]:
            numbers[name] = max(numbers[name], 3)
    counts = {
        "others": sum(tooth.tooth.is_extra for tooth in facts.teeth),
        "absent": len(facts.absent) + 1,
        "places": len(places_with_more(facts)) + 1,
        "heights": len(facts.growth.height_mm) + 1,
    }
    return {name: min(max(number, counts.get(name, 0)), parts.LAYOUT[name][1]) for name, number in numbers.items()}


def places_with_more(facts: mouth.Examination) -> tuple[mouth.EmptyPlace, ...]:
    """The empty places of which more is known than that they are empty, which their column says already."""
    return tuple(line for line in facts.empty_places if line.place.is_extra or _more_known(line))


def _more_known(line: mouth.EmptyPlace) -> bool:
    return any(getattr(line, name) is not None for name in type(line).model_fields if name != "place")


def gaps_by_place(facts: mouth.Examination) -> dict[Tooth, mouth.Gap]:
    stands = {tooth.tooth: place_of(tooth) for tooth in facts.teeth}
    found = {}
    for gap in facts.gaps:
        ends = sorted((stands.get(tooth, tooth) for tooth in gap.between), key=lambda place: place.arch_index)
        found[ends[0]] = gap
    return found


def unless_default(initial: Mapping[str, Any]) -> dict[str, Any]:
    """Without the noughts that stand for "nothing taken off", which an empty cell says as well."""
    unsaid = ("edge_removed_before", "sides_removed_before")
    return {name: value for name, value in initial.items() if not (name in unsaid and value == 0)}
