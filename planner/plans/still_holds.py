"""Whether what was accepted still holds: the option judged anew on today's facts, and teeth that are gone since."""

from datetime import date, datetime

from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.accepted_rows import option_of_plan
from planner.plans.estimates import compute_plan, read_frozen
from planner.plans.facts import case_facts
from planner.plans.items import NOTHING, Blocks
from planner.practice.books import today
from planner.rules.frozen import facts_in
from planner.rules.verdicts import Verdict
from planner.trail.errors import Refused

TOO_OLD = "shelf."
"""What the names of reasons begin with that say a record is past its shelf life."""


def against(plan: AcceptedPlan, now: datetime, *, begun: bool = False) -> tuple[str, ...]:
    """What speaks against the accepted option on today's facts, one sentence each; nothing when it still holds.

    A new allergy, a picture past its shelf life, a measurement taken anew: whatever decides is judged as if the option
    were offered today. Where work has ``begun``, what has only grown too old stops nothing: it decided once, and what
    is half done is not left so for want of a newer record. Common practice, no source.
    """
    if option_of_plan(plan) is None:
        return ()
    try:
        found, _book = compute_plan(plan.case, now)
        option = found.option(plan.option_key)
    except Refused as refusal:
        return (refusal.sentence,)
    except KeyError:
        return ("On today's facts this option is not worked out any more: a dentist plans anew.",)
    if option.verdict in (Verdict.OFFER, Verdict.CARE):
        return ()
    found_against = (reason for reason in option.reasons if reason.verdict.severity > Verdict.CARE.severity)
    return tuple(reason.words for reason in found_against if not (begun and reason.gate.startswith(TOO_OLD)))


def teeth_gone(plan: AcceptedPlan, now: datetime) -> dict[str, date]:
    """Keys of teeth that stood when the plan was frozen and are absent now, with the day on which that was seen."""
    before = {tooth.tooth.key for tooth in facts_in(read_frozen(plan.frozen)).examination.teeth}
    facts = case_facts(plan.case, today(plan.office, now))
    there = {tooth.tooth.key for tooth in facts.examination.teeth}
    absent = {tooth.tooth.key for tooth in facts.examination.absent}
    return dict.fromkeys(sorted((before - there) & absent), facts.examination.on)


def blocks_of(item: Item, gone: dict[str, date]) -> Blocks:
    """What keeps ``item`` from being booked or done, given the teeth that are ``gone``."""
    since = [gone[tooth] for tooth in item.teeth if tooth in gone]
    return Blocks(tooth_gone_since=min(since)) if since else NOTHING
