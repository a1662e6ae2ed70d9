"""Two deciders: what is decided now, what yours would have made of it, and yours going on from there."""

from typing import Any

from planner.patients.stored import from_json
from planner.plans.choice_words import choice_words
from planner.practice.both import go_on
from planner.practice.fields import PlainForm
from planner.rules.choices import Choices
from planner.rules.teeth import Numbering
from planner.trail.errors import StaleEdit


def choices_side_by_side(form: PlainForm, refusal: StaleEdit, numbering: Numbering) -> dict[str, Any]:
    """As :func:`planner.practice.both.lay_side_by_side`, for a decision.

    What is decided now, and what yours would have made of it.
    """
    go_on(form, refusal.version)
    theirs, yours = (
        choice_words(from_json(Choices, side.get("choices", {})), numbering) for side in (refusal.theirs, refusal.yours)
    )
    return {
        "stale": refusal.sentence,
        "decided_theirs": theirs,
        "decided_yours": tuple(words for words in yours if words not in theirs),
        "decided_gone": tuple(words for words in theirs if words not in yours),
    }
