"""What a consent letter is told beside the plan: asked for with the papers, and kept from one letter to the next."""

import json
from dataclasses import replace
from typing import Any

from django.db.models import Q

from planner.letters.consent import KEY
from planner.letters.consent_models import QuestionAnswer
from planner.letters.issue import Answered, Issue
from planner.letters.models import Document
from planner.plans.models import Estimate

LINES = ("own_risks", "shared_with")
"""Written one a line."""
FACTS = ("needs", "interpreter", "sedation", "decided_for_by", *LINES)
"""Fields of :class:`planner.letters.issue.Issue` that the form of the papers asks for."""


def said_last(estimate: Estimate) -> dict[str, Any]:
    """What the newest consent letter of the case was told, as the form begins; nothing where there is none."""
    rows = Document.objects.filter(kind=KEY, frozen__case=estimate.case_id).exclude(issue="")
    newest = rows.order_by("-pk").values_list("issue", flat=True).first()
    if newest is None:
        return {}
    issue: dict[str, Any] = json.loads(newest)
    found = {name: issue.get(name) or "" for name in FACTS}
    return found | {name: "\n".join(issue.get(name) or ()) for name in LINES}


def issue_for(issue: Issue, estimate: Estimate, asked: dict[str, Any]) -> Issue:
    """``issue`` as a consent letter gets it: with what a valid form was told, and what was asked and answered."""
    if KEY not in asked["kinds"]:
        return issue
    return replace(issue, questions=questions_of(estimate), **_told(asked))


def _told(asked: dict[str, Any]) -> dict[str, Any]:
    """The fields of an issue that a valid form holds."""
    found = {name: asked[name] for name in FACTS if name not in LINES}
    lines = {name: tuple(filter(None, (line.strip() for line in asked[name].splitlines()))) for name in LINES}
    return found | lines


def questions_of(estimate: Estimate) -> tuple[Answered, ...]:
    """What was asked about this estimate or its letters and answered, in order: a letter made anew carries it."""
    asked = Q(question__consent__estimate=estimate) | Q(
        question__estimate__office=estimate.office_id, question__estimate__number=estimate.number
    )
    rows = QuestionAnswer.objects.filter(asked).order_by("question", "pk")
    return tuple(
        Answered(row.question.words, row.words, row.by.full_name, row.at.astimezone(estimate.office.zone).date())
        for row in rows.select_related("question", "by")
    )
