"""Whole cents, tenths of a millimetre and the days in a sentence as people read them, in the reader's language."""

import re
from datetime import date

from babel.numbers import format_decimal
from django import template
from django.utils.translation import get_language

from planner.practice.fields import day_words
from planner.rules.units import format_cents, format_mm

register = template.Library()
_ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
_CENTS = re.compile(r"(?<![\d.,])\d+\.\d{2}(?![\d.,]*\d)")


@register.filter
def amount(cents: int | None) -> str:
    """Whole cents as an amount without its currency, such as ``1,618.25``; empty for None."""
    if cents is None:
        return ""
    return str(format_decimal(format_cents(cents), format="#,##0.00", locale=get_language() or "en"))


@register.filter
def millimetres(tenths: int | None) -> str:
    """Whole tenths of a millimetre as millimetres, such as ``8.3``; empty for None."""
    if tenths is None:
        return ""
    return str(format_decimal(format_mm(tenths), format="0.0", locale=get_language() or "en"))


@register.filter
def whole_amount(cents: int | None) -> str:
    """Whole cents to the nearest whole unit, such as ``1,137``: for amounts that are expected and not owed."""
    if cents is None:
        return ""
    return str(format_decimal((cents + 50) // 100, format="#,##0", locale=get_language() or "en"))


@register.filter
def with_days(sentence: str) -> str:
    """A computed sentence with its days written with the month as a word."""
    return _ISO_DAY.sub(lambda found: day_words(date.fromisoformat(found[0])), sentence)


@register.filter
def with_amounts(sentence: str) -> str:
    """A computed sentence with its amounts as people read them, ``2,140.70`` for ``2140.70``."""
    return _CENTS.sub(lambda found: amount(int(found[0].replace(".", ""))), sentence)
