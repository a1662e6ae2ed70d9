"""Papers of promise against result, held against the reviews they were made from, as far as those were written then."""

import json
from collections.abc import Generator
from typing import Any

from planner.followup.results import review_of
from planner.followup.review_models import Review
from planner.letters.models import Document
from planner.letters.result_said import KEY
from planner.rules.promise import Promised, Result, compare
from planner.rules.results import sha256
from planner.rules.teeth import Tooth

_AT_ONCE = 50


def result_papers_hold() -> Generator[str, None, int]:
    """Yield a sentence for every paper that says otherwise than its reviews; returns how many were read.

    What was planned and what was paid stand in the frozen plan and in papers about accounts, which are held there.
    """
    count = 0
    rows = Document.objects.filter(kind=KEY).defer("content").order_by("id")
    for one in rows.iterator(chunk_size=_AT_ONCE):
        count += 1
        name = f"{one.kind} {one.public_id}"
        if sha256(one.issue.encode()) != one.issue_sha256:
            yield f"{name}: what it was made from was changed, its hash differs."
            continue
        told: dict[str, Any] = json.loads(json.loads(one.issue)["result"])
        if not _says(_again(told, one), told):
            yield f"{name}: the reviews no longer say what this paper says."
    return count


def _again(told: dict[str, Any], document: Document) -> Result:
    """The reviews as they stood when the paper was made: later ones, and what later ones correct, count as then."""
    known = Review.objects.filter(plan__public_id=told["plan"], office=document.office_id, at__lte=document.at)
    gone = known.filter(corrects__isnull=False).values("corrects_id")
    counted = known.exclude(pk__in=gone).prefetch_related("teeth", "scores").order_by("on", "id")
    return compare(
        [Promised(Tooth.from_key(one["tooth"])) for one in told["teeth"]],
        [review_of(row) for row in counted],
        [(one["rank"], one["words"]) for one in told["wishes"]],
        (),
    )


def _says(found: Result, told: dict[str, Any]) -> bool:
    reviews = [
        {
            "moment": str(one.moment),
            "on": one.on.isoformat(),
            "by": one.by,
            "instrument": one.instrument,
            "asked": bool(one.scores),
        }
        for one in found.reviews
    ]
    wishes = [[[str(moment), on.isoformat(), score] for moment, on, score in one.scores] for one in found.wishes]
    said = [[[one["moment"], one["on"], one["score"]] for one in wish["scores"]] for wish in told["wishes"]]
    if reviews != told["reviews"] or wishes != said:
        return False
    for tooth, there in zip(found.teeth, told["teeth"], strict=True):
        # Of four lengths the last two were measured at reviews; what happened may have been a repair as well.
        for size, kept in ((tooth.width, there["width"]), (tooth.length, there["length"])):
            if [size.reached, size.now] != kept[2:]:
                return False
        happened = [{"on": one.on.isoformat(), "condition": str(one.condition)} for one in tooth.happened]
        if any(one not in there["happened"] for one in happened):
            return False
    return True
