"""Work found on the way: agreed beforehand only where the signed list says that very work, else signed for.

People and prices are invented. The leaking filling for 265 that needs a signature unless the signed list covers it was
worked out by hand; that a change beyond the list is signed is common practice, no source.
"""

from typing import Any

import pytest

from planner.plans import amending
from planner.plans.accepted_models import AcceptedPlan, Amendment, Cause
from planner.plans.accepting import accept_option
from planner.plans.agreed_before import most_agreed, pieces_agreed
from planner.plans.items import finish_item
from planner.plans.parts import handed
from planner.practice.models import Staff
from planner.rules.item_states import ItemState
from planner.rules.partial import pieces_of, whole_of
from planner.trail.errors import Refused
from tests.pages import priced_office
from tests.plans.sample import item_of, plan_of, shown_estimate, under_way
from tests.rules.books import charge
from tests.rules.stories import facts_of
from tests.support import NOW

pytestmark = pytest.mark.django_db
OPTION = "reshape-bond"
NEXT_DOOR: dict[str, Any] = {
    "words": "If the old filling next door leaks, it is changed the same day.",
    "service": "small-addition",
    "teeth": ["23"],
    "quantity": 1,
    "options": [OPTION],
}


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def agreed_plan(owner: Staff, *entries: Any, teeth: tuple[str, ...] = ()) -> AcceptedPlan:
    """The lead's option said yes to, or the part of it on these teeth, with these entries on its list."""
    estimate = shown_estimate(owner, "lead", {"choices.if_then": list(entries)})
    found = handed(estimate, OPTION).option
    chosen = whole_of(found)
    if teeth:
        chosen = tuple(one.key for one in pieces_of(found) if one.tooth is not None and one.tooth.iso in teeth)
    return accept_option(
        estimate=estimate,
        seen=estimate.version,
        option=OPTION,
        chosen=chosen,
        by=estimate.case.patient.name,
        capacity="patient",
        actor=owner,
        now=NOW,
    )


def found(plan: AcceptedPlan, owner: Staff, *added: Any, **more: Any) -> Amendment:
    return amending.amend(
        plan=plan, cause=Cause.FINDING, reason="an old filling leaks", added=added, actor=owner, now=NOW, **more
    )


def agree(change: Amendment, owner: Staff, how: str = "agreed before") -> Any:
    return amending.agree(
        amendment=change, by=change.plan.patient.name, capacity="patient", how=how, actor=owner, now=NOW
    )


def test_sentences_alone_cover_nothing(owner: Staff) -> None:
    plan = agreed_plan(owner, "If an old filling leaks, it is changed.", "If the mould does not seat, we stop.")
    change = found(plan, owner, charge("small-addition", 1, "23"))
    with pytest.raises(Refused, match="No piece of work was agreed beforehand"):
        agree(change, owner)
    under_way(plan, owner, NOW)
    with pytest.raises(Refused, match="not agreed to yet"):
        finish_item(item=item_of(plan, "small-addition", "23"), seen=1, actor=owner, now=NOW)


def test_the_piece_of_the_list_was_agreed_before_and_is_done(owner: Staff) -> None:
    plan = agreed_plan(owner, NEXT_DOOR)
    assert (plan.total_cents, most_agreed(plan)) == (161825, 188325)
    change = found(plan, owner, charge("small-addition", 1, "23"))
    assert change.after_cents == 188325
    assert not any("agreed at most" in words for words in change.new_signature)
    under_way(plan, owner, NOW)
    added = item_of(plan, "small-addition", "23")
    with pytest.raises(Refused, match="not agreed to yet"):
        finish_item(item=added, seen=1, actor=owner, now=NOW)
    assert agree(change, owner).how == "agreed before"
    assert finish_item(item=added, seen=1, actor=owner, now=NOW).state == ItemState.DONE


@pytest.mark.parametrize(
    "added",
    [
        charge("small-addition", 1, "21"),
        charge("build-up", 1, "23"),
        charge("small-addition", 2, "23", "23"),
        charge("index"),
    ],
    ids=["another tooth", "another service", "too many", "no tooth"],
)
def test_what_the_list_does_not_say_is_signed(owner: Staff, added: Any) -> None:
    plan = agreed_plan(owner, NEXT_DOOR, "If the mould does not seat, we stop.")
    change = found(plan, owner, added)
    with pytest.raises(Refused, match="not in the list agreed beforehand, or not that often"):
        agree(change, owner)
    assert agree(change, owner, "signed").how == "signed"


def test_once_used_the_piece_is_used_up_unless_it_was_dropped_again(owner: Staff) -> None:
    plan = agreed_plan(owner, NEXT_DOOR)
    first = found(plan, owner, charge("small-addition", 1, "23"))
    agree(first, owner)
    again = found(plan, owner, charge("small-addition", 1, "23"))
    with pytest.raises(Refused, match="not that often"):
        agree(again, owner)
    found(plan, owner, dropped=[*first.added.all(), *again.added.all()])
    agree(found(plan, owner, charge("small-addition", 1, "23")), owner)


def test_more_removal_was_never_agreed_before(owner: Staff) -> None:
    plan = agreed_plan(owner, NEXT_DOOR)
    change = found(plan, owner, charge("small-addition", 1, "23"), more_removal=True)
    with pytest.raises(Refused, match="More removal"):
        agree(change, owner)


def test_a_part_of_the_option_keeps_its_list(owner: Staff) -> None:
    plan = agreed_plan(owner, NEXT_DOOR, teeth=("13", "22"))
    assert (plan.total_cents, most_agreed(plan)) == (68500, 95000)
    agree(found(plan, owner, charge("small-addition", 1, "23")), owner)


def test_a_rise_above_the_most_that_was_agreed_is_signed_however_small(owner: Staff) -> None:
    """The office lets changes up to 150 pass without a signature; the papers say "not more than this"."""
    plan = agreed_plan(owner, NEXT_DOOR)
    agree(found(plan, owner, charge("small-addition", 1, "23")), owner)
    small = found(plan, owner, charge("index"))
    assert small.difference_cents == 7000
    (reason,) = small.new_signature
    assert reason == "the price comes to 1953.25, more than the 1883.25 agreed at most"
    agree(small, owner, "signed")
    assert most_agreed(plan) == 195325


def test_a_plan_without_a_list_has_its_total_for_the_most(owner: Staff) -> None:
    plan = plan_of(owner, facts_of("lead"), charge("build-up", 2, "12", "22"))
    assert pieces_agreed(plan) == ()
    assert most_agreed(plan) == plan.total_cents
