"""What an estimate brings to the local duty of one: the office's dated settings and what was noted, as JSON.

It is taken from the book version that the estimate was checked with, so that the same estimate always says the same.
"""

import json
from typing import Any

from planner.plans.models import Estimate
from planner.plans.price_requests import latest_request
from planner.practice.books import read_book
from planner.rules.duty import deadline, new_one_by
from planner.rules.office_law import duty_of, holidays_of, said

_WORDS = ("provider-number", "tax-number", "scheme", "guarantee")


def duty_json(estimate: Estimate) -> str:
    """The facts of the duty that holds for ``estimate``; empty where none does. Two queries at most."""
    if estimate.book is None or estimate.checked_at is None:
        return ""
    book = read_book(estimate.book.data)
    day = estimate.checked_at.astimezone(estimate.office.zone).date()
    duty = duty_of(book, day)
    if duty is None:
        return ""
    facts: dict[str, Any] = {
        "duty": duty.key,
        "place": book.place,
        "codes": {service.key: service.outside_code for service in book.price_list_on(day).services},
    } | {word: said(book, word, day) for word in _WORDS}
    noted = latest_request(estimate)
    if noted is not None:
        holidays = holidays_of(book, day)
        event = "booked" if noted.event == "booked" else "asked"
        due = deadline(duty, event, noted.on, noted.service_on, holidays)  # type: ignore[arg-type]
        facts |= {
            "event": event,
            "on": noted.on.isoformat(),
            "service_on": noted.service_on.isoformat() if noted.service_on else "",
            "repeated": noted.repeated,
            "due": due.by.isoformat() if due.by else "",
            "due_words": due.words,
            "holidays_listed": len(holidays),
        }
        if noted.service_on is not None and (anew := new_one_by(duty, noted.service_on, holidays)) is not None:
            facts["anew_by"] = anew.isoformat()
    return json.dumps(facts, sort_keys=True, ensure_ascii=False)
