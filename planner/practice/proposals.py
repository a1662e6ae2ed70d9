"""Settings with legal weight that somebody asks for: the manager proposes, the owner dentist sets or declines."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import answered_already
from planner.practice.drafts import with_legal
from planner.practice.models import LegalProposal, Office, Staff
from planner.rules.book import LegalSetting, TaxRate
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

TAXED = frozenset({"looks only", "reconstructive"})


def said(key: str, value: str, **common: Any) -> LegalSetting | TaxRate:
    """A setting as the book holds it; a tax class as ``key`` makes a tax rate."""
    if key in TAXED:
        return TaxRate(tax_class=key, percent=Decimal(value.replace(",", ".")), **common)
    return LegalSetting(key=key, value=value, **common)


def open_proposals(office: Office) -> list[LegalProposal]:
    """What waits for an answer, the oldest first."""
    return list(LegalProposal.objects.filter(office=office, outcome="").select_related("asked_by"))


def propose(*, key: str, value: str, effective: date, reason: str, actor: Staff, now: datetime) -> LegalProposal:
    """Ask the owner dentist to set something with legal weight."""
    require(actor, Act.CREATE, Thing.LEGAL, subject=actor.office)
    if not reason.strip():
        raise Refused("A proposal needs the rule or the advice it follows.", field="reason")
    with transaction.atomic():
        proposal = LegalProposal.objects.create(
            office=actor.office, key=key, value=value, effective=effective, reason=reason, asked_by=actor, at=now
        )
        record(
            actor=actor,
            act="legal.propose",
            subject=proposal,
            content={"key": key, "value": value, "effective": effective.isoformat()},
            reason=reason,
            at=now,
        )
    return proposal


def answer(*, proposal: LegalProposal, agrees: bool, reason: str, actor: Staff, now: datetime) -> LegalProposal:
    """Set what was proposed, in the name of who answers, or decline it with a reason. Nobody answers their own.

    Raises Refused when it was answered before or its day has passed.
    """
    require(actor, Act.APPROVE, Thing.LEGAL, subject=proposal)
    require_own(actor, proposal)
    if proposal.outcome:
        raise Refused(answered_already(proposal.outcome, proposal.answered_by, proposal.answered_at, proposal.office))
    if proposal.asked_by_id == actor.pk:
        raise Refused("Nobody answers what they proposed themselves: set it directly instead.")
    if not agrees and not reason.strip():
        raise Refused("Declining needs a reason.", field="reason")
    with transaction.atomic():
        answered = save_seen(
            proposal,
            seen=proposal.version,
            what="The proposal",
            values={
                "outcome": "set" if agrees else "declined",
                "answered_by": actor,
                "answered_at": now,
                "answer": reason,
            },
        )
        if agrees:
            _set(proposal, reason, actor, now)
        record(
            actor=actor,
            act="legal.set" if agrees else "legal.decline",
            subject=answered,
            content={"key": proposal.key, "value": proposal.value},
            reason=reason or proposal.reason,
            at=now,
        )
    return answered


def _set(proposal: LegalProposal, reason: str, actor: Staff, now: datetime) -> None:
    last = books.latest_version(actor.office)
    book, day = books.read_book(last.data), books.today(actor.office, now)
    ground = f"{proposal.reason} (proposed by {proposal.asked_by.full_name})"
    setting = said(proposal.key, proposal.value, effective=proposal.effective, set_by=actor.full_name, reason=ground)
    taxes, legal = ([setting], []) if isinstance(setting, TaxRate) else ([], [setting])
    books.change_book(
        office=actor.office,
        book=with_legal(book, legal=legal, taxes=taxes),
        effective=max(day, last.effective),
        reason=reason.strip() or ground,
        seen=last.number,
        actor=actor,
        now=now,
    )
