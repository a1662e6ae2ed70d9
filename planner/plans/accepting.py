"""A yes to an option or to a part of one becomes an accepted plan: frozen lines, one item for each piece of work."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction

from django.db import transaction

from planner.patients.files import of_person
from planner.plans.accepted import change_plan
from planner.plans.accepted_models import AcceptedPlan, Follows
from planner.plans.accepted_rows import option_of_plan, write_items, write_plan
from planner.plans.estimates import answer_estimate, is_expired
from planner.plans.facts import case_facts
from planner.plans.models import Answer, Estimate
from planner.plans.others_agree import refuse_disputed
from planner.plans.parts import Handed, handed
from planner.practice.access import Act, Thing, may, require, require_own
from planner.practice.books import read_book, today, version_in_force
from planner.practice.catalogue import in_force
from planner.practice.models import Staff
from planner.rules.acceptance import drafts, list_of, right_person, who_asks
from planner.rules.book import OfficeBook
from planner.rules.cents import half_up
from planner.rules.money import Charge, EstimateError
from planner.rules.money import estimate as priced
from planner.rules.moves import may_move
from planner.rules.options import price_line
from planner.rules.partial import Partial, clashing
from planner.rules.plan_states import OPEN_PLAN, PLAN, PlanFacts, PlanState
from planner.rules.results import OptionShape, PriceLine, stable_json
from planner.trail.errors import Refused
from planner.trail.services import record


def accept_option(
    *,
    estimate: Estimate,
    seen: int,
    option: str,
    chosen: Sequence[str],
    by: str,
    capacity: str,
    words: str = "",
    replaces: AcceptedPlan | None = None,
    actor: Staff,
    now: datetime,
) -> AcceptedPlan:
    """Record the yes of ``by`` to the pieces ``chosen`` of ``option``, and freeze what was agreed.

    ``replaces`` is a plan in whose place it comes: that one ends as changed, with its balance laid out.

    Raises Refused when the estimate is not shown, not in date at the end of the office's local day, or its facts have
    changed; when the wrong person says yes; when this part is not to be had, or has amounts that a dentist has not
    agreed to; when it clashes with a plan that is open. StaleEdit, NotAllowed.
    """
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.ACCEPTED, subject=estimate)
    given = handed(estimate, option)
    part = given.part(tuple(chosen))
    if part.refused:
        raise Refused(" ".join(part.refused), field="pieces")
    if part.shared_anew and not may(actor, Act.APPROVE, Thing.OPTIONS):
        raise Refused(
            f"The space is shared anew for this part; a dentist has to agree: {' '.join(part.shared_anew)}",
            field="pieces",
        )
    refuse_disputed(estimate.case_id)
    with transaction.atomic():
        day = today(estimate.office, now)
        facts = PlanFacts(
            day=day,
            items=len(part.chosen),
            price_frozen=estimate.book is not None,
            right_person=right_person(case_facts(estimate.case, day).patient, by, capacity, given.book, day),
            estimate_in_date=not is_expired(estimate, day),
            clashes=clashes_with_open(estimate, given.option, part.chosen, replaces),
        )
        _refuse(facts)
        answered = answer_estimate(
            estimate=estimate,
            seen=seen,
            answer=Answer.ALL if part.whole else Answer.PART,
            by=by,
            option=option,
            words=words,
            actor=actor,
            now=now,
        )
        plan = _write(answered, given, part, by.strip(), capacity, day, actor, now, replaces)
        if replaces is not None:
            change_plan(plan=replaces, replaced_by=plan, actor=actor, now=now)
        content = {
            "option": option,
            "pieces": list(part.chosen),
            "total_cents": plan.total_cents,
            "by": by.strip(),
            "as": capacity,
            "prices": plan.price_list_version,
        }
        record(actor=actor, act="plan.accept", subject=plan, content=content, at=now)
    return plan


@dataclass(frozen=True, slots=True)
class Promise:
    """Work done again at no charge because the office promised it: what it costs the office is kept all the same."""

    minutes: int
    material_cents: int

    def cost_cents(self, book: OfficeBook) -> int:
        """Chair time and material, half-up. Raises LookupError when the office has typed no rate."""
        return half_up(Fraction(book.chair_rate() * self.minutes, 60)) + self.material_cents


def accept_repair(
    *,
    plan: AcceptedPlan,
    charges: Sequence[Charge],
    by: str,
    capacity: str,
    reason: str,
    promise: Promise | None = None,
    actor: Staff,
    now: datetime,
) -> AcceptedPlan:
    """A repair of finished work: a new small plan that points back at it; the finished one is never opened again.

    Priced by today's list; with ``promise`` the patient pays nothing and the office's cost is kept with the items.
    Raises Refused when the plan is not finished, for no charge or one that has no price, without a reason, or when the
    wrong person says yes; NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.APPROVE, Thing.AMENDMENT, subject=plan)
    if not reason.strip():
        raise Refused("Say what is repaired, and why at this price.", field="reason")
    refuse_disputed(plan.case_id)
    with transaction.atomic():
        held = AcceptedPlan.objects.select_related("office", "case__patient", "frozen").get(pk=plan.pk)
        if held.state != PlanState.FINISHED:
            raise Refused(f"The plan is {held.state}; only finished work is repaired in a plan of its own.")
        day = today(held.office, now)
        version = version_in_force(held.office, day)
        book = read_book(version.data)
        facts = PlanFacts(
            items=len(charges),
            price_frozen=True,
            right_person=right_person(case_facts(held.case, day).patient, by, capacity, book, day),
            estimate_in_date=True,
        )
        _refuse(facts)
        lines, cost = _repair_lines(charges, book, day, promise)
        made = write_plan(
            held,
            book=version,
            frozen=held.frozen,
            version=book.price_list_on(day).version,
            name=f"Repair: {reason.strip()}"[:300],
            total=sum(line.total_cents for line in lines),
            by=by.strip(),
            capacity=capacity,
            day=day,
            held_days=book.price_held_days,
            actor=actor,
            now=now,
            follows=held,
            follows_as=Follows.REPAIR,
            reason=reason.strip(),
        )
        write_items(made, drafts(lines, book.price_list_on(day), book), beside_charge=cost)
        content = {"follows": held.public_id, "total_cents": made.total_cents, **cost}
        record(actor=actor, act="plan.repair", subject=made, content=content, reason=reason.strip(), at=now)
    return made


def open_plans(estimate: Estimate) -> tuple[AcceptedPlan, ...]:
    """What is accepted and not over for the same person, newest first."""
    states = [*(str(state) for state in OPEN_PLAN), str(PlanState.RESTING)]
    rows = AcceptedPlan.objects.filter(of_person(estimate.case.patient_id), state__in=states)
    return tuple(rows.select_related("frozen"))


def clashes_with_open(
    estimate: Estimate, option: OptionShape, chosen: Iterable[str], replaces: AcceptedPlan | None = None
) -> tuple[str, ...]:
    """Why ``chosen`` cannot stand beside what is accepted and open for the same person, by tooth and place."""
    wanted = tuple(chosen)
    found: list[str] = []
    for other in open_plans(estimate):
        taken = option_of_plan(other)
        if taken is not None and other != replaces:
            # Two of one key are two plans all the same.
            pair = (taken, (replace(option, key=f"{option.key} again"), wanted))
            day = other.accepted_on.isoformat()
            found += (f"{words} The other is accepted since {day}." for words in clashing(pair, in_force().catalogue))
    return tuple(dict.fromkeys(found))


def _repair_lines(
    charges: Sequence[Charge], book: OfficeBook, day: date, promise: Promise | None
) -> tuple[list[PriceLine], dict[str, int]]:
    try:
        prices, rounding = book.price_list_on(day), book.tax_rounding
        repair = priced(charges, prices, book.tax_rates, day, tax_rounding=rounding)
        lines = [price_line(line) for line in repair.lines]
        if promise is None:
            return lines, {}
        cost = promise.cost_cents(book)
    except (EstimateError, LookupError) as error:
        faults = error.faults if isinstance(error, EstimateError) else (str(error),)
        raise Refused(" ".join(f"{fault[0].upper()}{fault[1:]}." for fault in faults)) from None
    free = [
        replace(
            line,
            note="promise",
            unit_cents=0,
            gross_cents=0,
            discount_cents=0,
            net_cents=0,
            tax_cents=0,
            total_cents=0,
        )
        for line in lines
    ]
    return free, {"promise_cost_cents": cost}


def _refuse(facts: PlanFacts) -> None:
    if refused := may_move(PLAN, "", PlanState.ACCEPTED, facts):
        raise Refused(" ".join(refused), field="by" if facts.right_person else "pieces")


def _write(
    estimate: Estimate,
    given: Handed,
    part: Partial,
    by: str,
    capacity: str,
    day: date,
    actor: Staff,
    now: datetime,
    replaces: AcceptedPlan | None,
) -> AcceptedPlan:
    shape = part.option or given.option
    beside = [line for line in given.option.estimate.beside if f"beside.{line.service}" in part.chosen]
    lines = [*shape.estimate.lines, *beside]
    prices = list_of(given.book, given.plan.price_list_version)
    assert estimate.frozen is not None  # a shown estimate is
    assert estimate.book is not None
    plan = write_plan(
        estimate,
        book=estimate.book,
        frozen=estimate.frozen,
        version=prices.version,
        name=shape.name,
        total=sum(line.total_cents for line in lines),
        by=by,
        capacity=capacity,
        day=day,
        held_days=given.book.price_held_days,
        actor=actor,
        now=now,
        deposit=shape.estimate.deposit_cents,
        option_key=given.option.key,
        part=None if part.whole else stable_json(part),
        follows=replaces,
        follows_as=Follows.REPLACES if replaces else "",
    )
    catalogue = in_force().catalogue
    asks = who_asks(given.option, catalogue.treatments, catalogue.combinations.get(given.option.key))
    write_items(plan, drafts(lines, prices, given.book, months=shape.months_high, treatments=asks))
    return plan
