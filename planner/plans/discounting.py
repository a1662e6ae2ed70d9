"""Discounts on an option of a case: asked for, allowed or declined, taken back; each step in somebody's name.

Who may allow how much is the office book's own rule (:mod:`planner.rules.discounts`). A discount that was allowed
changes a price, so that what was checked before no longer holds and a dentist checks a new issue.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from planner.patients.stored import to_json
from planner.plans.cases import decide
from planner.plans.estimates import compute_plan
from planner.plans.facts import case_choices, case_facts
from planner.plans.models import Case
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import read_book, today, version_in_force
from planner.practice.catalogue import in_force
from planner.practice.fields import day_words
from planner.practice.models import Staff
from planner.rules.book import DiscountKind, DiscountLimit
from planner.rules.choices import Choices, DiscountChoice
from planner.rules.discounts import Discount, DiscountGiven, faults_of_limits
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan, OptionShape
from planner.rules.units import format_cents
from planner.trail.errors import Refused

_MOST = 20


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody asks for, as typed: either a percentage or an amount."""

    option: str
    kind: DiscountKind
    reason: str
    percent: Decimal | None = None
    cents: int | None = None
    line: str = ""
    pass_through: bool = False
    own_family: bool = False


def ask_discount(*, case: Case, seen: int, wanted: Wanted, actor: Staff, now: datetime) -> Case:
    """Ask for a discount; where the office lets ``actor`` allow it without another person, it is given at once.

    Raises Refused for one that nobody here may allow or that does not fit its option, StaleEdit, NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=case)
    if not wanted.reason.strip():
        raise Refused("A discount needs a reason.", field="reason")
    if (wanted.percent is None) == (wanted.cents is None):
        raise Refused("Write either a percentage or an amount.", field="percent")
    plan, book = compute_plan(case, now)
    limits = read_book(book.data).discount_limits
    known = {one.key for one in case_choices(case).discounts}
    key = next((f"discount-{n}" for n in range(1, _MOST + 1) if f"discount-{n}" not in known), "")
    if not key:
        raise Refused(f"This case holds {_MOST} discounts already: take one back first.")
    asked = DiscountChoice(
        key=key,
        option=wanted.option,
        kind=wanted.kind,
        percent=wanted.percent,
        cents=None if wanted.cents is None else format_cents(wanted.cents),
        line=wanted.line,
        reason=wanted.reason.strip(),
        asked_by=actor.full_name,
        asked_role=role_of_asker(actor),
        asked_on=today(case.office, now),
        pass_through=wanted.pass_through,
        own_family=wanted.own_family,
    )
    before, off = _amounts(plan, asked)
    if faults := _nobody_may(asked, before, off, limits):
        raise Refused(faults, field="kind")
    mine = _allowed(asked, actor, before, off, limits, now)
    chosen = mine if mine is not None else asked
    _try(case, (*case_choices(case).discounts, chosen), chosen, now)

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"discounts": (*choices.discounts, chosen)})

    act = "discount.give" if chosen.given else "discount.ask"
    return decide(case, seen, change, act, wanted.reason, {"after": to_json(chosen)}, actor, now)


def allow_discount(*, case: Case, seen: int, key: str, actor: Staff, now: datetime) -> Case:
    """Allow a discount that waits, or agree to one for somebody's own family as the second person.

    Raises Refused when ``actor`` may not allow this much, asked for it, or allowed it already; StaleEdit, NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=case)
    waiting = _find(case, key)
    if waiting.given:
        who = f"{waiting.second_person or waiting.allowed_by} allowed it"
        day = f" on {day_words(waiting.allowed_on)}" if waiting.allowed_on is not None else ""
        raise Refused(f"This discount is given already: {who}{day}.")
    plan, book = compute_plan(case, now)
    before, off = _amounts(plan, waiting)
    limits = read_book(book.data).discount_limits
    if waiting.allowed_by and actor.full_name in (waiting.allowed_by, waiting.asked_by):
        raise Refused("A discount for somebody's own family needs a second person, other than who asked and allowed.")
    allowed = _allowed(waiting, actor, before, off, limits, now)
    if allowed is None:
        raise Refused(_refusal(waiting, actor, before, off, limits))
    if waiting.allowed_by:
        allowed = waiting.model_copy(update={"second_person": actor.full_name})
    _try(case, [one if one.key != key else allowed for one in case_choices(case).discounts], allowed, now)
    return _swap(case, seen, waiting, allowed, "discount.allow", waiting.reason, actor, now)


def take_back_discount(*, case: Case, seen: int, key: str, reason: str, actor: Staff, now: datetime) -> Case:
    """Decline a discount that waits, or take back one that was given. Raises Refused, StaleEdit, NotAllowed."""
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=case)
    if not reason.strip():
        raise Refused("Taking a discount back needs a reason.", field="reason")
    return _swap(case, seen, _find(case, key), None, "discount.take_back", reason, actor, now)


def line_choices(option: OptionShape) -> tuple[tuple[str, str], ...]:
    """The lines that a discount can be on: key of the service and words."""
    return tuple(dict.fromkeys((line.service, f"{line.words} ({line.code})") for line in option.estimate.lines))


def _swap(
    case: Case,
    seen: int,
    old: DiscountChoice,
    new: DiscountChoice | None,
    act: str,
    reason: str,
    actor: Staff,
    now: datetime,
) -> Case:
    def change(choices: Choices) -> Choices:
        kept = [one if one.key != old.key else new for one in choices.discounts]
        return choices.model_copy(update={"discounts": tuple(one for one in kept if one is not None)})

    content = {"before": to_json(old)} | ({"after": to_json(new)} if new else {})
    return decide(case, seen, change, act, reason, content, actor, now)


def _try(case: Case, discounts: Sequence[DiscountChoice], new: DiscountChoice, now: datetime) -> None:
    """Price the option as it would be. Raises Refused with what the rules say against it, whatever was there before."""
    day = today(case.office, now)
    facts = case_facts(case, day)
    choices = facts.choices.model_copy(update={"discounts": tuple(discounts)})
    book = read_book(version_in_force(case.office, day).data)
    facts = facts.model_copy(update={"choices": choices})
    option = plan_case(facts, book, day, catalogue=in_force().catalogue).option(new.option)
    if not option.estimate.lines:
        raise Refused(" ".join(f"{fault[:1].upper()}{fault[1:]}." for fault in option.estimate.how), field="percent")


def _find(case: Case, key: str) -> DiscountChoice:
    for one in case_choices(case).discounts:
        if one.key == key:
            return one
    raise Refused("This discount is not there any more.")


def _amounts(plan: CasePlan, asked: DiscountChoice) -> tuple[int, int]:
    """What it is on, before any tax, and what it comes to, in cents. Raises Refused where it does not fit."""
    option = next((one for one in plan.options if one.key == asked.option), None)
    if option is None or not option.estimate.lines:
        raise Refused("This option has no lines that a discount could be on.", field="option")
    lines = [line for line in option.estimate.lines if not asked.line or line.service == asked.line]
    if not lines:
        raise Refused("The option has no such line.", field="line")
    base = sum(line.net_cents for line in (lines[:1] if asked.line else lines))
    off = _measured(asked).amount(base)
    if off > base:
        raise Refused(
            f"A discount of {format_cents(off)} is more than the {format_cents(base)} it would be on: write less.",
            field="cents",
        )
    return base, off


def _measured(asked: DiscountChoice, actor: Staff | None = None, role: str = "") -> Discount:
    return Discount(
        kind=asked.kind,
        reason=asked.reason,
        allowed_by=actor.full_name if actor else "",
        allowed_role=role,
        percent=asked.percent,
        cents=asked.cents,
        asked_by=asked.asked_by,
        asked_role=asked.asked_role,
        pass_through=asked.pass_through,
        own_family=asked.own_family,
    )


def _nobody_may(asked: DiscountChoice, base: int, off: int, limits: Sequence[DiscountLimit]) -> str:
    """Why nobody in this office may allow it; empty when somebody may."""
    of_kind = [limit for limit in limits if limit.kind == asked.kind and limit.allowed_by]
    if of_kind:
        return ""
    given = DiscountGiven(_measured(asked), base, off)
    return " ".join(f"{fault[:1].upper()}{fault[1:]}." for fault in faults_of_limits([given], base, limits))


def _roles(actor: Staff) -> tuple[str, ...]:
    return tuple(sorted(role.value for role in actor.roles))


def role_of_asker(actor: Staff) -> str:
    """The role in which ``actor`` asks for a discount."""
    roles = _roles(actor)
    # A dentist who also manages asks as a dentist: managing is what allows.
    return next((role for role in ("dentist", "owner dentist") if role in roles), roles[0] if roles else "")


def _allowed(
    asked: DiscountChoice, actor: Staff, base: int, off: int, limits: Sequence[DiscountLimit], now: datetime
) -> DiscountChoice | None:
    """``asked`` allowed by ``actor`` in the first role that may, or None when no role of theirs may."""
    for role in _roles(actor):
        given = DiscountGiven(_measured(asked, actor, role), base, off)
        if not [*faults_of_limits([given], base, limits)]:
            on = today(actor.office, now)
            return asked.model_copy(update={"allowed_by": actor.full_name, "allowed_role": role, "allowed_on": on})
    return None


def _refusal(asked: DiscountChoice, actor: Staff, base: int, off: int, limits: Sequence[DiscountLimit]) -> str:
    roles = _roles(actor) or ("nobody",)

    def most(role: str) -> Decimal:
        mine = (one.most_percent for one in limits if one.kind == asked.kind and role in one.allowed_by)
        return max(mine, default=Decimal(-1))

    # Of several roles the one that may allow most says best why not this.
    role = max(roles, key=most)
    given = DiscountGiven(_measured(asked, actor, role), base, off)
    (fault, *_rest) = faults_of_limits([given], base, limits)
    return f"{fault[:1].upper()}{fault[1:]}."
