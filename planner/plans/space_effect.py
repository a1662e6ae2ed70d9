"""What a change does to the shared spaces, tooth by tooth: the answer with it beside the answer as stored."""

from collections.abc import Iterator

from django.utils.translation import gettext as _

from planner.plans.space_names import plan_name
from planner.rules.results import SpacePlanShape, SpaceShape, ToothShape
from planner.rules.strip import Words
from planner.rules.units import format_mm


def effect(before: SpaceShape, after: SpaceShape, words: Words) -> tuple[str, ...]:
    """One sentence for everything that comes out otherwise in the plan of each goal; empty when nothing does."""
    found = []
    if before.verdict != after.verdict:
        found.append(_("The answer: %(before)s → %(after)s.") % {"before": before.verdict, "after": after.verdict})
    old, new = _by_name(before), _by_name(after)
    for name, plan in new.items():
        other = old.get(name)
        said = [] if other is None or other.teeth == plan.teeth else list(_differences(other, plan, words))
        if said:
            found.append(f"{plan_name(name).capitalize()}: {'; '.join(said)}.")
    gone = [plan_name(name) for name in old if name not in new]
    if gone and new:
        found.append(_("No longer found: %(plans)s.") % {"plans": ", ".join(gone)})
    return tuple(dict.fromkeys(found))


def _by_name(shape: SpaceShape) -> dict[str, SpacePlanShape]:
    return {name: plan for plan in shape.plans for name in plan.names}


def _differences(before: SpacePlanShape, after: SpacePlanShape, words: Words) -> Iterator[str]:
    known = {shape.tooth: shape for shape in before.teeth}
    for shape in after.teeth:
        other = known.get(shape.tooth)
        said = ", ".join(_tooth(other, shape)) if other is not None else ""
        if said:
            yield f"{words.number(shape.tooth)} {said}"
    gaps = {(gap.right_tooth, gap.left_tooth): gap.left_open_tenths for gap in before.gaps}
    for gap in after.gaps:
        left = gaps.get((gap.right_tooth, gap.left_tooth))
        if left is not None and left != gap.left_open_tenths:
            named = f"{words.number(gap.right_tooth)}·{words.number(gap.left_tooth)}"
            stays = _("stays open")
            yield f"{named} {stays} {format_mm(left)} → {format_mm(gap.left_open_tenths)}"


def _tooth(before: ToothShape, after: ToothShape) -> Iterator[str]:
    for label, old, new in (
        (_("toward the midline"), before.mesial_tenths, after.mesial_tenths),
        (_("away from it"), before.distal_tenths, after.distal_tenths),
        (_("longer by"), before.lengthening_tenths, after.lengthening_tenths),
        (_("shorter by"), before.shortening_tenths, after.shortening_tenths),
    ):
        if old != new:
            yield f"{label} {format_mm(old)} → {format_mm(new)}"
