"""The order of tax and discount as the office sets it from a day on: frozen with each estimate. Prices invented.

Both orders are in use; which one holds the local tax office says. No source beyond that.
"""

from datetime import timedelta
from typing import Any

import pytest

from planner.letters.worked_out import order_said
from planner.plans import estimates
from planner.plans.models import Estimate
from planner.practice import books
from planner.practice.models import Staff
from planner.rules.plan import plan_case
from tests.pages import client_of, priced_office
from tests.plans.sample import shown_estimate, when
from tests.rules.books import tern_row
from tests.rules.stories import facts_of, planned_on
from tests.support import TODAY

pytestmark = pytest.mark.django_db
OPTION = "reshape-bond"
FIVE_OFF: dict[str, Any] = {
    "key": "discount-1",
    "option": OPTION,
    "kind": "courtesy",
    "percent": "5",
    "reason": "a long wait",
    "asked_by": "Dr Imke Sorrel",
    "asked_role": "dentist",
    "asked_on": "2026-02-20",
    "allowed_by": "Oona Castellane",
    "allowed_role": "office manager",
    "allowed_on": "2026-02-20",
}


@pytest.fixture
def owner(db: None) -> Staff:
    return priced_office()


def test_a_new_order_holds_from_its_day_and_what_was_frozen_keeps_its_own(owner: Staff) -> None:
    shown = shown_estimate(owner, "lead")
    version = books.latest_version(owner.office)
    book = books.read_book(version.data).model_copy(update={"tax_base": "before discounts"})
    change: dict[str, Any] = {"reason": "the tax office says so", "actor": owner, "seen": version.number}
    books.change_book(office=owner.office, book=book, effective=TODAY, now=when("lead"), **change)

    assert shown.frozen is not None
    before = estimates.read_frozen(shown.frozen).option(OPTION).estimate
    assert before.tax_base == "after discounts"
    later = when("lead") + timedelta(days=6)
    case = Estimate.objects.get(pk=shown.pk).case
    now = estimates.compute_plan(case, later)[0].option(OPTION)
    assert now.estimate.tax_base == "before discounts"
    assert "The office takes tax before discounts." in order_said(now)
    assert order_said(now).index("4 tax") < order_said(now).index("5 discount")


def test_a_case_with_a_discount_comes_to_more_where_tax_is_taken_first() -> None:
    changes = {"choices.reconstructive": False, "choices.discounts": [FIVE_OFF], "choices.if_then": []}
    facts, day = facts_of("lead", changes), planned_on("lead")
    after, before = (
        plan_case(facts, tern_row().model_copy(update={"tax_base": base}), day).option(OPTION).estimate
        for base in ("after discounts", "before discounts")
    )
    # 1,685.00 − 66.75 package = 1,618.25; 5 % off = 80.91; 13 % of what is left of each of the four lines:
    # 1,204.84, 209.00, 66.50 and 57.00 make 156.63 + 27.17 + 8.65 (8.645) + 7.41.
    assert (after.total_cents, after.tax_cents) == (161825 - 8091 + 19986, 19986)
    # 13 % of 1,268.25, 220.00, 70.00 and 60.00: 164.87 + 28.60 + 9.10 + 7.80.
    assert (before.total_cents, before.tax_cents) == (161825 - 8091 + 21037, 21037)


def test_it_stands_on_the_settings_page_and_in_its_history(owner: Staff) -> None:
    client = client_of(owner)
    page = client.get("/office/settings/").content.decode()
    assert "Whether tax is taken after the discounts" in page
    assert "both are in use, the local tax office says which" in page
    form = client.get("/office/settings/change/money/").content.decode()
    assert 'name="tax_base"' in form
    assert client.get("/office/settings/history/tax_base/").status_code == 200
    assert {"late_cancel_hours", "late_cancel_from_minutes"} <= set(
        client.get("/office/settings/change/time/").context["form"].fields
    )
