"""Closed rows of the letters' floor: a paper that was made, and why one may be signed though it is hard to read."""

from decimal import Decimal

from planner.letters.issue import Issue
from planner.letters.models import Document, ReadingReason
from planner.letters.services import render_papers
from planner.plans.models import FrozenPlan
from tests.closed_rows import Ground, Maker
from tests.plans.closed_rows import CLOSED_ROWS as PLANS
from tests.support import NOW, render_once


def _document(ground: Ground) -> Document:
    frozen = PLANS["plans.frozenplan"](ground)
    assert isinstance(frozen, FrozenPlan)
    (document,) = render_papers(
        frozen=frozen, kinds=["estimate"], issue=Issue(), actor=ground.owner, now=NOW, make=render_once
    )
    return document


def _reading_reason(ground: Ground) -> ReadingReason:
    document = _document(ground)
    return ReadingReason.objects.create(
        office=document.office, document=document, grade=Decimal("8.4"), reason="Read aloud twice.",
        by=ground.owner, at=NOW,
    )  # fmt: skip


CLOSED_ROWS: dict[str, Maker] = {"letters.document": _document, "letters.readingreason": _reading_reason}
