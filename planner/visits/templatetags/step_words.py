"""How the pages of the step sheet write teeth, millimetres and seconds."""

from django import template

from planner.rules.strip import signed
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm

register = template.Library()


@register.filter
def tooth_number(tooth: Tooth, numbering: Numbering) -> str:
    """``22``."""
    return tooth.written(numbering)


@register.filter
def tooth_label(tooth: Tooth, numbering: Numbering) -> str:
    """Name and both numbers."""
    return tooth.label(numbering)


@register.filter
def tooth_named(key: str, numbering: Numbering) -> str:
    """Name and both numbers of the tooth with this key."""
    return Tooth.from_key(key).label(numbering)


@register.filter
def share(tenths: int) -> str:
    """``+0.7``, or a dash for nothing."""
    return signed(tenths) if tenths else "–"


@register.filter
def mm(tenths: int) -> str:
    """``7.1``, or a dash where nothing was measured."""
    return format_mm(tenths) if tenths else "–"


@register.filter
def min_sec(seconds: int) -> str:
    """``4:05``: minutes and seconds."""
    return f"{seconds // 60}:{seconds % 60:02d}"
