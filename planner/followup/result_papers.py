"""What the paper of promise against result says, as plain data, and making that paper."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from planner.followup.results import PlanResult
from planner.letters import result_said
from planner.letters.issue import Issue
from planner.letters.models import Document
from planner.letters.papers import languages_of
from planner.letters.pdf import Job, Paper, Rendered, render
from planner.letters.services import issue_of, render_papers
from planner.plans.estimates import read_frozen
from planner.practice.access import require_own
from planner.practice.models import Staff
from planner.rules.promise import Size, ToothResult, within
from planner.rules.results import stable_json
from planner.rules.words import ENGLISH
from planner.trail.errors import Refused


def result_told(found: PlanResult) -> dict[str, Any]:
    """What the paper says of ``found``: as it stood on the day of the last review or repair.

    Raises Refused for a repair, which promises nothing, and before anything was reviewed.
    """
    plan, result = found.plan, found.result
    if plan.estimate_id is None:
        raise Refused("A repair is told of with the work that it mends.")
    if not result.reviews or found.done_on is None:
        raise Refused("No review of this work is written down yet: there is nothing to set against the promise.")
    option = read_frozen(plan.frozen).option(plan.option_key)
    days = [found.done_on, result.reviews[-1].on, *(one.on for one in result.mended)]
    return {
        "format": "leastways-result",
        "version": 1,
        "plan": plan.public_id,
        "plan_sha256": plan.frozen.sha256,
        "name": plan.name,
        "name_es": option.name_es if option.name == plan.name else "",
        "accepted_on": plan.accepted_on.isoformat(),
        "on": max(days).isoformat(),
        "done_on": found.done_on.isoformat(),
        "is_open": found.is_open,
        "within_tenths": within(),
        "reviews": [
            {
                "moment": str(one.moment),
                "on": one.on.isoformat(),
                "by": one.by,
                "instrument": one.instrument,
                "asked": bool(one.scores),
            }
            for one in result.reviews
        ],
        "looked": any(one.teeth for one in result.reviews),
        "teeth": [_tooth(one) for one in result.teeth],
        "wishes": [
            {
                "rank": one.rank,
                "words": one.words,
                "scores": [
                    {"moment": str(moment), "on": on.isoformat(), "score": score} for moment, on, score in one.scores
                ],
            }
            for one in result.wishes
        ],
        "minutes": {
            "planned": found.planned_minutes,
            "real": found.real_minutes,
            "visits": len(found.minutes),
            "disturbed": any(one.disturbed for one in found.minutes),
        },
        "money": {
            "agreed_cents": found.account.agreed_cents,
            "paid_cents": found.account.paid_cents,
            "later_cents": result.later_cents,
            "free": sum(one.office_cents > 0 for one in result.mended),
        },
        "next_on": found.next[1].isoformat() if found.next is not None else "",
    }


def make_result_paper(
    *,
    found: PlanResult,
    actor: Staff,
    now: datetime,
    paper: Paper = "A4",
    points: int | None = None,
    make: Callable[[Job], Rendered] = render,
) -> Document:
    """The paper of ``found`` in the patient's language, kept like every other; what was made before comes back.

    Raises Refused, NotAllowed.
    """
    plan = found.plan
    require_own(actor, plan)
    told = result_told(found)
    frozen = read_frozen(plan.frozen)
    wanted = plan.patient.language
    base = issue_of(plan.estimate) if plan.estimate is not None else Issue()
    issue = Issue(
        number=base.number,
        version=base.version,
        record=base.record,
        dentist=base.dentist,
        chosen=plan.option_key,
        handed_on=date.fromisoformat(told["on"]),
        result=stable_json(told).decode(),
    )
    (made,) = render_papers(
        frozen=plan.frozen,
        kinds=[result_said.KEY],
        issue=issue,
        actor=actor,
        now=now,
        estimate=plan.estimate,
        paper=paper,
        points=points,
        language=wanted if wanted in languages_of(frozen) else ENGLISH,
        make=make,
    )
    return made


def papers_of(found: PlanResult) -> list[Document]:
    """Papers of this result that were made before, newest first. One query."""
    rows = Document.objects.filter(frozen=found.plan.frozen, kind=result_said.KEY).select_related("created_by")
    return list(rows.defer("content", "issue"))


def _tooth(found: ToothResult) -> dict[str, Any]:
    return {
        "tooth": found.tooth.key,
        "width": _size(found.width),
        "length": _size(found.length),
        "happened": [{"on": one.on.isoformat(), "condition": str(one.condition)} for one in found.happened],
    }


def _size(size: Size) -> list[int | None]:
    """Before, planned, reached, now; None where nobody took it."""
    return [size.before, size.planned, size.reached, size.now]
