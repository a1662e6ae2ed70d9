"""Paying in parts and what was paid, put in words: the same on the money page of a showing and on the paper taken home.

What is said comes as plain data from :mod:`planner.letters.showing_told`; nothing of it is computed here.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters.showing_told import AGREED, NOT_AGREED, NOT_HERE
from planner.letters.wording import day, money, percent
from planner.rules.arrangement import EU_RATE, US_RATE
from planner.rules.results import CasePlan

_RATES: Final = {
    US_RATE: gettext_lazy("Annual percentage rate, United States (Regulation Z, nominal)"),
    EU_RATE: gettext_lazy("Annual percentage rate of charge, European Union (effective)"),
}


@dataclass(frozen=True, slots=True)
class Part:
    """One payment of the schedule, as text."""

    name: str
    on: str
    amount: str
    left: str


@dataclass(frozen=True, slots=True)
class PartsSaid:
    """What is said about paying in parts."""

    lines: tuple[str, ...]
    caption: str = ""
    """What the schedule is of; empty where there is none."""
    parts: tuple[Part, ...] = ()
    sums: tuple[tuple[str, str], ...] = ()
    """Price, what paying in parts adds, all that is paid, the yearly rates."""


def parts_said(told: Mapping[str, Any], plan: CasePlan, language: str) -> PartsSaid:
    """What was agreed on, else what may be had and an example of it, part by part."""
    if told["state"] == NOT_HERE:
        return PartsSaid(
            (_("Paying in parts is not arranged here. What is left after the deposit falls due as work is done."),)
        )
    if told["state"] == NOT_AGREED:
        return PartsSaid((_("It was not agreed on. What is left falls due as work is done."),))
    if told["state"] == AGREED:
        said = _("It was agreed on %(day)s: the agreement is a paper of its own, and what it says holds.")
        lines: tuple[str, ...] = (said % {"day": day(date.fromisoformat(told["on"]), language)},)
    else:
        said = _(
            "Yes, in at most %(n)d parts. We work out each part with you, and what it costs in all, before you agree."
        )
        lines = (said % {"n": told["at_most"]}, _("It is agreed on a paper of its own, after your yes."))
    found = told["arrangement"]
    if not found:
        return PartsSaid(lines)
    name = {"name": name_in(plan, found["option"], found["option_name"], language)}
    caption = _("What falls due for “%(name)s”") if told["state"] == AGREED else _("An example, for “%(name)s”")
    return PartsSaid(lines, caption % name, _schedule(found, told["state"] == AGREED, language), _sums(found, language))


def account_said(told: Mapping[str, Any], plan: CasePlan, language: str) -> tuple[tuple[str, str], ...]:
    """What is agreed, paid, held and still to pay for the accepted plan; nothing where there is none."""
    if not told:
        return ()

    def cash(name: str) -> str:
        return money(told[f"{name}_cents"], plan.currency, language)

    rows = [
        (_("Agreed, taxes included"), cash("agreed")),
        (_("Paid so far"), cash("paid")),
        (_("Of it kept for you, for work that is still to be done"), cash("held")),
        (_("Still to pay in all"), cash("to_pay")),
    ]
    if told["owed_cents"]:
        rows.append((_("Due now, for work that is done"), cash("owed")))
    if told["deposit_due_cents"]:
        rows.append((_("Deposit still missing"), cash("deposit_due")))
    return tuple(rows)


def name_in(plan: CasePlan, key: str, name: str, language: str) -> str:
    """What an option is called in ``language``; as it was written down where the plan has no such option."""
    found = next((option for option in plan.options if option.key == key), None)
    return found.name_es if language == "es" and found is not None and found.name_es else name


def _schedule(found: Mapping[str, Any], agreed: bool, language: str) -> tuple[Part, ...]:
    def cash(cents: int) -> str:
        return money(cents, found["currency"], language)

    def on(iso: str) -> str:
        return day(date.fromisoformat(iso), language)

    before = on(found["agreed_on"]) if agreed else _("before the first visit is booked")
    first = Part(_("Deposit"), before, cash(found["deposit_cents"]), cash(found["financed_cents"]))
    rest = tuple(
        Part(str(due["number"]), on(due["on"]), cash(due["cents"]), cash(due["left_cents"])) for due in found["dues"]
    )
    return (first, *rest) if found["deposit_cents"] else rest


def _sums(found: Mapping[str, Any], language: str) -> tuple[tuple[str, str], ...]:
    def cash(name: str) -> str:
        return money(found[f"{name}_cents"], found["currency"], language)

    rows = [
        (_("Price of the treatment, taxes included"), cash("total")),
        (_("Interest and fees: what paying in parts adds"), cash("charge")),
        (_("All you pay, deposit included"), cash("price")),
        (_("Interest, by the year"), percent(Decimal(found["yearly_percent"]))),
    ]
    if found["charge_cents"]:
        rows += [
            (str(_RATES.get(rate["label"], rate["label"])), percent(Decimal(rate["percent"])))
            for rate in found["rates"]
        ]
    return tuple(rows)
