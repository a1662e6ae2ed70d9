"""What stands beside the plan when an estimate is put before a patient: paying in parts, the account, questions, days.

It is read from rows that only grow, as plain data: the pages say it as it is now, a paper that is taken home keeps it.
"""

import json
from datetime import date, datetime
from typing import Any, Final

from planner.letters.consents import questions_about
from planner.letters.signals import what_comes_next
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.account import account_of
from planner.plans.arranging import (
    Payer,
    arrangement_data,
    basis_of,
    latest_arrangement,
    read_arrangement,
    try_out,
    usual,
)
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate, State
from planner.practice.books import current_book, today
from planner.rules.arrangement import ArrangementError
from planner.rules.results import CasePlan, stable_json
from planner.trail.errors import Refused

AGREED: Final = "agreed"
OFFERED: Final = "offered"
NOT_HERE: Final = "not here"
NOT_AGREED: Final = "not agreed"
"""Paying in parts is agreed on, may be had, is not arranged in this office, or was not agreed on and money came in."""


def showing_json(estimate: Estimate, now: datetime) -> str:
    """Everything a paper keeps of a showing, as the text that is frozen with it."""
    return stable_json(showing_told(estimate, now)).decode()


def showing_told(estimate: Estimate, now: datetime) -> dict[str, Any]:
    """What was asked, what is arranged and paid, and which days come next."""
    assert estimate.frozen is not None
    shown = estimate.showings.select_related("shown_by").order_by("-pk").first()
    answered = estimate.state == State.ANSWERED
    days: dict[str, str] = {}
    answers: list[tuple[Any, Any]] = what_comes_next.send(sender=Estimate, estimate=estimate, now=now)
    for _receiver, answer in answers:
        days |= answer
    return {
        "plan_sha256": estimate.frozen.sha256,
        "shown_on": shown.on.isoformat() if shown is not None else "",
        "shown_by": shown.shown_by.full_name if shown is not None else "",
        "answer": {"kind": estimate.answer, "on": _iso(estimate.answered_on)} if answered else {},
        "questions": _questions(estimate),
        "days": days,
        **money_told(estimate, now),
    }


def money_told(estimate: Estimate, now: datetime) -> dict[str, Any]:
    """How it can be or is paid in parts, and what came in where a plan is accepted. A handful of queries."""
    account = _account(estimate)
    return {"parts": _parts(estimate, account, now), "account": account}


def _parts(estimate: Estimate, account: dict[str, Any], now: datetime) -> dict[str, Any]:
    agreed = latest_arrangement(estimate)
    if agreed is not None:
        on = agreed.at.astimezone(estimate.office.zone).date()
        return {"state": AGREED, "on": on.isoformat(), "arrangement": json.loads(read_arrangement(agreed))}
    if account and account["paid_cents"]:
        return {"state": NOT_AGREED}
    book = current_book(estimate.office, today(estimate.office, now))
    if book.instalments_at_most < 2:
        return {"state": NOT_HERE}
    return {"state": OFFERED, "at_most": book.instalments_at_most, "arrangement": _example(estimate, now)}


def _example(estimate: Estimate, now: datetime) -> dict[str, Any]:
    """What parts would come to for what was said yes to, else for the option suggested or the first with a price."""
    assert estimate.frozen is not None
    plan = read_frozen(estimate.frozen)
    try:
        basis = basis_of(estimate, _suggested(estimate, plan), now)
        made = try_out(basis, usual(basis))
    except (Refused, ArrangementError):
        return {}
    return arrangement_data(str(estimate), estimate.frozen.sha256, basis, made, Payer("", ""))


def _suggested(estimate: Estimate, plan: CasePlan) -> str:
    priced = [one.key for one in plan.options if one.key in estimate.options and one.estimate.lines]
    return plan.recommended if plan.recommended in priced else next(iter(priced), "")


def _account(estimate: Estimate) -> dict[str, Any]:
    plan = AcceptedPlan.objects.filter(estimate=estimate).order_by("-pk").first()
    if plan is None:
        return {}
    found = account_of(plan)
    return {
        "name": plan.name,
        "agreed_cents": found.agreed_cents,
        "paid_cents": found.paid_cents,
        "held_cents": found.held_cents,
        "owed_cents": found.owed_cents,
        "to_pay_cents": max(found.agreed_cents + found.charged_cents - found.paid_cents, 0),
        "deposit_due_cents": found.deposit_due_cents,
    }


def _questions(estimate: Estimate) -> list[dict[str, Any]]:
    zone, found = estimate.office.zone, []
    for asked in questions_about(estimate).select_related("owner").prefetch_related("answers__by"):
        answers = [
            {"words": one.words, "by": one.by.full_name, "on": one.at.astimezone(zone).date().isoformat()}
            for one in asked.answers.all()
        ]
        owner = asked.owner.full_name if asked.owner is not None else ""
        found.append({"words": asked.words, "asked_by": asked.asked_by, "answers": answers, "owner": owner,
                      "due_on": _iso(asked.due_on), "clinical": asked.clinical})  # fmt: skip
    return found


def _iso(day: date | None) -> str:
    return day.isoformat() if day is not None else ""
