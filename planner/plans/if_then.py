"""What is agreed for what may be found: sentences, some with a piece of work that has its price."""

from collections.abc import Sequence
from datetime import datetime

from planner.patients.stored import to_json
from planner.plans.cases import decide
from planner.plans.facts import case_facts
from planner.plans.models import Case
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.books import read_book, today, version_in_force
from planner.practice.models import Staff
from planner.rules.choices import MOST_PIECES, Choices, IfThen
from planner.rules.if_then import piece_fault
from planner.trail.errors import Refused


def set_if_then(*, case: Case, seen: int, entries: Sequence[str | IfThen], actor: Staff, now: datetime) -> Case:
    """Keep what is agreed for what may be found, in this order.

    Raises Refused for a piece that the office's price list or this mouth does not have, or for too many; StaleEdit,
    NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.CREATE, Thing.FINDINGS, subject=case)
    agreed = tuple(entry if isinstance(entry, IfThen) else entry.strip() for entry in entries)
    agreed = tuple(entry for entry in agreed if isinstance(entry, IfThen) or entry)
    pieces = [entry for entry in agreed if isinstance(entry, IfThen)]
    if len(pieces) > MOST_PIECES:
        raise Refused(
            f"{len(pieces)} pieces of work are agreed beforehand; {MOST_PIECES} are the most: plan the likeliest."
        )
    if pieces:
        day = today(case.office, now)
        try:
            prices = read_book(version_in_force(case.office, day).data).price_list_on(day)
        except LookupError as error:
            raise Refused(f"{error}.") from None
        facts = case_facts(case, day)
        for entry in pieces:
            if fault := piece_fault(entry, facts, prices):
                raise Refused(f"“{entry.words}”: {fault}")

    def change(choices: Choices) -> Choices:
        return choices.model_copy(update={"if_then": agreed})

    content = {"after": [entry if isinstance(entry, str) else to_json(entry) for entry in agreed]}
    return decide(case, seen, change, "case.if_then", "", content, actor, now)
