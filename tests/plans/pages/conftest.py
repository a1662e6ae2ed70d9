"""What tests of the pages of cases share: a fixed clock, an office with prices, and each plan worked out once.

A plan depends on facts, book and day alone (``tests/rules/test_plan.py`` holds it to that), so that pages that show the
same case need not wait for it again and again.
"""

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
import time_machine

from planner.plans import estimates
from planner.plans.checking import check_case
from planner.plans.models import Case, Estimate
from planner.practice.models import Staff
from planner.rules.book import OfficeBook
from planner.rules.casefile import case_data
from planner.rules.mouth import CaseFacts
from planner.rules.plan import plan_case
from planner.rules.results import CasePlan, sha256, stable_json
from tests.pages import priced_office
from tests.support import NOW

REASON = "Talked over with the patient at length."
OPTION = "reshape-bond"
_PLANS: dict[tuple[object, ...], CasePlan] = {}


def _worked_out_once(facts: CaseFacts, book: OfficeBook, today: date, **more: Any) -> CasePlan:
    # What comes beside (the catalogue in force) is the same object as long as it is the same.
    key = (stable_json(case_data(facts)), stable_json(book), today, *((name, id(more[name])) for name in sorted(more)))
    if key not in _PLANS:
        _PLANS[key] = plan_case(facts, book, today, **more)
    return _PLANS[key]


@pytest.fixture(autouse=True)
def _clock_and_plans(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(estimates, "plan_case", _worked_out_once)
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


def seen(case: Case) -> str:
    """The version of the case that is saved now, as a form sends it."""
    return str(Case.objects.get(pk=case.pk).version)


def plan_hash(case: Case) -> str:
    """The hash of the plan as the case's page shows it now."""
    return sha256(estimates.compute_plan(Case.objects.get(pk=case.pk), NOW)[0].to_json())


@pytest.fixture
def checked(case: Case, owner: Staff) -> Estimate:
    return check_case(case=case, seen_plan=plan_hash(case), actor=owner, now=NOW)
