"""Making papers of a frozen plan, keeping them, and checking that they are still what was made."""

import json
from collections.abc import Callable, Iterable
from dataclasses import asdict, replace
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction

from planner.letters import consent, instalments_said, payer_request_said, signed_copy, take_home_said
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.papers import ESTIMATE, job, kind_of
from planner.letters.pdf import Job, Paper, PaperError, Rendered, render
from planner.letters.showing_told import showing_json
from planner.letters.verify import faults_of_file
from planner.patients.names import words
from planner.plans.arranging import latest_arrangement, read_arrangement
from planner.plans.estimate_duty import duty_json
from planner.plans.estimate_terms import cancelling_json
from planner.plans.models import Estimate, FrozenPlan
from planner.plans.payer_guesses import latest_guess, read_guess
from planner.practice.access import require, require_own
from planner.practice.books import current_book, today
from planner.practice.models import Staff
from planner.rules.frozen import thaw
from planner.rules.reflection import reflection
from planner.rules.results import sha256
from planner.trail.errors import Refused
from planner.trail.services import record


def issue_of(estimate: Estimate, **more: Any) -> Issue:
    """What an estimate says about its handing over; ``more`` sets or overrides fields of :class:`Issue`."""
    checked_by = estimate.checked_by
    said = Issue(
        number=str(estimate.number),
        version=estimate.issue,
        record=estimate.case.patient.public_id,
        valid_through=estimate.valid_through,
        dentist=checked_by.full_name if checked_by is not None else "",
        priced=tuple(estimate.options),
    )
    return replace(said, **more)


def estimate_issue(estimate: Estimate, now: datetime) -> Issue:
    """What the estimate's own paper says beside the plan: for pages that show the same."""
    return _beside(issue_of(estimate), ESTIMATE, estimate, now)


def ordered(issue: Issue, *, actor: Staff, patient: str, wanted_on: date | None, note: str) -> Issue:
    """``issue`` as an order to a workshop. Raises Refused when ``note`` names the patient."""
    named = set(words(note)) & {word for word in words(patient) if len(word) > 1}
    if named:
        raise Refused(
            f'The note names the patient ("{sorted(named)[0]}"): an order goes by initials and number only.',
            field="order_note",
        )
    return replace(issue, ordered_by=actor.full_name, wanted_on=wanted_on, order_note=" ".join(note.split()))


def render_papers(
    *,
    frozen: FrozenPlan,
    kinds: Iterable[str],
    issue: Issue,
    actor: Staff,
    now: datetime,
    estimate: Estimate | None = None,
    paper: Paper = "A4",
    points: int | None = None,
    language: str = "en",
    make: Callable[[Job], Rendered] = render,
) -> tuple[Document, ...]:
    """The papers of ``frozen``, in the order of ``kinds``; those that were made before come back as they are.

    Making takes a second or so and happens outside any transaction. Raises Refused, in words, when a paper cannot be
    made or the estimate belongs to another plan, and NotAllowed.
    """
    require_own(actor, frozen)
    content = bytes(frozen.content)
    if sha256(content) != frozen.sha256:
        raise Refused("The stored plan is not the one that was frozen: its hash differs. Call the system keeper.")
    if estimate is not None and estimate.frozen_id != frozen.pk:
        raise Refused("This estimate was checked with another plan: its papers are made from that one.")
    size = thaw(content).print_points if points is None else points
    made, said = [], replace(issue, verify_at=settings.OFFICE_ADDRESS)
    for key in kinds:
        try:
            _require(actor, key, frozen)
            issue = _beside(said, key, estimate, now)
            document = Document(
                office=frozen.office,
                frozen=frozen,
                estimate=estimate,
                kind=key,
                version_words=issue.version_words,
                language=kind_of(key).language or language,
                points=kind_of(key).points or size,
                paper=paper,
                issue_sha256=issue_hash(issue),
                issue=issue_json(issue),
                plan_sha256=frozen.sha256,
                created_by=actor,
                at=now,
            )
            known = _made_before(document)
            made.append(known or _make(document, content, issue, paper, make))
        except PaperError as error:
            raise Refused(str(error)) from None
    return tuple(made)


def issue_hash(issue: Issue) -> str:
    """The SHA-256 of everything that an issue passes in."""
    return sha256(issue_json(issue).encode())


def issue_json(issue: Issue) -> str:
    """Everything that an issue passes in, as the text that is digested and kept with the paper."""
    passed = asdict(issue)
    # Papers made before there was anything beside the plan keep their hash.
    for name in (
        "payer_guess",
        "arrangement",
        "duty",
        "cancelling",
        "account",
        "verify_at",
        "record",
        "needs",
        "sedation",
        "shared_with",
        "steps",
        "care",
        "result",
        "showing",
    ):
        if not passed[name]:
            del passed[name]
    return json.dumps(passed, sort_keys=True, ensure_ascii=False, default=str)


def check_documents(documents: Iterable[Document]) -> tuple[str, ...]:
    """Every fault found in stored papers, one sentence each; none means that all are what was made."""
    faults = []
    for document in documents:
        frozen = document.frozen
        name = f"{document.kind} {document.public_id}"
        if sha256(bytes(frozen.content)) != frozen.sha256 or frozen.sha256 != document.plan_sha256:
            faults.append(f"{name}: the frozen plan is not the one that the paper was made from.")
        content = bytes(document.content)
        if sha256(content) != document.sha256:
            faults.append(f"{name}: the stored file was changed, its hash differs.")
            continue
        if document.kind == signed_copy.KEY:
            signature = document.signature_of
            found = signed_copy.faults_of_copy(content, signature.document_sha256, signature.content)
            faults += [f"{name}: {fault}" for fault in found]
            continue
        data = kind_of(document.kind).carries.data(bytes(frozen.content))
        faults += [f"{name}: {fault}" for fault in faults_of_file(content, data, document.pages)]
    return tuple(faults)


def _beside(issue: Issue, key: str, estimate: Estimate | None, now: datetime) -> Issue:
    """``issue`` with what was frozen beside the plan and stands on this kind of paper alone."""
    if estimate is None:
        return issue
    if key == instalments_said.KEY:
        agreed = latest_arrangement(estimate)
        return issue if agreed is None else replace(issue, arrangement=read_arrangement(agreed))
    if key == consent.KEY and not issue.reflection_days:
        return replace(issue, reflection_days=_days_to_think(issue, estimate, now))
    if key == payer_request_said.KEY:
        asked = latest_guess(estimate)
        return issue if asked is None else replace(issue, payer_guess=read_guess(asked).to_json().decode())
    if key in (ESTIMATE, take_home_said.KEY):
        guess = latest_guess(estimate)
        found = "" if guess is None else read_guess(guess).to_json().decode()
        issue = replace(issue, payer_guess=found, cancelling=cancelling_json(estimate))
        if key == ESTIMATE:
            return replace(issue, duty=duty_json(estimate))
        return replace(issue, showing=showing_json(estimate, now))
    return issue


def _days_to_think(issue: Issue, estimate: Estimate, now: datetime) -> int:
    """The days that the letter asks the patient to wait: where a sound tooth is cut for looks."""
    if estimate.frozen is None:
        return 0
    plan, day = thaw(bytes(estimate.frozen.content)), today(estimate.office, now)
    key = issue.chosen or plan.recommended
    if not key or all(option.key != key for option in plan.options):
        return 0
    wait = reflection(plan.option(key), current_book(estimate.office, day), day)
    return -(-wait.hours // 24) if wait.kind == "cutting for looks" else 0


def _require(actor: Staff, key: str, frozen: FrozenPlan) -> None:
    require(actor, *kind_of(key).made_by, subject=frozen)


def _made_before(document: Document) -> Document | None:
    return Document.objects.filter(
        frozen=document.frozen,
        kind=document.kind,
        language=document.language,
        points=document.points,
        paper=document.paper,
        issue_sha256=document.issue_sha256,
    ).first()


def _make(
    document: Document, plan_json: bytes, issue: Issue, paper: Paper, make: Callable[[Job], Rendered]
) -> Document:
    what = job(plan_json, document.kind, issue, paper=paper, points=document.points, language=document.language)
    rendered = make(what)
    document.content = rendered.content
    document.sha256 = sha256(rendered.content)
    document.pages = rendered.pages
    try:
        with transaction.atomic():
            document.save(force_insert=True)
            record(
                actor=document.created_by,
                act="document.make",
                subject=document,
                content={"kind": document.kind, "sha256": document.sha256, "plan": document.plan_sha256},
                at=document.at,
            )
    except IntegrityError:
        # Somebody else made the same paper meanwhile; theirs counts.
        known = _made_before(document)
        if known is None:
            raise
        return known
    return document


def handed_out(*, document: Document, actor: Staff, now: datetime) -> None:
    """Record that somebody took the file of a paper out of the house."""
    with transaction.atomic():
        content = {"kind": document.kind, "sha256": document.sha256}
        record(actor=actor, act="document.download", subject=document, content=content, at=now)
