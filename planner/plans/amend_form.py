"""The form that changes an accepted plan, filled with the plan's own items, services and teeth."""

from collections.abc import Mapping
from typing import Any

from planner.plans.accepted_forms import AmendForm
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_shown import item_words
from planner.plans.estimates import read_frozen
from planner.practice import books
from planner.rules.acceptance import list_of
from planner.rules.frozen import facts_in
from planner.rules.item_states import ItemState
from planner.rules.teeth import Numbering


def amend_form(data: Mapping[str, Any] | None, plan: AcceptedPlan, **initial: Any) -> AmendForm:
    """The form for ``plan``: what may be dropped is what is neither done nor dropped already."""
    numbering = Numbering(plan.case.numbering)
    still = [item for item in plan.items.all() if item.state not in (ItemState.DONE, ItemState.DROPPED)]
    prices = list_of(books.read_book(plan.book.data), plan.price_list_version)
    facts = facts_in(read_frozen(plan.frozen))
    return AmendForm(
        data,
        items=[(item, item_words(item, numbering)) for item in still],
        services=[one for one in prices.services if one.cents is not None],
        teeth=[tooth.tooth for tooth in facts.examination.teeth],
        numbering=numbering,
        initial=initial,
    )
