"""Options side by side in tables of few columns, and those that are not told in full."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.letters.choosing import can_be_done
from planner.letters.options import OptionView, name_of
from planner.letters.reasons import one_line
from planner.letters.sheet import Sheet
from planner.letters.teeth_said import TeethSaid
from planner.rules.results import OptionShape
from planner.rules.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class Comparison:
    """Options side by side, as many to a table as paper and print size allow."""

    tables: tuple[tuple[OptionView, ...], ...]
    beside: tuple[tuple[str, str], ...]
    """What belongs to options on lines of its own, with its fee, each once."""
    matters: bool
    """Whether it was asked what matters, so that a row tells who does well on it."""
    own_not_included: bool
    """Whether an option leaves something out of its fee that the others do not."""


def comparison(views: Sequence[OptionView], most: int) -> Comparison:
    """``views`` in tables of at most ``most`` columns, as even as can be."""
    count = -(-len(views) // most)
    least, more = divmod(len(views), count) if count else (0, 0)
    tables, start = [], 0
    for index in range(count):
        end = start + least + (index < more)
        tables.append(tuple(views[start:end]))
        start = end
    return Comparison(
        tuple(tables),
        tuple(dict.fromkeys(line for view in views for line in view.beside)),
        any(view.matters for view in views),
        any(view.not_included for view in views),
    )


def others(sheet: Sheet, told: Iterable[OptionShape], *, show_private: bool) -> list[tuple[str, str]]:
    """Every option that is not told in full: its name, and in one line why."""
    above = not can_be_done(sheet.plan)
    return [
        (
            name_of(option, sheet.language),
            one_line(
                option, TeethSaid(sheet.words), sheet.language, show_private=show_private, told_above=above
            ),
        )
        for option in _left(sheet, told)
    ]  # fmt: skip


def others_in_brief(sheet: Sheet, told: Iterable[OptionShape]) -> list[tuple[str, list[str]]]:
    """The names alone of those options, by whether they can be offered: their reasons stand elsewhere."""
    said: dict[str, list[str]] = {}
    for option in _left(sheet, told):
        verdict = Verdict.NO if option.struck else option.verdict
        said.setdefault(_heading(verdict), []).append(name_of(option, sheet.language))
    return list(said.items())


def _heading(verdict: Verdict) -> str:
    return {
        Verdict.OFFER: _("We can offer:"),
        Verdict.CARE: _("We can offer with care:"),
        Verdict.WAIT: _("Not yet:"),
        Verdict.ASK: _("We cannot say yet:"),
        Verdict.NO: _("We do not offer:"),
    }[verdict]


def _left(sheet: Sheet, told: Iterable[OptionShape]) -> list[OptionShape]:
    kept = {option.key for option in told}
    return [option for option in sheet.plan.options if option.key not in kept]
