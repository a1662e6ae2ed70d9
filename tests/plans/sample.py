"""Shown estimates and accepted plans of the invented people, for the tests of what comes after a yes."""

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from planner.plans import estimates
from planner.plans.accepted import begin_plan
from planner.plans.accepted_models import AcceptedPlan, Follows, Item
from planner.plans.accepted_rows import write_items, write_plan
from planner.plans.accepting import accept_option
from planner.plans.casefiles import import_case_file
from planner.plans.models import Channel, Estimate, FrozenPlan
from planner.practice import books
from planner.practice.models import Staff
from planner.rules.acceptance import drafts
from planner.rules.fees import Charge
from planner.rules.item_states import ItemState
from planner.rules.money import estimate as priced
from planner.rules.mouth import CaseFacts
from planner.rules.options import price_line
from planner.rules.partial import whole_of
from planner.rules.plan_states import PlanState
from tests.rules.stories import PLANNED, facts_of
from tests.support import NOW, TODAY


def when(name: str) -> datetime:
    """The instant at which a story is planned and shown."""
    return NOW + timedelta(days=PLANNED[name])


def shown_estimate(owner: Staff, name: str, changes: Mapping[str, Any] | None = None) -> Estimate:
    """A story's estimate, some of its facts changed, checked and shown on its day."""
    who: dict[str, Any] = {"actor": owner, "now": when(name)}
    case = import_case_file(facts=facts_of(name, changes), **who).case
    plan, book = estimates.compute_plan(case, when(name))
    drafted = estimates.draft_estimate(case=case, **who)
    checked = estimates.check_estimate(estimate=drafted, seen=1, plan_json=plan.to_json(), book=book, **who)
    return estimates.show_estimate(estimate=checked, seen=2, to=case.patient.name, channel=Channel.IN_PERSON, **who)


def accepted(owner: Staff, name: str, option: str, *, now: datetime | None = None) -> AcceptedPlan:
    """A story's option, the whole of it said yes to by the patient."""
    estimate = shown_estimate(owner, name)
    assert estimate.frozen is not None
    shape = estimates.read_frozen(estimate.frozen).option(option)
    return accept_option(
        estimate=estimate,
        seen=estimate.version,
        option=option,
        chosen=whole_of(shape),
        by=estimate.case.patient.name,
        capacity="patient",
        actor=owner,
        now=now or when(name),
    )


def plan_of(owner: Staff, facts: CaseFacts, *charges: Charge, deposit: int = 0, months: int = 0) -> AcceptedPlan:
    """An accepted plan of just these charges at today's list, for money that no story of ours has."""
    case = import_case_file(facts=facts, actor=owner, now=NOW).case
    version = books.version_in_force(owner.office, TODAY)
    book = books.read_book(version.data)
    prices = book.price_list_on(TODAY)
    lines = [price_line(line) for line in priced(charges, prices, book.tax_rates, TODAY).lines]
    plan = write_plan(
        case.accepted_plans.model(case=case, office=case.office),
        book=version,
        frozen=bare_frozen(owner, case, version),
        version=prices.version,
        name="As charged",
        total=sum(line.total_cents for line in lines),
        by=case.patient.name,
        capacity="patient",
        day=TODAY,
        held_days=183,
        actor=owner,
        now=NOW,
        deposit=deposit,
    )
    write_items(plan, drafts(lines, prices, book, months=months))
    return plan


def plan_like(old: AcceptedPlan, owner: Staff) -> AcceptedPlan:
    """A plan that follows ``old`` in its place, with a deposit of 300; ``old`` is not told yet."""
    return write_plan(
        old,
        book=old.book,
        frozen=old.frozen,
        version=old.price_list_version,
        name="Another way",
        total=89000,
        by=old.accepted_by,
        capacity="patient",
        day=old.accepted_on,
        held_days=183,
        actor=owner,
        now=NOW,
        deposit=30000,
        follows=old,
        follows_as=Follows.REPLACES,
    )


def bare_frozen(owner: Staff, case: Any, book: Any) -> FrozenPlan:
    """A frozen plan nobody reads."""
    return FrozenPlan.objects.create(
        office=owner.office,
        case=case,
        examination=case.examination,
        book=book,
        content=b"{}",
        sha256="0" * 64,
        facts_sha256="0" * 64,
        deciding_sha256="0" * 64,
        rules_sha256="0" * 64,
        frozen_by=owner,
        at=NOW,
    )


def under_way(plan: AcceptedPlan, owner: Staff, now: datetime) -> AcceptedPlan:
    """The plan begun: booked without further ado, consent and history told."""
    AcceptedPlan.objects.filter(pk=plan.pk).update(state=PlanState.BOOKED.value)
    plan.refresh_from_db()
    day = books.today(plan.office, now)
    return begin_plan(plan=plan, seen=plan.version, consent="", history_asked_on=day, actor=owner, now=now)


def item_of(plan: AcceptedPlan, service: str, iso: str = "") -> Item:
    """The open item of a service on a tooth; the only one where none is named."""
    from planner.rules.teeth import Tooth

    rows = plan.items.filter(service=service).exclude(state=ItemState.DROPPED.value)
    found = [row for row in rows if not iso or Tooth.from_iso(iso).key in row.teeth]
    assert len(found) == 1, [row.words for row in rows]
    return found[0]


Finish = Callable[[AcceptedPlan, str, str], Item]
