"""Keeping what was decided on the page of the spaces: all of it in one transaction, or nothing."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from planner.patients.examinations import change_examination, store_examination, with_lines
from planner.patients.facts import examination_facts
from planner.patients.models import Examination, Status
from planner.plans.cases import change_case, clear_lock, set_lock
from planner.plans.models import Case
from planner.practice.access import Act, Thing, may, require, require_own
from planner.practice.models import Staff
from planner.rules.choices import Lock
from planner.rules.teeth import Tooth
from planner.trail.errors import Refused


def keep_locks(
    *, case: Case, seen: int, fixed: Iterable[Lock], let_go: Iterable[tuple[Lock, str]], actor: Staff, now: datetime
) -> Case:
    """Fix and let go several values at once, each with its own reason and its own entry in the trail.

    Raises Refused without a reason, StaleEdit, NotAllowed; nothing is kept then.
    """
    with transaction.atomic():
        for lock, reason in let_go:
            case = clear_lock(
                case=case,
                seen=seen,
                what=lock.what,
                tooth=lock.tooth,
                between=lock.between,
                reason=reason,
                actor=actor,
                now=now,
            )
            seen = case.version
        for lock in fixed:
            case = set_lock(case=case, seen=seen, lock=lock, actor=actor, now=now)
            seen = case.version
    return case


def answer_gaps(
    *,
    case: Case,
    seen: int,
    answers: Mapping[frozenset[Tooth], Mapping[str, Any]],
    actor: Staff,
    now: datetime,
) -> Case:
    """Record film answers and ticks of gaps as findings: in the draft, or in a new set that the case then rests on.

    A new set is confirmed at once when ``actor`` may confirm. Raises Refused for a gap that is not there or an answer
    that cannot be, StaleEdit, NotAllowed; nothing is kept then.
    """
    require_own(actor, case)
    require(actor, Act.EDIT, Thing.LOCKS, subject=case)
    old = with_lines().get(pk=case.examination_id)
    facts = examination_facts(old)
    known = {frozenset(gap.between) for gap in facts.gaps}
    if not set(answers) <= known:
        raise Refused("There is no such gap in this examination.")
    gaps = tuple(gap.model_copy(update=dict(answers.get(frozenset(gap.between), {}))) for gap in facts.gaps)
    facts = facts.model_copy(update={"gaps": gaps, "confirmed_by": ""})
    with transaction.atomic():
        if old.status == Status.DRAFT:
            change_examination(examination=old, seen=old.version, facts=facts, actor=actor, now=now)
            return case
        return change_case(
            case=case, seen=seen, examination=_corrected(case, old, facts, actor, now), actor=actor, now=now
        )


def _corrected(case: Case, old: Examination, facts: Any, actor: Staff, now: datetime) -> Examination:
    confirms = may(actor, Act.APPROVE, Thing.MEASUREMENTS)
    facts = facts.model_copy(update={"confirmed_by": actor.full_name if confirms else ""})
    return store_examination(patient=case.patient, facts=facts, corrects=old, actor=actor, now=now)
