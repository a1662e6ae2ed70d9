"""Taking a consent back: heard at once from anybody, written down in the patient's words, asked for no reason."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from planner.letters.consent_models import Consent, Withdrawal
from planner.letters.consents import OPEN, held_consent, move
from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.account import account_of
from planner.plans.consent_stops import stands_still, stop_items
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.models import Staff
from planner.rules.consent_states import ConsentFacts, ConsentState
from planner.rules.item_states import ItemState
from planner.trail.errors import Refused
from planner.trail.services import record


def withdraw_consent(
    *,
    consent: Consent,
    words: str,
    said_by: str,
    how: str,
    items: Sequence[Item] = (),
    explained: str = "",
    said_at: datetime | None = None,
    actor: Staff,
    now: datetime,
) -> Withdrawal:
    """Record at once that a consent is taken back, wholly, or for ``items`` of the accepted plan alone.

    What it covers of the plan stands still from now on: it is neither booked nor done. What was done, paid and earned
    by then is noted beside it; money goes back by the refunds of the plan. Raises Refused, NotAllowed.
    """
    require(actor, Act.CREATE, Thing.WITHDRAWAL, subject=consent)
    require_own(actor, consent)
    when = said_at or now
    if not words.strip():
        raise Refused(_("Write down the words that were used."), field="words")
    if not said_by.strip():
        raise Refused(_("Say who took it back."), field="said_by")
    if not how.strip():
        raise Refused(_("Say how it was told: in person, by telephone, with a raised hand."), field="how")
    if when > now:
        raise Refused(_("It cannot have been said in the future."), field="said_at")
    with transaction.atomic():
        held = held_consent(consent)
        if held.state not in OPEN or held.state == ConsentState.NONE:
            over = _("This consent is over: nothing is left of it to take back.")
            raise Refused(f"{over} {_who_took(held)}".strip())
        plan = _plan_of(held)
        covered = _covered(plan, items)
        scope = "items" if items else "all"
        facts = ConsentFacts(withdrawn_words=words, withdrawn_scope=scope)
        move(held, ConsentState.SIGNED if items else ConsentState.WITHDRAWN, facts)
        stop_items(items=covered, words=words, actor=actor, now=now)
        account = account_of(plan) if plan is not None else None
        done = [str(item) for item in plan.items.filter(state=str(ItemState.DONE))] if plan is not None else []
        row = Withdrawal.objects.create(
            office=held.office,
            consent=held,
            words=words.strip(),
            said_by=said_by.strip(),
            how=how.strip(),
            said_at=when,
            scope=scope,
            items=[{"item": item.public_id, "words": item.words} for item in covered],
            explained=explained.strip(),
            work_done=done,
            paid_cents=account.paid_cents if account else 0,
            earned_cents=account.earned_cents if account else 0,
            refund_cents=account.settlement.refund_cents if account else 0,
            due_cents=account.settlement.balance_due_cents if account else 0,
            by=actor,
            at=now,
        )
        content = {"scope": scope, "items": [item.public_id for item in covered], "words": row.words}
        record(actor=actor, act="consent.withdraw", subject=held, content=content, at=now)
    return row


def _who_took(consent: Consent) -> str:
    last = consent.withdrawals.select_related("by").order_by("-pk").first()
    if last is None:
        return ""
    noted = done_by(_("recorded"), last.by, last.at, consent.office)
    return _("%(who)s took it back: “%(words)s”; %(noted)s.") % {
        "who": last.said_by, "words": last.words, "noted": noted
    }  # fmt: skip


def _plan_of(consent: Consent) -> AcceptedPlan | None:
    rows = AcceptedPlan.objects.filter(estimate=consent.estimate, option_key=consent.option_key)
    return rows.select_related("office", "book").first()


def _covered(plan: AcceptedPlan | None, items: Sequence[Item]) -> list[Item]:
    if plan is None:
        if items:
            raise Refused(_("Nothing is accepted yet: the consent is taken back as a whole."), field="items")
        return []
    if any(item.plan_id != plan.pk for item in items):
        raise Refused(_("An item belongs to another plan than this consent."), field="items")
    if items and (still := [item for item in items if stands_still(item)]) and len(still) == len(items):
        stop = still[0].consent_stops.select_related("by").order_by("-pk")[0]
        who = done_by(_("taken back"), stop.by, stop.at, plan.office)
        raise Refused(_("“%(item)s” was %(who)s.") % {"item": still[0].words, "who": who}, field="items")
    return list(items) or list(plan.items.prefetch_related("consent_stops"))
