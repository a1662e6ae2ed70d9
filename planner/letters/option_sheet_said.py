"""Options side by side: what the option sheet says, and with fewer columns the paper that is taken home."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from planner.letters.choosing import MOST, can_be_done, told_in_full
from planner.letters.not_now import not_now
from planner.letters.options import OptionView, option_view
from planner.letters.reasons import first_above
from planner.letters.sheet import Sheet
from planner.letters.side_by_side import comparison, others
from planner.letters.sources import sources

COMPARED: Final = frozenset({"removal_tenths", "time_words", "upkeep"})
"""Fields whose figures stand in the table that lays options side by side."""
_SIDEWAYS: Final = {11: 7, 14: 3, 18: 2, 24: 1}
"""Columns that a page holds, by print size; in the smallest print it is turned."""
UPRIGHT: Final = {11: 3, 14: 3, 18: 2, 24: 1}
"""Columns that a page holds which is never turned."""


def context(sheet: Sheet, columns: Mapping[int, int] = _SIDEWAYS) -> dict[str, Any]:
    """What the sheet says, in tables of as many ``columns`` as its print size allows."""
    plan, language = sheet.plan, sheet.language
    shown = told_in_full(plan)
    recommended = plan.option(plan.recommended) if plan.recommended else None
    numbered = sources(plan, shown, COMPARED)
    views = [
        option_view(
            plan,
            option,
            sheet.words,
            of=100,
            numbered=numbered,
            show_private=False,
            told_above=not can_be_done(plan),
            language=language,
        )
        for option in shown
    ]
    return {
        "comparison": comparison(views, columns[sheet.points]),
        "in_full": _in_full(views),
        "others": others(sheet, shown, show_private=False),
        "most": MOST,
        "recommended": recommended,
        "recommended_why": plan.recommended_why,
        "wishes": sorted(sheet.facts.wishes, key=lambda wish: wish.rank),
        "not_now": not_now(plan, sheet.words, language, show_private=False),
        "sources": numbered,
    }


def _in_full(views: Sequence[OptionView]) -> list[tuple[str, tuple[str, ...]]]:
    """Names of options and all that decided about them; those about which the same was decided stand together."""
    found: dict[tuple[str, ...], list[str]] = {}
    for view in views:
        if set(view.reasons) - {first_above()} or view.overrides:
            found.setdefault((*view.reasons, *view.overrides), []).append(view.name)
    return [("; ".join(names), lines) for lines, names in found.items()]
