"""Making papers about an account: a receipt, a statement, a letter with money that went back or that a payer kept."""

import json
from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.papers import languages_of
from planner.letters.pdf import Job, Paper, Rendered, render
from planner.letters.services import issue_of, render_papers
from planner.plans.account_told import told_json
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate, FrozenPlan
from planner.practice.models import Staff
from planner.rules.words import ENGLISH


def make_account_paper(
    *,
    told: Mapping[str, Any],
    frozen: FrozenPlan,
    estimate: Estimate | None,
    actor: Staff,
    now: datetime,
    paper: Paper = "A4",
    points: int | None = None,
    make: Callable[[Job], Rendered] = render,
) -> Document:
    """The paper that says ``told``, in the patient's language, kept like every other; one made before comes back.

    Its day is that of what it tells, so that a reprint is the same paper. Raises Refused, NotAllowed.
    """
    on, plan = date.fromisoformat(told["on"]), read_frozen(frozen)
    account = told_json(told)
    issue = (
        Issue(handed_on=on, account=account) if estimate is None else issue_of(estimate, handed_on=on, account=account)
    )
    (made,) = render_papers(
        frozen=frozen,
        kinds=[told["paper"]],
        issue=issue,
        actor=actor,
        now=now,
        estimate=estimate,
        paper=paper,
        points=points,
        language=own if (own := plan.language) in languages_of(plan) else ENGLISH,
        make=make,
    )
    return made


def told_by(document: Document) -> dict[str, Any]:
    """What a stored paper says of an account; empty for papers of other kinds."""
    if document.kind not in ACCOUNT_PAPERS or not document.issue:
        return {}
    said: dict[str, Any] = json.loads(json.loads(document.issue)["account"])
    return said


def papers_about(told: Mapping[str, Any], frozen: FrozenPlan) -> list[Document]:
    """Papers of the same kind about the same row, or for a statement the same account, newest first. One query."""
    rows = Document.objects.filter(frozen=frozen, kind=told["paper"]).select_related("created_by").defer("content")
    key = "row" if "row" in told else "plan"
    return [one for one in rows if told_by(one).get(key) == told[key]]
