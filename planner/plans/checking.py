"""The dentist's check in one act: exactly the plan that was seen on the screen, frozen and numbered."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from planner.plans.estimates import check_estimate, compute_plan, draft_estimate, is_expired, reissue_estimate
from planner.plans.facts import deciding_hash, measured_otherwise
from planner.plans.models import Case, Estimate, FrozenPlan, State
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import hash_as_read, today
from planner.practice.fields import day_words
from planner.practice.models import BookVersion, Staff
from planner.rules.results import CasePlan, sha256
from planner.rules.verdicts import Verdict
from planner.trail.errors import Refused


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a case stands today against its newest frozen plan."""

    estimate: Estimate | None
    """The newest estimate that was checked and not replaced, with its frozen plan."""
    draft: Estimate | None
    """One that the desk has begun."""
    stale: tuple[str, ...]
    """Why the frozen plan no longer says what would be computed today, one sentence each."""
    blocks: bool
    """Whether a dentist has to check a new issue before the old one may be shown again or accepted."""


def standing_of(case: Case, plan: CasePlan, now: datetime) -> Standing:
    """The newest estimates of ``case`` and what has changed since. Two queries, more after a later set."""
    newest = Estimate.objects.filter(case=case).exclude(state=State.REPLACED)
    found = list(newest.select_related("frozen", "book", "office", "checked_by").order_by("-at", "-pk")[:20])
    draft = next((one for one in found if one.state == State.DRAFT), None)
    checked = next((one for one in found if one.frozen is not None), None)
    said: list[str] = []
    facts_changed = expired = False
    if checked is not None and checked.frozen is not None:
        changed = _changes(checked, checked.frozen, plan)
        expired = is_expired(checked, today(case.office, now))
        facts_changed = bool(changed)
        said += [*changed, *_stale(checked, checked.frozen, plan, expired=expired)]
    return Standing(checked, draft, tuple(said), facts_changed or expired)


def stale_words(estimate: Estimate, now: datetime) -> tuple[str, ...]:
    """Why a checked estimate no longer says what would be computed today, one sentence each; nothing when it does."""
    if estimate.frozen is None:
        return ()
    try:
        plan, _book = compute_plan(estimate.case, now)
    except Refused as refusal:
        return (refusal.sentence,)
    expired = is_expired(estimate, today(estimate.office, now))
    changed = _changes(estimate, estimate.frozen, plan)
    return (*changed, *_stale(estimate, estimate.frozen, plan, expired=expired))


def _changes(estimate: Estimate, frozen: FrozenPlan, plan: CasePlan) -> list[str]:
    said = []
    if deciding_hash(plan.facts) != frozen.deciding_sha256:
        said.append(_("Facts of the case have changed since estimate %(n)s was checked.") % {"n": estimate})
    newer = measured_otherwise(estimate.case)
    if newer is not None:
        words = _("Measurements of %(day)s differ from those the case rests on: take them into the case.")
        said.append(words % {"day": day_words(newer.on)})
    return said


def _stale(estimate: Estimate, frozen: FrozenPlan, plan: CasePlan, *, expired: bool) -> list[str]:
    said = []
    if plan.book_sha256 != (hash_as_read(estimate.book) if estimate.book else ""):
        said.append(_("The office book has changed since; today's fees may be others than those on the estimate."))
    if plan.rules_sha256 != frozen.rules_sha256:
        said.append(_("The program's rules have changed since."))
    if expired:
        said.append(_("The estimate was valid through %(day)s.") % {"day": estimate.valid_through})
    return said


def check_case(*, case: Case, seen_plan: str, reason: str = "", actor: Staff, now: datetime) -> Estimate:
    """Freeze the plan with the hash ``seen_plan`` and number it: the begun draft, a new issue, or a new estimate.

    The very plan that is frozen already under an open estimate gives that estimate again. Raises Refused when the plan
    computed now is another than the one that was seen, when replacing needs a reason, or when it cannot be frozen.
    """
    require_own(actor, case)
    require(actor, Act.APPROVE, Thing.RELEASE, subject=case)
    plan, book = compute_plan(case, now)
    content = plan.to_json()
    if sha256(content) != seen_plan:
        raise Refused(_("The plan has changed since this page was opened: look at it again, then check it."))
    with transaction.atomic():
        # Of two who check the same plan at once the second finds the estimate of the first, and begins none beside it.
        Case.objects.select_for_update(of=("self",)).get(pk=case.pk)
        standing = standing_of(case, plan, now)
        open_one = standing.estimate
        if open_one is not None and open_one.frozen is not None and open_one.frozen.sha256 == seen_plan:
            return open_one
        estimate = standing.draft or _begin(case, plan, open_one, reason, actor, now)
        return _check(estimate, content, book, actor, now)


def to_hand_over(plan: CasePlan) -> tuple[str, ...]:
    """Keys of the options that an estimate prices unless somebody chooses otherwise: those that may be offered."""
    return tuple(option.key for option in plan.options if option.verdict in (Verdict.OFFER, Verdict.CARE))


def _begin(case: Case, plan: CasePlan, open_one: Estimate | None, reason: str, actor: Staff, now: datetime) -> Estimate:
    if open_one is not None and open_one.state in (State.CHECKED, State.SHOWN):
        return reissue_estimate(estimate=open_one, reason=reason, actor=actor, now=now)
    return draft_estimate(case=case, options=to_hand_over(plan), actor=actor, now=now)


def _check(estimate: Estimate, content: bytes, book: BookVersion, actor: Staff, now: datetime) -> Estimate:
    return check_estimate(estimate=estimate, seen=estimate.version, plan_json=content, book=book, actor=actor, now=now)
