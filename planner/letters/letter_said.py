"""What a stored letter says, field by field, and in which of them two letters differ.

Read from the frozen plan and the input that were kept with the paper: for whoever signs, to read what it comes to, and
for whoever opened a page on an older letter, to be told what has changed since.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import translation
from django.utils.translation import gettext as _

from planner.letters.chances import ChanceView
from planner.letters.consents import option_of
from planner.letters.findings import facts_of, words_of
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.options import OptionView, name_of, option_view
from planner.letters.papers import languages_of
from planner.letters.reasons import verdict_words
from planner.letters.wording import day, language_name, money, one_denominator, version_words
from planner.plans.estimates import read_frozen
from planner.rules.frozen import thaw
from planner.rules.results import CasePlan, OptionShape
from planner.rules.words import ENGLISH, speaking

MOST_LINES = 6
"""Of each field that are told before and after; the letter itself has them all."""


@dataclass(frozen=True, slots=True)
class Part:
    """One field of a letter, in lines."""

    name: str
    lines: tuple[str, ...]
    shown: bool = True
    """Whether it is among what the page for signing tells; all are compared."""


@dataclass(frozen=True, slots=True)
class Change:
    """A field in which two letters differ: lines that went, and lines that came."""

    name: str
    before: tuple[str, ...]
    after: tuple[str, ...]


def parts_of(letter: Document, language: str = "") -> tuple[Part, ...]:
    """What ``letter`` says, in the order of the letter, in ``language`` where its plan was frozen in it, else in the
    letter's own. Raises Refused for one made before its input was kept.
    """
    plan = read_frozen(letter.frozen)
    told_in = language if language in languages_of(plan) else letter.language
    if told_in != ENGLISH:
        plan = thaw(bytes(letter.frozen.content), told_in)
    with translation.override(told_in), speaking(told_in):
        return _parts(letter, plan, told_in)


def _parts(letter: Document, plan: CasePlan, language: str) -> tuple[Part, ...]:
    key = option_of(letter)
    issue: dict[str, Any] = json.loads(letter.issue)
    parts = list(_of_option(plan, plan.option(key), language)) if key else []
    return (*parts, *_of_issue(issue, letter, language), *_of_plan(plan, language))


def in_words_of(letter: Document) -> CasePlan:
    """The frozen plan with its texts in the language of ``letter``."""
    return thaw(bytes(letter.frozen.content), letter.language)


def version_of(letter: Document) -> str:
    """Number and version of the estimate that ``letter`` is of, in the language of the moment."""
    issue = json.loads(letter.issue)
    return version_words(Issue(number=issue["number"], version=issue["version"]))


def changes(before: Document, after: Document) -> tuple[Change, ...]:
    """The fields in which ``after`` says something else than ``before``, each with what went and what came.

    Both are read in the language of ``after``, so that a letter in another language is not another one throughout.
    """
    old, new = ({part.name: part.lines for part in parts_of(one, after.language)} for one in (before, after))
    found = [
        Change(name, _without(old.get(name, ()), new.get(name, ())), _without(new.get(name, ()), old.get(name, ())))
        for name in dict.fromkeys((*old, *new))
        if old.get(name, ()) != new.get(name, ())
    ]
    return tuple(found)


def _without(lines: Sequence[str], others: Sequence[str]) -> tuple[str, ...]:
    return tuple(line for line in lines if line not in others)[:MOST_LINES]


def _of_option(plan: CasePlan, option: OptionShape, language: str) -> Iterator[Part]:
    facts = facts_of(plan)
    of = one_denominator(option)
    view = option_view(plan, option, words_of(plan, facts), of=of, show_private=True, language=language)
    yield Part(_("Option"), (view.name,))
    yield Part(_("What is done"), view.work)
    yield Part(_("What is taken off the teeth"), (*view.removal, view.undo))
    yield Part(_("What it does for you"), _chances(view.benefits.chances))
    yield Part(_("What may go wrong"), _chances([chance for group in view.risks for chance in group.chances]))
    yield Part(_("How long it lasts"), (view.lasts, view.at_ten))
    yield Part(_("Time and visits"), (view.time,))
    yield Part(_("What you must do"), view.you_must)
    yield Part(_("Price"), (view.fee, *(f"{words}: {fee}" for words, fee in view.beside)))
    yield Part(_("Items"), _items(option, plan, language), shown=False)
    yield Part(_("Not in the price"), view.not_included)
    yield Part(_("Upkeep in ten years"), _upkeep(view), shown=False)


def _of_issue(issue: dict[str, Any], letter: Document, language: str) -> Iterator[Part]:
    yield Part(_("What weighs in this case"), tuple(issue["own_risks"]))
    yield Part(_("Guarantee"), tuple(filter(None, [issue["guarantee"]])))
    yield Part(_("Changing your mind"), tuple(filter(None, [issue["if_stopped"]])), shown=False)
    asked = tuple(f"{one['question']} {one['answer']}" for one in issue["questions"])
    yield Part(_("Questions and answers"), asked, shown=False)
    yield Part(_("Who gets data or pictures"), tuple(issue.get("shared_with", ())), shown=False)
    yield Part(_("Calming drugs"), (_("asked about"),) if issue.get("sedation") else (), shown=False)
    helps = tuple(filter(None, (issue.get("needs", ""), issue["interpreter"])))
    yield Part(_("Help to read and talk"), helps, shown=False)
    yield Part(_("Dentist"), tuple(filter(None, [issue["dentist"], issue["does_the_work"]])), shown=False)
    wait = (_("%(n)s days") % {"n": issue["reflection_days"]},) if issue["reflection_days"] else ()
    yield Part(_("Time to think it over"), wait, shown=False)
    if issue["valid_through"]:
        yield Part(_("Prices hold through"), (day(date.fromisoformat(issue["valid_through"]), language),))
    yield Part(_("Estimate"), (version_of(letter),), shown=False)
    said = _("%(language)s, %(n)d points, %(paper)s") % {
        "language": language_name(letter.language), "n": letter.points, "paper": letter.paper
    }  # fmt: skip
    yield Part(_("Language, print and sheet"), (said,), shown=False)


def _of_plan(plan: CasePlan, language: str) -> Iterator[Part]:
    fees = [money(one.estimate.total_cents, plan.currency, language) for one in plan.options]
    options = tuple(
        f"{name_of(one, language)}: {verdict_words(one.verdict)} {fee}"
        for one, fee in zip(plan.options, fees, strict=True)
    )
    yield Part(_("All options"), options, shown=False)
    yield Part(_("Price list"), (str(plan.price_list_version),), shown=False)


def _chances(chances: Sequence[ChanceView]) -> tuple[str, ...]:
    return tuple(" ".join(filter(None, (chance.words, chance.number))) for chance in chances)


def _items(option: OptionShape, plan: CasePlan, language: str) -> tuple[str, ...]:
    lines = (*option.estimate.lines, *option.estimate.beside)
    return tuple(
        f"{line.words}{' ' if line.teeth else ''}{', '.join(tooth.iso for tooth in line.teeth)}: "
        f"{money(line.total_cents, plan.currency, language)}"
        for line in lines
    )


def _upkeep(view: OptionView) -> tuple[str, ...]:
    return tuple(filter(None, (view.upkeep, view.upkeep_range)))
