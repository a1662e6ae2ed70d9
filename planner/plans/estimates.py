"""Estimates: drafted at the desk, checked and frozen by a dentist, shown by a person on a day, answered or replaced.

Each step is held against :data:`planner.rules.estimate_states.ESTIMATE` and, for what may never change, by the
database. Expired is computed from the date and stored nowhere.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max

from planner.patients.examinations import close_examination
from planner.patients.files import refuse_closed
from planner.plans.facts import case_facts, deciding_hash, facts_hash, measured_otherwise
from planner.plans.models import Answer, Case, Channel, Estimate, FrozenPlan, Showing, State
from planner.plans.payer_guesses import freeze_guess
from planner.plans.signals import before_showing
from planner.plans.treating import refuse_before_take_over
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import hash_as_read, read_book, today, version_in_force
from planner.practice.catalogue import in_force
from planner.practice.models import BookVersion, Office, Staff
from planner.rules.book import OfficeBook
from planner.rules.casefile import case_data
from planner.rules.estimate_states import ESTIMATE, EstimateFacts, expired
from planner.rules.frozen import FrozenPlanError, thaw
from planner.rules.mouth import CaseFacts
from planner.rules.moves import field_at_fault, may_move
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan, sha256
from planner.trail.errors import Refused
from planner.trail.fields import save_seen
from planner.trail.services import record

_TRIES = 5
_WHAT = "The estimate"


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a plan follows from. The same hashes on the same day give the same plan to the byte."""

    facts_sha256: str
    book_sha256: str
    day: date
    facts: CaseFacts = field(compare=False)
    book: OfficeBook = field(compare=False)


@lru_cache(maxsize=32)
def _planned(asked: _Asked) -> CasePlan:
    # Somebody at work on a case opens page after page of the same plan.
    return plan_case(asked.facts, asked.book, asked.day, catalogue=in_force().catalogue)


def compute_plan(case: Case, now: datetime) -> tuple[CasePlan, BookVersion]:
    """The case plan as of now and the book version it was computed with. Raises Refused when the book has no prices."""
    day = today(case.office, now)
    version = version_in_force(case.office, day)
    facts = case_facts(case, day)
    asked = _Asked(facts_hash(facts), version.sha256, day, facts, read_book(version.data))
    try:
        return _planned(asked), version
    except LookupError as error:
        raise Refused(str(error.args[0] if error.args else error)) from None


def freeze(*, case: Case, plan_json: bytes, book: BookVersion, actor: Staff, now: datetime) -> FrozenPlan:
    """Keep a case plan byte for byte, and close the measurements it rests on. The same bytes again give the same row.

    Raises Refused when the bytes are no plan, when facts or book are not those it was computed from, when it was
    computed on another day, or when the measurements are not confirmed.
    """
    require_own(actor, case)
    require(actor, Act.APPROVE, Thing.RELEASE, subject=case)
    try:
        plan = thaw(plan_json)
    except FrozenPlanError as error:
        raise Refused(f"This cannot be frozen: {error}.") from None
    day = today(case.office, now)
    if plan.planned_on != day:
        raise Refused(
            f"The plan was computed on {plan.planned_on.isoformat()}; today is {day.isoformat()}: compute again."
        )
    require_own(actor, book)
    if plan.book_sha256 != hash_as_read(book):
        raise Refused("The plan was computed with another office book: compute again.")
    with transaction.atomic():
        digest = sha256(plan_json)
        known = FrozenPlan.objects.filter(case=case, sha256=digest).first()
        if known is not None:
            return known
        # Case and measurements are held before they are compared, so that nobody changes them in between.
        held = Case.objects.select_for_update().get(pk=case.pk)
        closed = close_examination(examination=held.examination, actor=actor, now=now)
        facts = case_facts(held, day)
        if plan.facts_sha256 != facts_hash(facts):
            raise Refused("Facts of the case have changed since the plan was computed: compute again.")
        frozen = FrozenPlan.objects.create(
            office=case.office,
            case=case,
            examination=closed,
            book=book,
            content=plan_json,
            sha256=digest,
            facts_sha256=plan.facts_sha256,
            deciding_sha256=deciding_hash(case_data(facts)),
            rules_sha256=plan.rules_sha256,
            frozen_by=actor,
            at=now,
        )
        content = {"sha256": digest, "rules": plan.rules_sha256, "book": book.number}
        record(actor=actor, act="plan.freeze", subject=frozen, content=content, at=now)
    return frozen


def read_frozen(frozen: FrozenPlan) -> CasePlan:
    """The frozen plan, typed. Raises Refused when the stored bytes are not the ones that were frozen."""
    content = bytes(frozen.content)
    if sha256(content) != frozen.sha256:
        raise Refused("The stored plan is not the one that was frozen: its hash differs. Call the system keeper.")
    return thaw(content)


def draft_estimate(*, case: Case, options: tuple[str, ...] = (), actor: Staff, now: datetime) -> Estimate:
    """Begin an estimate of ``case`` under the office's next number, for the options named or for all of them."""
    require_own(actor, case)
    require(actor, Act.CREATE, Thing.ESTIMATE, subject=case)
    refuse_closed(case.patient)
    for attempt in range(_TRIES):
        try:
            with transaction.atomic():
                number = next_number(case.office)
                estimate = _new(case, number, 1, options, None, actor, now)
                record(actor=actor, act="estimate.draft", subject=estimate, content={"number": number}, at=now)
            return estimate
        except IntegrityError:
            if attempt == _TRIES - 1:
                raise
    raise AssertionError("unreachable")


def next_number(office: Office) -> int:
    """One more than the office's highest estimate number; the unique constraint settles who gets it."""
    return int(Estimate.objects.filter(office=office).aggregate(last=Max("number"))["last"] or 0) + 1


def choose_options(*, estimate: Estimate, seen: int, options: tuple[str, ...], actor: Staff, now: datetime) -> Estimate:
    """Change which options a draft hands over. Raises Refused once it is checked, StaleEdit, NotAllowed."""
    require_own(actor, estimate)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=estimate)
    with transaction.atomic():
        _in_state(estimate, State.DRAFT)
        saved = save_seen(estimate, seen=seen, what=_WHAT, values={"options": list(options)})
        record(actor=actor, act="estimate.options", subject=saved, content={"options": list(options)}, at=now)
    return saved


def check_estimate(
    *, estimate: Estimate, seen: int, plan_json: bytes, book: BookVersion, actor: Staff, now: datetime
) -> Estimate:
    """The dentist's check: freeze the plan, pin the price list, say through which day it is valid.

    Older issues are replaced. Raises Refused when the plan cannot be frozen or holds not all the options, StaleEdit,
    NotAllowed.
    """
    require_own(actor, estimate)
    require(actor, Act.APPROVE, Thing.RELEASE, subject=estimate)
    refuse_before_take_over(estimate.case, actor)
    with transaction.atomic():
        _may(_held(estimate), State.CHECKED, EstimateFacts())
        frozen = freeze(case=estimate.case, plan_json=plan_json, book=book, actor=actor, now=now)
        plan = read_frozen(frozen)
        values = {
            "state": State.CHECKED,
            "frozen": frozen,
            "book": book,
            "options": list(_chosen(estimate, plan)),
            "checked_by": actor,
            "checked_at": now,
            "valid_through": today(estimate.office, now) + timedelta(days=plan.estimate_days),
        }
        saved = save_seen(estimate, seen=seen, what=_WHAT, values=values)
        for old in Estimate.objects.filter(
            office=saved.office, number=saved.number, issue__lt=saved.issue, state__in=(State.CHECKED, State.SHOWN)
        ):
            _may(old, State.REPLACED, EstimateFacts(next_issue_checked=True))
            save_seen(old, seen=old.version, what=_WHAT, values={"state": State.REPLACED})
            record(actor=actor, act="estimate.replace", subject=old, content={"by": saved.issue}, at=now)
        content = {"sha256": frozen.sha256, "valid_through": saved.valid_through.isoformat()}  # type: ignore[union-attr]
        record(actor=actor, act="estimate.check", subject=saved, content=content, at=now)
        try:
            with transaction.atomic():
                freeze_guess(estimate=saved, plan=plan, actor=actor, now=now)
        except Refused:
            # Payers' plans that cannot be are the desk's to put right; a price does not wait for a guess.
            record(actor=actor, act="payer.no_guess", subject=saved, at=now)
    return saved


def show_estimate(
    *,
    estimate: Estimate,
    seen: int,
    to: str,
    channel: Channel,
    on: date | None = None,
    actor: Staff,
    now: datetime,
) -> Estimate:
    """Record that the estimate was put before ``to``, on a day, in a way, by ``actor``.

    May be repeated until it is answered. Raises Refused when it is not checked, has expired, facts have changed since,
    or its papers differ; StaleEdit, NotAllowed.
    """
    require_own(actor, estimate)
    require(actor, Act.RUN, Thing.RELEASE, subject=estimate)
    day = on or today(estimate.office, now)
    if day > today(estimate.office, now):
        raise Refused(f"{day.isoformat()} lies in the future: it cannot have been shown then.", field="on")
    # Reading papers takes a moment, and nobody is to wait for it: what is stored does not change.
    against = _against_showing(estimate)
    with transaction.atomic():
        current = _held(estimate)
        if current.checked_at is not None and day < current.checked_at.astimezone(current.office.zone).date():
            raise Refused(f"It was checked after {day.isoformat()}: what was shown then was another paper.", field="on")
        facts = EstimateFacts(
            day=day,
            valid_through=current.valid_through,
            facts_changed=facts_changed(current, today(current.office, now)),
            shown_to=to,
            channel=str(channel),
            contradictions=against,
        )
        _may(current, State.SHOWN, facts)
        values = {"state": State.SHOWN, "shown_on": current.shown_on or day}
        saved = save_seen(estimate, seen=seen, what=_WHAT, values=values)
        assert saved.frozen is not None  # by the database's constraint on checked estimates
        Showing.objects.create(
            office=saved.office,
            estimate=saved,
            on=day,
            to=to.strip(),
            channel=channel,
            sha256=saved.frozen.sha256,
            shown_by=actor,
            at=now,
        )
        content = {"to": to.strip(), "channel": str(channel), "on": day.isoformat(), "issue": saved.issue}
        record(actor=actor, act="estimate.show", subject=saved, content=content, at=now)
    return saved


def answer_estimate(
    *,
    estimate: Estimate,
    seen: int,
    answer: Answer,
    by: str,
    option: str = "",
    words: str = "",
    actor: Staff,
    now: datetime,
) -> Estimate:
    """Record the answer.

    A yes to all or part of an option names the option and needs an estimate in date whose facts hold. Raises Refused
    otherwise: a late yes needs a new issue. StaleEdit, NotAllowed.
    """
    require_own(actor, estimate)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=estimate)
    day = today(estimate.office, now)
    yes = answer in (Answer.ALL, Answer.PART)
    with transaction.atomic():
        current = _held(estimate)
        facts = EstimateFacts(
            day=day,
            valid_through=current.valid_through,
            facts_changed=facts_changed(current, day) if yes else None,
            answered_by=by,
            is_yes=yes,
            option_named=option in current.options,
        )
        _may(current, State.ANSWERED, facts)
        values = {
            "state": State.ANSWERED,
            "answer": answer,
            "answered_on": day,
            "answered_by": by.strip(),
            "answered_option": option if yes else "",
            "answer_words": words.strip(),
        }
        saved = save_seen(estimate, seen=seen, what=_WHAT, values=values)
        content = {"answer": str(answer), "by": by.strip(), "option": saved.answered_option, "issue": saved.issue}
        record(actor=actor, act="estimate.answer", subject=saved, content=content, at=now)
    return saved


def reissue_estimate(*, estimate: Estimate, reason: str, actor: Staff, now: datetime) -> Estimate:
    """Begin the next issue under the same number; the old one is replaced when the new one is checked.

    Raises Refused without a reason, for a draft or an answered estimate, or when a next issue has begun already.
    """
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.ESTIMATE, subject=estimate)
    if not reason.strip():
        raise Refused("A new issue needs a reason.", field="reason")
    try:
        with transaction.atomic():
            current = _in_state(estimate, State.CHECKED, State.SHOWN)
            new = _new(current.case, current.number, current.issue + 1, tuple(current.options), current, actor, now)
            content = {"number": new.number, "issue": new.issue}
            record(actor=actor, act="estimate.reissue", subject=new, content=content, reason=reason.strip(), at=now)
        return new
    except IntegrityError:
        issues = Estimate.objects.filter(office=estimate.office_id, number=estimate.number, issue=estimate.issue + 1)
        begun = issues.select_related("created_by").get()
        who = done_by("begun", begun.created_by, begun.at, estimate.office)
        raise Refused(f"Issue {begun.issue} of estimate {begun.number} has begun already: {who}.") from None


def discard_draft(*, estimate: Estimate, reason: str, actor: Staff, now: datetime) -> None:
    """Throw a draft away; the trail keeps who and when. Raises Refused once it is checked or without a reason."""
    require_own(actor, estimate)
    require(actor, Act.EDIT, Thing.ESTIMATE, subject=estimate)
    if not reason.strip():
        raise Refused("Throwing a draft away needs a reason.", field="reason")
    with transaction.atomic():
        current = _in_state(estimate, State.DRAFT)
        content = {"number": current.number, "issue": current.issue}
        record(actor=actor, act="estimate.discard", subject=current, content=content, reason=reason.strip(), at=now)
        current.delete()


def is_expired(estimate: Estimate, day: date) -> bool:
    """Whether the estimate is still open on ``day`` and no longer valid."""
    return expired(estimate.state, estimate.valid_through, day)


def facts_changed(estimate: Estimate, day: date, *, started: bool = False) -> bool:
    """Whether a deciding fact of the case is another than when the estimate was checked, or the person was measured
    since and the case does not rest on that yet. Once treatment has ``started``, teeth measure otherwise because they
    were treated, and only what was taken into the case counts.
    """
    if estimate.frozen is None:
        return False
    now_known = deciding_hash(case_data(case_facts(estimate.case, day)))
    if now_known != estimate.frozen.deciding_sha256:
        return True
    return not started and measured_otherwise(estimate.case) is not None


def _new(
    case: Case,
    number: int,
    issue: int,
    options: tuple[str, ...],
    replaces: Estimate | None,
    actor: Staff,
    now: datetime,
) -> Estimate:
    return Estimate.objects.create(
        office=case.office,
        case=case,
        number=number,
        issue=issue,
        replaces=replaces,
        options=list(options),
        created_by=actor,
        at=now,
    )


def _chosen(estimate: Estimate, plan: CasePlan) -> tuple[str, ...]:
    """The options handed over, in the order of the plan; doing nothing is always among them."""
    there = [option.key for option in plan.options]
    wanted = list(estimate.options) or there
    unknown = sorted(set(wanted) - set(there))
    if unknown:
        raise Refused(f'The plan has no option "{unknown[0]}" any more: choose the options again.', field="options")
    return tuple(key for key in there if key in wanted or key == there[0])


def _held(estimate: Estimate) -> Estimate:
    """The estimate as saved now, locked until the transaction ends."""
    rows = Estimate.objects.select_for_update(of=("self",)).select_related("office", "case", "frozen")
    held = rows.filter(pk=estimate.pk).first()
    if held is None:  # only drafts go
        raise Refused("This draft is not here any more: somebody threw it away.")
    return held


def _may(estimate: Estimate, to: State, facts: EstimateFacts) -> None:
    if refused := may_move(ESTIMATE, estimate.state, to.value, facts):
        raise Refused(" ".join(refused), field=field_at_fault(ESTIMATE, estimate.state, to.value, facts))


def _against_showing(estimate: Estimate) -> tuple[str, ...]:
    answers: list[tuple[Any, Any]] = before_showing.send(sender=Estimate, estimate=estimate)
    return tuple(sentence for _receiver, answer in answers for sentence in answer)


def _in_state(estimate: Estimate, *states: State) -> Estimate:
    current = _held(estimate)
    if current.state not in states:
        wanted = " or ".join(str(state) for state in states)
        raise Refused(f"Estimate {current} is {current.state_words}; this needs one that is {wanted}.")
    return current
