"""Yes to a part of an option that had a package and a discount: said beforehand, and nothing creeps back.

A package follows its own rule: it stays while enough of the set is taken. A discount that a person gave was given on
the whole option; a part does not have it, and whoever wants it for the part asks anew. Sums worked out by hand from the
invented fee list.
"""

from decimal import Decimal
from typing import Any

import pytest

from planner.plans import amending, discounting, estimates
from planner.plans.accepted_models import AcceptedPlan, Cause
from planner.plans.accepting import accept_option
from planner.plans.casefiles import import_case_file
from planner.plans.discounting import Wanted
from planner.plans.items import price_of
from planner.plans.models import Channel, Estimate
from planner.plans.parts import handed
from planner.practice.models import Staff
from planner.rules.partial import pieces_of, whole_of
from tests.pages import client_of, priced_office
from tests.plans.sample import item_of
from tests.rules.books import charge
from tests.rules.stories import facts_of
from tests.support import NOW

pytestmark = pytest.mark.django_db
OPTION = "reshape-bond"


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


@pytest.fixture
def estimate(owner: Staff) -> Estimate:
    """The lead case with 5 % taken off the whole for courtesy: 1,618.25 less 80.91."""
    who: dict[str, Any] = {"actor": owner, "now": NOW}
    case = import_case_file(facts=facts_of("lead"), **who).case
    wanted = Wanted(OPTION, "courtesy", "long wait", percent=Decimal(5))
    case = discounting.ask_discount(case=case, seen=case.version, wanted=wanted, **who)
    plan, book = estimates.compute_plan(case, NOW)
    made = estimates.draft_estimate(case=case, **who)
    made = estimates.check_estimate(estimate=made, seen=1, plan_json=plan.to_json(), book=book, **who)
    return estimates.show_estimate(estimate=made, seen=2, to=case.patient.name, channel=Channel.IN_PERSON, **who)


def keys(estimate: Estimate, *teeth: str) -> tuple[str, ...]:
    option = handed(estimate, OPTION).option
    return tuple(one.key for one in pieces_of(option) if one.tooth is not None and one.tooth.iso in teeth)


def yes(estimate: Estimate, chosen: tuple[str, ...], owner: Staff) -> AcceptedPlan:
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


def test_the_whole_has_both(estimate: Estimate, owner: Staff) -> None:
    plan = yes(estimate, whole_of(handed(estimate, OPTION).option), owner)
    assert plan.total_cents == 161825 - 8091
    assert sum(price_of(item).total_cents for item in plan.items.all()) == plan.total_cents


@pytest.mark.parametrize(
    ("teeth", "cents", "package"),
    [
        # 60 + 445 + two of the wax-up 110 + index 70: one build-up is no set of three.
        (("13", "22"), 68500, False),
        # Three build-ups are: 1,335 − 66.75 + 165 + 70.
        (("11", "21", "22"), 150325, True),
    ],
)
def test_a_part_keeps_a_package_by_its_own_rule_and_no_discount(
    estimate: Estimate, owner: Staff, teeth: tuple[str, ...], cents: int, package: bool
) -> None:
    chosen = keys(estimate, *teeth)
    part = handed(estimate, OPTION).part(chosen)
    assert not part.refused
    assert part.total_cents == cents
    gone = [words for words in part.differences if words.startswith("No longer taken off")]
    assert any("courtesy" in words and "80.91" in words for words in gone), "the loss is said before the yes"
    assert any("PKG" in words or "3 or more" in words for words in gone) is not package
    plan = yes(estimate, chosen, owner)
    assert plan.total_cents == cents
    assert sum(price_of(item).total_cents for item in plan.items.all()) == cents
    assert plan.part is not None


def test_the_page_says_what_is_lost_before_the_yes(estimate: Estimate, owner: Staff) -> None:
    url = f"/plans/estimate/{estimate.public_id}/parts/{OPTION}/"
    page = client_of(owner).get(url, {"pieces": keys(estimate, "13", "22")}).content.decode()
    assert "685.00" in page
    assert "No longer taken off: courtesy discount (5 %)" in page


def test_a_change_later_brings_no_discount_back(estimate: Estimate, owner: Staff) -> None:
    plan = yes(estimate, keys(estimate, "11", "21", "22"), owner)
    added = [charge("reshape", 1, "13")]
    change = amending.preview(plan=plan, cause=Cause.PATIENT, added=added)
    assert (change.before.total_cents, change.after.total_cents) == (150325, 156325)
    # The patient drops one: the package goes. The office drops one: it stays.
    one = item_of(plan, "build-up", "22")
    assert amending.preview(plan=plan, cause=Cause.PATIENT, dropped=[one]).after.total_cents == 89000 + 16500 + 7000
    kept = amending.preview(plan=plan, cause=Cause.OFFICE, dropped=[one])
    assert kept.kept_packages == ("PKG",)
    assert kept.after.total_cents == 84550 + 16500 + 7000
