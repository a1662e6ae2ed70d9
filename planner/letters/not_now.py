"""When nothing can be offered today: what must come first, from which day, and what stays possible."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from planner.letters.choosing import NOTHING, can_be_done
from planner.letters.options import name_of
from planner.letters.reasons import as_lists, open_reasons
from planner.letters.teeth_said import TeethSaid
from planner.letters.wording import day
from planner.rules.results import CasePlan, OptionShape
from planner.rules.strip import Words
from planner.rules.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class First:
    """One thing that must come first, and for which ways."""

    words: str
    items: tuple[str, ...]
    """What is still asked, where that is a list; the words then lead to it."""
    ways: str
    """Which options it holds back."""


@dataclass(frozen=True, slots=True)
class NotNow:
    """What a letter says when no way of changing the teeth can be offered on this day."""

    firsts: tuple[First, ...]
    possible: tuple[str, ...]
    """Names of the ways that stay open."""
    own_limits: tuple[str, ...]
    """Names of those that only the patient's own limit rules out."""
    earliest: str
    """First day on which one of them may start; empty where none can be named."""


def not_now(plan: CasePlan, words: Words, language: str, *, show_private: bool) -> NotNow | None:
    """What to say when nothing can be offered; None when something can."""
    if can_be_done(plan):
        return None
    ways = [option for option in plan.options if option.key != NOTHING and option.may_still_be]
    waiting = [option for option in ways if option.verdict is not Verdict.NO]
    held: dict[str, list[str]] = {}
    for option in waiting:
        for sentence in open_reasons(option, language, show_private=show_private):
            held.setdefault(sentence, []).append(name_of(option, language))
    by_ways: dict[tuple[str, ...], list[str]] = {}
    for sentence, names in held.items():
        by_ways.setdefault(tuple(names), []).append(sentence)
    all_ways = tuple(name_of(option, language) for option in waiting)
    teeth = TeethSaid(words)
    days = [found for option in waiting if (found := _earliest(option)) is not None]
    return NotNow(
        firsts=tuple(
            First(teeth(said), tuple(map(teeth, items)), _which(names, all_ways))
            for names in sorted(by_ways, key=lambda names: -len(names))
            for said, items in as_lists(by_ways[names])
        ),
        possible=all_ways,
        own_limits=tuple(name_of(option, language) for option in ways if option.verdict is Verdict.NO),
        earliest=day(min(days), language) if days else "",
    )


def _which(names: tuple[str, ...], all_ways: tuple[str, ...]) -> str:
    """``for all ways``, ``for all but X``, or the names."""
    others = [name for name in all_ways if name not in names]
    if not others:
        return _("for all ways")
    if len(others) <= 2 < len(names):
        return _("for all but: %(names)s") % {"names": "; ".join(others)}
    return _("for: %(names)s") % {"names": "; ".join(names)}


def _earliest(option: OptionShape) -> date | None:
    """The day on which the last of its waits is over; None when anything else stands in the way or a day is open."""
    holding = [reason for reason in option.reasons if reason.verdict in (Verdict.WAIT, Verdict.ASK, Verdict.NO)]
    days = [reason.earliest for reason in holding if reason.earliest is not None]
    return max(days) if days and len(days) == len(holding) else None
