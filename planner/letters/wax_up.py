"""The order for a wax-up: target sizes for a workshop, to true scale, and the check when the wax comes back.

It is about the option that is chosen, else the recommended one, and names the patient by initials and number only.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from planner.letters.pdf import PaperError
from planner.letters.sheet import Sheet
from planner.letters.wording import day, millimetres
from planner.rules.plausible import most_apart
from planner.rules.results import GapShape, SpacePlanShape, ToothShape
from planner.rules.strip import Words, half_difference, is_added_to, is_taken_from, share, signed, strip_table
from planner.rules.strip_chair import chair_strip
from planner.rules.strip_layout import CHECK_BAR_MM
from planner.rules.strip_svg import strip_svg
from planner.rules.units import format_mm

KEY = "wax-up-order"


@dataclass(frozen=True, slots=True)
class Target:
    """What one tooth is to become, as text in millimetres."""

    tooth: str
    stands: str
    width: str
    width_target: str
    length: str
    length_target: str
    right: str
    left: str
    mesial: str
    distal: str
    edge: str


@dataclass(frozen=True, slots=True)
class Cut:
    """An edge or side that is taken down in the mouth first, and so on the model first."""

    tooth: str
    what: str
    by: str


def why_not(sheet: Sheet) -> str:
    """Why there is nothing to wax up, in one sentence; empty where there is."""
    option = sheet.chosen
    if option is None:
        return _("No option is recommended: say which one the wax-up order is about.")
    plan = sheet.space_plan
    if plan is None or not any(map(is_added_to, plan.teeth)):
        return _('"%(option)s" adds nothing to any tooth by shared space: no wax-up is needed for it.') % {
            "option": option.name
        }
    return ""


def context(sheet: Sheet) -> dict[str, Any]:
    """What the order says. Raises PaperError with a sentence where nothing is to be waxed up."""
    if refused := why_not(sheet):
        raise PaperError(refused)
    plan, option, words = sheet.space_plan, sheet.chosen, sheet.words
    assert plan is not None
    assert option is not None
    examination, language = sheet.facts.examination, sheet.language
    colour = examination.colour
    return {
        "option": option.name,
        "first": [cut for shape in plan.teeth for cut in _cuts(shape, words)],
        "targets": [_target(shape, words) for shape in plan.teeth if _is_touched(shape)],
        "waxed": [_target(shape, words) for shape in plan.teeth if is_added_to(shape)],
        "left_alone": [_named(shape, words) for shape in plan.teeth if not _is_touched(shape)],
        "contacts": [_contact(gap, words) for gap in plan.gaps],
        "strip": _drawn(strip_svg(plan, words, "order", midline_offset=examination.midline_offset)),
        "table": strip_table(plan, words),
        "check_bar": CHECK_BAR_MM,
        "chair": _drawn(_for_the_chair(plan, words)),
        "shade": colour.shade,
        "shade_on": day(colour.on, language) if colour.on is not None and colour.shade else "",
        "thirds": (_("at the gum"), _("in the middle"), _("at the edge")),
        "measured_on": day(examination.on, language),
        "instrument": {"caliper": _("calliper"), "scan": _("scan"), "film": _("film")}[examination.instrument],
        "wanted_on": day(sheet.issue.wanted_on, language) if sheet.issue.wanted_on is not None else "",
        "tolerance": millimetres(most_apart()),
    }


def _drawn(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308 - drawn from numbers by our own code, its texts escaped there


def _for_the_chair(plan: SpacePlanShape, words: Words) -> str:
    return chair_strip(plan, words, "chair", scale=2 if len(plan.teeth) <= 6 else 1)


def _is_touched(shape: ToothShape) -> bool:
    return is_added_to(shape) or is_taken_from(shape)


def _named(shape: ToothShape, words: Words) -> str:
    stands = words.stands(shape.tooth)
    return f"{words.label(shape.tooth)}{f', {stands}' if stands else ''}"


def _cuts(shape: ToothShape, words: Words) -> Iterator[Cut]:
    if shape.shortening_tenths:
        edge = _("edge, from %(now)s to %(then)s") % {
            "now": format_mm(shape.length_tenths),
            "then": format_mm(shape.length_after_tenths),
        }
        yield Cut(_named(shape, words), edge, millimetres(shape.shortening_tenths))
    sides = (
        (_("side toward the patient’s right"), shape.right_tenths),
        (_("side toward the patient’s left"), shape.left_tenths),
    )
    for side, tenths in sides:
        if tenths < 0:
            yield Cut(_named(shape, words), side, millimetres(-tenths))


def _target(shape: ToothShape, words: Words) -> Target:
    change = shape.lengthening_tenths - shape.shortening_tenths
    measured = bool(shape.length_tenths)
    stands = words.stands(shape.tooth)
    roles = {"central": _("central"), "lateral": _("lateral"), "canine": _("canine"), "premolar": _("premolar")}
    return Target(
        tooth=words.label(shape.tooth),
        stands=_("standing %(stands)s, to look like a %(role)s")
        % {"stands": stands, "role": roles.get(shape.role, shape.role)}
        if stands
        else "",
        width=format_mm(shape.width_tenths),
        width_target=format_mm(shape.width_after_tenths),
        length=format_mm(shape.length_tenths) if measured else "–",
        length_target=format_mm(shape.length_after_tenths) if measured else "–",
        right=_share(shape.right_tenths),
        left=_share(shape.left_tenths),
        mesial=_share(shape.mesial_tenths),
        distal=_share(shape.distal_tenths),
        edge=signed(change) if change else "–",
    )


def _share(tenths: int) -> str:
    return signed(tenths) if tenths else "–"


def _contact(gap: GapShape, words: Words) -> str:
    """Where two neighbours are to meet, measured from the middle of the gap between them today."""
    between = _("Between %(right)s and %(left)s") % {
        "right": words.both(gap.right_tooth),
        "left": words.both(gap.left_tooth),
    }
    shared = gap.to_right_tooth_tenths or gap.to_left_tooth_tenths
    if not (gap.width_tenths or shared):
        return _("%(between)s: they touch today and stay so.") % {"between": between}
    if not shared:
        return _("%(between)s: the gap of %(mm)s stays open. Add nothing there.") % {
            "between": between,
            "mm": millimetres(gap.width_tenths),
        }
    said = _("%(between)s, gap %(gap)s: %(to_right)s to the first and %(to_left)s mm to the second") % {
        "between": between,
        "gap": millimetres(gap.width_tenths),
        "to_right": share(gap.to_right_tooth_tenths),
        "to_left": share(gap.to_left_tooth_tenths),
    }
    if gap.left_open_tenths:
        return _("%(said)s; %(mm)s stays open between them.") % {"said": said, "mm": millimetres(gap.left_open_tenths)}
    aside = half_difference(gap.to_right_tooth_tenths, gap.to_left_tooth_tenths)
    if gap.to_right_tooth_tenths == gap.to_left_tooth_tenths:
        return _("%(said)s; they meet in the middle of it.") % {"said": said}
    side = _("left") if gap.to_right_tooth_tenths > gap.to_left_tooth_tenths else _("right")
    return _("%(said)s; they meet %(mm)s mm from its middle, toward the patient's %(side)s.") % {
        "said": said,
        "mm": aside,
        "side": side,
    }
