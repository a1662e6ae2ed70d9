"""What the front desk may say when somebody asks about a price: answers put together from the frozen plan alone.

The desk reads them out as they stand and adds nothing about teeth. What they do not answer is written down as a
question. Every sentence is a template of the catalogue, filled with figures of the plan, in the patient's language.
"""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from planner.letters.choosing import NOTHING
from planner.letters.options import OptionView
from planner.letters.pricing import PricedView
from planner.letters.wording import money
from planner.rules.partial import pieces_of
from planner.rules.results import CasePlan, OptionShape


@dataclass(frozen=True, slots=True)
class Card:
    """A question that people ask, and what may be said to it."""

    question: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """One option as it was frozen and as the pages show it."""

    option: OptionShape
    view: OptionView
    price: PricedView


def cards(plan: CasePlan, told: Told, gentler: Told | None, parts: tuple[str, ...], language: str) -> tuple[Card, ...]:
    """The cards of one option. ``gentler`` is the one shown before it, ``parts`` what is said about paying in parts."""
    option, view = told.option, told.view
    found = [Card(_("Why does it cost this?"), _why_this(told))] if option.estimate.lines else []
    if gentler is not None and option.estimate.total_cents > gentler.option.estimate.total_cents:
        found.append(Card(_("Why is it dearer than the one before?"), _why_dearer(plan, told, gentler, language)))
    if option.key != NOTHING:
        found.append(Card(_("Can I do only a part of it?"), (_part(option),)))
    found.append(Card(_("How long does it last?"), _lasts(view)))
    if option.key != NOTHING:
        nothing = plan.option(NOTHING)
        plain = nothing.plain_es if language == "es" and nothing.plain_es else nothing.plain
        found.append(Card(_("What if I do nothing?"), (plain, *nothing.later)))
        found.append(Card(_("Can I pay month by month?"), parts))
    found.append(
        Card(
            _("Will it hurt? Is it the right thing for me?"),
            (_("Your dentist answers that. We write your question down, and you get an answer by a day we name."),),
        )
    )
    return tuple(found)


def _why_this(told: Told) -> tuple[str, ...]:
    said = []
    for line in told.price.lines:
        fields = {"words": line.words, "n": line.quantity, "each": line.unit, "total": line.total}
        if line.discount:
            said.append(
                _("%(words)s: %(n)s × %(each)s, %(off)s off, comes to %(total)s.")
                % (fields | {"off": line.discount.removeprefix("−")})
            )
        else:
            said.append(_("%(words)s: %(n)s × %(each)s comes to %(total)s.") % fields)
    if told.option.estimate.tax_cents:
        said.append(_("Sales tax: %(sum)s.") % {"sum": told.price.tax})
    said.append(_("These are the fees of our price list, version %(n)d.") % {"n": told.price.price_list})
    return tuple(said)


def _why_dearer(plan: CasePlan, told: Told, gentler: Told, language: str) -> tuple[str, ...]:
    mine, other = told.option.estimate, gentler.option.estimate
    more = money(mine.total_cents - other.total_cents, plan.currency, language)
    said = [_("It costs %(more)s more than “%(name)s”.") % {"more": more, "name": gentler.view.name}]
    there = {line.service: line.total_cents for line in other.lines}
    for line in mine.lines:
        extra = line.total_cents - there.get(line.service, 0)
        if line.service not in there:
            said.append(_("It has, and the other has not: %(words)s, %(sum)s with tax.")
                        % {"words": line.words, "sum": money(line.total_cents, plan.currency, language)})  # fmt: skip
        elif extra > 0:
            said.append(_("More of it: %(words)s, %(sum)s more with tax.")
                        % {"words": line.words, "sum": money(extra, plan.currency, language)})  # fmt: skip
    return tuple(said)


def _part(option: OptionShape) -> str:
    count = sum(not piece.beside for piece in pieces_of(option))
    if count < 2:
        return _("It is one piece of work: there is no part of it to be had.")
    return ngettext(
        "It is %(n)d piece of work.",
        "It is %(n)d pieces of work. What only some of them come to we work out here and now; some parts are not to be "
        "had, and then the reason is said.",
        count,
    ) % {"n": count}


def _lasts(view: OptionView) -> tuple[str, ...]:
    said = [view.at_ten or view.lasts]
    years = _("In ten years we expect it to ask for about %(sum)s in upkeep.") % {"sum": view.upkeep}
    said.append(years)
    if view.upkeep_range:
        said.append(_("The usual range is %(range)s.") % {"range": view.upkeep_range})
    return tuple(said)
