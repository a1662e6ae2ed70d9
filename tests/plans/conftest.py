"""A case of the test office, taken in from the lead case file, and the plan computed from it."""

from typing import Any

import pytest

from planner.plans.casefiles import import_case_file
from planner.plans.estimates import compute_plan, draft_estimate
from planner.plans.models import Case, Estimate
from planner.practice.models import BookVersion, Staff
from planner.rules.mouth import CaseFacts
from tests.support import NOW


@pytest.fixture
def case(owner: Staff, lead_case: CaseFacts) -> Case:
    return import_case_file(facts=lead_case, actor=owner, now=NOW).case


@pytest.fixture
def computed(case: Case) -> tuple[bytes, BookVersion]:
    plan, book = compute_plan(case, NOW)
    return plan.to_json(), book


@pytest.fixture
def draft(case: Case, owner: Staff) -> Estimate:
    return draft_estimate(case=case, actor=owner, now=NOW)


@pytest.fixture
def checked(draft: Estimate, computed: tuple[bytes, BookVersion], owner: Staff) -> Any:
    from planner.plans.estimates import check_estimate

    return check_estimate(estimate=draft, seen=1, plan_json=computed[0], book=computed[1], actor=owner, now=NOW)
