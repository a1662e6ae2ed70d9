"""Closed rows of calls and of reviews."""

from datetime import timedelta

from planner.followup.calling import agree_call, call_done
from planner.followup.models import AgreedCall, MadeCall, Outcome
from planner.followup.review_models import Review, ReviewTooth, ReviewWish
from tests.closed_rows import Ground, Maker
from tests.followup.reviewed import done_plan, reviewed
from tests.followup.sample import patient_of, shown_estimate
from tests.support import NOW, TODAY


def _agreed(ground: Ground) -> AgreedCall:
    estimate = shown_estimate(ground.owner, patient_of(ground.owner))
    return agree_call(estimate=estimate, on=TODAY + timedelta(days=3), actor=ground.owner, now=NOW)


def _made(ground: Ground) -> MadeCall:
    estimate = shown_estimate(ground.owner, patient_of(ground.owner))
    return call_done(estimate=estimate, seen=1, outcome=Outcome.NOBODY, actor=ground.owner, now=NOW)


def _review(ground: Ground) -> Review:
    return reviewed(ground.owner, done_plan(ground.owner))


def _tooth(ground: Ground) -> ReviewTooth:
    return _review(ground).teeth.all()[0]


def _wish(ground: Ground) -> ReviewWish:
    return _review(ground).scores.all()[0]


CLOSED_ROWS: dict[str, Maker] = {
    "followup.agreedcall": _agreed,
    "followup.madecall": _made,
    "followup.review": _review,
    "followup.reviewtooth": _tooth,
    "followup.reviewwish": _wish,
}
