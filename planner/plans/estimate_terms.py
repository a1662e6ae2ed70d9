"""What an estimate says about cancelling a visit: the office's terms on the day it was checked, as JSON.

They are taken from the book version that the estimate was checked with, so that the same estimate always says the same.
"""

import json

from planner.plans.models import Estimate
from planner.practice.books import read_book
from planner.rules.visit_states import late_terms


def cancelling_json(estimate: Estimate) -> str:
    """The terms of ``estimate``, amounts in cents; empty for a draft, without ``cents`` where nothing is asked for."""
    if estimate.book is None or estimate.checked_at is None:
        return ""
    day = estimate.checked_at.astimezone(estimate.office.zone).date()
    terms = late_terms(read_book(estimate.book.data), day)
    if terms is None:
        return json.dumps({"cents": None})
    facts = {"hours": terms.within_hours, "minutes": terms.from_minutes, "cents": terms.service.price}
    return json.dumps(facts, sort_keys=True)
